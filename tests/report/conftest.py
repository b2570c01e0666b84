"""Real plans of three invented trees, made once for all tests of the reports."""

from __future__ import annotations

import pytest

from limbwright.cuts.plan import plan
from limbwright.demo import make_holding
from limbwright.model.records import TreeSurvey
from limbwright.statics.assess import assess
from limbwright.survey.build import build_skeleton

CHOSEN = ("3", "6", "16")


@pytest.fixture(scope="package")
def items():
    """Assessment, plan and station of three trees of the invented holding."""
    holding = make_holding(1)
    found = []
    for station in holding.stations:
        if station.station in CHOSEN:
            limbs = tuple(one for one in holding.limbs if one.station == station.station)
            skeleton, _ = build_skeleton(TreeSurvey(station, limbs))
            assessment = assess(skeleton, holding.site)
            season = "winter 2026/27"
            found.append((assessment, plan(assessment, station, season=season), station))
    assert len(found) == len(CHOSEN)
    assert all(p.cuts for _, p, _ in found)
    return found

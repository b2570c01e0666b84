"""Real plans of three invented trees, made once for all tests of the reports."""

from __future__ import annotations

import pytest

from limbwright.cuts.plan import plan
from limbwright.demo import make_holding
from limbwright.statics.assess import assess
from limbwright.survey.build import build_skeleton

CHOSEN = ("3", "6", "16")


@pytest.fixture(scope="package")
def items():
    """Assessment, plan and station of three trees of the invented holding."""
    holding = make_holding(1)
    found = []
    for tree in holding.surveys():
        if tree.station.station in CHOSEN:
            assessment = assess(build_skeleton(tree)[0], holding.site)
            made = plan(assessment, tree.station, season="winter 2026/27")
            found.append((assessment, made, tree.station))
    assert len(found) == len(CHOSEN)
    assert all(p.cuts for _, p, _ in found)
    return found

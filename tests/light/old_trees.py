"""Surveyed trees of the invented holding, built once."""

from __future__ import annotations

from functools import cache

from limbwright.demo import make_holding
from limbwright.model import Skeleton
from limbwright.model.records import TreeSurvey
from limbwright.survey.build import build_skeleton


@cache
def old_trees(count: int = 4) -> tuple[Skeleton, ...]:
    """The first trees of the invented holding."""
    holding = make_holding(1)
    found = []
    for station in holding.stations:
        limbs = tuple(one for one in holding.limbs if one.station == station.station)
        if limbs and len(found) < count:
            found.append(build_skeleton(TreeSurvey(station, limbs))[0])
    return tuple(found)

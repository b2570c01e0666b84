"""Surveyed trees of the invented holding, built once."""

from __future__ import annotations

from functools import cache

from limbwright.demo import make_holding
from limbwright.model import Skeleton
from limbwright.survey.build import build_skeleton


@cache
def old_trees(count: int = 4) -> tuple[Skeleton, ...]:
    """The first trees of the invented holding."""
    return tuple(build_skeleton(tree)[0] for tree in make_holding(1).surveys()[:count])

"""The old saying made a number: the share of a hat's throws that pass through the tree."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbwright.light.canopy import Canopy
from limbwright.model.skeleton import Bools, Floats, Skeleton
from limbwright.trade.parameters import parameters

__all__ = ["HatTest", "hat_share", "hat_test"]

THROWS = 512
"""Judgement: as many tell a share to about two points of a hundred."""
STEEPEST_DEG = 60.0
"""Judgement: a hat is thrown up from the ground, not dropped."""
AT_ONCE = 32
"""Throws reckoned together: their numbers stay in the processor's cache."""


@dataclass(frozen=True, slots=True)
class HatTest:
    """Throws through a leafless crown and the wood that would stop them.

    ``through_m`` and ``along`` are ``(T, 3)``: a point of the crown each hat flies through, and its
    way. ``stopped_by`` ``(T, n)`` is True where a segment stands in it.
    """

    through_m: Floats
    along: Floats
    stopped_by: Bools


def hat_test(skeleton: Skeleton, canopy: Canopy, throws: int = THROWS) -> HatTest:
    """Throw a hat through a crown in many evenly spread ways.

    Each throw flies straight through a place where leaf hangs, at 0 to 60 degrees upwards, from
    anywhere round the tree. It is stopped by wood above 10 mm that comes within half its width.
    The throws are the same for the tree before and after a cut.
    """
    table = parameters("light")
    reach = table["hat.width"].value / 2.0
    leafy = np.flatnonzero(canopy.leaf_in_cells().ravel() > 0.0)
    i = np.arange(throws) + 0.5
    if leafy.size == 0:
        return HatTest(
            np.zeros((0, 3)), np.zeros((0, 3)), np.zeros((0, skeleton.n), dtype=np.bool_)
        )
    picked = leafy[np.minimum((i / throws * leafy.size).astype(np.int64), leafy.size - 1)]
    at = np.stack(np.unravel_index(picked, canopy.grid.shape), axis=1) + 0.5
    point = np.asarray(canopy.grid.origin_m) + at * canopy.grid.cell_m
    # low-discrepancy: the reciprocals of the plastic number and its square
    bearing = 2.0 * np.pi * ((i * 0.7548776662) % 1.0)
    rise = np.radians(STEEPEST_DEG) * ((i * 0.5698402910) % 1.0)
    along = np.column_stack(
        [np.sin(bearing) * np.cos(rise), np.cos(bearing) * np.cos(rise), np.sin(rise)]
    )
    thick = np.maximum(skeleton.start_diameter_mm, skeleton.end_diameter_mm)
    stands = np.flatnonzero(thick >= table["hat.least_wood"].value)
    radius = (skeleton.start_diameter_mm + skeleton.end_diameter_mm)[stands] / 4000.0
    stopped = np.zeros((throws, skeleton.n), dtype=np.bool_)
    start, span = skeleton.start_m[stands], (skeleton.end_m - skeleton.start_m)[stands]
    for first in range(0, throws, AT_ONCE):
        some = slice(first, first + AT_ONCE)
        near2 = _distance2(start, span, point[some], along[some])
        stopped[some, stands] = near2 < (reach + radius) ** 2
    return HatTest(point, along, stopped)


def _distance2(start: Floats, span: Floats, through: Floats, along: Floats) -> Floats:
    """Return ``(T, n)`` square of the least distance [m2] of segments from lines.

    Seen along a line, segment and line are a segment and a point of a plane; all products needed
    there follow from plain dot products.
    """
    ahead = along @ start.T - (along * through).sum(axis=1)[:, None]
    gone = along @ span.T
    start2 = (start * start).sum(axis=1) - 2.0 * through @ start.T
    start2 += (through * through).sum(axis=1)[:, None]
    flat2 = start2 - ahead * ahead
    way2 = np.maximum((span * span).sum(axis=1) - gone * gone, 1e-18)
    both = (start * span).sum(axis=1) - through @ span.T - ahead * gone
    t = np.clip(-both / way2, 0.0, 1.0)
    return np.asarray(flat2 + t * (2.0 * both + t * way2))


def hat_share(test: HatTest, kept: Bools | None = None) -> float:
    """Return the share of throws that pass, with only the segments in ``kept`` standing."""
    if len(test.stopped_by) == 0:
        return 1.0
    stops = test.stopped_by if kept is None else test.stopped_by[:, kept]
    return float(1.0 - stops.any(axis=1).mean())

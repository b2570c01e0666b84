"""How open a crown is to the wind: seen through from the side, and hollow or filled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.light.canopy import Canopy
from limbwright.light.sweep import Planes, Sweep, last_depth
from limbwright.model.skeleton import Floats, Ints

__all__ = ["LINES", "Openness", "centre_filling", "openness"]

LINES = (
    (0.0, "north-south"),
    (45.0, "north-east to south-west"),
    (90.0, "east-west"),
    (135.0, "south-east to north-west"),
)
"""Bearing and name of the four lines a crown is looked through along: the way back is the same."""
BANDS = 3
"""Judgement: low, middle and high is as finely as one looks."""
FAINTEST = 0.02
"""Judgement: an optical depth below this is outside the crown, not a gap in it."""


@dataclass(frozen=True, slots=True)
class Openness:
    """Share of the crown one sees through, level, in leaf or bare.

    ``share`` ``(4, 3)``: by line of `LINES`, and by third of the crown's height, lowest first;
    NaN where a third holds nothing. ``height_m`` ``(4,)`` bounds the thirds. ``mean`` is over all.
    """

    share: Floats
    height_m: Floats
    mean: float


def openness(canopy: Canopy) -> tuple[Openness, Openness]:
    """Return how much of a crown wind and eye pass through, in leaf and bare.

    The share of level rays that meet neither leaf nor wood, by direction and height, over the
    outline of the crown in leaf from that side (cells with an optical depth above 0.02), so that a
    bare crown is never less open than in leaf. A crown's wind goes with it, but not in
    proportion: published trials show the light gained by pruning firmly, faster drying only as
    likely (Holb 2005, Cooley et al. 1997).
    """
    area = np.stack([canopy.plant_m2_m3(True), canopy.plant_m2_m3(False)])
    depths = [_level_depth(area, canopy.grid.cell_m, bearing_deg) for bearing_deg, _ in LINES]
    filled = np.flatnonzero(canopy.leaf_in_cells().sum(axis=(0, 1)) > 0.0)
    leafy, bare = (
        _seen(canopy, one.sum(axis=(0, 1)), filled, [(d[0], d[k]) for d in depths])
        for k, one in enumerate(area)
    )
    return leafy, bare


def _seen(
    canopy: Canopy, crown: Floats, filled: Ints, depths: Sequence[tuple[Planes, Planes]]
) -> Openness:
    """Return what is seen through of a crown.

    ``crown`` ``(nz,)`` is what stands in each layer, ``filled`` the layers that hold leaf;
    ``depths`` are by line those in leaf, which are the outline, and those asked for.
    """
    origin = canopy.grid.origin_m[2]
    if filled.size == 0:
        filled = np.flatnonzero(crown > 0.0)
    if filled.size == 0:  # nothing stands
        height = origin + np.zeros(BANDS + 1)
        return Openness(np.full((len(LINES), BANDS), np.nan), height, 1.0)
    edges = np.linspace(int(filled[0]), int(filled[-1]) + 1, BANDS + 1)
    share = np.full((len(LINES), BANDS), np.nan)
    through, outline = 0.0, 0.0
    for line, (full, depth) in enumerate(depths):
        seen = full > FAINTEST
        for band in range(BANDS):
            rows = slice(round(edges[band]), round(edges[band + 1]))
            inside = seen[:, rows]
            if inside.any():
                passing = np.exp(-depth[:, rows][inside], dtype=np.float64)
                share[line, band] = passing.mean()
                through, outline = through + passing.sum(), outline + inside.sum()
    return Openness(
        share, origin + edges * canopy.grid.cell_m, float(through / outline) if outline else 1.0
    )


def _level_depth(areas: Floats, cell_m: float, bearing_deg: float) -> Planes:
    """Return ``(K, across, height)`` optical depth of whole crowns along a level line."""
    east, north = np.sin(np.radians(bearing_deg)), np.cos(np.radians(bearing_deg))
    if abs(north) >= abs(east) - 1e-9:
        turned, side, ahead = areas.transpose(0, 1, 3, 2), east, north
    else:
        turned, side, ahead = areas.transpose(0, 2, 3, 1), north, east
    if ahead < 0.0:
        side, ahead = -side, -ahead
    # rays leave by the side of a square grid: room beside it holds what they pass
    room = int(np.ceil(turned.shape[3] * abs(side) / ahead)) + 1
    wide = np.pad(turned, ((0, 0), (room, room), (0, 0), (0, 1)))[..., ::-1]
    wide = np.pad(wide, ((0, 0), (0, 0), (0, 0), (0, 1)))
    return last_depth(wide, Sweep(np.array([[side, 0.0, ahead]]), np.array([0.5]), cell_m))


def centre_filling(canopy: Canopy) -> float:
    """Return leaf area density in the middle of the crown over that of the whole; NaN if leafless.

    The middle is the inner half of its radius, about the centroid of its leaf; the whole is all
    within the radius that holds nine tenths of it. 1 is an evenly filled crown, a goblet has less.
    """
    leaf = canopy.leaf_in_cells().sum(axis=2)
    total = leaf.sum()
    if total <= 0.0:
        return float("nan")
    nx, ny = leaf.shape
    x = (np.arange(nx) + 0.5)[:, None] * canopy.grid.cell_m
    y = (np.arange(ny) + 0.5)[None, :] * canopy.grid.cell_m
    mx, my = float((leaf * x).sum() / total), float((leaf * y).sum() / total)
    radius = np.hypot(x - mx, y - my)
    order = np.argsort(radius, axis=None)
    reached = np.cumsum(leaf.ravel()[order]) / total
    last = min(int(np.searchsorted(reached, 0.9)), len(order) - 1)
    outer = float(radius.ravel()[order[last]])
    within, inner = radius <= outer, radius <= outer / 2.0
    if not inner.any():
        return 1.0
    return float(leaf[inner].mean() / leaf[within].mean())

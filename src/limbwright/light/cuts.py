"""What cuts give in light to the leaf that stays, for many sets of cuts at once."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from limbwright.light.canopy import canopy, leaf_weight
from limbwright.light.sky import Sky
from limbwright.light.sweep import Planes, Sweep, light_fields
from limbwright.model.skeleton import Bools, Floats, Ints, Skeleton
from limbwright.trade.parameters import parameters

__all__ = ["CutLight", "cut_light", "worth_of_light"]


Light = TypeVar("Light", Floats, Planes)


def worth_of_light(share: Light) -> Light:
    """Return what light is worth to a leaf: in proportion up to half of full sun, then no more.

    Barritt et al. 1997: colour and sugar of apples rise from 0.05 to about 0.50 of full sun, then
    level off.
    """
    enough = parameters("light")["light.fruit_share"].value
    worth: Light = np.minimum(share / enough, 1.0)
    return worth


@dataclass(frozen=True)
class CutLight:
    """A crown in pieces, for the light of what is left when some go.

    ``plant`` is ``(N, cells)``: the share of each piece in the plant area density of each cell
    [m2/m3]. ``leafy`` ``(L,)`` indexes the cells that hold leaf, ``leaf`` ``(N, L)`` the area of
    each piece there [m2], ``before`` ``(L,)`` the worth of the light as the tree stands.
    """

    leaf: Planes
    leafy: Ints
    plant: Planes
    before: Planes
    shape: tuple[int, int, int]
    sweep: Sweep
    share: Floats

    def gained(self, gone: Bools) -> Floats:
        """Return ``(K,)`` what the leaf that stays gains, for ``gone`` ``(K, N)`` pieces gone.

        In worth of light (see `worth_of_light`) times leaf, over all the tree's leaf as it
        stands: 0.1 is a tenth of the crown brought from darkness into full fruiting light. Never
        below 0.
        """
        more = worth_of_light(self._light(gone)[:, self.leafy])
        more -= self.before
        more *= (~gone).astype(np.float32) @ self.leaf
        gain = more.sum(axis=1, dtype=np.float64)
        return np.asarray(np.maximum(gain, 0.0) / max(float(self.leaf.sum()), 1e-9))

    def mean_light(self, gone: Bools, stays: Bools) -> Floats:
        """Return ``(K,)`` mean share of light on the leaf of the pieces ``stays`` ``(N,)``.

        ``gone`` is ``(K, N)``: pieces gone. 0 where no leaf stays.
        """
        leaf = stays.astype(np.float64) @ self.leaf
        return np.asarray(self._light(gone)[:, self.leafy] @ leaf / max(float(leaf.sum()), 1e-9))

    def _light(self, gone: Bools) -> Planes:
        """Return ``(K, cells)`` light with pieces gone."""
        area = (~gone).astype(np.float32) @ self.plant
        light = light_fields(area.reshape(-1, *self.shape), self.sweep, self.share)
        return light.reshape(len(gone), -1)


def cut_light(skeleton: Skeleton, sky: Sky, piece: Ints) -> CutLight:
    """Return a crown in pieces.

    The grid is coarser than that of `crown_light`, since many sets of cuts are compared on it.

    Parameters
    ----------
    skeleton
        The tree.
    sky
        The light, of few directions.
    piece
        ``(n,)`` the piece each segment belongs to, from 0.
    """
    table = parameters("light")
    ends = np.concatenate([skeleton.start_m, skeleton.end_m])
    cell_m = float(np.ptp(ends, axis=0).max()) / table["grid.plan_cells_across"].value
    held = canopy(skeleton, cell_m=max(cell_m, table["grid.least_cell"].value))
    cells, count = held.grid.cells, int(piece.max()) + 1

    def spread(segment: Ints, cell: Ints, weight: Floats) -> Floats:
        at = piece[segment] * cells + cell
        total = np.bincount(at, weights=weight, minlength=count * cells)
        return np.asarray(total.reshape(count, cells), dtype=np.float64)

    leaf = spread(held.segment, held.cell, held.leaf_m2[held.segment] * held.share)
    wood = spread(
        held.wood_segment, held.wood_cell, held.wood_m2[held.wood_segment] * held.wood_share
    )
    plant = (wood + leaf_weight() * leaf) / held.grid.cell_m**3
    held_in = _filled(leaf.sum(axis=0), plant.sum(axis=0), held.grid.shape)

    def inside(cells: Floats) -> Planes:
        of = cells.reshape(count, *held.grid.shape)[:, *held_in]
        return np.ascontiguousarray(of.reshape(count, -1), dtype=np.float32)

    shape = np.empty(held.grid.shape, dtype=np.bool_)[held_in].shape
    sweep = held.sweep(sky)
    of_leaf = inside(leaf)
    leafy = np.flatnonzero(of_leaf.any(axis=0))
    whole = CutLight(
        leaf=np.ascontiguousarray(of_leaf[:, leafy]),
        leafy=leafy,
        plant=inside(plant),
        before=np.zeros(0, dtype=np.float32),
        shape=(shape[0], shape[1], shape[2]),
        sweep=sweep,
        share=sky.share,
    )
    now = whole._light(np.zeros((1, count), dtype=np.bool_))[:, leafy]
    return replace(whole, before=worth_of_light(now)[0])


def _filled(leaf: Floats, plant: Floats, shape: tuple[int, int, int]) -> tuple[slice, ...]:
    """Return the piece of a grid that decides the light on leaf: all plant from the leaf upwards.

    Light meets nothing outside it, and what is below the lowest leaf shades none.
    """
    at = [np.flatnonzero(plant.reshape(shape).any(axis=a)) for a in ((1, 2), (0, 2), (0, 1))]
    lowest = np.flatnonzero(leaf.reshape(shape).any(axis=(0, 1)))
    if lowest.size:
        at[2] = np.arange(lowest[0], at[2][-1] + 1)
    return tuple(slice(int(one[0]), int(one[-1]) + 1) for one in at)

"""What cuts give in light to the leaf that stays, for many sets of cuts at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbwright.light.canopy import canopy, leaf_weight
from limbwright.light.sky import Sky
from limbwright.light.sweep import Sweep, light_fields
from limbwright.model.skeleton import Bools, Floats, Ints, Skeleton
from limbwright.trade.parameters import parameters

__all__ = ["CutLight", "cut_light", "worth_of_light"]


def worth_of_light(share: Floats) -> Floats:
    """Return what light is worth to a leaf: in proportion up to half of full sun, then no more.

    Barritt et al. 1997: colour and sugar of apples rise from 0.05 to about 0.50 of full sun, then
    level off.
    """
    enough = parameters("light")["light.fruit_share"].value
    return np.asarray(np.minimum(share / enough, 1.0))


@dataclass(frozen=True)
class CutLight:
    """A crown in pieces, for the light of what is left when some go.

    ``leaf`` and ``plant`` are ``(N, cells)``: leaf area [m2] of each piece in each cell, and its
    share of the plant area density [m2/m3]. ``before`` ``(cells,)`` is the worth of the light as
    the tree stands.
    """

    leaf: Floats
    plant: Floats
    before: Floats
    shape: tuple[int, int, int]
    sweep: Sweep
    share: Floats

    def gained(self, gone: Bools) -> Floats:
        """Return ``(K,)`` what the leaf that stays gains, for ``gone`` ``(K, N)`` pieces gone.

        In worth of light (see `worth_of_light`) times leaf, over all the tree's leaf as it
        stands: 0.1 is a tenth of the crown brought from darkness into full fruiting light. Never
        below 0.
        """
        off = gone.astype(np.float64)
        area = np.maximum(self.plant.sum(axis=0) - off @ self.plant, 0.0)
        light = light_fields(area.reshape(-1, *self.shape), self.sweep, self.share)
        stays = (1.0 - off) @ self.leaf
        more = worth_of_light(light.reshape(len(gone), -1)) - self.before
        return np.asarray(np.maximum((stays * more).sum(axis=1), 0.0) / max(self.leaf.sum(), 1e-9))


    def mean_light(self, gone: Bools, stays: Bools) -> Floats:
        """Return ``(K,)`` mean share of light on the leaf of the pieces ``stays`` ``(N,)``.

        ``gone`` is ``(K, N)``: pieces gone. 0 where no leaf stays.
        """
        off = gone.astype(np.float64)
        area = np.maximum(self.plant.sum(axis=0) - off @ self.plant, 0.0)
        light = light_fields(area.reshape(-1, *self.shape), self.sweep, self.share)
        leaf = stays.astype(np.float64) @ self.leaf
        return np.asarray(light.reshape(len(gone), -1) @ leaf / max(float(leaf.sum()), 1e-9))


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
    across = parameters("light")["grid.plan_cells_across"].value
    ends = np.concatenate([skeleton.start_m, skeleton.end_m])
    held = canopy(skeleton, cell_m=float(np.ptp(ends, axis=0).max() / across))
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
    sweep = held.sweep(sky)
    area = plant.sum(axis=0).reshape(1, *held.grid.shape)
    now = light_fields(area, sweep, sky.share)[0].ravel()
    return CutLight(leaf, plant, worth_of_light(now), held.grid.shape, sweep, sky.share)

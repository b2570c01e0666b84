"""Light inside a crown: what each part of it gets, and what a cut would give the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limbwright.light.canopy import Canopy, Grid
from limbwright.light.sky import Sky
from limbwright.light.sweep import light_fields
from limbwright.model.skeleton import Bools, Floats
from limbwright.trade.parameters import parameters

__all__ = ["CrownLight", "crown_light", "crown_lights", "light_at", "over_leaf_of", "relight"]


@dataclass(frozen=True)
class CrownLight:
    """Light in a tree, as shares of the light in the open.

    Attributes
    ----------
    canopy, sky
        What stands, and the light it stands in. ``in_leaf`` says whether leaf counts.
    field
        ``(nx, ny, nz)`` share in the middle of each cell.
    segments
        ``(n,)`` mean share over the leaf of each segment; NaN for one that bears none or is gone.
    mean
        Mean share over the crown's leaf.
    flowering, fruiting
        Share of the crown's leaf with enough light for flower buds (0.30), and for good fruit
        (0.50).
    ground, ground_open
        Mean share on the ground below the crown, and on the grid's ground elsewhere: in the
        lowest cells, so about the height of grass.
    """

    canopy: Canopy
    sky: Sky
    in_leaf: bool
    field: Floats
    segments: Floats
    mean: float
    flowering: float
    fruiting: float
    ground: float
    ground_open: float


def crown_light(canopy: Canopy, sky: Sky, *, in_leaf: bool = True) -> CrownLight:
    """Return the light in a crown.

    Parameters
    ----------
    canopy
        The tree in its grid.
    sky
        The light: a season's, or a plain sky.
    in_leaf
        False leaves all leaf out, as in winter.
    """
    return crown_lights([(canopy, sky, in_leaf)])[0]


def crown_lights(asked: Sequence[tuple[Canopy, Sky, bool]]) -> tuple[CrownLight, ...]:
    """Return the light of several crowns, each in its sky, in leaf or not.

    Crowns in the same grid under skies of the same directions are lit together, at about a third
    of the time that one by one would take.
    """
    together: dict[tuple[Grid, bytes], list[int]] = {}
    for k, (canopy, sky, _) in enumerate(asked):
        together.setdefault((canopy.grid, sky.towards.tobytes()), []).append(k)
    found: dict[int, CrownLight] = {}
    for places in together.values():
        area = np.stack([asked[k][0].plant_m2_m3(asked[k][2]) for k in places])
        share = np.stack([asked[k][1].share for k in places])
        sweep = asked[places[0]][0].sweep(asked[places[0]][1])
        for k, field in zip(places, light_fields(area, sweep, share), strict=True):
            found[k] = _summed(*asked[k], field)
    return tuple(found[k] for k in range(len(asked)))


def relight(light: CrownLight, kept: Bools) -> CrownLight:
    """Return the light once the segments not in ``kept``, ``(n,)``, are gone."""
    return crown_light(light.canopy.without(kept), light.sky, in_leaf=light.in_leaf)


def over_leaf_of(light: CrownLight, segments: Bools) -> CrownLight:
    """Return the same light, told over the leaf of some segments ``(n,)`` alone."""
    told = _summed(light.canopy.without(segments), light.sky, light.in_leaf, light.field)
    return replace(light, mean=told.mean, flowering=told.flowering, fruiting=told.fruiting)


def _summed(canopy: Canopy, sky: Sky, in_leaf: bool, field: Floats) -> CrownLight:
    table = parameters("light")
    leaf = canopy.leaf_in_cells()
    total = max(float(leaf.sum()), 1e-12)
    segments = np.where(canopy.kept, canopy.of_segments(field), np.nan)
    ground = field[:, :, 0]
    below = leaf.sum(axis=2) > 0.05 * canopy.grid.cell_m**2  # judgement: a twentieth of a layer
    return CrownLight(
        canopy=canopy,
        sky=sky,
        in_leaf=in_leaf,
        field=field,
        segments=segments,
        mean=float((leaf * field).sum() / total),
        flowering=float(leaf[field >= table["light.flower_share"].value].sum() / total),
        fruiting=float(leaf[field >= table["light.fruit_share"].value].sum() / total),
        ground=float(ground[below].mean()) if below.any() else 1.0,
        ground_open=float(ground[~below].mean()) if (~below).any() else float("nan"),
    )


def light_at(light: CrownLight, points_m: Floats) -> Floats:
    """Return ``(P,)`` share of light at points ``(P, 3)`` [m]; 1 outside the grid's open sides."""
    grid = light.canopy.grid
    index, share = grid.around(points_m)
    inside = share.sum(axis=1)
    value = (light.field.reshape(-1)[index] * share).sum(axis=1)
    return np.asarray(value + (1.0 - inside))

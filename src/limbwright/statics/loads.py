"""What pulls on every segment of a tree: its own weight, leaf, fruit, wind, snow and ice.

Weight of wood acts at the centroid of its frustum, wind on wood at the centroid of its frontal
area; leaf, fruit, fine wood, and what wind and snow do to them, act at the segment's middle.
Every load belongs to one segment and does not depend on the others being there (bar the shelter
of the crown as it was surveyed), so what a cut takes off is linear in what falls, as measured by
Smiley & Kane 2006, AUF 32(1). See ``docs/method/loads.md``.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from limbwright.errors import InputError
from limbwright.model.site import Site
from limbwright.model.skeleton import Floats, Skeleton, State
from limbwright.statics.cases import LoadCase, chosen
from limbwright.statics.parts import Loads
from limbwright.statics.weather import gusts_on, ice_kg, snow_kg
from limbwright.trade.parameters import parameters
from limbwright.trade.species import species

__all__ = ["LoadCase", "Loads", "loads", "wood_green_kg"]


def _weight(mass_kg: Floats, point_m: Floats) -> Floats:
    """Return ``(3, n)``: downward pull [N] and its first moments over x and y [N m]."""
    pull = mass_kg * parameters("loads")["gravity"].value
    return np.stack([pull, pull * point_m[:, 0], pull * point_m[:, 1]])


def wood_green_kg(skeleton: Skeleton, green_density_kg_m3: float | None = None) -> Floats:
    """Return ``(n,)`` green mass of each frustum of wood, its fine wood left out [kg].

    Without a density, live wood has that of the species and dead wood a share of it; a density
    given holds for all wood. Cavities are not taken off: their length is not surveyed.

    Raises
    ------
    InputError
        The species is not known, or the density is not above zero.
    """
    density = _green_density_kg_m3(skeleton, green_density_kg_m3)
    if green_density_kg_m3 is not None:
        return skeleton.wood_volume_m3 * density
    dead = parameters("loads")["wood.dead_share"].value
    share = np.where(skeleton.state == int(State.DEAD), dead, 1.0)
    return np.asarray(skeleton.wood_volume_m3 * density * share)


def _green_density_kg_m3(skeleton: Skeleton, given: float | None) -> float:
    if given is None:
        return species(skeleton.species).green_density_kg_m3.value
    if not (np.isfinite(given) and given > 0.0):
        raise InputError(
            f"A green density of {given:g} kg/m3 cannot be.",
            "Fresh fruit wood has about 900 to 1100 kg/m3.",
        )
    return given


def loads(
    skeleton: Skeleton,
    site: Site,
    *,
    only: Sequence[str] | None = None,
    green_density_kg_m3: float | None = None,
) -> Loads:
    """Return the loads of a tree in every case, or in the cases named.

    Parameters
    ----------
    skeleton
        The tree.
    site
        Its wind, terrain, snow and ice.
    only
        Keys of cases (``"own-weight"``) or hazards (``"gust-leaf"``: all 16 directions).
    green_density_kg_m3
        Density of all wood [kg/m3]; that of the species if None.

    Raises
    ------
    InputError
        A name in ``only``, the species, the terrain or the density cannot be used.
    """
    rules = chosen(only)
    table = parameters("loads")
    middle = (skeleton.start_m + skeleton.end_m) / 2.0
    density = _green_density_kg_m3(skeleton, green_density_kg_m3)
    wood = wood_green_kg(skeleton, green_density_kg_m3)
    weights = [
        _weight(wood, skeleton.wood_centroid_m) + _weight(skeleton.fine_wood_kg, middle),
        _weight(skeleton.leaf_area_m2 * table["leaf.fresh_mass"].value, middle),
        _weight(skeleton.fruit_kg, middle),
        _weight(snow_kg(skeleton, site.wet_snow_kg_m2), middle),
        _weight(ice_kg(skeleton, density, site.ice_mm), middle),
    ]
    hanging = {
        "own-weight": (1.0, 0.0, 0.0, 0.0, 0.0),
        "light-crop": (1.0, 1.0, 1.0, 0.0, 0.0),
        "heavy-crop": (1.0, 1.0, table["crop.heavy_factor"].value, 0.0, 0.0),
        "extreme-crop": (1.0, 1.0, table["crop.extreme_factor"].value, 0.0, 0.0),
        "wet-snow": (1.0, 0.0, 0.0, 1.0, 0.0),
        "ice": (1.0, 0.0, 0.0, 0.0, 1.0),
    }
    gusts = gusts_on(skeleton, site, [(r.case.hazard, r.bearing_deg) for r in rules])
    index = {rule.case.key: c for c, rule in enumerate(rules)}
    return Loads(
        cases=tuple(rule.case for rule in rules),
        weights=np.stack(weights),
        # what hangs on the tree in a gust is what its base case says
        weight_shares=np.array([hanging.get(r.case.key) or hanging[r.base] for r in rules]),
        pushes=gusts.pushes,
        push_towards=gusts.towards,
        push_shares=gusts.shares,
        wood_kg=wood + skeleton.fine_wood_kg,
        base_case=np.array([index.get(rule.base, -1) for rule in rules], dtype=np.int64),
        median_share=np.array([rule.median_share for rule in rules]),
        quantile=np.array([rule.quantile for rule in rules]),
    )

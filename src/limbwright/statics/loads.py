"""What pulls on every segment of a tree: its own weight, leaf, fruit, wind, snow and ice.

Weight of wood acts at the centroid of its frustum, wind on wood at the centroid of its frontal
area; leaf, fruit, fine wood, and what wind and snow do to them, act at the segment's middle.
Every load belongs to one segment and does not depend on the others being there (bar the shelter
of the crown as it was surveyed), so what a cut takes off is linear in what falls, as measured by
Smiley & Kane 2006, AUF 32(1). See ``docs/method/loads.md``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.errors import InputError
from limbwright.model.site import Site
from limbwright.model.skeleton import Floats, Ints, Skeleton, State
from limbwright.statics.cases import CaseRule, LoadCase, chosen
from limbwright.statics.wind import blowing_towards, peak_pressure_pa
from limbwright.trade.parameters import parameters
from limbwright.trade.species import species

__all__ = [
    "LoadCase",
    "Loads",
    "ice_sleeve_kg_m",
    "leaf_drag_area_m2",
    "loads",
    "wood_green_kg",
]


@dataclass(frozen=True, slots=True)
class Loads:
    """The load of each segment itself in each case.

    Attributes
    ----------
    cases
        The C load cases.
    force_n, moment_n_m
        ``(C, n, 3)`` force [N] and its moment about the tree's origin [N m] (views on memory
        laid out ``(C, 3, n)``, the layout the resultants are fastest on).
    wood_kg
        ``(n,)`` green mass of the segment's wood and fine wood.
    base_case
        ``(C,)`` index of the case that is the constant part of this one, -1 for none (or not
        computed).
    median_share
        ``(C,)`` the load effect of the median year is
        ``base + median_share * (case - base)``.
    quantile
        ``(C,)`` yearly chance that the level of the case is not exceeded.
    """

    cases: tuple[LoadCase, ...]
    force_n: Floats
    moment_n_m: Floats
    wood_kg: Floats
    base_case: Ints
    median_share: Floats
    quantile: Floats


@dataclass(frozen=True, slots=True)
class _Weight:
    """Downward pull ``(n,)`` [N] and its first moments over x and y [N m]."""

    pull_n: Floats
    x_n_m: Floats
    y_n_m: Floats

    def __add__(self, other: _Weight) -> _Weight:
        return _Weight(
            self.pull_n + other.pull_n, self.x_n_m + other.x_n_m, self.y_n_m + other.y_n_m
        )

    def __mul__(self, factor: float) -> _Weight:
        return _Weight(self.pull_n * factor, self.x_n_m * factor, self.y_n_m * factor)


def _is_gust(rule: CaseRule) -> bool:
    return rule.case.hazard.startswith("gust")


def _weight(mass_kg: Floats, point_m: Floats) -> _Weight:
    pull = mass_kg * parameters("loads")["gravity"].value
    return _Weight(pull, pull * point_m[:, 0], pull * point_m[:, 1])


def leaf_drag_area_m2(leaf_area_m2: Floats) -> Floats:
    """Return the drag area ``c_d A`` [m2] of leaf-bearing shoots by their one-sided leaf [m2].

    Crown drag coefficient over leaf area per frontal crown area: 0.25 / 4 = 0.0625 (0.04-0.117).
    """
    table = parameters("loads")
    return np.asarray(
        leaf_area_m2 * table["drag.crown"].value / table["drag.leaf_per_crown_area"].value
    )


def ice_sleeve_kg_m(diameter_m: Floats, thickness_m: float) -> Floats:
    """Return the mass [kg/m] of a sleeve of glaze ice: ``pi t (d + t) rho``."""
    density = parameters("loads")["ice.density"].value
    return np.asarray(np.pi * thickness_m * (diameter_m + thickness_m) * density)


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
        Its wind and terrain.
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
    wood = wood_green_kg(skeleton, green_density_kg_m3)
    own = _weight(wood, skeleton.wood_centroid_m) + _weight(skeleton.fine_wood_kg, middle)
    in_leaf = own + _weight(skeleton.leaf_area_m2 * table["leaf.fresh_mass"].value, middle)
    fruit = _weight(skeleton.fruit_kg, middle)
    light = in_leaf + fruit
    resting: dict[str, Callable[[], _Weight]] = {
        "light-crop": lambda: light,
        "gust-leaf": lambda: light,
        "heavy-crop": lambda: in_leaf + fruit * table["crop.heavy_factor"].value,
        "extreme-crop": lambda: in_leaf + fruit * table["crop.extreme_factor"].value,
        "wet-snow": lambda: own + _weight(_snow_kg(skeleton), middle),
        "ice": lambda: own + _weight(_ice_kg(skeleton, green_density_kg_m3), middle),
    }
    wind = _Wind.on(skeleton, site) if any(_is_gust(rule) for rule in rules) else None
    count, n = len(rules), skeleton.n
    force, moment = np.empty((count, 3, n)), np.empty((count, 3, n))
    for c, rule in enumerate(rules):
        name = rule.case.hazard if _is_gust(rule) else rule.case.key
        weight = resting.get(name, lambda: own)()
        force[c, :2] = 0.0
        np.negative(weight.pull_n, out=force[c, 2])
        np.negative(weight.y_n_m, out=moment[c, 0])
        moment[c, 1] = weight.x_n_m
        moment[c, 2] = 0.0
        if wind is not None and _is_gust(rule):
            wind.add(rule, force[c], moment[c])
    index = {rule.case.key: c for c, rule in enumerate(rules)}
    return Loads(
        cases=tuple(rule.case for rule in rules),
        force_n=force.transpose(0, 2, 1),
        moment_n_m=moment.transpose(0, 2, 1),
        wood_kg=wood + skeleton.fine_wood_kg,
        base_case=np.array([index.get(rule.base, -1) for rule in rules], dtype=np.int64),
        median_share=np.array([rule.median_share for rule in rules]),
        quantile=np.array([rule.quantile for rule in rules]),
    )


@dataclass(frozen=True, slots=True)
class _Wind:
    """Gust on a tree: ``(n,)`` forces per case come from these by the wind's direction.

    ``leaf_n`` is the drag of leaf-bearing shoots in leaf [N], ``wood_n`` that of wood square to
    the wind [N]; ``shelter`` the share of it that acts when in leaf. Points are ``(3, n)``.
    """

    leaf_n: Floats
    wood_n: Floats
    shelter: Floats
    axis: Floats
    leaf_point_m: Floats
    wood_point_m: Floats
    bare_share: float

    @classmethod
    def on(cls, skeleton: Skeleton, site: Site) -> _Wind:
        table = parameters("loads")
        start, end = skeleton.start_m, skeleton.end_m
        a, b = skeleton.start_diameter_mm / 1000.0, skeleton.end_diameter_mm / 1000.0
        middle = (start + end) / 2.0
        along = (a + 2.0 * b) / (3.0 * (a + b))  # centroid of a trapezium
        wood_point = start + along[:, None] * (end - start)
        pressure = peak_pressure_pa(middle[:, 2], site)
        frontal = (a + b) / 2.0 * skeleton.length_m
        in_crown = middle[:, 2] >= _crown_base_m(middle[:, 2], skeleton.leaf_area_m2)
        return cls(
            leaf_n=pressure * leaf_drag_area_m2(skeleton.leaf_area_m2),
            wood_n=pressure * table["drag.wood"].value * frontal,
            shelter=np.where(in_crown, table["drag.wood_shelter"].value, 1.0),
            axis=np.ascontiguousarray(skeleton.axis.T),
            leaf_point_m=np.ascontiguousarray(middle.T),
            wood_point_m=np.ascontiguousarray(wood_point.T),
            bare_share=table["drag.bare_share"].value,
        )

    def add(self, rule: CaseRule, force: Floats, moment: Floats) -> None:
        """Add the drag of one case to its ``(3, n)`` force and moment, in place."""
        towards = blowing_towards(rule.bearing_deg)
        cosine = towards[0] * self.axis[0] + towards[1] * self.axis[1]
        wood = self.wood_n * np.sqrt(np.maximum(1.0 - cosine * cosine, 0.0))
        if rule.case.hazard == "gust-leaf":
            wood *= self.shelter
            shoots = self.leaf_n
        else:
            shoots = self.leaf_n * self.bare_share
        drag = wood + shoots
        x, y, z = wood * self.wood_point_m + shoots * self.leaf_point_m
        force[0] += drag * towards[0]
        force[1] += drag * towards[1]
        moment[0] -= z * towards[1]
        moment[1] += z * towards[0]
        moment[2] += x * towards[1] - y * towards[0]


def _crown_base_m(height_m: Floats, leaf_area_m2: Floats) -> float:
    """Return the height above which all but a small share of the leaf hangs; inf if leafless."""
    total = float(leaf_area_m2.sum())
    if total <= 0.0:
        return float("inf")
    order = np.argsort(height_m, kind="stable")
    share = np.cumsum(leaf_area_m2[order]) / total
    lowest = int(np.searchsorted(share, parameters("loads")["drag.crown_base_share"].value))
    return float(height_m[order[min(lowest, height_m.size - 1)]])


def _mean_diameter_m(skeleton: Skeleton) -> Floats:
    return np.asarray((skeleton.start_diameter_mm + skeleton.end_diameter_mm) / 2000.0)


def _snow_kg(skeleton: Skeleton) -> Floats:
    """Return ``(n,)`` wet snow on a leafless tree: caught by shoots, and capping the limbs.

    Shoots catch by crown projection, for which their leaf stands; a cap is as deep as the fall
    but no deeper than the limb is thick, on its length as seen from above.
    """
    table = parameters("loads")
    fall, density = table["snow.event_load"].value, table["snow.density"].value
    caught = fall * table["snow.leafless_interception"].value
    on_shoots = caught * skeleton.leaf_area_m2 / table["drag.leaf_per_crown_area"].value
    span = np.linalg.norm((skeleton.end_m - skeleton.start_m)[:, :2], axis=1)
    diameter = _mean_diameter_m(skeleton)
    cap = diameter * np.minimum(diameter, fall / density) * span * density
    return np.asarray(on_shoots + cap)


def _ice_kg(skeleton: Skeleton, green_density_kg_m3: float | None) -> Floats:
    """Return ``(n,)`` glaze on every limb, and on the fine wood as twigs of one diameter."""
    table = parameters("loads")
    thickness = table["ice.thickness"].value / 1000.0
    twig_m = table["ice.twig_diameter"].value / 1000.0
    density = _green_density_kg_m3(skeleton, green_density_kg_m3)
    twig_length = skeleton.fine_wood_kg / (density * np.pi * twig_m**2 / 4.0)
    on_limb = ice_sleeve_kg_m(_mean_diameter_m(skeleton), thickness) * skeleton.length_m
    on_twig = ice_sleeve_kg_m(np.asarray(twig_m), thickness) * twig_length
    return np.asarray(on_limb + on_twig)

"""Strength of every section of a tree: green wood, bark, union, cavity, health.

The section properties are those of the diameter over bark, less the cavity. Strength is
therefore given per over-bark section: green bending strength of clear wood x ``bark`` (from the
over-bark to the under-bark modulus) x ``union`` (measured against the under-bark modulus of the
smaller branch, so bark is counted once) x ``cavity`` (thin walls only) x ``state``. For a fork of
equals this gives 0.77 x 0.70 = 0.54 of clear wood, against 0.55 measured over bark by Kane 2007.

Every factor has a published range. Low and high strength combine the ranges by the root of the
sum of squared logarithms, as it is unlikely that all are at their worst at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbwright.model.skeleton import Bools, Floats, Ints, Skeleton, State, Union
from limbwright.statics.curves import carries_on
from limbwright.statics.sections import hollow_modulus_factor, wall_share
from limbwright.trade.parameters import Parameter, parameters
from limbwright.trade.species import Species, species

__all__ = [
    "Strength",
    "gilman_factor",
    "is_union",
    "strength",
    "thin_wall_factor",
    "union_factor",
    "union_ratio",
]

GILMAN_RATIOS = ("0.3", "0.5", "0.6", "0.7", "0.8", "0.9", "1.0")


@dataclass(frozen=True, slots=True)
class Strength:
    """Mean strength at the base of each segment for a short load, all ``(n,)``.

    ``low`` and ``high`` are the published range as multiples of the mean; ``cov`` is the scatter
    of what is unknown (wood, union, bark, cavity, health) as a coefficient of variation.
    ``union_ratio`` is limb over parent diameter, 0 where a segment carries its own limb on.
    ``split_mpa`` is the strength across the grain of a curved limb, with a range and scatter of
    its own in ``split_low``, ``split_high``, ``split_cov`` (the curve's own among them).
    """

    bending_mpa: Floats
    shear_mpa: Floats
    low: Floats
    high: Floats
    cov: Floats
    union_ratio: Floats
    union_factor: Floats
    split_mpa: Floats
    split_low: Floats
    split_high: Floats
    split_cov: Floats


def union_factor(ratio: Floats) -> Floats:
    """Return the strength of a sound union over that of the smaller branch.

    ``ratio`` is limb over parent diameter, any shape. 0.85 to 0.5, 0.74 at 0.7 (Slater & Ennos
    2013), 0.70 from 0.83 (Kane 2007, Dahle et al. 2022), linear between.
    """
    at, value = _union_points()
    return np.asarray(np.interp(ratio, at, [p.value for p in value]), dtype=np.float64)


def gilman_factor(ratio: Floats) -> Floats:
    """Return the pessimistic union factor: young maples of Gilman 2003, force against ratio 0.3."""
    table = parameters("strength")
    at = [float(r) for r in GILMAN_RATIOS]
    return np.asarray(
        np.interp(ratio, at, [table[f"gilman_{r}"].value for r in GILMAN_RATIOS]), dtype=np.float64
    )


def thin_wall_factor(wall_ratio: Floats, thinnest: float | None = None) -> Floats:
    """Return the further loss of a thin-walled ring, which splits before it bends.

    1 from wall over radius 0.27 (Huang et al. 2017), falling linearly to ``thinnest`` at 0.06.
    """
    table = parameters("strength")
    least = table["thinnest_wall"].value if thinnest is None else thinnest
    at = [table["thinnest_wall_ratio"].value, table["thin_wall_ratio"].value]
    return np.asarray(np.interp(wall_ratio, at, [least, 1.0]), dtype=np.float64)


def is_union(skeleton: Skeleton) -> Bools:
    """Return ``(n,)`` True where a segment leaves its parent at a fork instead of carrying it on.

    Of the segments that leave one parent, the thickest of the parent's own limb carries it on;
    where a parent has one child only there is no fork. Wood marked included or cracked is a
    union in any case.
    """
    parent = skeleton.parent
    inner = parent >= 0
    above = np.where(inner, parent, 0)
    children = np.bincount(parent[inner], minlength=skeleton.n)
    forked = inner & ~carries_on(skeleton) & (children[above] > 1)
    return np.asarray(forked | (inner & (skeleton.union != Union.SOUND)))


def union_ratio(skeleton: Skeleton) -> Floats:
    """Return ``(n,)`` limb over parent diameter at each union, at most 1; 0 elsewhere."""
    at = is_union(skeleton)
    above = np.where(skeleton.parent >= 0, skeleton.parent, 0)
    below = np.maximum(skeleton.end_diameter_mm[above], 1e-9)
    return np.where(at, np.minimum(skeleton.start_diameter_mm / below, 1.0), 0.0)


def strength(skeleton: Skeleton, kind: Species | None = None) -> Strength:
    """Return the strength at the base of every segment.

    Parameters
    ----------
    skeleton
        The tree.
    kind
        Its species; None takes the one the skeleton names.

    Raises
    ------
    InputError
        The species is not known.
    """
    kind = species(skeleton.species) if kind is None else kind
    table = parameters("strength")
    n = skeleton.n
    ratio = union_ratio(skeleton)
    union, cavity, state = _union(skeleton, ratio), _cavity(skeleton), _state(skeleton.state)
    bark = _same(table["bark"], n)
    along = [_same(kind.bending_strength_mpa, n, relative=True), bark, union, cavity, state]
    across = [
        _same(kind.tension_perp_mpa, n, relative=True),
        _power(bark, 2.0 / 3.0),  # the tension goes with the area, the bending with its modulus
        cavity,
        state,
        _same(table["split_size"], n),
        _same(table["curve"], n),
    ]
    value, low, high, cov = _product(along)
    split, split_low, split_high, split_cov = _product(across)
    return Strength(
        bending_mpa=kind.bending_strength_mpa.value * value,
        shear_mpa=kind.shear_strength_mpa.value * value,
        low=low,
        high=high,
        cov=cov,
        union_ratio=ratio,
        union_factor=union.value,
        split_mpa=kind.tension_perp_mpa.value * split,
        split_low=split_low,
        split_high=split_high,
        split_cov=split_cov,
    )


@dataclass(frozen=True, slots=True)
class _Factor:
    value: Floats
    low: Floats
    high: Floats
    cov: Floats


def _product(parts: list[_Factor]) -> tuple[Floats, Floats, Floats, Floats]:
    """Return mean, low and high as multiples of it, and scatter of a product of factors."""
    value = np.prod([p.value for p in parts], axis=0)
    below = np.sqrt(sum(np.log(p.value / p.low) ** 2 for p in parts))
    above = np.sqrt(sum(np.log(p.high / p.value) ** 2 for p in parts))
    variance = np.prod([1.0 + p.cov**2 for p in parts], axis=0) - 1.0
    return np.asarray(value), np.exp(-below), np.exp(above), np.sqrt(variance)


def _power(factor: _Factor, power: float) -> _Factor:
    return _Factor(factor.value**power, factor.low**power, factor.high**power, factor.cov * power)


def _same(p: Parameter, n: int, *, relative: bool = False) -> _Factor:
    scale = p.value if relative else 1.0
    value, low, high = (np.full(n, x / scale) for x in (p.value, p.low, p.high))
    return _Factor(value, low, high, np.full(n, p.cov))


def _union_points() -> tuple[list[float], list[Parameter]]:
    table = parameters("strength")
    names = ("small", "middle", "codominant")
    return [table[f"union_{m}_ratio"].value for m in names], [table[f"union_{m}"] for m in names]


def _union(skeleton: Skeleton, ratio: Floats) -> _Factor:
    table = parameters("strength")
    at, points = _union_points()
    joint = is_union(skeleton)
    value = union_factor(ratio)
    high = np.interp(ratio, at, [p.high for p in points])
    low = np.minimum(value, gilman_factor(ratio))
    cov = np.full(skeleton.n, points[0].cov)
    included, cracked = table["included"], table["cracked"]
    for kind, p in ((Union.INCLUDED, included), (Union.CRACKED, cracked)):
        here = skeleton.union == kind
        spread_low, spread_high = np.log(p.value / p.low), np.log(p.high / p.value)
        low = np.where(here, p.value * value * _widen(low / value, -spread_low), low)
        high = np.where(here, p.value * value * _widen(high / value, spread_high), high)
        value = np.where(here, p.value * value, value)
        cov = np.where(here, np.hypot(cov, p.cov), cov)
    return _Factor(
        np.where(joint, value, 1.0),
        np.where(joint, low, 1.0),
        np.where(joint, high, 1.0),
        np.where(joint, cov, 0.0),
    )


def _widen(ratio: Floats, log_spread: float) -> Floats:
    """Combine a range, given as a multiple of the mean, with another by root of squares."""
    return np.asarray(np.exp(np.sign(log_spread) * np.hypot(np.log(ratio), log_spread)))


def _cavity(skeleton: Skeleton) -> _Factor:
    table = parameters("strength")
    hollow = np.isfinite(skeleton.cavity_wall_mm)
    k = np.maximum(wall_share(skeleton.start_diameter_mm, skeleton.cavity_wall_mm), 1e-3)
    thinnest = table["thinnest_wall"]
    # what an error in the wall does to the modulus: d ln W / d ln k
    lever = 4.0 * k * (1.0 - k) ** 3 / hollow_modulus_factor(k)
    thin = k < table["thin_wall_ratio"].value
    opened = skeleton.cavity_open_deg > 0.0
    scatter = (lever * table["wall"].cov) ** 2 + (thin * thinnest.cov) ** 2
    scatter = scatter + (opened * table["opened"].cov) ** 2
    return _Factor(
        thin_wall_factor(k),
        thin_wall_factor(k, thinnest.low),
        thin_wall_factor(k, thinnest.high),
        np.where(hollow, np.sqrt(scatter), 0.0),
    )


def _state(state: Ints) -> _Factor:
    table = parameters("strength")
    value, low, high = (np.ones(state.size) for _ in range(3))
    cov = np.zeros(state.size)
    for health, name in (
        (State.DEAD, "dead"),
        (State.DISEASED, "diseased"),
        (State.BROKEN, "broken"),
    ):
        here, p = state == health, table[name]
        value[here], low[here], high[here], cov[here] = p.value, p.low, p.high, p.cov
    return _Factor(value, low, high, cov)

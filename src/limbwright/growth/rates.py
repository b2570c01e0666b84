"""How fast a tree grows and how it answers cuts, from the little a survey says of its vigour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import exp, log, pi
from typing import Any

import numpy as np

from limbwright.errors import InputError
from limbwright.growth.ranges import Range, given
from limbwright.model.records import StationRecord
from limbwright.model.site import Site
from limbwright.trade.parameters import parameters
from limbwright.trade.species import Species, species

__all__ = ["MULTIPLIERS", "Rates", "rates", "sample_rates"]

MULTIPLIERS = (
    "ring_width",
    "extension",
    "crown_growth",
    "regrowth",
    "shoot_count",
    "shoot_length",
)
"""What records may teach: each scales one rate of `Rates`."""
WEAK_STATES = ("weak", "veteran")
WEAK_CONDITIONS = ("poor", "dying", "dead")
MOST_RING_MM = 8.0
"""Judgement: no orchard tree lays on wider rings than this for long."""
LEAST_GROWTH, MOST_GROWTH = -0.15, 0.5
"""Judgement: no crown that lives on loses or gains more of its leaf in a year."""
TAIL = 1.6449
"""Low and high are taken to hold nine years or trees in ten: normal quantile of 0.95."""


@dataclass(frozen=True, slots=True)
class Rates:
    """Yearly growth of one tree and its answer to cuts.

    ``ring_mm`` ring of the stem, the yearly gain of its radius; ``extension_cm`` growth of an outer
    shoot; ``crown_growth`` share a year by which leaf, fine wood and crop of the unpruned crown
    grow, below zero where it dies back; ``reach_growth`` that by which live limbs lengthen;
    ``sound`` the share of new rings that counts as strength.
    ``regrowth`` share of the leaf taken that in the long run grows again at the cuts, of a quarter
    dose cut to the collar in winter; ``regrowth_years`` its time constant, ``fruit_years`` that of
    the crop on it. ``shoots_per_m2`` watershoots per m2 of leaf taken so, ``shoot_length_m`` in the
    first season, ``shoots_stay`` share that stands from one year to the next.
    ``closing`` mm of wound closed per mm of diameter growth. ``vigour`` is strong, ordinary, slow
    or weak, ``because`` what says so. ``stem_mm`` is the stem the rates were worked out for.
    """

    species: str
    vigour: str
    because: str
    stem_mm: float
    ring_mm: Range
    extension_cm: Range
    crown_growth: Range
    reach_growth: Range
    sound: Range
    regrowth: Range
    regrowth_years: Range
    fruit_years: Range
    shoots_per_m2: Range
    shoot_length_m: Range
    shoots_stay: Range
    closing: Range

    def to_dict(self) -> dict[str, Any]:
        """Return the rates as plain values, each range as value, low and high."""
        return {
            name: value.to_dict() if isinstance(value, Range) else value
            for name in self.__dataclass_fields__
            for value in (getattr(self, name),)
        }


def rates(
    kind: Species | str,
    station: StationRecord | None = None,
    *,
    year: int | None = None,
    site: Site | None = None,
    extension_cm: float | None = None,
    multipliers: Mapping[str, float] | None = None,
    state: str = "",
    stem_mm: float | None = None,
) -> Rates:
    """Return the growth of a tree from what its record says.

    Parameters
    ----------
    kind
        The species, or its name.
    station
        The record: condition, dead wood, last season's growth, year of planting, girth.
    year
        The year of the forecast, for the tree's age.
    site
        The place; nothing is taken from it yet, since no source ties growth to it.
    extension_cm
        Growth of an outer shoot last season [cm], in place of the record's.
    multipliers
        What records have taught: factors by the names in `MULTIPLIERS`, 1 where none.
    state
        State of the tree as the plan of cuts has it, such as ``"veteran"``.
    stem_mm
        Diameter of the stem's foot [mm], in place of the record's girth.

    Raises
    ------
    InputError
        A species or a multiplier is not known, or a multiplier is not above zero.
    """
    del site
    table = parameters("growth")
    kind = species(kind) if isinstance(kind, str) else kind
    learnt = _learnt(multipliers)
    planted = None if station is None else station.planted
    age = None if year is None or planted is None else float(year - planted)
    taped = extension_cm
    if taped is None and station is not None:
        taped = station.extension_cm
    vigour, because = _vigour(station, age, taped, state)
    stem = _stem_mm(station, stem_mm)
    ring = _ring(kind, vigour, age, stem).times(learnt["ring_width"]).within(0.0, MOST_RING_MM)
    stem = stem or table["stem.usual"].value
    outer = given(table[f"extension.{vigour}"])
    if taped is not None:
        outer = Range(taped, min(taped, outer.low), max(taped, outer.high))
    loss = given(table[f"dieback.{vigour}"])
    gain = ring.times(4.0 / stem)  # leaf goes with the section: dL/L = 2 dD/D, dD = 2 rings
    growth = Range(gain.value - loss.value, gain.low - loss.high, gain.high - loss.low)
    growth = growth.times(learnt["crown_growth"]).within(LEAST_GROWTH, MOST_GROWTH)
    reach = given(table[f"reach.{vigour}"])
    answer = given(table[f"regrowth.{vigour}"])
    years = given(table["regrowth.years"])
    later = given(table["regrowth.fruit_later"])
    return Rates(
        species=kind.key,
        vigour=vigour,
        because=because,
        stem_mm=stem,
        ring_mm=ring,
        extension_cm=outer.times(learnt["extension"]),
        crown_growth=growth,
        reach_growth=Range(
            *(
                share * gained / 3.0  # length goes with diameter to the power 2/3
                for share, gained in (
                    (reach.value, gain.value),
                    (reach.low, gain.low),
                    (reach.high, gain.high),
                )
            )
        ),
        sound=given(table[f"sound.{vigour}"]),
        regrowth=_one(given(table["regrowth.share"]), answer, learnt["regrowth"]),
        regrowth_years=years,
        fruit_years=Range(
            years.value + later.value, years.low + later.low, years.high + later.high
        ),
        shoots_per_m2=given(table["shoots.per_leaf"])
        .times(answer.value)
        .times(learnt["shoot_count"]),
        shoot_length_m=given(table[f"shoots.{vigour}"]).times(learnt["shoot_length"]),
        shoots_stay=given(table["shoots.stay"]),
        closing=given(table["wound.closed_per_growth"]),
    )


def _one(share: Range, answer: Range, learnt: float) -> Range:
    # the range of the share is wide enough to hold that of the vigour too
    return share.times(answer.value * learnt).within(0.0, 1.0)


def _learnt(multipliers: Mapping[str, float] | None) -> dict[str, float]:
    found = dict.fromkeys(MULTIPLIERS, 1.0)
    for name, factor in (multipliers or {}).items():
        if name not in found:
            raise InputError(
                f"The growth rate {name!r} is not known.",
                f"Give one of: {', '.join(MULTIPLIERS)}.",
            )
        if not (np.isfinite(factor) and factor > 0.0):
            raise InputError(
                f"The factor {factor:g} for {name} cannot be.", "Give a number above 0, such as 1."
            )
        found[name] = float(factor)
    return found


def _vigour(
    station: StationRecord | None, age: float | None, extension_cm: float | None, state: str
) -> tuple[str, str]:
    table = parameters("growth")
    if state in WEAK_STATES:
        return "weak", f"a {state} tree"
    if station is not None:
        if station.condition.strip().lower() in WEAK_CONDITIONS:
            return "weak", f"its condition is {station.condition.strip().lower()}"
        dead = station.dead_pct
        if dead is not None and dead >= 100.0 * table["vigour.weak_dead_share"].value:
            return "weak", f"{dead:.0f} % of the crown is dead"
    if extension_cm is not None:
        said = f"it grew {extension_cm:.0f} cm last season"
        if extension_cm < table["vigour.weak_below"].value:
            return "weak", said
        if extension_cm < table["vigour.slow_below"].value:
            return "slow", said
        return ("strong" if extension_cm > table["vigour.strong_above"].value else "ordinary"), said
    if age is not None and age >= table["vigour.slow_age"].value:
        return "slow", f"it is {age:.0f} years old"
    return "ordinary", "nothing in the record says otherwise"


def _stem_mm(station: StationRecord | None, stem_mm: float | None) -> float | None:
    if stem_mm is not None and stem_mm > 0.0:
        return stem_mm
    girth = None if station is None else station.girth_cm
    return 10.0 * girth / pi if girth is not None and girth > 0.0 else None


def _ring(kind: Species, vigour: str, age: float | None, stem_mm: float | None) -> Range:
    """Return the ring of the stem [mm]: by vigour, wider in youth, drawn to the tree's own past."""
    table = parameters("growth")
    ring = given(table[f"ring.{vigour}"])
    young, until = given(table["ring.young"]), table["ring.young_until"].value
    grown = table["ring.grown_from"].value
    if age is not None and age < grown and vigour != "weak":
        share = min(max((age - until) / (grown - until), 0.0), 1.0)
        ring = Range(
            *(
                exp(share * log(old) + (1.0 - share) * log(new))
                for old, new in (
                    (ring.value, young.value),
                    (ring.low, young.low),
                    (ring.high, young.high),
                )
            )
        )
    if age is not None and age > until and stem_mm is not None:
        # what the tree has done says as much as what its kind does: the geometric mean of both
        own = given(table["ring.of_mean"]).times(stem_mm / (2.0 * age))
        ring = Range(
            (own.value * ring.value) ** 0.5, min(own.low, ring.low), max(own.high, ring.high)
        )
    return ring.times(table["ring.stone"].value) if kind.group == "stone" else ring


def sample_rates(one: Rates, rng: np.random.Generator, n: int) -> tuple[Rates, ...]:
    """Return ``n`` draws of the rates, for forecasts with bands.

    Each rate is drawn by itself, lognormal with its value as the median and low and high at one in
    twenty on either side (judgement); the growth of the crown, which may be below zero, is normal
    likewise. In a draw low and high equal the value.
    """
    names = [name for name in one.__dataclass_fields__ if isinstance(getattr(one, name), Range)]
    found = []
    for row in rng.standard_normal((n, len(names))).tolist():
        drawn: dict[str, Any] = {
            name: _draw(getattr(one, name), z, name) for name, z in zip(names, row, strict=True)
        }
        found.append(replace(one, **drawn))
    return tuple(found)


def _draw(of: Range, z: float, name: str) -> Range:
    side = of.high if z > 0.0 else of.low
    if of.value > 0.0 and side > 0.0 and name != "crown_growth":
        value = of.value * (side / of.value) ** (abs(z) / TAIL)
    else:
        value = of.value + (side - of.value) * abs(z) / TAIL
    if name == "crown_growth":
        value = min(max(value, LEAST_GROWTH), MOST_GROWTH)
    elif name in ("regrowth", "shoots_stay", "sound"):
        value = min(max(value, 0.0), 1.0)
    return Range(value, value, value)

"""How a tree answers cuts: leaf grown again, watershoots, and wounds that close."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, inf
from typing import Any, Literal

from limbwright.errors import InputError
from limbwright.growth.ranges import Range, given
from limbwright.growth.rates import Rates
from limbwright.trade.parameters import parameters

__all__ = [
    "CutKind",
    "Season",
    "Shoots",
    "long_run_share",
    "regrowth_range",
    "regrowth_share",
    "watershoots",
    "wound_closing_years",
]

CutKind = Literal["remove", "shorten", "head", "thin"]
Season = Literal["winter", "summer"]
SEASONS_TOLD = 5
"""Seasons over which watershoots are counted; by then the flush has died down."""


@dataclass(frozen=True, slots=True)
class Shoots:
    """Watershoots to be expected in the season after the cuts, of the whole tree.

    ``count`` in the first season, ``length_m`` of one of them, ``kg`` and ``leaf_m2`` of all.
    ``by_year[k]`` is how many stand in season k + 1 where nobody thins them.
    """

    count: Range
    length_m: Range
    kg: Range
    leaf_m2: Range
    by_year: tuple[Range, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the shoots as plain values."""
        return {
            "count": self.count.to_dict(),
            "length_m": self.length_m.to_dict(),
            "kg": self.kg.to_dict(),
            "leaf_m2": self.leaf_m2.to_dict(),
            "by_year": [one.to_dict() for one in self.by_year],
        }


def _answer(dose: float, kind: str, season: str) -> float:
    """Return how strongly a tree answers cuts over a quarter dose to the collar in winter."""
    table = parameters("growth")
    for name, said in ((f"kind.{kind}", kind), (f"season.{season}", season)):
        if name not in table:
            raise InputError(
                f"Cuts of the kind or season {said!r} are not known.",
                "Kinds are remove, shorten, head and thin; seasons are winter and summer.",
            )
    if not 0.0 <= dose <= 1.0:
        raise InputError(
            f"A dose of {dose:g} cannot be.", "A dose is a share of the live crown, from 0 to 1."
        )
    floor, usual = table["regrowth.dose_floor"].value, table["regrowth.dose_usual"].value
    by_dose = floor + (1.0 - floor) * dose / usual
    return by_dose * table[f"kind.{kind}"].value * table[f"season.{season}"].value


def long_run_share(
    rates: Rates, dose: float, *, kind: CutKind = "remove", season: Season = "winter"
) -> float:
    """Return the share of the leaf taken that in the end grows again at the cuts, at most 1."""
    return min(rates.regrowth.value * _answer(dose, kind, season), 1.0)


def regrowth_share(
    rates: Rates,
    years_since: float,
    dose: float,
    *,
    kind: CutKind = "remove",
    season: Season = "winter",
) -> float:
    """Return omega(k), the share of the leaf taken that has grown again k years after the cuts.

    ``omega(k) = w (1 - exp(-k / tau))``: fastest in the first season (Follett et al. 2016), never
    more than was taken. ``w`` rises with the dose, is more for heading and less for cuts to a
    lateral, thinning and cuts in summer; see ``docs/method/growth.md``.

    Parameters
    ----------
    rates
        The tree's rates.
    years_since
        Growing seasons since the cuts; 0 before the first.
    dose
        Share of the live crown taken in that season, 0 to 1.

    Raises
    ------
    InputError
        The dose, the kind or the season cannot be.
    """
    grown = 1.0 - exp(-max(years_since, 0.0) / rates.regrowth_years.value)
    return long_run_share(rates, dose, kind=kind, season=season) * grown


def regrowth_range(
    rates: Rates,
    years_since: float,
    dose: float,
    *,
    kind: CutKind = "remove",
    season: Season = "winter",
) -> Range:
    """Return omega(k) with its range: `regrowth_share` at the low and the high regrowth."""
    share = rates.regrowth.times(_answer(dose, kind, season)).within(0.0, 1.0)
    return share.times(1.0 - exp(-max(years_since, 0.0) / rates.regrowth_years.value))


def watershoots(
    rates: Rates,
    dose: float,
    removed_leaf_m2: float,
    *,
    season: Season = "winter",
    kind: CutKind = "remove",
) -> Shoots:
    """Return the watershoots to be expected after cuts.

    Parameters
    ----------
    rates
        The tree's rates.
    dose
        Share of the live crown taken, 0 to 1.
    removed_leaf_m2
        Leaf that the wood taken bore [m2].
    season, kind
        When and how it was cut; where kinds differ, ask for each with its leaf.

    Raises
    ------
    InputError
        The dose, the leaf, the kind or the season cannot be.
    """
    if not 0.0 <= removed_leaf_m2 < inf:
        raise InputError(f"A leaf area of {removed_leaf_m2:g} m2 cannot be.", "Give 0 or more.")
    table = parameters("growth")
    answer = _answer(dose, kind, season) * removed_leaf_m2
    length = rates.shoot_length_m
    count = rates.shoots_per_m2.times(answer)
    of_all = rates.shoots_per_m2.by(length)
    by_year, stay = [count], count
    for _ in range(SEASONS_TOLD - 1):
        stay = Range(
            stay.value * rates.shoots_stay.value,
            stay.low * rates.shoots_stay.low,
            stay.high * rates.shoots_stay.high,
        )
        by_year.append(stay)
    return Shoots(
        count=count,
        length_m=length,
        kg=of_all.by(given(table["shoots.mass_per_length"])).times(answer),
        # a tree grows no more leaf on watershoots than it lost
        leaf_m2=of_all.by(given(table["shoots.leaf_per_length"]))
        .times(answer)
        .within(0.0, removed_leaf_m2),
        by_year=tuple(by_year),
    )


def wound_closing_years(wound_mm: float, rates: Rates, *, bearer_mm: float | None = None) -> Range:
    """Return the years a wound takes to close over, endless where the wood does not grow.

    ``years = wound / (c * 2 ring)`` with c = 1.3 mm closed for each mm of diameter growth, found
    on stubs of wild cherry (Seifert et al. 2010, Trees 24:797-808): a first guess for other fruit.
    The same study found serious decay in stubs still open after 3 to 4 years.

    Parameters
    ----------
    wound_mm
        Width of the wound across the grain [mm].
    rates
        The tree's rates.
    bearer_mm
        Diameter of the wood that bears the wound [mm]; the stem's if None.
    """
    ring = rates.ring_mm
    if bearer_mm is not None:
        ring = ring.times(min(bearer_mm / rates.stem_mm, 1.0))  # rings go with diameter
    if wound_mm <= 0.0:
        return Range(0.0, 0.0, 0.0)
    if ring.low <= 0.0:
        years = [
            wound_mm / (2.0 * a * b) if a * b > 0.0 else inf
            for a, b in (
                (ring.value, rates.closing.value),
                (ring.high, rates.closing.high),
                (ring.low, rates.closing.low),
            )
        ]
        return Range(*years)
    pace = ring.times(2.0).by(rates.closing)
    return Range(wound_mm / pace.value, wound_mm / pace.high, wound_mm / pace.low)

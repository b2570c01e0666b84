"""The rules of the seasons as they fall in one place: by hemisphere, latitude and climate."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from limbwright.errors import InputError
from limbwright.model.site import Site
from limbwright.trade.parameters import parameters
from limbwright.trade.seasons.climate import Climate, Turns, reference_turns, turns_of
from limbwright.trade.seasons.days import COMMON_YEAR, MONTHS, YearDay
from limbwright.trade.seasons.rules import Rule, season_rules

__all__ = ["Basis", "Place", "Placed", "place_of"]

Basis = Literal["calendar", "climate", "none"]
PLACES_KEPT = 64
"""Places whose rules are kept once worked out; judgement: more than one sitting asks for."""
MIDDLE = 1
"""Place of the middle parameters among low, middle and high."""
NEW_YEAR, YEAR_END = YearDay(1, 1), YearDay(12, 31)
END_OF_FEBRUARY = YearDay(2, 29)


@dataclass(frozen=True, slots=True)
class Placed:
    """A rule with its days in a place: the core, and the widest any source or parameter gives."""

    rule: Rule
    first: YearDay
    last: YearDay
    widest_first: YearDay
    widest_last: YearDay


@dataclass(frozen=True, slots=True)
class Place:
    """What decides the days in a place, and the rules as they fall there.

    ``basis`` is ``calendar`` (by hemisphere alone), ``climate`` (moved with leaf fall and bud
    burst) or ``none`` (no window of the trees can be told); ``sentence`` says which and why.
    """

    basis: Basis
    sentence: str
    rules: tuple[Placed, ...]
    turns: Turns | None
    conditions: frozenset[str]


@lru_cache(maxsize=PLACES_KEPT)
def place_of(site: Site, climate: Climate | None = None) -> Place:
    """Return the rules of the seasons as they fall in a place.

    Parameters
    ----------
    site
        Its ``latitude_deg`` counts, or ``southern`` where none is given.
    climate
        Means of its months; None: the calendar of the temperate zone, where one holds.

    Raises
    ------
    InputError
        The months are those of the other half of the world.
    """
    southern = site.latitude < 0.0
    if climate is not None:
        _check_half(site.latitude, climate)
    turns = None if climate is None else turns_of(climate)
    basis, sentence = _basis(site, climate, turns)
    placed = (_placed(rule, basis, southern, turns) for rule in season_rules())
    hard = turns is not None and turns.hard_frost
    return Place(
        basis,
        sentence,
        tuple(one for one in placed if one is not None),
        turns,
        frozenset({"hard frost"} if hard else ()),
    )


def _check_half(latitude: float, climate: Climate) -> None:
    coldest = min(range(12), key=lambda month: climate.mean_c[month])
    in_southern_winter = 4 <= coldest <= 8  # May to September
    if abs(latitude) < parameters("season_climate")["tropics.latitude"].high:
        return  # near the tropics the rains may turn the year of warmth round
    if in_southern_winter != (latitude < 0.0) and turns_of(climate) is not None:
        half = "south" if in_southern_winter else "north"
        raise InputError(
            f"The coldest month is {MONTHS[coldest]}, as {half} of the equator, but the latitude "
            f"is {latitude:g}.",
            "Give the latitude with a minus sign in the south (or --southern), or other months.",
        )


def _basis(site: Site, climate: Climate | None, turns: Turns | None) -> tuple[Basis, str]:
    table = parameters("season_climate")
    latitude = abs(site.latitude)
    half = ", turned half a year round" if site.latitude < 0.0 else ""
    if climate is not None and turns is None:
        return "none", (
            "The months here differ too little, or stay too warm or too cold, to tell when leaf "
            "falls and buds move: no dormant season can be told. Near the equator "
            "trees are led by rain, or stripped and pruned by hand; ask growers of the place."
        )
    if turns is not None:
        return "climate", _say_turns(turns)
    if latitude > table["polar.latitude"].value:
        return "none", (
            "Beyond the polar circle no calendar of fruit trees holds: give the means of the "
            "months, or a weather record."
        )
    if latitude < table["tropics.latitude"].value:
        return "none", (
            "So near the equator no plain calendar holds: give the means of the months, or a "
            "weather record, and ask growers of the place."
        )
    if latitude > table["far.latitude"].value:
        return "calendar", (
            f"By the calendar of temperate Europe{half}; so far from the equator it may be weeks "
            "out: give the means of the months, or a weather record."
        )
    if latitude < table["tropics.latitude"].high:
        return "calendar", (
            f"By the calendar of temperate Europe{half}; so near the tropics it may be weeks "
            "out: give the means of the months, or a weather record."
        )
    return "calendar", f"By the calendar of temperate Europe{half}."


def _say_turns(turns: Turns) -> str:
    def about(days: tuple[int, int, int]) -> str:
        middle = days[MIDDLE]
        apart = [_apart(day, middle) for day in days]
        low, high = YearDay.at(middle + min(apart)), YearDay.at(middle + max(apart))
        return f"about {YearDay.at(middle).words} ({low.words} to {high.words})"

    said = (
        f"From the warmth of the months: leaf falls {about(turns.leaf_fall)}, buds move "
        f"{about(turns.bud_burst)}."
    )
    if turns.winter == "short":
        said += (
            f" With some {turns.chill_h:.0f} hours of chill the winter is short for most kinds: "
            "buds open late and unevenly, so look at each tree."
        )
    if turns.warm is None:
        said += " Summers are too cool for a season of full growth."
    return said


def _apart(day: int, other: int) -> int:
    """Return the days from the other to a day, the nearer way round."""
    half = COMMON_YEAR // 2
    return (day - other + half) % COMMON_YEAR - half


def _placed(rule: Rule, basis: Basis, southern: bool, turns: Turns | None) -> Placed | None:
    if rule.season == "hot":
        hot = None if turns is None else turns.hot
        return None if hot is None else Placed(rule, *hot, *hot)
    if rule.first[MIDDLE] == NEW_YEAR and rule.last[MIDDLE] == YEAR_END:
        return Placed(rule, NEW_YEAR, YEAR_END, NEW_YEAR, YEAR_END)
    if basis == "none":
        # near the equator a bird may nest in any month; what ripens when is not known
        wild = rule.kind == "disturbance" and "crown" in rule.jobs
        return Placed(rule, NEW_YEAR, YEAR_END, NEW_YEAR, YEAR_END) if wild else None
    days = (rule.first[1], rule.last[1], rule.first[0], rule.last[2])
    if turns is not None and rule.season:
        return _moved(rule, days, turns)
    turned = [day.half_a_year_later() if southern else day for day in days]
    return Placed(rule, turned[0], turned[1], turned[2], turned[3])


def _moved(rule: Rule, days: tuple[YearDay, ...], turns: Turns) -> Placed | None:
    """Return a rule with its days moved to where they fall between the turns of a climate."""
    if rule.season == "growth" and turns.warm is None:
        return None
    first, last, widest_first, widest_last = (
        [_carried(day, turns, which) for which in range(3)] for day in days
    )
    start, end = first[MIDDLE], last[MIDDLE]
    if rule.kind == "window":
        # where the parameters disagree, only what all of them open is open without doubt
        later = max(_apart(day, start) for day in first)
        earlier = max(_apart(end, day) for day in last)
        length = (end - start) % COMMON_YEAR
        if later + earlier > length:
            later = earlier = length // 2
        start, end = start + later, end - earlier
    return Placed(
        rule,
        YearDay.at(start),
        _last_day(end),
        YearDay.at(widest_first[MIDDLE]),
        _last_day(widest_last[MIDDLE]),
    )


def _last_day(index: int) -> YearDay:
    found = YearDay.at(index)
    return END_OF_FEBRUARY if (found.month, found.day) == (2, 28) else found


def _carried(day: YearDay, turns: Turns, which: int) -> int:
    """Return the day that lies as far between two turns here as it does where the calendar is from.

    ``which`` is 0, 1 or 2 for the low, middle or high parameters.
    """
    pairs = []
    for name in ("bud burst", "warm", "cool", "leaf fall"):
        here, there = turns.of(name), reference_turns().of(name)
        if here is not None and there is not None:
            pairs.append((there[which], here[which]))
    there_at, here_at = (np.array([*side, side[0]]) for side in zip(*pairs, strict=True))
    there_along = np.cumsum([0, *(np.diff(there_at) % COMMON_YEAR)])
    here_along = np.cumsum([0, *(np.diff(here_at) % COMMON_YEAR)])
    along = (day.index - there_at[0]) % COMMON_YEAR
    return int(here_at[0] + round(float(np.interp(along, there_along, here_along)))) % COMMON_YEAR

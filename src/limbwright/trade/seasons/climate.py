"""When leaf falls and buds move in a climate, from the means of its months.

Leaf falls as the year cools, buds open after chill and warmth: see docs/method/windows.md. All
parameters, with their ranges, are in ``data/season_climate.csv``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from scipy.special import ndtr

from limbwright.errors import InputError
from limbwright.model.skeleton import Floats
from limbwright.trade.parameters import Parameter, parameters
from limbwright.trade.seasons.days import COMMON_YEAR, YearDay

__all__ = ["Climate", "Turns", "reference_turns", "turns_of"]

Winter = Literal["full", "short", "none"]
LENGTHS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
MONTH_MIDDLES = np.cumsum(LENGTHS) - LENGTHS / 2.0
"""Days since 1 January at the middle of each month of a common year."""
HOURS = 24.0
WARMEST_C, COLDEST_C = 45.0, -60.0
"""Means of a month beyond these are slips of the pen; from memory: hotter or colder than any."""


@dataclass(frozen=True, slots=True)
class Climate:
    """Means of the twelve months [degrees Celsius], January first.

    ``spread_c`` is the standard deviation of hourly temperature within a month, None where not
    known; ``source`` says where the means come from.

    Raises
    ------
    InputError
        There are not twelve means, or one is not a temperature.
    """

    mean_c: tuple[float, ...]
    spread_c: float | None = None
    source: str = ""

    def __post_init__(self) -> None:
        """Refuse what is no climate."""
        wanted = "Give the mean of each month in degrees Celsius, January first."
        if len(self.mean_c) != 12:
            raise InputError(f"A climate of {len(self.mean_c)} monthly means.", wanted)
        for month, mean in enumerate(self.mean_c, 1):
            if not COLDEST_C <= mean <= WARMEST_C:
                raise InputError(f"The mean of month {month} is {mean:g} °C.", wanted)

    @property
    def daily_c(self) -> Floats:
        """``(365,)`` mean of each day, on straight lines between the middles of the months."""
        return np.asarray(
            np.interp(np.arange(COMMON_YEAR) + 0.5, MONTH_MIDDLES, self.mean_c, period=COMMON_YEAR)
        )


@dataclass(frozen=True, slots=True)
class Turns:
    """The turns of a tree's year in a climate, as days since 1 January.

    Each holds the day by the low, the middle and the high parameters. ``warm`` and ``cool`` bound
    the time in which stone fruit is in full growth, None where summers are too cool for that;
    ``hot`` the days in which most afternoons are hot, None where there are none.
    """

    leaf_fall: tuple[int, int, int]
    bud_burst: tuple[int, int, int]
    warm: tuple[int, int, int] | None
    cool: tuple[int, int, int] | None
    hot: tuple[YearDay, YearDay] | None
    chill_h: float
    winter: Winter
    hard_frost: bool

    def of(self, name: str) -> tuple[int, int, int] | None:
        """Return a turn by the name the rules give it."""
        found = {"leaf fall": self.leaf_fall, "bud burst": self.bud_burst, "warm": self.warm}
        return found.get(name, self.cool)


def turns_of(climate: Climate) -> Turns | None:
    """Return when leaf falls, buds move and wounds close in a climate.

    Returns
    -------
    Turns or None
        None where the warmth of the months does not tell of a winter that trees follow.

    Notes
    -----
    Chill is hours between 0 and 7.2 °C after leaf fall (Weinberger 1950), warmth degree-days above
    6.1 °C; both from the mean of the day and a normal spread about it, as Thom (1954, *Monthly
    Weather Review* 82:1) does for degree-days. Warmth counts from the later of the coldest day and
    the day the chill is met; where the coldest month is below 0 °C, from the coldest day, as the
    degree-days of cold places are counted from 1 January.
    """
    table = parameters("season_climate")
    daily = climate.daily_c
    span = float(daily.max() - daily.min())
    if span < table["season.range"].value:
        return None
    if daily.max() <= table["leaf_fall.below"].high:
        return None  # no month in which a fruit tree could be in leaf
    spread = climate.spread_c
    if spread is None:
        spread = table["spread.least"].value + table["spread.per_range"].value * span
    found = [_turns(daily, spread, which) for which in ("low", "value", "high")]
    chill = found[1].chill_h
    if any(one.bud_burst < 0 for one in found):
        return None  # buds would not open before the year turns cool again
    if chill < table["chill.none"].value:
        return None
    warm = _bounds(daily, found, "warm")
    cool = _bounds(daily, found, "cool")
    grows = warm is not None and cool is not None
    return Turns(
        leaf_fall=(found[0].leaf_fall, found[1].leaf_fall, found[2].leaf_fall),
        bud_burst=(found[0].bud_burst, found[1].bud_burst, found[2].bud_burst),
        warm=warm if grows else None,
        cool=cool if grows else None,
        hot=_hot(daily, table["hot.mean"].value),
        chill_h=chill,
        winter="full" if chill >= table["chill.need"].low else "short",
        hard_frost=bool(daily.min() < table["hard_frost.mean"].value),
    )


@cache
def reference_turns() -> Turns:
    """Return the turns of the climate the calendar's days were written in."""
    table = parameters("season_climate")
    means = tuple(table[f"reference.{month:02d}"].value for month in range(1, 13))
    found = turns_of(Climate(means, source="Central England, 1991 to 2020"))
    if found is None:
        raise ValueError("season_climate.csv: the reference has no winter")
    return found


@dataclass(frozen=True, slots=True)
class _Winter:
    """Turns by one set of parameters; ``bud_burst`` is -1 where buds never open."""

    which: str
    leaf_fall: int
    bud_burst: int
    chill_h: float


def _at(parameter: Parameter, which: str) -> float:
    return {"low": parameter.low, "high": parameter.high}.get(which, parameter.value)


def _turns(daily: Floats, spread_c: float, which: str) -> _Winter:
    table = parameters("season_climate")
    coldest, warmest = int(daily.argmin()), int(daily.argmax())
    least, span = float(daily.min()), float(daily.max() - daily.min())
    falls_at = max(
        _at(table["leaf_fall.below"], which), least + _at(table["leaf_fall.share"], which) * span
    )
    from_warmest = np.roll(daily, -warmest)
    leaf_fall = warmest + int(np.argmax(from_warmest < falls_at))
    # chill from leaf fall until the next leaf fall would come, at the most until the warmest day
    to_warmest = (warmest - leaf_fall) % COMMON_YEAR
    dormant = np.roll(daily, -leaf_fall)[:to_warmest]
    upper, lower = table["chill.upper"].value, table["chill.lower"].value
    hours = HOURS * (ndtr((upper - dormant) / spread_c) - ndtr((lower - dormant) / spread_c))
    chill = np.cumsum(hours)
    to_coldest = (coldest - leaf_fall) % COMMON_YEAR
    start = to_coldest
    if least >= 0.0:
        # where winters have less chill than asked for, buds wait for most of what there is
        need = min(_at(table["chill.need"], which), table["chill.most"].value * float(chill[-1]))
        start = max(to_coldest, int(np.searchsorted(chill, need)))
    base = table["forcing.base"].value
    z = (dormant - base) / spread_c
    warmth = (dormant - base) * ndtr(z) + spread_c * np.exp(-z * z / 2.0) / np.sqrt(2.0 * np.pi)
    warmth[:start] = 0.0
    buds = int(np.searchsorted(np.cumsum(warmth), _at(table["forcing.need"], which)))
    opens = (leaf_fall + buds) % COMMON_YEAR if buds < dormant.size else -1
    return _Winter(which, leaf_fall % COMMON_YEAR, opens, float(chill[-1]))


def _bounds(
    daily: Floats, winters: list[_Winter], end: Literal["warm", "cool"]
) -> tuple[int, int, int] | None:
    """Return the first or the last day of full growth by each set of parameters."""
    table = parameters("season_climate")
    warmest = int(daily.argmax())
    found = []
    for winter in winters:
        limit = _at(table[f"growth.{end}"], winter.which)
        if daily.max() < limit:
            return None
        if end == "warm":
            since = _at(table["growth.after_buds"], winter.which)
            before = np.roll(daily, -warmest)[::-1]  # the days before the warmest, backwards
            back = int(np.argmax(before < limit)) if (before < limit).any() else COMMON_YEAR
            room = (warmest - winter.bud_burst) % COMMON_YEAR - round(since)
            if room < 0:
                return None
            found.append((warmest - min(back, room)) % COMMON_YEAR)
        else:
            before_fall = _at(table["growth.before_fall"], winter.which)
            after = np.roll(daily, -warmest)
            on = int(np.argmax(after < limit)) - 1 if (after < limit).any() else COMMON_YEAR
            room = (winter.leaf_fall - warmest) % COMMON_YEAR - round(before_fall)
            if room < 0:
                return None
            found.append((warmest + min(on, room)) % COMMON_YEAR)
    return found[0], found[1], found[2]


def _hot(daily: Floats, limit_c: float) -> tuple[YearDay, YearDay] | None:
    if daily.max() < limit_c or daily.min() >= limit_c:
        return None
    hottest = int(daily.argmax())
    after = int(np.argmax(np.roll(daily, -hottest) < limit_c)) - 1
    before = int(np.argmax(np.roll(daily, -hottest)[::-1] < limit_c))
    return YearDay.at(hottest - before), YearDay.at(hottest + after)

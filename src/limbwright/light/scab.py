"""Apple scab: which wet spells were long and warm enough to infect.

The table of wet hours by temperature is the revision of Mills' by Stensvand et al. (1997) and
Carisse (2006), as printed by the Ontario agriculture ministry: ``trade/data/scab.csv``.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from limbwright.errors import InputError
from limbwright.model.skeleton import Bools, Floats
from limbwright.trade.parameters import parameters

__all__ = [
    "LEVELS",
    "ScabRow",
    "WetSpell",
    "daily_spells",
    "leaf_wet",
    "scab_row",
    "scab_table",
    "wet_spells",
]

LEVELS = ("none", "light", "moderate", "severe")


@dataclass(frozen=True, slots=True)
class ScabRow:
    """Wet hours that infect at ``from_c`` to below ``until_c``; days until lesions show."""

    from_c: float
    until_c: float
    light_h: float
    moderate_h: float
    severe_h: float
    secondary_h: float
    lesions_days: str
    source: str


@dataclass(frozen=True, slots=True)
class WetSpell:
    """A time leaves were wet, and what apple scab made of it.

    ``wet_h`` counts all hours wet, ``counted_h`` those with ascospores in the air. ``primary`` is
    ``none``, ``light``, ``moderate`` or ``severe``; ``secondary`` is True where conidia from
    lesions already there could infect. ``mean_c`` is NaN where no temperature was taken.
    """

    begin: np.datetime64
    end: np.datetime64
    wet_h: float
    counted_h: float
    mean_c: float
    primary: str
    secondary: bool
    lesions_days: str

    @property
    def in_table(self) -> bool:
        """Whether the table says anything of this temperature."""
        return scab_row(self.mean_c) is not None


@cache
def scab_table() -> tuple[ScabRow, ...]:
    """Return the published table, coldest first."""
    text = files("limbwright.trade").joinpath("data", "scab.csv").read_text("utf-8")
    return tuple(
        ScabRow(
            from_c=float(row["from_c"]),
            until_c=float(row["until_c"]),
            light_h=float(row["light_h"]),
            moderate_h=float(row["moderate_h"]),
            severe_h=float(row["severe_h"]),
            secondary_h=float(row["secondary_h"]),
            lesions_days=row["lesions_days"],
            source=row["source"],
        )
        for row in csv.DictReader(text.splitlines())
    )


def scab_row(mean_c: float) -> ScabRow | None:
    """Return the row for a temperature, None where the table says nothing of it."""
    for row in scab_table():
        if row.from_c <= mean_c < row.until_c:
            return row
    return None


def judged(wet_h: float, counted_h: float, mean_c: float) -> tuple[str, bool, str]:
    """Return the level of primary infection, whether secondary was possible, days to lesions."""
    row = scab_row(mean_c)
    if row is None:
        return LEVELS[0], False, ""
    level = sum(counted_h >= h for h in (row.light_h, row.moderate_h, row.severe_h))
    secondary = wet_h >= row.secondary_h
    return LEVELS[level], secondary, row.lesions_days if level or secondary else ""


def _rule(name: str, given: float | None, most: float) -> float:
    """Return a rule as given, else that of the table ``scab_rules``; see that it can be."""
    value = parameters("scab_rules")[name].value if given is None else given
    if not 0.0 <= value <= most:
        row = parameters("scab_rules")[name]
        what = {"dry_gap": "dry gap of {:g} hours", "day_from": "day that begins at {:g} o'clock"}
        raise InputError(
            f"A {what[name].format(value)} cannot be.",
            f"Sources give {row.low:g} to {row.high:g}; 0 to {most:g} is taken.",
        )
    return value


def leaf_wet(measured: Floats, rain_mm: Floats, humidity_pct: Floats) -> tuple[Bools, Bools]:
    """Return where leaves were wet, and where that is known; all ``(h,)``, NaN where not taken.

    As measured (a share of the hour of a half or more is wet), else wet where rain fell or the
    air held `wet.humidity` (90 %) of the moisture it can hold.
    """
    seen = np.isfinite(measured)
    with np.errstate(invalid="ignore"):
        damp = (rain_mm > 0.0) | (humidity_pct >= parameters("scab_rules")["wet.humidity"].value)
        # judgement: an hour wet for half of it or more is a wet hour
        wet = np.where(seen, measured >= 0.5, damp)
    return wet.astype(np.bool_), seen | np.isfinite(rain_mm) | np.isfinite(humidity_pct)


def wet_spells(
    when: NDArray[np.datetime64],
    temperature_c: Floats,
    wet: Bools,
    *,
    dry_gap_h: float | None = None,
    night_counts: bool = False,
    day_from_h: float | None = None,
) -> tuple[WetSpell, ...]:
    """Return the wet spells of an hourly record, each with the scab infection it allowed.

    Parameters
    ----------
    when
        ``(h,)`` local time at the start of each hour, rising; hours may be missing.
    temperature_c
        ``(h,)`` air temperature.
    wet
        ``(h,)`` True where leaves were wet in that hour.
    dry_gap_h
        Spells with a shorter dry time between them are one; dry hours do not count as wet. None
        takes 8; sources give 4 to 12.
    night_counts
        True where scab was bad last year (above 1 % of leaves at leaf fall, West Virginia
        University): hours of a night's rain count in full. Else a spell begun between 19:00 and
        ``day_from_h`` counts from then on, for ascospores fly by day.
    day_from_h
        None takes 7 (MacHardy & Gadoury 1989); sources give sunrise to 8.

    Raises
    ------
    InputError
        Times do not rise, lengths differ, or the gap or the hour cannot be.
    """
    if not (len(when) == len(temperature_c) == len(wet)):
        raise InputError("Times, temperatures and wetness differ in number.", "Give one each hour.")
    if len(when) > 1 and bool((np.diff(when) <= np.timedelta64(0, "s")).any()):
        raise InputError("The hours of the weather record do not rise.", "Sort them, each once.")
    gap_h = _rule("dry_gap", dry_gap_h, 24.0)
    day_h = _rule("day_from", day_from_h, 12.0)
    from_h = 0.0 if night_counts else day_h
    hours = np.flatnonzero(wet)
    if hours.size == 0:
        return ()
    one = np.timedelta64(1, "h")
    dry = (when[hours[1:]] - when[hours[:-1]] - one) / one
    breaks = np.flatnonzero(dry >= max(gap_h, 1e-9)) + 1
    return tuple(
        _spell(when[part], temperature_c[part], from_h) for part in np.split(hours, breaks)
    )


def _spell(when: NDArray[np.datetime64], temperature_c: Floats, day_from_h: float) -> WetSpell:
    """Return one wet spell; ``day_from_h`` 0 where the hours of the night count."""
    counted = np.ones(len(when), dtype=np.bool_)
    midnight = when[0].astype("datetime64[D]")
    begin_h = float((when[0] - midnight) / np.timedelta64(1, "h"))
    evening_h = parameters("scab_rules")["night_from"].value
    if day_from_h > 0.0 and not day_from_h <= begin_h < evening_h:
        dawn = midnight + np.timedelta64(round(60.0 * day_from_h), "m")
        counted = when >= dawn + np.timedelta64(24 if begin_h >= evening_h else 0, "h")
    known = temperature_c[np.isfinite(temperature_c)]
    mean_c = float(known.mean()) if known.size else float("nan")
    wet_h, counted_h = float(len(when)), float(counted.sum())
    primary, secondary, lesions = judged(wet_h, counted_h, mean_c)
    return WetSpell(
        begin=when[0],
        end=when[-1] + np.timedelta64(1, "h"),
        wet_h=wet_h,
        counted_h=counted_h,
        mean_c=mean_c,
        primary=primary,
        secondary=secondary,
        lesions_days=lesions,
    )


def daily_spells(
    day: NDArray[np.datetime64],
    mean_c: Floats,
    wet_h: Floats,
    *,
    dry_gap_h: float | None = None,
) -> tuple[WetSpell, ...]:
    """Return the wet spells of a daily record: mean temperature and hours of wet leaf each day.

    A day's record does not say when the leaves were wet. A day and the next are taken as one
    spell where the first was dry for no longer than the dry gap (wet for 16 hours or more); all
    hours count, those of the night too. So a wet evening and the wet morning after it are two
    spells, and a night's rain may count for too much: an hourly record tells better.

    Parameters
    ----------
    day
        ``(d,)`` dates, rising.
    mean_c
        ``(d,)`` mean of least and greatest temperature.
    wet_h
        ``(d,)`` hours of wet leaf, 0 to 24.
    dry_gap_h
        As for `wet_spells`.

    Raises
    ------
    InputError
        Days do not rise, or the gap cannot be.
    """
    gap_h = _rule("dry_gap", dry_gap_h, 24.0)
    if len(day) > 1 and bool((np.diff(day) <= np.timedelta64(0, "D")).any()):
        raise InputError("The days of the weather record do not rise.", "Sort them, each once.")
    found: list[list[int]] = []
    for i in np.flatnonzero(wet_h > 0.0):
        last = found[-1][-1] if found else -2
        follows = last >= 0 and (day[i] - day[last]) == np.timedelta64(1, "D")
        if follows and wet_h[last] >= 24.0 - gap_h:
            found[-1].append(int(i))
        else:
            found.append([int(i)])
    spells = []
    for part in found:
        hours = float(wet_h[part].sum())
        mean = float(np.average(mean_c[part], weights=wet_h[part]))
        primary, secondary, lesions = judged(hours, hours, mean)
        begin = day[part[0]].astype("datetime64[h]")
        end = day[part[-1]].astype("datetime64[h]") + np.timedelta64(24, "h")
        spells.append(WetSpell(begin, end, hours, hours, mean, primary, secondary, lesions))
    return tuple(spells)

"""Apple scab: which wet spells were long and warm enough to infect.

The table of wet hours by temperature is the revision of Mills' by Stensvand et al. (1997) and
Carisse (2006), as printed by the Ontario agriculture ministry: ``trade/data/scab.csv``.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from limbwright.errors import InputError
from limbwright.model.skeleton import Bools, Floats

__all__ = ["DRY_GAP_H", "ScabRow", "WetSpell", "scab_row", "scab_table", "wet_spells"]

DRY_GAP_H = 8.0
"""Wet spells less than this apart count as one. Sources disagree: 8 hours (West Virginia
University; Ontario), 4 hours dry or 12 humid (French practice)."""
SPORES_FLY_FROM_H = 7
"""Ascospores are shed by day: a night's rain counts from 07:00 (MacHardy & Gadoury 1989); others
count from sunrise."""
NIGHT_FROM_H = 19
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
    lesions already there could infect.
    """

    begin: np.datetime64
    end: np.datetime64
    wet_h: float
    counted_h: float
    mean_c: float
    primary: str
    secondary: bool
    lesions_days: str


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


def wet_spells(
    when: NDArray[np.datetime64],
    temperature_c: Floats,
    wet: Bools,
    *,
    dry_gap_h: float = DRY_GAP_H,
    night_counts: bool = False,
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
        Spells with a shorter dry time between them are one; dry hours do not count as wet.
    night_counts
        True where scab was bad last year (above 1 % of leaves at leaf fall): hours of a night's
        rain count in full. Else a spell begun between 19:00 and 07:00 counts from 07:00.

    Raises
    ------
    InputError
        Times do not rise, lengths differ or the gap is below 0.
    """
    if not (len(when) == len(temperature_c) == len(wet)):
        raise InputError("Times, temperatures and wetness differ in number.", "Give one each hour.")
    if len(when) > 1 and bool((np.diff(when) <= np.timedelta64(0, "s")).any()):
        raise InputError("The hours of the weather record do not rise.", "Sort them, each once.")
    if not dry_gap_h >= 0.0:
        raise InputError(f"A dry gap of {dry_gap_h:g} hours cannot be.", "Give 4 to 12 hours.")
    hours = np.flatnonzero(wet)
    if hours.size == 0:
        return ()
    one = np.timedelta64(1, "h")
    dry = (when[hours[1:]] - when[hours[:-1]] - one) / one
    breaks = np.flatnonzero(dry >= max(dry_gap_h, 1e-9)) + 1
    return tuple(
        _spell(when[part], temperature_c[part], night_counts) for part in np.split(hours, breaks)
    )


def _spell(when: NDArray[np.datetime64], temperature_c: Floats, night_counts: bool) -> WetSpell:
    counted = np.ones(len(when), dtype=np.bool_)
    begin_h = int(_hour(when[:1])[0])
    if not night_counts and (begin_h >= NIGHT_FROM_H or begin_h < SPORES_FLY_FROM_H):
        dawn = when[0].astype("datetime64[D]") + np.timedelta64(SPORES_FLY_FROM_H, "h")
        if begin_h >= NIGHT_FROM_H:
            dawn = dawn + np.timedelta64(24, "h")
        counted = when >= dawn
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


def _hour(when: NDArray[np.datetime64]) -> Sequence[int]:
    whole = when.astype("datetime64[D]")
    return [int(h) for h in (when - whole) / np.timedelta64(1, "h")]


def daily_spells(
    day: NDArray[np.datetime64], mean_c: Floats, wet_h: Floats
) -> tuple[WetSpell, ...]:
    """Return the wet spells of a daily record: mean temperature and hours of wet leaf each day.

    Days that follow each other are one spell where the first was wet for 16 hours or more, so
    that the dry time between could not reach `DRY_GAP_H`. All hours count: a day's record does
    not say when the rain began.

    Parameters
    ----------
    day
        ``(d,)`` dates, rising.
    mean_c
        ``(d,)`` mean of least and greatest temperature.
    wet_h
        ``(d,)`` hours of wet leaf, 0 to 24.
    """
    if len(day) > 1 and bool((np.diff(day) <= np.timedelta64(0, "D")).any()):
        raise InputError("The days of the weather record do not rise.", "Sort them, each once.")
    found: list[list[int]] = []
    for i in np.flatnonzero(wet_h > 0.0):
        last = found[-1][-1] if found else -2
        follows = last >= 0 and (day[i] - day[last]) == np.timedelta64(1, "D")
        if follows and wet_h[last] >= 24.0 - DRY_GAP_H:
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

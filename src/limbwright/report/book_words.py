"""Words and figures that all reports share: hours and money with their ranges, shares, lists."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from math import isfinite

from limbwright.growth.ranges import Range
from limbwright.model.numbered import in_order
from limbwright.report.words import plain

__all__ = [
    "CHANCES_RANK",
    "NOT_KNOWN",
    "NO_HOURS",
    "added",
    "and_list",
    "counted",
    "day_words",
    "figure",
    "hours_words",
    "money_words",
    "percent",
    "places",
    "sentence",
    "unmarked",
]

CHANCES_RANK = (
    "Chances rank limbs and trees, and should be read as orders of magnitude; a low one is never a "
    "promise."
)
"""Wherever a report prints a chance that a limb breaks."""
NOT_KNOWN = "–"
NO_HOURS = Range(0.0, 0.0, 0.0)


def added(ranges: Iterable[Range]) -> Range:
    """Return the sum of ranges, lows and highs each added up: all turn out low, or all high."""
    value = low = high = 0.0
    for one in ranges:
        value, low, high = value + one.value, low + one.low, high + one.high
    return Range(value, low, high)


def hours_words(hours: Range, *, unit: bool = True) -> str:
    """Return hours with their range, such as ``4.2 h (3.0 to 6.0)``; whole ones from ten on."""
    digits = 1 if hours.high < 10.0 else 0
    value, low, high = (f"{one:.{digits}f}" for one in (hours.value, hours.low, hours.high))
    said = f"{value} h" if unit else value
    return said if low == high else f"{said} ({low} to {high})"


def money_words(hours: Range, rate: float, currency: str) -> str:
    """Return what hours cost at a rate, with the range: ``EUR 420 (300 to 600)``."""
    value, low, high = (
        f"{rate * one:,.0f}".replace(",", "\u202f") for one in (hours.value, hours.low, hours.high)
    )
    said = f"{currency} {value}".strip()
    return said if low == high else f"{said} ({low} to {high})"


def percent(share: float | None, *, of: float | None = None) -> str:
    """Return a share of one in per cent, and beside it the most it might be."""
    if share is None or not isfinite(share):
        return NOT_KNOWN
    digits = 0 if share >= 0.095 or share == 0.0 else 1
    said = f"{100.0 * share:.{digits}f} %"
    return said if of is None or not isfinite(of) else f"{said} of {100.0 * of:.0f} %"


def counted(number: int, word: str, many: str = "") -> str:
    """Return a count with its word: ``1 tree``, ``3 trees``."""
    return f"1 {word}" if number == 1 else f"{number} {many or word + 's'}"


def and_list(names: Iterable[str], most: int = 0) -> str:
    """Return names as ``a, b and c``; of more than ``most`` (0: all) the rest are counted."""
    every = [plain(name) for name in names]
    if most and len(every) > most:
        return f"{', '.join(every[:most])} and {len(every) - most} more"
    if len(every) < 2:
        return "".join(every)
    return f"{', '.join(every[:-1])} and {every[-1]}"


def places(trees: Iterable[str], most: int = 0) -> str:
    """Return trees by orchard: ``Tump Orchard: 3, 6 and 10; Far Leasow: 4``.

    Of more than ``most`` (0: all) the rest are counted.
    """
    every = list(dict.fromkeys(trees))
    shown = every[:most] if most else every
    by_orchard: dict[str, list[str]] = {}
    for tree in shown:
        orchard, _, station = tree.rpartition("/")
        by_orchard.setdefault(orchard, []).append(station)
    said = [
        f"{plain(orchard)}: {told}" if orchard else told
        for orchard, stations in by_orchard.items()
        for told in [and_list(sorted(stations, key=in_order))]
    ]
    more = len(every) - len(shown)
    return "; ".join(said) + (f"; and {more} more" if more else "")


def unmarked(words: str, mark: str) -> str:
    """Return words without the mark that every page bears anyway."""
    if not mark:
        return words
    parts = (part.strip() for part in re.split(r"[;\n]", words))
    return "; ".join(part for part in parts if part and part.casefold() != mark.casefold())


def figure(value: float) -> str:
    """Return a figure as far as it is known: 57, 2.1, 0.29."""
    digits = 0 if abs(value) >= 20.0 else 1 if abs(value) >= 1.0 else 2
    said = f"{value:.{digits}f}"
    return said.rstrip("0").rstrip(".") if "." in said else said


def sentence(words: str) -> str:
    """Return words as a sentence: a capital at its head, a stop at its end."""
    said = plain(words)
    if not said:
        return ""
    said = said[0].upper() + said[1:]
    return said if said[-1] in ".!?" else f"{said}."


def day_words(day: date) -> str:
    """Return a day as ``3 March 2027``."""
    return f"{day.day} {day:%B} {day.year}"

"""Numbers as people write them: with a unit, a decimal comma, a compass point, a percent sign."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

__all__ = ["COMPASS", "LENGTH_MM", "Reading", "as_number", "looks_like_date", "read_number"]

LENGTH_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
"""Millimetres in a unit; source: international yard and pound agreement, 1959."""
_POINTS = "n nne ne ene e ese se sse s ssw sw wsw w wnw nw nnw"
COMPASS = {name: 22.5 * k for k, name in enumerate(_POINTS.split())}
"""Degrees of the sixteen points; common practice: clockwise from north."""
_ALIKE = {
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
    "millimetres": "mm",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "''": "in",
    "feet": "ft",
    "foot": "ft",
    "'": "ft",
    "°": "deg",
    "º": "deg",
    "degree": "deg",
    "degrees": "deg",
    "%": "pct",
    "percent": "pct",
}
_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?", re.ASCII)
_COMMA = re.compile(r"[-+]?\d+,\d+", re.ASCII)
_WITH_UNIT = re.compile(r"([-+]?(?:\d+[.,]?\d*|[.,]\d+))\s*([^\d\s.,]{1,11})\.?", re.ASCII)
_FORMULA_FAULTS = ("#REF!", "#DIV/0!", "#N/A", "#VALUE!", "#NAME?", "#NUM!", "#NULL!")
_NOTHING = frozenset(("-", "--", "\N{EN DASH}", "\N{EM DASH}", "?", "n/a", "na", "none", "nil"))
_MONTHS = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
_DATE = re.compile(
    rf"\d{{4}}-\d\d?-\d\d?(?:[ T].*)?|\d\d?[-/ ](?:{_MONTHS})[a-z]*(?:[-/ ]\d{{2,4}})?"
    rf"|(?:{_MONTHS})[a-z]*[-/ ]\d{{1,4}}|\d\d?/\d\d?/\d{{2,4}}|\d\d?\.\d\d?\.\d{{2,4}}"
    r"|\d\d?:\d\d(?::\d\d)?",
    re.ASCII | re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Reading:
    """What a cell says as a number: ``value`` None where it does not, ``said`` why it is odd."""

    value: float | None
    said: str = ""
    remedy: str = ""


def as_number(text: str) -> tuple[float | None, bool]:
    """Return the number a cell holds and whether it was written with a decimal comma."""
    plain, comma = text.strip(), False
    if not _NUMBER.fullmatch(plain):
        plain = plain.replace("\N{MINUS SIGN}", "-")
        comma = bool(_COMMA.fullmatch(plain))
        if comma:
            plain = plain.replace(",", ".")
        if not _NUMBER.fullmatch(plain):
            return None, False
    value = float(plain)
    return (value if math.isfinite(value) else None), comma


def looks_like_date(text: str) -> bool:
    """Return whether a cell looks like a date or a time of day."""
    return bool(_DATE.fullmatch(text.strip()))


def read_number(text: str, column: str) -> Reading:
    """Return the number of a cell in the unit its column's name ends in.

    A value with another unit of the same kind is converted, a compass point is read as degrees;
    ``said`` then tells it. Dates, ranges and words are no numbers.
    """
    value, comma = as_number(text)
    unit = column.rpartition("_")[2]
    if value is not None and not comma:
        return Reading(value)
    if value is not None:
        remedy = f"Read as {value:g}"
        if re.fullmatch(r"[-+]?[1-9]\d{0,2},\d{3}", text.strip()):
            whole = text.strip().replace(",", "")
            return Reading(value, "written with a comma", f"{remedy}; if {whole} is meant, say so.")
        return Reading(value, "written with a decimal comma", f"{remedy}.")
    plain = text.strip().replace("\N{MINUS SIGN}", "-")
    if plain.lower() in _NOTHING:
        return Reading(None, "no number; read as not taken", "Leave the cell blank.")
    if unit == "deg" and column.endswith("bearing_deg") and plain.lower() in COMPASS:
        value = COMPASS[plain.lower()]
        return Reading(value, "a compass point", f"Read as {value:g}; give degrees.")
    with_unit = _with_unit(plain, unit)
    if with_unit is not None:
        return with_unit
    alone = f"Give the number alone{_in_words(unit)}."
    if plain.upper() in _FORMULA_FAULTS:
        return Reading(None, "not a number: a formula that failed", "Mend the formula. " + alone)
    if looks_like_date(plain):
        return Reading(
            None,
            "not a number: a date or a time",
            f"A spreadsheet may have made it one: format the column as numbers. {alone}",
        )
    return Reading(None, "not a number", alone)


def _with_unit(text: str, unit: str) -> Reading | None:
    match = _WITH_UNIT.fullmatch(text)
    if match is None:
        return None
    number = as_number(match[1].rstrip(".,"))[0]
    given = match[2].lower().rstrip(".")
    given = _ALIKE.get(given, given)
    if number is None:
        return None
    if given == unit:
        fault = "written with its unit"
    elif given in LENGTH_MM and unit in LENGTH_MM:
        number = float(f"{number * LENGTH_MM[given] / LENGTH_MM[unit]:.12g}")
        fault = f"written in {given}"
    else:
        return None
    return Reading(number, fault, f"Read as {number:g} {_WORDS.get(unit, unit)}; give it alone.")


_WORDS = {"deg": "degrees", "m2": "m²", "pct": "percent"}


def _in_words(unit: str) -> str:
    return f" in {_WORDS.get(unit, unit)}" if unit in {"m", "cm", "mm", "kg", *_WORDS} else ""

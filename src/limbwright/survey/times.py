"""Dates and times of day as people and instruments write them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

__all__ = ["DayOrder", "Times", "day_order", "read_time"]

DayOrder = Literal["dmy", "mdy"]

_CLOCK = (
    r"(?:[T ,]+(?P<h>\d\d?)(?::(?P<min>\d\d))?(?::(?P<s>\d\d)(?:\.\d+)?)?\s*(?P<half>[ap]m)?"
    r"\s*(?P<zone>Z|UTC|[+-]\d\d:?\d\d)?)?"
)
_YEAR_FIRST = re.compile(
    r"(?P<y>\d{4})[-/.](?P<m>\d\d?)[-/.](?P<d>\d\d?)" + _CLOCK, re.ASCII | re.IGNORECASE
)
_YEAR_LAST = re.compile(
    r"(?P<one>\d\d?)(?P<sep>[-/.])(?P<two>\d\d?)(?P=sep)(?P<y>\d{4})" + _CLOCK,
    re.ASCII | re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Times:
    """A time as written: on the wall clock of the place, ``world`` True where it says UTC."""

    at: datetime
    world: bool = False


def day_order(texts: Sequence[str]) -> DayOrder | None:
    """Return whether day or month comes first where the year is last; None if nothing tells.

    A number above 12 tells, and so do dots between, which are written day first.
    """
    for text in texts:
        match = _YEAR_LAST.fullmatch(text.strip())
        if match is None:
            continue
        if match["sep"] == "." or int(match["one"]) > 12:
            return "dmy"
        if int(match["two"]) > 12:
            return "mdy"
    return None


def read_time(text: str, order: DayOrder | None) -> Times | None:
    """Return the time a cell holds, to the minute; None where it holds none.

    Parameters
    ----------
    text
        Such as ``2026-05-01 08:00``, ``2026-05-01T08:00:00+01:00``, ``01.05.2026 08:00``,
        ``5/1/2026 8:00 pm``; a date alone is its midnight, and 24:00 that of the next day.
    order
        How to read a date whose year is last; None where that is not known.
    """
    plain = text.strip()
    match = _YEAR_FIRST.fullmatch(plain)
    if match is not None:
        month, day = int(match["m"]), int(match["d"])
    else:
        match = _YEAR_LAST.fullmatch(plain)
        if match is None or order is None:
            return None
        one, two = int(match["one"]), int(match["two"])
        day, month = (one, two) if order == "dmy" else (two, one)
    hour, minute = int(match["h"] or 0), int(match["min"] or 0)
    if match["half"]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if match["half"].lower() == "pm" else 0)
    seconds = int(match["s"] or 0)
    if hour > 24 or minute > 59 or seconds > 59 or (hour == 24 and (minute or seconds)):
        return None
    try:
        at = datetime(int(match["y"]), month, day)
        # a spreadsheet's 08:59:59.9 is nine o'clock
        at += timedelta(hours=hour, minutes=minute + (1 if seconds >= 30 else 0))
    except (ValueError, OverflowError):
        return None
    zone = (match["zone"] or "").upper()
    return Times(at, zone in {"Z", "UTC"})

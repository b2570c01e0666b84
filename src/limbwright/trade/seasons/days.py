"""Days of the year: written, moved, turned half a year round, and found in a run of dates."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from limbwright.model.skeleton import Bools

__all__ = ["MONTHS", "Axis", "YearDay", "axis", "inside", "say_span", "year_day"]

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
LENGTHS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
"""Days of each month; February as in a leap year, so that 29 stands for its last day."""
COMMON_YEAR = 365
HALF_A_YEAR = 6
_WRITTEN = re.compile(r"(\d\d?)-(\d\d?)", re.ASCII)

Axis = NDArray[np.int64]
"""Dates as month times 100 plus day, in order."""


@dataclass(frozen=True, slots=True, order=True)
class YearDay:
    """A day of any year; 29 February stands for the last of February."""

    month: int
    day: int

    @property
    def code(self) -> int:
        """Month times 100 plus day, which orders the days of a year."""
        return 100 * self.month + self.day

    @property
    def index(self) -> int:
        """Days since 1 January in a common year, 0 to 364."""
        day = min(self.day, 28) if self.month == 2 else self.day
        return (date(2001, self.month, day) - date(2001, 1, 1)).days

    def __str__(self) -> str:
        """Return such as ``11-01``."""
        return f"{self.month:02d}-{self.day:02d}"

    @property
    def words(self) -> str:
        """Such as ``1 November``."""
        if (self.month, self.day) == (2, 29):
            return "the end of February"
        return f"{self.day} {MONTHS[self.month - 1]}"

    def in_year(self, year: int) -> date:
        """Return this day of a year; 29 February is the 28th where there is none."""
        if (self.month, self.day) == (2, 29):
            return date(year, 3, 1) - timedelta(days=1)
        return date(year, self.month, self.day)

    def later(self, days: int) -> YearDay:
        """Return the day so many days later, earlier below zero, in a common year."""
        return YearDay.at(self.index + days) if days else self

    def half_a_year_later(self) -> YearDay:
        """Return the same day six months on; the last of a month stays the last."""
        month = (self.month - 1 + HALF_A_YEAR) % 12 + 1
        last = self.day >= LENGTHS[self.month - 1] or (self.month == 2 and self.day == 28)
        return YearDay(month, LENGTHS[month - 1] if last else min(self.day, LENGTHS[month - 1]))

    @classmethod
    def at(cls, index: int) -> YearDay:
        """Return the day so many days after 1 January in a common year, wrapping round."""
        found = date(2001, 1, 1) + timedelta(days=index % COMMON_YEAR)
        return cls(found.month, found.day)


def year_day(text: str) -> YearDay | None:
    """Return the day written as month and day, such as ``11-01``; None where it is none."""
    match = _WRITTEN.fullmatch(text.strip())
    if match is None:
        return None
    month, day = int(match[1]), int(match[2])
    if not 1 <= month <= 12 or not 1 <= day <= LENGTHS[month - 1]:
        return None
    return YearDay(month, day)


def axis(first: date, last: date) -> Axis:
    """Return ``(d,)`` the codes of all dates from the first to the last."""
    days = np.arange(np.datetime64(first, "D"), np.datetime64(last, "D") + 1)
    months = days.astype("datetime64[M]")
    month = months.astype(np.int64) % 12 + 1
    day = (days - months.astype("datetime64[D]")).astype(np.int64) + 1
    return np.asarray(100 * month + day, dtype=np.int64)


def inside(first: YearDay, last: YearDay, codes: Axis) -> Bools:
    """Return ``(d,)`` True for the days from first to last, round the new year where need be."""
    after, before = codes >= first.code, codes <= last.code
    return np.asarray(after & before if first.code <= last.code else after | before)


def say_span(first: YearDay, last: YearDay) -> str:
    """Return such as ``1 November to 7 March``, or that it is the whole year."""
    if (last.index - first.index) % COMMON_YEAR == COMMON_YEAR - 1:
        return "all year"
    return f"{first.words} to {last.words}"

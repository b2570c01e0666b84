"""Days of the year: the arithmetic every window rests on, against the calendar itself."""

from __future__ import annotations

import calendar
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.trade.seasons.days import LENGTHS, YearDay, axis, inside, say_span, year_day

days = st.integers(1, 12).flatmap(
    lambda month: st.integers(1, LENGTHS[month - 1]).map(lambda day: YearDay(month, day))
)


def walked(first: YearDay, last: YearDay, begin: date, end: date) -> list[bool]:
    """Mark the days from each first to the next last by walking, a day at a time."""
    open_now = False
    found = {}
    day = date(begin.year - 2, 1, 1)
    while day <= end:
        if day == begins(first, day.year):
            open_now = True
        found[day] = open_now
        if day == last.in_year(day.year):
            open_now = False
        day += timedelta(days=1)
    return [found[begin + timedelta(days=k)] for k in range((end - begin).days + 1)]


def begins(first: YearDay, year: int) -> date:
    if first == YearDay(2, 29) and not calendar.isleap(year):
        return date(year, 3, 1)
    return date(year, first.month, first.day)


@settings(max_examples=60, deadline=None)
@given(days, days, st.integers(1995, 2105))
def test_spans_hold_the_days_one_walks_through(first: YearDay, last: YearDay, year: int) -> None:
    common = first == YearDay(2, 29) and not calendar.isleap(year)
    if common and last == YearDay(2, 29):
        return  # the end of February, from and to, is no day of a common year's walk
    begin, end = date(year, 1, 1), date(year, 12, 31)
    codes = axis(begin, end)
    assert inside(first, last, codes).tolist() == walked(first, last, begin, end)


@settings(deadline=None)
@given(st.dates(date(1900, 1, 1), date(2199, 1, 1)), st.integers(0, 800))
def test_codes_are_those_of_the_dates(begin: date, length: int) -> None:
    codes = axis(begin, begin + timedelta(days=length))
    wanted = [begin + timedelta(days=k) for k in range(length + 1)]
    assert codes.tolist() == [100 * day.month + day.day for day in wanted]


@settings(deadline=None)
@given(days)
def test_half_a_year_twice_comes_home(day: YearDay) -> None:
    twice = day.half_a_year_later().half_a_year_later()
    month_end = day.day == LENGTHS[day.month - 1] or (day.month, day.day) == (2, 28)
    if day.day <= 27 or (month_end and day.month != 2):
        assert twice == day
    assert twice.month == day.month


def test_the_end_of_a_month_stays_the_end() -> None:
    assert YearDay(8, 31).half_a_year_later() == YearDay(2, 29)
    assert YearDay(2, 28).half_a_year_later() == YearDay(8, 31)
    assert YearDay(3, 31).half_a_year_later() == YearDay(9, 30)
    assert YearDay(9, 30).half_a_year_later() == YearDay(3, 31)
    assert YearDay(11, 1).half_a_year_later() == YearDay(5, 1)


@settings(deadline=None)
@given(days, st.integers(-1000, 1000))
def test_days_move_as_in_a_common_year(day: YearDay, by: int) -> None:
    moved = day.later(by)
    if by:
        assert moved.index == (day.index + by) % 365
    assert YearDay.at(day.index).index == day.index


@pytest.mark.parametrize("text", ["", "13-01", "00-10", "02-30", "1-1-1", "June", "11-31", "11.01"])
def test_what_is_no_day_is_none(text: str) -> None:
    assert year_day(text) is None


def test_days_are_read_and_said() -> None:
    assert year_day(" 3-07 ") == YearDay(3, 7)
    assert str(YearDay(3, 7)) == "03-07"
    assert say_span(YearDay(11, 1), YearDay(2, 29)) == "1 November to the end of February"
    assert say_span(YearDay(1, 1), YearDay(12, 31)) == "all year"
    assert say_span(YearDay(7, 1), YearDay(6, 30)) == "all year"
    assert YearDay(2, 29).in_year(2027) == date(2027, 2, 28)
    assert YearDay(2, 29).in_year(2028) == date(2028, 2, 29)
    assert (
        np.count_nonzero(
            inside(YearDay(2, 29), YearDay(2, 29), axis(date(2028, 1, 1), date(2028, 12, 31)))
        )
        == 1
    )

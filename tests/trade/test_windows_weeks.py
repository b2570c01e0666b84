"""The least disturbed weeks and what meets a window, against a count of days."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from limbwright.model.site import Site
from limbwright.trade.seasons.job_windows import JobWindow, windows_for
from limbwright.trade.seasons.weeks import conflicts, quiet_span, weeks
from limbwright.trade.species import species

NORTH, SOUTH = Site(latitude_deg=52.0), Site(latitude_deg=-42.0)


def whole(job: str, name: str, site: Site = NORTH, year: int = 2027) -> JobWindow:
    return windows_for(job, species(name), site, year)


def runs(window: JobWindow) -> dict[date, tuple[str, tuple[str, ...]]]:
    return {
        span.first + timedelta(days=k): (span.state, span.rules)
        for run in window.runs
        for span in run
        for k in range(span.days)
    }


@pytest.mark.parametrize("site", [NORTH, SOUTH], ids=["north", "south"])
@pytest.mark.parametrize(
    ("job", "name"), [("structural", "plum"), ("structural", "apple"), ("fire-blight", "pear")]
)
def test_each_week_counts_its_days(job: str, name: str, site: Site) -> None:
    window = whole(job, name, site)
    days = runs(window)
    found = weeks(window)
    assert len({week.monday for week in found}) == len(found)
    for week in found:
        assert week.monday.weekday() == 0
        assert week.number == week.monday.isocalendar().week
        seven = [days.get(week.monday + timedelta(days=k), ("closed", ())) for k in range(7)]
        assert week.open_days == sum(state == "open" for state, _ in seven)
        assert week.care_days == sum(state == "care" for state, _ in seven)
        assert week.closed_days == sum(state == "closed" for state, _ in seven)
        asked = [r for _, rules in seven for r in rules if r not in window.windows]
        assert week.cautions == len(asked)
        assert set(week.rules) == set(asked)
    covered = {week.monday + timedelta(days=k) for week in found for k in range(7)}
    assert set(days) <= covered


def test_the_best_weeks_come_first() -> None:
    for job, name in (("structural", "cherry"), ("structural", "apple"), ("watershoots", "plum")):
        found = weeks(whole(job, name))
        keys = [(w.closed_days, w.care_days, w.cautions, w.monday) for w in found]
        assert keys == sorted(keys)


def test_stone_fruit_meets_nests_until_the_end_of_august() -> None:
    """May to September less March to August leaves September (guidance as in the table)."""
    window = whole("structural", "plum")
    assert quiet_span(window) == (date(2027, 9, 1), date(2027, 9, 30))
    best = weeks(window)[:3]
    assert all(week.open_days == 7 and week.monday.month == 9 for week in best)
    nests, *_ = conflicts(window)
    assert (nests.rule, nests.days, nests.of_days) == ("nesting", 123, 153)
    assert "on 123 of 153 days, 1 May 2027 to 31 August 2027" in nests.sentence
    south = whole("structural", "plum", SOUTH)
    assert quiet_span(south) == (date(2028, 3, 1), date(2028, 3, 31))


def test_conflicts_count_the_days_on_which_a_rule_is_heard() -> None:
    for job, name in (("structural", "apple"), ("structural", "damson"), ("summer", "pear")):
        window = whole(job, name)
        days = runs(window)
        for one in conflicts(window):
            met = [day for day, (_, rules) in days.items() if one.rule in rules]
            assert (one.days, one.first, one.last) == (len(met), min(met), max(met))
            assert one.of_days == len(days)


def test_a_window_never_quiet_has_no_quiet_span() -> None:
    assert quiet_span(whole("watershoots", "apple")) is None
    assert quiet_span(whole("ground", "apple")) == (date(2027, 1, 1), date(2027, 12, 31))

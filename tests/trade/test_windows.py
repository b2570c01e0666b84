"""When jobs may be done: every day against the rules read by hand, and what the answer says."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from datetime import date, timedelta
from functools import cache
from importlib.resources import files

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.errors import InputError
from limbwright.model.site import Site
from limbwright.trade.seasons.days import YearDay, year_day
from limbwright.trade.seasons.job_windows import JobWindow, jobs_for, windows_for
from limbwright.trade.seasons.local import LocalRule, LocalStrength
from limbwright.trade.seasons.rules import CONDITIONS, JOBS, season_rules
from limbwright.trade.species import all_species, species
from limbwright.trade.windows import group_window, nesting_months

NORTH, SOUTH = Site(latitude_deg=52.0), Site(latitude_deg=-42.0)
TABLE = files("limbwright.trade").joinpath("data", "season_rules.csv").read_text("utf-8")
ROWS = list(csv.DictReader(TABLE.splitlines()))


def states(window: JobWindow) -> dict[date, str]:
    return {
        span.first + timedelta(days=k): span.state
        for span in window.spans
        for k in range(span.days)
    }


@cache
def turned(text: str, southern: bool) -> tuple[int, int]:
    day = year_day(text)
    assert day is not None
    day = day.half_a_year_later() if southern else day
    return day.month, day.day


def between(day: date, first: tuple[int, int], last: tuple[int, int]) -> bool:
    at = (day.month, day.day)
    return first <= at <= last if first <= last else at >= first or at <= last


def by_hand(job: str, kind: str, group: str, southern: bool, day: date, held: Sequence[str]) -> str:
    """Return the state of one day straight from the rows of the table."""
    level = 0
    crown = JOBS[job].crown
    for row in ROWS:
        jobs = row["job"].split(";")
        named = {kind, group, "all"} & set(row["group"].split(";"))
        touched = job in jobs or (crown and "crown" in jobs)
        if row["kind"] != "window" or not touched or not named:
            continue
        if between(day, turned(row["first"], southern), turned(row["last"], southern)):
            level = 2
        widest = turned(row["first_low"], southern), turned(row["last_high"], southern)
        if between(day, *widest):
            level = max(level, 1)
    for row in ROWS:
        jobs = row["job"].split(";")
        named = {kind, group, "all"} & set(row["group"].split(";"))
        touched = job in jobs or (crown and "crown" in jobs)
        if row["kind"] != "disturbance" or not touched or not named or row["season"] == "hot":
            continue
        if row["needs"] and row["needs"] not in held:
            continue
        if between(day, turned(row["first"], southern), turned(row["last"], southern)):
            level = min(level, 0 if row["strength"] == "must" else 1)
    return ("closed", "care", "open")[level]


@pytest.mark.parametrize("year", [2027, 2028])
@pytest.mark.parametrize("southern", [False, True], ids=["north", "south"])
@pytest.mark.parametrize("name", ["apple", "plum", "damson", "cherry"])
def test_every_day_of_every_job_is_as_the_table_has_it(
    name: str, southern: bool, year: int
) -> None:
    kind = species(name)
    for held in ((), tuple(CONDITIONS)):
        for job in jobs_for(kind):
            window = windows_for(job.key, kind, SOUTH if southern else NORTH, year, conditions=held)
            found = states(window)
            assert len(found) == (366 if year == 2028 else 365)
            for day, state in found.items():
                wanted = by_hand(job.key, name, kind.group, southern, day, held)
                assert state == wanted, (job.key, day)


@pytest.mark.parametrize("name", [one.key for one in all_species()])
@pytest.mark.parametrize("site", [NORTH, SOUTH], ids=["north", "south"])
def test_windows_of_following_years_join_the_days_of_the_calendar(name: str, site: Site) -> None:
    kind = species(name)
    for job in jobs_for(kind):
        told = {}
        for year in range(2025, 2030):
            for run in windows_for(job.key, kind, site, year).runs:
                assert run[0].first.year == year
                for span in run:
                    for k in range(span.days):
                        day = span.first + timedelta(days=k)
                        assert day not in told
                        told[day] = span.state
        for day, state in states(windows_for(job.key, kind, site, 2028)).items():
            assert told.get(day, "closed") == state, (job.key, day)


def test_the_two_windows_of_the_trade() -> None:
    (pome,) = windows_for("structural", species("apple"), NORTH, 2027).runs
    assert (pome[0].first, pome[-1].last) == (date(2027, 10, 1), date(2028, 4, 30))
    surely = [span for span in pome if span.state == "open"]
    assert [(s.first, s.last) for s in surely] == [(date(2027, 11, 1), date(2028, 2, 29))]
    (stone,) = windows_for("structural", species("plum"), NORTH, 2027).runs
    assert (stone[0].first, stone[-1].last) == (date(2027, 5, 1), date(2027, 9, 30))
    assert stone[-1].state == "open"
    (south,) = windows_for("structural", species("plum"), SOUTH, 2027).runs
    assert (south[0].first, south[-1].last) == (date(2027, 11, 1), date(2028, 3, 31))


def test_months_of_the_card_are_those_of_the_days() -> None:
    for group, name in (("pome", "apple"), ("stone", "gage")):
        for southern, site in ((False, NORTH), (True, SOUTH)):
            rule = "pome-dormant" if group == "pome" else "stone-summer"
            (run,) = windows_for("structural", species(name), site, 2027).runs
            months = {
                (span.first + timedelta(days=k)).month
                for span in run
                if rule in span.rules
                for k in range(span.days)
            }
            assert months == set(
                group_window("pome" if group == "pome" else "stone", southern).months
            )
    assert nesting_months() == (3, 4, 5, 6, 7, 8)


def test_why_names_the_deciding_rule_first_with_its_source() -> None:
    window = windows_for("structural", species("plum"), NORTH, 2027)
    span = window.on(date(2027, 6, 1))
    assert span.state == "care"
    assert span.decided_by == "nesting"
    first, *rest = window.why(span)
    assert first.name == "birds nesting"
    assert "local law comes first" in first.source
    assert [reason.key for reason in rest] == ["stone-summer"]
    assert "silver leaf" in rest[0].sentence
    assert window.on(date(2027, 1, 1)).decided_by == "no-window"
    with pytest.raises(ValueError, match="2027"):
        window.on(date(2029, 1, 1))


def rule(strength: LocalStrength, first: str, last: str, **more: str) -> LocalRule:
    begin, end = year_day(first), year_day(last)
    assert begin is not None
    assert end is not None
    given = {"job": "all", "species": "all", "scheme": "Invented Orchard Scheme", **more}
    return LocalRule(
        given["job"], given["species"], begin, end, strength, given["scheme"], dated="2027"
    )


def decided(window: JobWindow, day: date) -> tuple[str, str]:
    span = window.on(day)
    return span.state, span.decided_by


def test_a_local_rule_forbids_narrows_and_widens_and_is_named() -> None:
    apple, day = species("apple"), date(2027, 12, 10)
    shut = windows_for(
        "structural", apple, NORTH, 2027, local_rules=[rule("forbid", "12-01", "01-15")]
    )
    assert decided(shut, day) == ("closed", "local-1")
    assert decided(shut, date(2027, 11, 30))[0] == "open"
    assert len(shut.runs) == 2  # in October, and again from 16 January of the year before
    only = windows_for(
        "structural", apple, NORTH, 2027, local_rules=[rule("only", "02-01", "02-29")]
    )
    assert decided(only, day) == ("closed", "local-1")
    assert decided(only, date(2027, 2, 28))[0] == "open"
    allow = windows_for(
        "structural", apple, NORTH, 2027, local_rules=[rule("allow", "09-10", "10-31")]
    )
    assert decided(allow, date(2027, 9, 12)) == ("care", "harvest-pome")
    assert "local-1" in allow.on(date(2027, 9, 12)).rules
    look = windows_for(
        "structural", apple, NORTH, 2027, local_rules=[rule("look first", "12-01", "12-31")]
    )
    assert decided(look, day) == ("care", "local-1")
    assert "Invented Orchard Scheme, 2027" in look.reasons["local-1"].sentence


def test_of_two_local_rules_the_stricter_holds() -> None:
    two = [rule("allow", "06-01", "06-30"), rule("forbid", "06-10", "06-20")]
    for order in (two, two[::-1]):
        window = windows_for("structural", species("apple"), NORTH, 2027, local_rules=order)
        assert window.on(date(2027, 6, 15)).state == "closed"
        assert window.on(date(2027, 6, 5)).state == "care"  # birds still nest


def test_a_local_rule_speaks_of_its_own_job_and_species_alone() -> None:
    mine = [rule("forbid", "01-01", "12-31", job="structural", species="stone")]
    plum = windows_for("structural", species("plum"), NORTH, 2027, local_rules=mine)
    assert not plum.runs
    for job, name in (("watershoots", "plum"), ("structural", "apple")):
        with_rule = windows_for(job, species(name), NORTH, 2027, local_rules=mine)
        assert with_rule.spans == windows_for(job, species(name), NORTH, 2027).spans


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(["forbid", "only", "allow", "look first"]),
    st.integers(0, 364),
    st.integers(0, 364),
    st.sampled_from(["apple", "plum"]),
)
def test_local_rules_only_do_what_they_say(
    strength: LocalStrength, first: int, last: int, name: str
) -> None:
    one = LocalRule("all", "all", YearDay.at(first), YearDay.at(last), strength, "Invented")
    plain = states(windows_for("structural", species(name), NORTH, 2027))
    ruled = states(windows_for("structural", species(name), NORTH, 2027, local_rules=[one]))
    begin, end = (one.first.month, one.first.day), (one.last.month, one.last.day)
    for day, state in ruled.items():
        within = between(day, begin, end)
        wanted = plain[day]
        if (strength == "forbid" and within) or (strength == "only" and not within):
            wanted = "closed"
        elif strength == "look first" and within and wanted == "open":
            wanted = "care"
        elif strength == "allow" and within:
            assert state in ("open", "care")
            continue
        assert state == wanted


def test_near_the_equator_and_the_pole_no_calendar_is_given() -> None:
    for latitude in (0.0, -3.0, 24.0, 70.0, -68.0):
        window = windows_for("structural", species("apple"), Site(latitude_deg=latitude), 2027)
        assert window.basis == "none"
        assert "no" in window.sentence
        assert {span.state for span in window.spans} == {"care"}
        assert "birds nesting" in {one.name for span in window.spans for one in window.why(span)}
    far = windows_for("structural", species("apple"), Site(latitude_deg=62.0), 2027)
    assert far.basis == "calendar"
    assert "weeks out" in far.sentence
    forbidden = windows_for(
        "structural",
        species("apple"),
        Site(latitude_deg=2.0),
        2027,
        local_rules=[rule("only", "06-01", "07-31")],
    )
    assert forbidden.on(date(2027, 8, 1)).state == "closed"
    assert forbidden.on(date(2027, 7, 31)).state == "care"


def test_what_is_asked_wrongly_is_told() -> None:
    with pytest.raises(InputError, match="no summer pruning of plum"):
        windows_for("summer", species("plum"), NORTH, 2027)
    with pytest.raises(InputError, match="'felling' is not known"):
        windows_for("felling", species("plum"), NORTH, 2027)
    with pytest.raises(InputError, match="condition 'frogs'"):
        windows_for("structural", species("plum"), NORTH, 2027, conditions=["frogs"])
    with pytest.raises(InputError, match="year 20270"):
        windows_for("structural", species("plum"), NORTH, 20270)
    assert windows_for("Grafting wood ", species("plum"), NORTH, 2027).job.key == "grafting-wood"


def test_every_rule_has_a_source_a_place_in_the_words_and_a_fair_range() -> None:
    keys = [one.key for one in season_rules()]
    assert len(keys) == len(set(keys))
    for one in season_rules():
        assert len(one.source) > 10
        assert one.reason.endswith(".")
        assert set(one.jobs) <= {*JOBS, "crown"}
        assert not one.needs or one.needs in CONDITIONS
        for low, value, high in (one.first, one.last):
            around = (value.index - low.index) % 365 + (high.index - value.index) % 365
            assert around == (high.index - low.index) % 365
            assert around < 200


def test_fire_blight_and_roosts_count_only_where_they_are() -> None:
    apple = species("apple")
    plain = windows_for("summer", apple, NORTH, 2027)
    blighted = windows_for("summer", apple, NORTH, 2027, conditions=["fire blight"])
    assert plain.on(date(2027, 7, 20)).state == "care"
    assert decided(blighted, date(2027, 7, 20)) == ("closed", "fire-blight")
    roost = windows_for("structural", apple, NORTH, 2027, conditions=["roost"])
    assert decided(roost, date(2027, 12, 20)) == ("care", "bats-winter")
    march = roost.on(date(2027, 3, 5))
    assert "bats-winter" not in march.rules  # the weeks in which bats are disturbed least

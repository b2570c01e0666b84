"""Windows that follow a climate: published dates, both halves of the world, and its limits."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.errors import InputError
from limbwright.model.site import Site
from limbwright.trade.parameters import parameters
from limbwright.trade.seasons.climate import Climate, Turns, reference_turns, turns_of
from limbwright.trade.seasons.days import YearDay
from limbwright.trade.seasons.job_windows import jobs_for, windows_for
from limbwright.trade.seasons.placed import place_of
from limbwright.trade.species import species

# Means of the months [degrees Celsius], from memory of published normals, within about half a
# degree: places with fruit trees from mild to hard.
HUDSON = (-3.5, -2.0, 2.7, 9.2, 15.0, 19.8, 22.6, 21.7, 17.4, 11.1, 5.3, -0.3)
PEACH_RIDGE = (-4.2, -2.9, 2.1, 8.9, 15.0, 20.4, 22.8, 21.9, 17.4, 10.8, 4.6, -1.8)
HELSINKI = (-3.1, -3.8, -0.7, 4.5, 10.4, 14.9, 18.1, 16.9, 12.3, 6.6, 2.4, -0.7)
HAWKES_BAY = (19.3, 19.2, 17.3, 14.4, 11.8, 9.4, 8.9, 9.7, 11.7, 13.6, 15.4, 17.8)
HUON = (16.0, 15.8, 14.0, 11.5, 9.3, 7.2, 6.8, 7.7, 9.2, 10.9, 12.6, 14.4)
BATU = (21.5, 21.6, 21.7, 21.8, 21.6, 20.8, 20.0, 20.2, 21.2, 22.2, 22.2, 21.8)
QUITO = (13.6, 13.6, 13.7, 13.8, 13.9, 13.9, 13.8, 14.1, 14.0, 13.7, 13.5, 13.6)
TROMSO = (-3.5, -3.7, -2.0, 1.0, 5.5, 9.6, 12.3, 11.2, 7.4, 3.4, 0.0, -2.0)
SPAIN = (6.0, 7.5, 11.0, 13.0, 17.0, 23.0, 26.5, 26.0, 21.5, 15.5, 10.0, 7.0)
REFERENCE = tuple(
    parameters("season_climate")[f"reference.{month:02d}"].value for month in range(1, 13)
)


def turns(means: tuple[float, ...]) -> Turns:
    found = turns_of(Climate(means))
    assert found is not None
    return found


def test_where_the_calendar_was_written_the_climate_moves_nothing() -> None:
    site = Site(latitude_deg=52.0)
    for name in ("apple", "plum", "cherry"):
        for job in jobs_for(species(name)):
            for year in (2027, 2028):
                plain = windows_for(job.key, species(name), site, year)
                moved = windows_for(job.key, species(name), site, year, Climate(REFERENCE))
                assert moved.basis == "climate"
                assert moved.spans == plain.spans
                assert moved.runs == plain.runs


def test_bud_burst_in_the_hudson_valley() -> None:
    """Cornell foresaw green tip in the mid Hudson Valley on 13 and 14 April 2013, a late spring.

    Source: Cornell Tree Fruit Grower Alert of 2 April 2013, quoted by Rutgers Plant & Pest
    Advisory.
    """
    middle = turns(HUDSON).bud_burst[1]
    assert 0 <= YearDay(4, 13).index - middle <= 14


def test_bud_burst_on_peach_ridge_in_michigan() -> None:
    """McIntosh at Sparta came to green tip about 15 April in the late 1970s, 5 April by 2014.

    Source: Michigan State University Extension, apple growth stages for Peach Ridge (1976 on; the
    earliest was 15 March, the latest 3 May).
    """
    low, middle, high = turns(PEACH_RIDGE).bud_burst
    assert YearDay(4, 5).index - 5 <= middle <= YearDay(4, 15).index + 5
    assert YearDay(3, 1).index <= low <= high <= YearDay(5, 3).index


def test_degree_days_are_those_of_a_simulated_year() -> None:
    """Bud burst by the closed form is that of hourly temperatures drawn at random."""
    table = parameters("season_climate")
    draw = np.random.default_rng(4)
    climate = Climate(HUDSON, spread_c=5.0)
    daily = climate.daily_c
    coldest = int(daily.argmin())
    hours = daily[:, None] + 5.0 * draw.standard_normal((365, 4000))
    warmth = np.maximum(hours - table["forcing.base"].value, 0.0).mean(axis=1)
    since = np.roll(warmth, -coldest).cumsum()
    found = turns_of(climate)
    assert found is not None
    simulated = coldest + int(np.searchsorted(since, table["forcing.need"].value))
    assert abs(found.bud_burst[1] - simulated) <= 1


@pytest.mark.parametrize(
    ("means", "latitude"), [(HUDSON, 42.0), (HELSINKI, 60.0), (HAWKES_BAY, -39.6), (HUON, -43.0)]
)
def test_the_dormant_window_lies_between_leaf_fall_and_bud_burst(
    means: tuple[float, ...], latitude: float
) -> None:
    window = windows_for(
        "structural", species("apple"), Site(latitude_deg=latitude), 2027, Climate(means)
    )
    surely = [span for run in window.runs for span in run if "pome-dormant" in span.rules]
    first, last = surely[0].first, surely[-1].last
    found = turns(means)
    fall = date(2027, 1, 1) + timedelta(days=found.leaf_fall[1])
    assert abs((first - fall).days) <= 20
    buds = (found.bud_burst[1] - found.leaf_fall[1]) % 365
    assert (last - fall).days <= buds + 5
    assert "leaf falls about" in window.sentence


def test_seasons_come_in_their_months() -> None:
    assert YearDay.at(turns(HELSINKI).leaf_fall[1]).month in (9, 10)
    assert YearDay.at(turns(HELSINKI).bud_burst[1]).month in (4, 5)
    assert turns(HELSINKI).hard_frost
    assert YearDay.at(turns(HUON).leaf_fall[1]).month in (5, 6)
    assert YearDay.at(turns(HUON).bud_burst[1]).month in (9, 10)
    assert not turns(HUON).hard_frost
    spain = turns(SPAIN)
    assert spain.hot is not None
    assert spain.hot[0].month == 6
    assert spain.hot[1].month in (8, 9)
    window = windows_for(
        "structural", species("plum"), Site(latitude_deg=39.0), 2027, Climate(SPAIN)
    )
    assert "heat" in window.on(date(2027, 7, 20)).rules


def test_half_the_world_over_the_same_climate_has_the_same_year() -> None:
    turned = (*HELSINKI[6:], *HELSINKI[:6])
    north, south = turns(HELSINKI), turns(turned)
    for name in ("leaf fall", "bud burst", "warm", "cool"):
        here, there = north.of(name), south.of(name)
        assert here is not None
        assert there is not None
        for a, b in zip(here, there, strict=True):
            assert abs((b - a) % 365 - 182.5) <= 5  # months are not of one length


@pytest.mark.parametrize("means", [BATU, QUITO, (14.0,) * 12, (26.0,) * 6 + (20.0,) * 6])
def test_a_climate_without_winter_is_told_and_nothing_made_up(means: tuple[float, ...]) -> None:
    assert turns_of(Climate(means)) is None
    window = windows_for(
        "structural", species("apple"), Site(latitude_deg=-7.0), 2027, Climate(means)
    )
    assert window.basis == "none"
    assert "no dormant season can be told" in window.sentence
    assert {span.state for span in window.spans} == {"care"}


def test_where_summers_are_too_cool_stone_fruit_has_no_season() -> None:
    site = Site(latitude_deg=69.6)
    assert turns(TROMSO).warm is None
    plum = windows_for("structural", species("plum"), site, 2027, Climate(TROMSO))
    assert {span.decided_by for span in plum.spans} == {"window-not-known"}
    assert "too cool" in plum.sentence
    apple = windows_for("structural", species("apple"), site, 2027, Climate(TROMSO))
    assert apple.on(date(2027, 12, 24)).state in ("open", "care")
    assert apple.on(date(2027, 7, 20)).state == "closed"


def test_a_short_winter_says_so() -> None:
    mild = (10.9, 11.5, 12.9, 15.1, 17.3, 19.1, 20.0, 20.3, 18.8, 16.3, 13.7, 11.6)
    assert turns(mild).winter == "short"
    assert "late and unevenly" in place_of(Site(latitude_deg=34.0), Climate(mild)).sentence


def test_months_of_the_other_half_of_the_world_are_refused() -> None:
    with pytest.raises(InputError, match="July, as south of the equator, but the latitude is 52"):
        place_of(Site(latitude_deg=52.0), Climate(HUON))
    with pytest.raises(InputError, match="February, as north"):
        place_of(Site(southern=True), Climate(HELSINKI))


def test_what_is_no_climate_is_refused() -> None:
    with pytest.raises(InputError, match="11 monthly means"):
        Climate((5.0,) * 11)
    for wrong in (50.0, -70.0, float("nan")):
        with pytest.raises(InputError, match="month 12"):
            Climate((5.0,) * 11 + (wrong,))


@settings(max_examples=80, deadline=None)
@given(st.floats(-25.0, 30.0), st.floats(0.0, 30.0), st.floats(0.0, 12.0), st.floats(2.5, 8.0))
def test_any_smooth_climate_gives_ordered_turns_or_none(
    mean: float, half_range: float, when: float, spread: float
) -> None:
    months = mean - half_range * np.cos(2.0 * np.pi * (np.arange(12) - when) / 12.0)
    if months.max() > 45.0 or months.min() < -60.0:
        return
    found = turns_of(Climate(tuple(months.tolist()), spread))
    if found is None:
        return
    for which in range(3):
        along = [(found.bud_burst[which] - found.leaf_fall[which]) % 365]
        for turn in (found.warm, found.cool):
            if turn is not None:
                along.append((turn[which] - found.leaf_fall[which]) % 365)
        assert along == sorted(along)
    site = Site(latitude_deg=40.0 if when < 4.0 or when > 8.0 else -40.0)
    try:
        window = windows_for(
            "structural", species("plum"), site, 2027, Climate(tuple(months.tolist()), spread)
        )
    except InputError:
        return  # months and hemisphere do not fit
    assert sum(span.days for span in window.spans) == 365


def test_turns_of_the_reference_are_those_the_calendar_was_written_for() -> None:
    found = reference_turns()
    assert found.warm is not None
    assert found.cool is not None
    assert abs(found.warm[1] - YearDay(5, 1).index) <= 2
    assert abs(found.cool[1] - YearDay(9, 30).index) <= 2
    assert abs(found.leaf_fall[1] - YearDay(11, 5).index) <= 3

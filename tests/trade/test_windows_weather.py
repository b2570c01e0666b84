"""A day's weather: go, look, or stay home, at the published limits."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.model.site import Site
from limbwright.trade.seasons.job_windows import windows_for
from limbwright.trade.seasons.weather_day import VERDICTS, WeatherDay, day_verdict, fit_days
from limbwright.trade.species import species

APPLE, PLUM = species("apple"), species("plum")
FAIR = WeatherDay(
    date(2027, 1, 15), min_c=3.0, mean_c=6.0, max_c=9.0, rain_mm=0.0, wet_h=0.0, wind_m_s=3.0
)


def verdict(job: str = "structural", kind: str = "apple", *held: str, **weather: Any) -> str:
    return day_verdict(replace(FAIR, **weather), job, species(kind), held).verdict


def test_a_fair_day_is_a_day_to_go() -> None:
    found = day_verdict(FAIR, "structural", APPLE)
    assert (found.verdict, found.reasons, found.unknown) == ("go", (), ())


@pytest.mark.parametrize(
    ("weather", "wanted"),
    [
        ({"min_c": -5.1}, "stay home"),  # German practice: not below about -5 degrees
        ({"min_c": -5.0}, "look"),
        ({"min_c": -0.5}, "look"),  # orchard charity advice: frost-free
        ({"min_c": 0.0}, "go"),
        ({"wind_m_s": 7.9}, "go"),
        ({"wind_m_s": 8.0}, "look"),  # Beaufort 5 begins
        ({"wind_m_s": 10.8}, "stay home"),  # Beaufort 6 begins
        ({"rain_mm": 0.1}, "go"),
        ({"rain_mm": 0.2}, "look"),
        ({"rain_mm": 5.0}, "stay home"),
        ({"max_c": 28.0}, "look"),
        ({"max_c": 32.0}, "stay home"),
    ],
)
def test_limits_of_frost_wind_rain_and_heat(weather: dict[str, Any], wanted: str) -> None:
    assert verdict(**weather) == wanted


def test_a_wet_day_spreads_canker_and_blight() -> None:
    assert verdict("structural", "apple", "canker", rain_mm=0.5) == "stay home"
    assert verdict("canker", "apple", rain_mm=0.5) == "stay home"
    assert verdict("structural", "apple", rain_mm=0.5) == "look"
    assert verdict("fire-blight", "pear", rain_mm=0.5, mean_c=17.0) == "stay home"
    assert verdict("fire-blight", "pear", rain_mm=0.5, mean_c=4.0) == "look"  # dormant, below 7
    assert verdict("structural", "plum", "silver leaf", rain_mm=0.5) == "stay home"
    assert verdict("structural", "plum", "silver leaf") == "go"
    assert verdict("planting", "apple", "canker", rain_mm=0.5) == "look"


def test_ground_jobs_mind_the_ground_and_not_the_wind() -> None:
    assert verdict("ground", wind_m_s=15.0) == "go"
    assert verdict("planting", wind_m_s=15.0) == "go"
    assert verdict("planting", mean_c=-1.0, min_c=-3.0) == "stay home"
    assert verdict("planting", mean_c=2.0, min_c=-2.0) == "look"


def test_what_is_not_known_is_named_and_looked_at() -> None:
    found = day_verdict(WeatherDay(date(2027, 1, 15), mean_c=5.0, wet_h=0.0), "structural", APPLE)
    assert found.verdict == "look"
    assert found.unknown == ("frost", "heat", "wind")
    counted = day_verdict(
        WeatherDay(date(2027, 1, 15), mean_c=5.0, wet_h=0.0),
        "structural",
        APPLE,
        look_at_unknown=False,
    )
    assert counted.verdict == "go"
    assert counted.unknown == found.unknown
    nothing = day_verdict(WeatherDay(date(2027, 1, 15)), "structural", APPLE)
    assert nothing.unknown == ("rain", "frost", "heat", "wind")


weathers = st.builds(
    WeatherDay,
    day=st.just(date(2027, 1, 15)),
    min_c=st.one_of(st.none(), st.floats(-20, 25)),
    mean_c=st.one_of(st.none(), st.floats(-20, 30)),
    max_c=st.one_of(st.none(), st.floats(-10, 40)),
    rain_mm=st.one_of(st.none(), st.floats(0, 40)),
    wet_h=st.one_of(st.none(), st.floats(0, 24)),
    wind_m_s=st.one_of(st.none(), st.floats(0, 30)),
)


@settings(deadline=None)
@given(
    weathers,
    st.sampled_from(["structural", "canker", "planting", "ground", "summer"]),
    st.sampled_from(["min_c", "wind_m_s", "rain_mm", "max_c"]),
)
def test_worse_weather_never_makes_a_better_day(weather: WeatherDay, job: str, name: str) -> None:
    assert name in {field.name for field in fields(WeatherDay)}
    value = getattr(weather, name)
    if value is None:
        return
    change: dict[str, Any] = {name: value - 5.0 if name == "min_c" else value + 5.0}
    worse = replace(weather, **change)
    before = day_verdict(weather, job, APPLE, ("canker",))
    after = day_verdict(worse, job, APPLE, ("canker",))
    assert VERDICTS.index(after.verdict) >= VERDICTS.index(before.verdict)


def test_fit_days_are_counted_month_by_month_in_the_window() -> None:
    first = date(2026, 10, 15)
    record = [
        replace(FAIR, day=first + timedelta(days=k), rain_mm=6.0 if k % 5 == 0 else 0.0)
        for k in range(240)
    ]
    windows = [
        windows_for("structural", APPLE, Site(latitude_deg=52.0), year)
        for year in (2025, 2026, 2027)
    ]
    found = fit_days(record, windows, APPLE)
    assert [one.words for one in found][:2] == ["October 2026", "November 2026"]
    november = found[1]
    wet = sum(one.rain_mm == 6.0 for one in record if (one.day.year, one.day.month) == (2026, 11))
    assert (november.days, november.stay_home, november.go) == (30, wet, 30 - wet)
    may = next(one for one in found if one.words == "May 2027")
    assert may.days == 0  # the window of apples is over
    assert sum(one.days for one in found) == sum(
        date(2026, 10, 1) <= one.day <= date(2027, 4, 30) for one in record
    )

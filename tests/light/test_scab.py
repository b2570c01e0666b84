"""Apple scab against the published table."""

from __future__ import annotations

import itertools

import jsonschema
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.errors import InputError
from limbwright.light.infection import scab_periods, scab_schema
from limbwright.light.scab import (
    daily_spells,
    judged,
    leaf_wet,
    scab_row,
    scab_table,
    wet_spells,
)
from limbwright.survey.weather import DailyWeather, HourlyWeather


@pytest.mark.parametrize(
    ("celsius", "hours", "primary", "secondary"),
    [
        (10, 10, "none", True),
        (10, 11, "light", True),
        (10, 16, "moderate", True),
        (10, 26, "severe", True),
        (20, 6, "light", False),
        (3, 29, "none", False),
    ],
)
def test_published_hours(celsius: float, hours: float, primary: str, secondary: bool) -> None:
    """Table of the Ontario agriculture ministry after Stensvand et al. 1997."""
    assert judged(hours, hours, celsius)[:2] == (primary, secondary)


def test_light_infection_agrees_with_the_paper_within_an_hour() -> None:
    """MacHardy & Gadoury 1989 as printed by West Virginia University, degrees F: hours."""
    paper = {34: 41, 36: 35, 37: 30, 39: 28, 41: 21, 43: 18, 45: 15, 46: 13, 48: 12, 50: 11}
    paper |= {52: 9, 54: 8, 55: 8, 57: 7, 59: 7, 65: 6, 70: 6, 75: 6, 77: 8, 79: 11}
    for fahrenheit, hours in paper.items():
        row = scab_row((fahrenheit - 32) / 1.8)
        if row is not None:  # 79 F lies above the revised table
            assert row.light_h == pytest.approx(hours, abs=1.01)


def test_the_table_has_no_gap_and_its_levels_rise() -> None:
    rows = scab_table()
    for one, following in itertools.pairwise(rows):
        assert one.until_c == following.from_c
    assert all(r.light_h <= r.moderate_h <= r.severe_h for r in rows)
    assert scab_row(-1.0) is None
    assert scab_row(30.0) is None


def hours(begin: str, wet: str, celsius: float = 10.0, **options: object):
    """Wet spells of a record where each letter is an hour: w wet, . dry."""
    when = np.datetime64(begin, "h") + np.arange(len(wet)).astype("timedelta64[h]")
    flags = np.array([c == "w" for c in wet])
    return wet_spells(when, np.full(len(wet), celsius), flags, **options)


def test_a_day_s_rain() -> None:
    (one,) = hours("2026-05-01T08", "w" * 11 + "." * 9)
    assert (one.wet_h, one.counted_h, one.primary) == (11, 11, "light")
    assert one.lesions_days == "16"
    assert str(one.end) == "2026-05-01T19"


def test_short_dry_gaps_join_and_long_ones_part() -> None:
    joined = hours("2026-05-01T08", "wwwww" + "." * 7 + "wwwwww")
    parted = hours("2026-05-01T08", "wwwww" + "." * 8 + "wwwwww")
    assert [s.wet_h for s in joined] == [11]
    assert joined[0].primary == "light"
    assert [s.wet_h for s in parted] == [5, 6]
    assert all(s.primary == "none" for s in parted)
    assert len(hours("2026-05-01T08", "ww....ww", dry_gap_h=4)) == 2


def test_a_night_s_rain_counts_from_seven_unless_scab_was_bad() -> None:
    night = "w" * 14
    (careful,) = hours("2026-05-01T20", night, night_counts=True)
    (usual,) = hours("2026-05-01T20", night)
    assert (careful.counted_h, careful.primary) == (14, "light")
    assert (usual.wet_h, usual.counted_h, usual.primary) == (14, 3, "none")
    assert usual.secondary  # conidia fly by night


def test_missing_hours_part_spells() -> None:
    when = np.array(["2026-05-01T08", "2026-05-01T09", "2026-05-02T08"], dtype="datetime64[h]")
    assert len(wet_spells(when, np.full(3, 12.0), np.ones(3, bool))) == 2


def test_daily_records() -> None:
    day = np.array(["2026-05-01", "2026-05-02", "2026-05-03", "2026-05-05"], dtype="datetime64[D]")
    found = daily_spells(day, np.array([10.0, 10, 10, 10]), np.array([18.0, 9, 2, 5]))
    assert [(s.wet_h, s.primary) for s in found] == [(27, "severe"), (2, "none"), (5, "none")]


def test_records_out_of_order_are_refused() -> None:
    when = np.array(["2026-05-01T09", "2026-05-01T08"], dtype="datetime64[h]")
    with pytest.raises(InputError, match="rise"):
        wet_spells(when, np.zeros(2), np.ones(2, bool))
    with pytest.raises(InputError, match="number"):
        wet_spells(when, np.zeros(3), np.ones(2, bool))


@given(st.floats(1, 25.9), st.floats(0, 60), st.floats(0, 10))
def test_longer_wet_is_never_less_infection(celsius: float, wet_h: float, more_h: float) -> None:
    order = ("none", "light", "moderate", "severe")
    assert order.index(judged(wet_h, wet_h, celsius)[0]) <= order.index(
        judged(wet_h + more_h, wet_h + more_h, celsius)[0]
    )


def test_the_hour_from_which_a_night_counts_can_be_set() -> None:
    (early,) = hours("2026-05-01T20", "w" * 14, day_from_h=5)
    assert (early.counted_h, early.primary) == (5, "none")
    (all_night,) = hours("2026-05-01T20", "w" * 14, day_from_h=0)
    assert all_night.counted_h == 14
    (before_dawn,) = hours("2026-05-01T03", "w" * 14)
    assert before_dawn.counted_h == 10


@pytest.mark.parametrize(
    "rule", [{"dry_gap_h": -1}, {"dry_gap_h": 30}, {"day_from_h": 13}, {"dry_gap_h": float("nan")}]
)
def test_rules_that_cannot_be_are_refused_with_the_range(rule: dict[str, float]) -> None:
    with pytest.raises(InputError, match="Sources give"):
        hours("2026-05-01T08", "ww", **rule)


def test_how_wet_leaves_are_known() -> None:
    nan = np.nan
    wet, known = leaf_wet(
        np.array([1.0, 0.0, nan, nan, nan, nan, 0.4]),
        np.array([0.0, 3.0, 0.2, 0.0, nan, nan, nan]),
        np.array([50.0, 99.0, 50.0, 89.0, 90.0, nan, nan]),
    )
    assert wet.tolist() == [True, False, True, False, True, False, False]
    assert known.tolist() == [True, True, True, True, True, False, True]


def record(wet: str = "", rain: str = "", humid: str = "") -> HourlyWeather:
    """An hourly record at 10 degrees from 08:00: x is yes, . no, blank not taken."""
    n = max(len(wet), len(rain), len(humid))

    def column(text: str, yes: float) -> np.ndarray:
        values = {"x": yes, ".": 0.0, " ": np.nan}
        return np.array([values[c] for c in text.ljust(n)])

    when = np.datetime64("2026-05-01T08", "h") + np.arange(n).astype("timedelta64[h]")
    return HourlyWeather(
        "r.csv", when, np.full(n, 10.0), column(wet, 1.0), column(rain, 1.0), column(humid, 95.0), 0
    )


@pytest.mark.parametrize(
    ("weather", "said", "measured"),
    [
        (record(wet="x" * 11), "was measured.", 1.0),
        (record(rain="x" * 11, humid="." * 11), "rain fell or the air held 90 %", 0.0),
        (record(rain="x" * 11), "too short", 0.0),
        (record(humid="x" * 11), "Rain in drier air is missed", 0.0),
        (record(wet="xxxxxx", rain="x" * 12), "measured in 50%", 0.5),
    ],
)
def test_the_record_says_how_wetness_was_known(
    weather: HourlyWeather, said: str, measured: float
) -> None:
    found = scab_periods(weather)
    assert said in found.wetness
    assert found.measured == measured
    assert found.infections[0].primary == "light"
    jsonschema.Draft202012Validator(scab_schema()).validate(found.to_dict())


def test_a_spell_too_warm_for_the_table_is_not_passed_over() -> None:
    hot = record(wet="x" * 12)
    hot.temperature_c[:] = 30.0
    found = scab_periods(hot)
    assert found.infections == ()
    assert len(found.beyond_table) == 1
    hot.temperature_c[:] = np.nan
    told = scab_periods(hot).to_dict()
    assert told["spells"][0]["mean_c"] is None
    jsonschema.Draft202012Validator(scab_schema()).validate(told)


def test_a_daily_record_counts_the_night_and_says_so() -> None:
    day = np.array(["2026-05-01", "2026-05-02"], dtype="datetime64[D]")
    weather = DailyWeather("d.csv", day, np.array([10.0, 10.0]), np.array([18.0, 9.0]), 0)
    found = scab_periods(weather)
    assert found.night_counts
    assert [s.primary for s in found.infections] == ["severe"]
    assert [s.primary for s in scab_periods(weather, dry_gap_h=4).spells] == ["moderate", "none"]
    jsonschema.Draft202012Validator(scab_schema()).validate(found.to_dict())

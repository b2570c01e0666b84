"""Files behind the windows: climate tables, weather records, local rules, and their faults."""

from __future__ import annotations

import datetime
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from limbwright.errors import InputError
from limbwright.survey.climate import (
    climate_of,
    read_climate,
    read_climate_or_weather,
    weather_days,
)
from limbwright.survey.local_rules import RULE_COLUMNS, read_local_rules, rule_rows
from limbwright.survey.weather import read_weather
from limbwright.trade.seasons.days import YearDay

MONTHS = "January February March April May June July August September October November December"


def table(folder: Path, text: str, name: str = "rules.csv") -> Path:
    path = folder / name
    path.write_text(text, "utf-8")
    return path


def climate(folder: Path, names: list[str], means: list[str]) -> Path:
    rows = "".join(f"{n},{m}\n" for n, m in zip(names, means, strict=True))
    return table(folder, f"month,mean_c\n{rows}", "months.csv")


def test_twelve_means_are_read_by_number_or_name(tmp_path: Path) -> None:
    means = [str(k) for k in range(12)]
    for names in (
        [str(k) for k in range(1, 13)],
        [f"{k:02d}" for k in range(1, 13)],
        MONTHS.split(),
        [m[:3].lower() for m in MONTHS.split()],
    ):
        found, faults = read_climate(climate(tmp_path, names, means))
        assert found.mean_c == tuple(float(k) for k in range(12))
        assert not faults
        assert "months.csv" in found.source
    shuffled = climate(tmp_path, [str(k) for k in range(12, 0, -1)], means[::-1])
    assert read_climate(shuffled)[0].mean_c == tuple(float(k) for k in range(12))


def test_a_climate_with_holes_says_which(tmp_path: Path) -> None:
    names = [str(k) for k in range(1, 13)]
    with pytest.raises(InputError, match=r"no mean of April"):
        read_climate(climate(tmp_path, names, ["5"] * 3 + [""] + ["5"] * 8))
    with pytest.raises(InputError, match=r"no mean of December.*not a month"):
        read_climate(climate(tmp_path, [*names[:11], "13"], ["5"] * 12))
    with pytest.raises(InputError, match="no column mean_c"):
        read_climate(table(tmp_path, "month,mean\n1,5\n", "m.csv"))
    _, faults = read_climate(climate(tmp_path, [*names, "3"], ["5"] * 12 + ["9"]))
    assert [str(f) for f in faults] == [
        "months.csv, row 14, month is '3': this month is there already. Each once; the first "
        "counts."
    ]


def record(folder: Path, days: int, *, hourly: bool) -> Path:
    """A year whose day ``k`` has a mean of ``10 - 10 cos`` and swings by 4 about it."""
    rows = []
    for k in range(days):
        day = np.datetime64("2026-01-01") + k
        mean = 10.0 - 10.0 * np.cos(2.0 * np.pi * k / 365.0)
        if hourly:
            rows += [
                f"{day} {h:02d}:00,{mean + 4.0 * np.sin(np.pi * h / 12.0):.3f},{0.1 * (k % 2):.1f}"
                for h in range(24)
            ]
        else:
            rows.append(f"{day},{mean - 4.0:.3f},{mean + 4.0:.3f},{6 * (k % 2)}")
    head = (
        "time,temperature_c,rain_mm"
        if hourly
        else ("date,temperature_min_c,temperature_max_c,wet_hours")
    )
    return table(folder, "\n".join([head, *rows]) + "\n", "weather.csv")


@pytest.mark.parametrize("hourly", [True, False], ids=["hourly", "daily"])
def test_a_year_of_weather_tells_the_climate(tmp_path: Path, hourly: bool) -> None:
    read = read_weather(record(tmp_path, 365, hourly=hourly))
    found = climate_of(read)
    k = np.arange(365)
    mean = 10.0 - 10.0 * np.cos(2.0 * np.pi * k / 365.0)
    month = (np.datetime64("2026-01-01") + k).astype("datetime64[M]").astype(int) % 12
    for number in range(12):
        assert found.mean_c[number] == pytest.approx(mean[month == number].mean(), abs=0.01)
    if hourly:
        assert found.spread_c == pytest.approx(np.sqrt(8.0), abs=0.5)  # a sine of 4, and the season
    else:
        assert found.spread_c is None


def test_days_of_an_hourly_record_have_their_extremes(tmp_path: Path) -> None:
    days = weather_days(read_weather(record(tmp_path, 60, hourly=True)))
    assert len(days) == 60
    first, second = days[:2]
    assert first.min_c == pytest.approx(-4.0, abs=0.01)
    assert first.max_c == pytest.approx(4.0, abs=0.01)
    assert first.rain_mm == 0.0
    assert second.rain_mm == pytest.approx(2.4)
    assert first.wind_m_s is None


def test_days_of_a_daily_record_have_what_it_holds(tmp_path: Path) -> None:
    days = weather_days(read_weather(record(tmp_path, 60, hourly=False)))
    assert (days[1].min_c, days[1].wet_h, days[1].rain_mm) == (None, 6.0, None)


def test_either_kind_of_file_is_told_apart(tmp_path: Path) -> None:
    found, days, faults = read_climate_or_weather(record(tmp_path, 365, hourly=True))
    assert found is not None
    assert (len(days), faults) == (365, ())
    found, days, faults = read_climate_or_weather(record(tmp_path, 60, hourly=True))
    assert found is None
    assert len(days) == 60
    assert "too few days of March, April" in str(faults[-1])
    months = climate(tmp_path, [str(k) for k in range(1, 13)], ["5"] * 12)
    found, days, _ = read_climate_or_weather(months)
    assert found is not None
    assert days == ()


HEAD = ",".join(RULE_COLUMNS)
GOOD = "structural,pome fruit,11-01,03-10,only,Invented Scheme,Elsewhere,2027,its leaflet,a note"


def test_local_rules_are_read_and_written_back(tmp_path: Path) -> None:
    more = "all,Greengage,4-1,4-30,Forbid,Parish custom,,,,"
    rules, faults = read_local_rules(table(tmp_path, f"{HEAD}\n{GOOD}\n{more}\n,,,,,,,,,\n"))
    assert not faults.items
    one, two = rules
    assert (one.job, one.species, one.first, one.last) == (
        "structural",
        "pome",
        YearDay(11, 1),
        YearDay(3, 10),
    )
    assert (one.strength, one.scheme, one.note) == ("only", "Invented Scheme", "a note")
    assert (two.job, two.species, two.strength) == ("all", "gage", "forbid")
    rows = rule_rows(rules)
    text = "\n".join([HEAD, *(",".join(row[c] for c in RULE_COLUMNS) for row in rows)])
    assert read_local_rules(table(tmp_path, text))[0] == rules


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        ("job", "felling", "not a job known here"),
        ("species", "oak", "not a species known here"),
        ("first_day", "2-30", "not a day of the year"),
        ("last_day", "", "blank, but needed"),
        ("strength", "never", "not a strength known here"),
        ("scheme", "", "blank, but needed"),
    ],
)
def test_a_row_with_a_fault_is_left_out_and_told(
    tmp_path: Path, column: str, value: str, said: str
) -> None:
    cells = dict(zip(RULE_COLUMNS, GOOD.split(","), strict=True)) | {column: value}
    text = f"{HEAD}\n{','.join(cells.values())}\n{GOOD}\n"
    rules, faults = read_local_rules(table(tmp_path, text))
    assert len(rules) == 1
    (fault,) = faults.items
    assert (fault.row, fault.column) == (2, column)
    assert said in fault.fault


def test_dates_a_spreadsheet_made_of_days_are_read(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "rules"
    sheet.append(list(RULE_COLUMNS))
    cells: list[object] = list(GOOD.split(","))
    cells[2] = datetime.date(2026, 11, 1)
    sheet.append(cells)
    path = tmp_path / "rules.xlsx"
    book.save(path)
    rules, faults = read_local_rules(path)
    assert rules[0].first == YearDay(11, 1)
    assert [fault.severity for fault in faults] == ["warning"]


def test_a_table_that_is_none_of_rules_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no column last_day, strength, scheme"):
        read_local_rules(table(tmp_path, "job,species,first_day\nall,all,1-1\n"))

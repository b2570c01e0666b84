"""Weather records as people and loggers keep them: what is read, and what is told by row."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.errors import InputError
from limbwright.light.infection import scab_periods
from limbwright.survey.times import day_order, read_time
from limbwright.survey.weather import DailyWeather, HourlyWeather, read_weather
from limbwright.survey.weather_columns import WEATHER_COLUMNS

ODD = (
    *("", "yes", "no", "1", "0", "-", "#REF!", "10,5", "93", "1e400", "nan", "-70", '"', "=1+1"),
    *("2026-05-01 08:00", "2026-05-01 09:00", "2026-05-01 09:10", "0001-01-01", "9999-12-31 23:59"),
    *("2026-05-01", "2026-05-02", "13/5/2026 8:00", "5/13/2026 8:00", "1/1/2026 0:00"),
)


def written(folder: Path, text: str, name: str = "weather.csv") -> Path:
    path = folder / name
    path.write_text(text, "utf-8")
    return path


def hourly(path: Path, columns: Path | None = None) -> HourlyWeather:
    found = read_weather(path, columns)
    assert isinstance(found, HourlyWeather)
    return found


def daily(path: Path) -> DailyWeather:
    found = read_weather(path)
    assert isinstance(found, DailyWeather)
    return found


def test_an_hourly_record_with_rain_and_humidity(tmp_path: Path) -> None:
    table = "time,temperature_c,rain_mm,humidity_pct\n2026-05-01 08:00,10.5,0.4,93\n"
    found = hourly(written(tmp_path, table + "2026-05-01 09:00,11,0,81\n"))
    assert [str(t) for t in found.when] == ["2026-05-01T08", "2026-05-01T09"]
    assert found.temperature_c.tolist() == [10.5, 11.0]
    assert found.rain_mm.tolist() == [0.4, 0.0]
    assert found.humidity_pct.tolist() == [93.0, 81.0]
    assert np.isnan(found.wet).all()
    assert (found.missing, found.faults) == (0, ())


def test_semicolons_decimal_commas_and_dotted_dates(tmp_path: Path) -> None:
    table = "Time;Temperature_C;Wet\n01.05.2026 08:00;10,5;yes\n01.05.2026 09:00;11,0;no\n"
    found = hourly(written(tmp_path, table))
    assert str(found.when[0]) == "2026-05-01T08"
    assert found.temperature_c.tolist() == [10.5, 11.0]
    assert found.wet.tolist() == [1.0, 0.0]
    assert all("decimal comma" in f.fault for f in found.faults)


def test_a_workbook_with_real_dates_and_ticks(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["time", "temperature_c", "wet"])
    sheet.append([datetime(2026, 5, 1, 23), 9.5, True])
    sheet.append([datetime(2026, 5, 2, 0), 9.0, False])  # midnight comes as a date alone
    book.save(tmp_path / "w.xlsx")
    found = hourly(tmp_path / "w.xlsx")
    assert [str(t) for t in found.when] == ["2026-05-01T23", "2026-05-02T00"]
    assert found.wet.tolist() == [1.0, 0.0]


def test_date_and_clock_in_two_columns(tmp_path: Path) -> None:
    table = "date,time,temperature_c,rain_mm\n2026-05-01,08:00,10,1\n2026-05-01,09:00,10,0\n"
    assert str(hourly(written(tmp_path, table)).when[1]) == "2026-05-01T09"


def test_every_ten_minutes_become_hours(tmp_path: Path) -> None:
    rows = [
        f"2026-05-01 {8 + k // 6:02d}:{k % 6}0,{k},0.2,{'yes' if k < 9 else 'no'}\n"
        for k in range(12)
    ]
    found = hourly(written(tmp_path, "time,temperature_c,rain_mm,wet\n" + "".join(rows)))
    assert found.temperature_c.tolist() == [2.5, 8.5]
    assert found.rain_mm == pytest.approx([1.2, 1.2])
    assert found.wet.tolist() == [1.0, 0.5]
    assert any("12 records in 2 hours" in f.fault for f in found.faults)


def test_faults_are_told_by_row_and_the_good_rows_are_used(tmp_path: Path) -> None:
    table = (
        "time,temperature_c,wet\n"
        "2026-05-01 08:00,10,yes\n"
        "2026-05-01 09:00,52 F,yes\n"
        "half past nine,10,yes\n"
        "2026-05-01 10:00,90,perhaps\n"
        "2026-05-01 08:00,11,no\n"
        ",11,no\n"
        "2026-05-01 12:00,12,no\n"
    )
    found = hourly(written(tmp_path, table))
    told = {(f.row, f.column) for f in found.faults if f.severity == "error"}
    assert told == {
        (3, "temperature_c"),
        (4, "time"),
        (5, "temperature_c"),
        (5, "wet"),
        (6, "time"),
        (7, "time"),
    }
    assert [str(t)[-2:] for t in found.when] == ["08", "09", "10", "12"]
    assert found.missing == 1
    assert "the same time as in row 2" in str(next(f for f in found.faults if f.row == 6))


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("date,temperature_min_c,temperature_max_c,rain_mm\n2026-05-01,4,12,3\n", "wet_hours"),
        ("date,temperature_min_c,wet_hours\n2026-05-01,4,3\n", "temperature_max_c"),
        ("time,temperature_c\n2026-05-01 08:00,10\n", "does not say when leaves were wet"),
        ("time,rain_mm\n2026-05-01 08:00,1\n", "temperature_c"),
        ("hour,temp\n8,10\n", "column mapping"),
        ("time,temperature_c,rain_mm\n", "no row"),
        ("time,temperature_c,rain_mm\nnow,10,1\n", "row 2"),
        ("time,temperature_c,rain_mm\n05/04/2026 08:00,10,1\n", "day and month"),
        (
            "time,temperature_c,rain_mm\n2026-05-01,10,1\n2026-05-02,10,1\n2026-05-03,10,1\n",
            "every 24 hours",
        ),
        ("time,temperature_c,humidity_pct\n2026-05-01 08:00,10,0.9\n", "unit fraction"),
        (
            "date,temperature_min_c,temperature_max_c,wet_hours\n2026-05-01,12,4,3\n",
            "above temperature_max_c",
        ),
    ],
)
def test_what_cannot_be_used_is_refused_with_what_is_needed(
    tmp_path: Path, table: str, said: str
) -> None:
    with pytest.raises(InputError) as refused:
        read_weather(written(tmp_path, table))
    assert said in str(refused.value)


def test_a_daily_record(tmp_path: Path) -> None:
    table = (
        "date,temperature_min_c,temperature_max_c,wet_hours\n"
        "2026-05-01,4,12,18\n2026-05-02,6,14,30\n2026-05-03,5,13,\n2026-05-05,5,15,9\n"
    )
    found = daily(written(tmp_path, table))
    assert found.mean_c.tolist() == [8.0, 10.0]
    assert found.wet_h.tolist() == [18.0, 9.0]
    assert found.missing == 3
    assert {(f.row, f.severity) for f in found.faults} == {
        (3, "error"),
        (4, "warning"),
        (0, "warning"),
    }


def test_another_table_through_a_mapping(tmp_path: Path) -> None:
    mapping = written(
        tmp_path,
        "[weather.columns]\n"
        'time = "stamp"\n'
        'temperature_c = { column = "air", unit = "f" }\n'
        'rain_mm = { column = "rain", unit = "in" }\n'
        'humidity_pct = { column = "rh", unit = "fraction" }\n',
        "map.toml",
    )
    table = written(tmp_path, "stamp,air,rain,rh\n2026-05-01 08:00,50,0.1,0.93\n")
    found = hourly(table, mapping)
    assert found.temperature_c == pytest.approx([10.0])
    assert found.rain_mm == pytest.approx([2.54])
    assert found.humidity_pct == pytest.approx([93.0])
    mapping.write_text('[weather.columns]\nrain_mm = { column = "rain", unit = "f" }\n')
    with pytest.raises(InputError, match="temperature"):
        read_weather(table, mapping)


def test_hours_out_of_order_and_in_utc_are_told(tmp_path: Path) -> None:
    table = "time,temperature_c,rain_mm\n2026-05-01T09:00:00Z,9,0\n2026-05-01T08:00:00Z,8,1\n"
    found = hourly(written(tmp_path, table))
    assert found.temperature_c.tolist() == [8.0, 9.0]
    said = " ".join(f.fault for f in found.faults)
    assert "UTC" in said
    assert "sorted" in said


@pytest.mark.parametrize(
    ("text", "order", "at"),
    [
        ("2026-05-01 08:00", None, "2026-05-01T08:00"),
        ("2026-05-01T08:00:00+02:00", None, "2026-05-01T08:00"),
        ("2026/5/1 8:05", None, "2026-05-01T08:05"),
        ("2026-05-01T08:59:59.9", None, "2026-05-01T09:00"),
        ("2026-05-01 24:00", None, "2026-05-02T00:00"),
        ("13/5/2026 8:00 pm", "dmy", "2026-05-13T20:00"),
        ("5/13/2026 12:30 am", "mdy", "2026-05-13T00:30"),
        ("5/13/2026 12:30", "dmy", None),
        ("5/4/2026 12:30", None, None),
        ("2026-02-30 12:00", None, None),
        ("2026-02-03 25:00", None, None),
        ("9999-12-31 24:00", None, None),
        ("yesterday", None, None),
    ],
)
def test_ways_to_write_a_time(text: str, order: str | None, at: str | None) -> None:
    found = read_time(text, order)  # type: ignore[arg-type]
    assert (found.at.isoformat()[:16] if found else None) == at


def test_day_or_month_first_is_seen_from_the_whole_column() -> None:
    assert day_order(["05/04/2026", "13/04/2026"]) == "dmy"
    assert day_order(["05/04/2026", "05/13/2026"]) == "mdy"
    assert day_order(["05.04.2026"]) == "dmy"
    assert day_order(["05/04/2026", "2026-05-13"]) is None


@given(st.text(max_size=25), st.sampled_from([None, "dmy", "mdy"]))
def test_any_text_is_a_time_or_none(text: str, order: str | None) -> None:
    read_time(text, order)  # type: ignore[arg-type]


@given(st.datetimes(min_value=datetime(1900, 1, 1)))
def test_a_time_written_by_a_program_comes_back_to_the_minute(at: datetime) -> None:
    plain = at.replace(second=0, microsecond=0)
    found = read_time(plain.isoformat(), None)
    assert found is not None
    assert found.at == plain


@settings(max_examples=150, deadline=None)
@given(
    header=st.lists(st.sampled_from(WEATHER_COLUMNS), unique=True, max_size=6),
    rows=st.lists(st.lists(st.sampled_from(ODD), max_size=7), max_size=6),
)
def test_any_table_is_read_or_refused_in_a_sentence(
    header: list[str], rows: list[list[str]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.getbasetemp() / "odd.csv"
    path.write_text("\n".join(",".join(cells) for cells in [header, *rows]), "utf-8")
    try:
        found = read_weather(path)
    except InputError:
        return
    times = found.when if isinstance(found, HourlyWeather) else found.day
    assert (np.diff(times) > np.timedelta64(0)).all()
    scab_periods(found)

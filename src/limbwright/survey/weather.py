"""Read a weather table, hourly or daily, as the wetness of leaves needs it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from limbwright.errors import InputError
from limbwright.model import Fault, Faults
from limbwright.model.skeleton import Floats
from limbwright.survey.cells import Cells
from limbwright.survey.columns import ColumnMap, apply_columns, read_columns
from limbwright.survey.tables import Table, read_book
from limbwright.survey.times import DayOrder, Times, day_order, read_time
from limbwright.survey.weather_columns import DAILY_COLUMNS, HOURLY_COLUMNS, WEATHER_COLUMNS

__all__ = ["DailyWeather", "HourlyWeather", "read_weather"]

_HOUR = np.timedelta64(1, "h")
_WET = {"yes": 1.0, "wet": 1.0, "true": 1.0, "1": 1.0, "1.0": 1.0}
_DRY = {"no": 0.0, "dry": 0.0, "false": 0.0, "0": 0.0, "0.0": 0.0}
_WANTED = (
    "Hourly: time, temperature_c, and wet, or rain_mm and humidity_pct. "
    "Daily: date, temperature_min_c, temperature_max_c, wet_hours."
)


@dataclass(frozen=True, slots=True)
class HourlyWeather:
    """Weather by the hour; ``(h,)`` each, NaN where not taken.

    ``when`` is the start of each hour on the clock of the place, rising. ``wet`` is the share of
    the hour leaves were measured to be wet, ``rain_mm`` what fell. ``missing`` hours lie between
    the first and the last without a record.
    """

    file: str
    when: NDArray[np.datetime64]
    temperature_c: Floats
    wet: Floats
    rain_mm: Floats
    humidity_pct: Floats
    missing: int
    faults: tuple[Fault, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class DailyWeather:
    """Weather by the day: ``day`` ``(d,)`` rising, mean of the least and greatest temperature."""

    file: str
    day: NDArray[np.datetime64]
    mean_c: Floats
    wet_h: Floats
    missing: int
    faults: tuple[Fault, ...] = field(default=())


def read_weather(path: Path, columns: Path | None = None) -> HourlyWeather | DailyWeather:
    """Read an hourly or a daily weather table, whichever the columns say.

    Records more often than hourly are gathered into their hour.

    Parameters
    ----------
    path
        CSV or XLSX. In a workbook the sheet ``weather``, else the first.
    columns
        A column-mapping file with a section ``[weather.columns]``.

    Raises
    ------
    InputError
        The file cannot be read, lacks what is needed, or no row of it can be used.
    """
    mapping = ColumnMap() if columns is None else read_columns(columns)
    known = {*WEATHER_COLUMNS, *mapping.weather.sources()}
    table = apply_columns(read_book(path).table("weather", known), mapping.weather)
    faults = Faults(list(table.faults))
    header = set(table.header)
    daily = "temperature_c" not in header and bool(header & set(DAILY_COLUMNS[1:]))
    _check_columns(table, header, daily)
    return _daily(table, faults) if daily else _hourly(table, faults)


def _check_columns(table: Table, header: set[str], daily: bool) -> None:
    if daily:
        missing = [c for c in DAILY_COLUMNS if c not in header]
        if "wet_hours" in missing:
            raise InputError(
                f"{table.file} is a daily record without wet_hours, the hours leaves were wet.",
                "Rain of a day does not say how long leaves stayed wet: give wet_hours, or the "
                "hourly record (time, temperature_c, and wet, or rain_mm and humidity_pct).",
            )
    else:
        has_time = "time" in header or "date" in header
        missing = [c for c in ("time", "temperature_c") if c not in header]
        if has_time and "time" in missing:
            missing.remove("time")
        if not missing and not header & set(HOURLY_COLUMNS[2:]):
            raise InputError(
                f"{table.file} does not say when leaves were wet.",
                "Add a column wet (yes or no), or rain_mm, humidity_pct or both.",
            )
    if missing:
        raise InputError(
            f"{table.file} has no column {', '.join(missing)}; it has: "
            f"{', '.join(table.header[:12])}.",
            f"{_WANTED} Other headings need a column mapping.",
        )
    if not table.rows:
        raise InputError(f"{table.file} has no row below the header.", _WANTED)


def _times(table: Table, faults: Faults, daily: bool) -> list[tuple[Cells, Times]]:
    """Return the rows with a time of their own, in the order of time."""
    column = "date" if daily or "time" not in table.header else "time"
    both = not daily and {"date", "time"} <= set(table.header)
    texts = [
        " ".join((row.cells["date"], row.cells["time"])).strip()
        if both
        else row.cells.get(column, "")
        for row in table.rows
    ]
    order: DayOrder | None = day_order(texts)
    found: list[tuple[Cells, Times]] = []
    seen: dict[object, int] = {}
    world = False
    for row, text in zip(table.rows, texts, strict=True):
        cells = Cells(table, row, faults)
        at = read_time(text, order)
        shape = "2026-05-01" if daily else "2026-05-01 08:00"
        if not text:
            cells.fault(column, "blank, but needed", f"Write {shape}; the row is left out.")
        elif at is None:
            told = read_time(text, "dmy") is not None and order is None
            fault = "day and month cannot be told apart" if told else f"not a {column} known here"
            cells.fault(column, fault, f"Write {shape}; the row is left out.")
        else:
            key = at.at.date() if daily else at.at
            if key in seen:
                fault = f"the same {column} as in row {seen[key]}"
                cells.fault(column, fault, "Each once; this row is left out.")
                continue
            seen[key] = row.number
            world |= at.world
            found.append((cells, at))
    if world:
        fault = "times in UTC, taken for the clock of the place"
        remedy = "Write local time: rain at night counts otherwise than rain by day."
        faults.add(Fault(table.file, 0, column, "", fault, remedy, "warning"))
    if any(b[1].at < a[1].at for a, b in pairwise(found)):
        fault = "the rows do not follow each other in time; they were sorted"
        faults.add(Fault(table.file, 0, column, "", fault, "Sort them.", "warning"))
        found.sort(key=lambda one: one[1].at)
    if not found:
        first = next((str(f) for f in faults if f.severity == "error"), _WANTED)
        raise InputError(f"{table.file} has no row that can be used.", first)
    return found


def _numbers(rows: list[tuple[Cells, Times]], column: str) -> Floats:
    taken = (cells.number(column) for cells, _ in rows)
    return np.array([np.nan if v is None else v for v in taken])


def _wet(rows: list[tuple[Cells, Times]]) -> Floats:
    found = np.full(len(rows), np.nan)
    for i, (cells, _) in enumerate(rows):
        text = cells.text("wet").lower()
        value = _WET.get(text, _DRY.get(text))
        if value is not None:
            found[i] = value
        elif text:
            cells.fault(
                "wet",
                "neither yes nor no",
                "Write yes or no (1 or 0); say first from which reading your sensor counts as wet.",
            )
    return found


def _percent(table: Table, humidity: Floats, faults: Faults) -> Floats:
    if np.isfinite(humidity).any() and np.nanmax(humidity) <= 1.0:
        fault = "no humidity is above 1: a share, where percent is due; not used"
        remedy = "Give 93 for 0.93, or a column mapping with unit fraction."
        faults.add(Fault(table.file, 0, "humidity_pct", "", fault, remedy))
        return np.full(len(humidity), np.nan)
    return humidity


def _hourly(table: Table, faults: Faults) -> HourlyWeather:
    rows = _times(table, faults, daily=False)
    when = np.array([t.at for _, t in rows], dtype="datetime64[m]")
    step = np.median(np.diff(when)) if len(when) > 1 else _HOUR
    if step > _HOUR:
        raise InputError(
            f"{table.file} has a record every {step / _HOUR:g} hours.",
            f"Wet hours cannot be counted from that. {_WANTED}",
        )
    temperature = _numbers(rows, "temperature_c")
    wet, rain = _wet(rows), _numbers(rows, "rain_mm")
    humidity = _percent(table, _numbers(rows, "humidity_pct"), faults)
    hours, of = np.unique(when.astype("datetime64[h]"), return_inverse=True)
    if len(hours) < len(when):
        fault = f"{len(when)} records in {len(hours)} hours, gathered hour by hour"
        remedy = "Means of temperature and humidity, sum of rain; wet where half of them are."
        faults.add(Fault(table.file, 0, "time", "", fault, remedy, "warning"))
    missing = int((hours[-1] - hours[0]) / _HOUR) + 1 - len(hours)
    if missing:
        fault = f"hours missing between the first and the last: {missing}; they count as dry"
        faults.add(Fault(table.file, 0, "time", "", fault, "Fill them in if you can.", "warning"))
    found = HourlyWeather(
        table.file,
        hours,
        _gathered(temperature, of, len(hours)),
        _gathered(wet, of, len(hours)),
        _gathered(rain, of, len(hours), total=True),
        _gathered(humidity, of, len(hours)),
        missing,
    )
    known = np.isfinite(found.wet) | np.isfinite(found.rain_mm) | np.isfinite(found.humidity_pct)
    if not known.any():
        first = next((str(f) for f in faults if f.severity == "error"), _WANTED)
        raise InputError(f"{table.file} does not say of any hour whether leaves were wet.", first)
    for lacks, says in (
        (~known, "do not say whether leaves were wet; they count as dry"),
        (np.isnan(found.temperature_c), "have no temperature; the others of a wet spell speak"),
    ):
        if lacks.any():
            fault = f"{int(lacks.sum())} of {len(hours)} hours {says}"
            remedy = "Fill them in if you can."
            faults.add(Fault(table.file, 0, "", "", fault, remedy, "warning"))
    return replace(found, faults=tuple(faults))


def _gathered(values: Floats, of: NDArray[np.intp], count: int, *, total: bool = False) -> Floats:
    """Return mean or sum of what was taken in each hour; NaN where nothing was."""
    taken = np.isfinite(values)
    number = np.bincount(of[taken], minlength=count)
    summed = np.bincount(of[taken], weights=values[taken], minlength=count)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(number > 0, summed if total else summed / number, np.nan)


def _daily(table: Table, faults: Faults) -> DailyWeather:
    rows = _times(table, faults, daily=True)
    least, most = _numbers(rows, "temperature_min_c"), _numbers(rows, "temperature_max_c")
    wet = _numbers(rows, "wet_hours")
    for (cells, _), low, high in zip(rows, least, most, strict=True):
        if low > high:
            remedy = "Exchange them if they were; the row is left out."
            cells.fault("temperature_min_c", f"above temperature_max_c, {high:g}", remedy)
    blank = np.flatnonzero(np.isnan(wet) | np.isnan(least) | np.isnan(most))
    for i in blank.tolist():
        cells = rows[i][0]
        for column in DAILY_COLUMNS[1:]:
            if not cells.text(column):
                cells.fault(column, "blank; the day is left out", "Fill it in.", warning=True)
    with np.errstate(invalid="ignore"):
        good = np.isfinite(wet) & (least <= most)
    if not good.any():
        first = next((str(f) for f in faults if f.severity == "error"), _WANTED)
        raise InputError(f"{table.file} has no day that can be used.", first)
    day = np.array([t.at for _, t in rows], dtype="datetime64[D]")[good]
    missing = int((day[-1] - day[0]) / np.timedelta64(1, "D")) + 1 - len(day)
    if missing:
        fault = f"days missing between the first and the last: {missing}; they count as dry"
        faults.add(Fault(table.file, 0, "date", "", fault, "Fill them in if you can.", "warning"))
    mean = (least[good] + most[good]) / 2.0
    return DailyWeather(table.file, day, mean, wet[good], missing, tuple(faults))

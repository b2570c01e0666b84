"""The climate of a place: a table of twelve means, or what a weather table tells of it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np

from limbwright.errors import InputError
from limbwright.model import Fault, Faults
from limbwright.model.skeleton import Floats
from limbwright.survey.cells import Cells
from limbwright.survey.tables import Table, read_book
from limbwright.survey.weather import DailyWeather, HourlyWeather, read_weather
from limbwright.trade.seasons.climate import Climate
from limbwright.trade.seasons.days import MONTHS
from limbwright.trade.seasons.weather_day import WeatherDay

__all__ = [
    "CLIMATE_COLUMNS",
    "climate_of",
    "read_climate",
    "read_climate_or_weather",
    "weather_days",
]

CLIMATE_COLUMNS = ("month", "mean_c")
FEWEST_DAYS = 20
"""Days a month of a record must have, over all its years, for a mean of it; judgement."""
FEWEST_HOURS_A_DAY = 18
"""Hours a day must have for its least, mean and greatest; judgement: three quarters."""
_WANTED = "Twelve rows: month (1 to 12, or its name) and mean_c, its mean in degrees Celsius."


def read_climate_or_weather(
    path: Path, columns: Path | None = None
) -> tuple[Climate | None, tuple[WeatherDay, ...], tuple[Fault, ...]]:
    """Return the climate and the days of whichever file it is: a table of months or a record.

    The climate is None where a record does not reach over the year; a fault then says so. A table
    of months has no days.

    Raises
    ------
    InputError
        The file can be read as neither.
    """
    header = set(read_book(path).header("climate", CLIMATE_COLUMNS))
    if set(CLIMATE_COLUMNS) <= header:
        climate, faults = read_climate(path)
        return climate, (), faults
    record = read_weather(path, columns)
    days = weather_days(record)
    try:
        return climate_of(record), days, record.faults
    except InputError as error:
        fault = error.message.removeprefix(f"{record.file} ").rstrip(".")
        said = Fault(record.file, 0, "", "", fault, error.remedy, "warning")
        return None, days, (*record.faults, said)


def read_climate(path: Path) -> tuple[Climate, tuple[Fault, ...]]:
    """Read the means of the twelve months from a table with the columns ``month, mean_c``.

    Raises
    ------
    InputError
        The file cannot be read, or a month is missing, twice there, or without a mean.
    """
    table = read_book(path).table("climate", CLIMATE_COLUMNS)
    faults = Faults(list(table.faults))
    lacking = [column for column in CLIMATE_COLUMNS if column not in table.header]
    if lacking:
        raise InputError(f"{table.file} has no column {', '.join(lacking)}.", _WANTED)
    means: dict[int, float] = {}
    for row in table.rows:
        cells = Cells(table, row, faults)
        month = _month(cells)
        mean = cells.number("mean_c", ranged=False)
        if month is None or mean is None:
            if mean is None and not cells.text("mean_c"):
                cells.fault("mean_c", "blank, but needed", "Give the mean in degrees Celsius.")
        elif month in means:
            cells.fault("month", "this month is there already", "Each once; the first counts.")
        else:
            means[month] = mean
    _all_there(table, means, faults)
    source = f"means of the months in {table.file}"
    return Climate(tuple(means[m] for m in range(1, 13)), source=source), tuple(faults)


def _month(cells: Cells) -> int | None:
    text = cells.text("month").strip().casefold()
    for number, name in enumerate(MONTHS, 1):
        if text in (str(number), f"{number:02d}", name.casefold(), name[:3].casefold()):
            return number
    cells.fault("month", "not a month", "Give 1 to 12, or its English name.")
    return None


def _all_there(table: Table, means: dict[int, float], faults: Faults) -> None:
    missing = [MONTHS[month - 1] for month in range(1, 13) if month not in means]
    if missing:
        first = next((str(fault) for fault in faults if fault.severity == "error"), _WANTED)
        raise InputError(f"{table.file} has no mean of {', '.join(missing)}.", first)


def climate_of(record: HourlyWeather | DailyWeather) -> Climate:
    """Return the means of the months of a record, over all its years.

    An hourly record gives the spread within a month as well.

    Raises
    ------
    InputError
        The record does not hold enough days of every month.
    """
    hourly = isinstance(record, HourlyWeather)
    when = record.when if isinstance(record, HourlyWeather) else record.day
    values = record.temperature_c if isinstance(record, HourlyWeather) else record.mean_c
    known = np.isfinite(values)
    values = values[known]
    month = when[known].astype("datetime64[M]").astype(np.int64) % 12
    counts = np.bincount(month, minlength=12) / (24.0 if hourly else 1.0)
    short = [MONTHS[k] for k in range(12) if counts[k] < FEWEST_DAYS]
    if short:
        raise InputError(
            f"{record.file} has too few days of {', '.join(short)} to tell the climate.",
            f"Give a record of a year or more ({FEWEST_DAYS} days of every month), or a table of "
            "twelve means.",
        )
    means = np.bincount(month, weights=values, minlength=12) / np.bincount(month, minlength=12)
    spread = float(np.std(values - means[month])) if hourly else None
    source = f"means of the months of the record {record.file}"
    return Climate(tuple(means.tolist()), spread or None, source)


def weather_days(record: HourlyWeather | DailyWeather) -> tuple[WeatherDay, ...]:
    """Return the days of a record as the rules of the day need them; it holds no wind.

    Of an hourly record only days with most of their hours are given.
    """
    if isinstance(record, DailyWeather):
        rows = zip(record.day.tolist(), record.mean_c.tolist(), record.wet_h.tolist(), strict=True)
        return tuple(WeatherDay(day, mean_c=mean, wet_h=wet) for day, mean, wet in rows)
    known = np.isfinite(record.temperature_c)
    days, starts = np.unique(record.when[known].astype("datetime64[D]"), return_index=True)
    temperatures, rains, wets = (
        np.split(values[known], starts[1:])
        for values in (record.temperature_c, record.rain_mm, record.wet)
    )
    parts = zip(days.tolist(), temperatures, rains, wets, strict=True)
    return tuple(
        _day(day, temperature, rain, wet)
        for day, temperature, rain, wet in parts
        if temperature.size >= FEWEST_HOURS_A_DAY
    )


def _day(day: date, temperature_c: Floats, rain_mm: Floats, wet: Floats) -> WeatherDay:
    rained, wetted = np.isfinite(rain_mm).any(), np.isfinite(wet).any()
    return WeatherDay(
        day,
        min_c=float(temperature_c.min()),
        mean_c=float(temperature_c.mean()),
        max_c=float(temperature_c.max()),
        rain_mm=float(np.nansum(rain_mm)) if rained else None,
        wet_h=float(np.nansum(wet)) if wetted else None,
    )

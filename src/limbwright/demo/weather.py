"""An invented spring's weather by the hour, as a plain logger in an orchard might write it."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np

from limbwright.survey.whole import write_whole

__all__ = ["make_weather", "write_weather"]

FIRST = np.datetime64("2026-04-15T00", "h")
DAYS = 61
MARK = "invented example: no such weather was measured"


def make_weather(seed: int = 1) -> list[dict[str, str]]:
    """Return an invented hourly record from mid April to mid June; the same seed, the same record.

    Columns ``time, temperature_c, rain_mm, humidity_pct, note``. Spells of rain come at random,
    about one in three days; the air warms from 8 to 15 degrees over the two months.
    """
    draw = np.random.default_rng(seed)
    hours = 24 * DAYS
    at = np.arange(hours)
    rain = np.zeros(hours)
    begin = 0.0
    while (begin := begin + draw.exponential(60.0)) < hours:
        length = int(draw.gamma(1.6, 5.0)) + 1
        span = slice(int(begin), min(int(begin) + length, hours))
        wet = draw.random(span.stop - span.start) < 0.75
        rain[span] += wet * draw.gamma(1.0, 0.9, span.stop - span.start)
        begin += length
    rain = np.round(rain * 5.0) / 5.0  # a gauge tips at a fifth of a millimetre
    cloud = np.convolve(rain > 0.0, np.ones(9) / 9.0, "same")
    warm = 8.0 + 7.0 * at / hours + np.repeat(draw.normal(0.0, 2.0, DAYS), 24)
    swing = (5.0 - 3.0 * cloud) * np.cos((at % 24 - 15.0) / 24.0 * 2.0 * np.pi)
    temperature = np.convolve(np.pad(warm, 4, "edge"), np.ones(9) / 9.0, "valid") + swing
    dry = 74.0 + 26.0 * cloud - (13.0 - 6.0 * cloud) * swing / 5.0
    humidity = np.clip(dry + draw.normal(0.0, 3.0, hours), 30.0, 100.0)
    return [
        {
            "time": str(FIRST + np.timedelta64(k, "h")).replace("T", " ") + ":00",
            "temperature_c": f"{temperature[k]:.1f}",
            "rain_mm": f"{rain[k]:.1f}",
            "humidity_pct": f"{humidity[k]:.0f}",
            "note": MARK if k == 0 else "",
        }
        for k in range(hours)
    ]


def write_weather(path: Path, seed: int = 1) -> Path:
    """Write an invented record as CSV and return its path.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    rows = make_weather(seed)
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return write_whole(path, text.getvalue().encode("utf-8"))

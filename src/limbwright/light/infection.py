"""The apple scab infection periods of a weather record, and how wetness was known."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from limbwright.light.scab import WetSpell, daily_spells, leaf_wet, wet_spells
from limbwright.survey.weather import DailyWeather, HourlyWeather
from limbwright.trade.parameters import parameters

__all__ = ["SCHEMA", "ScabRecord", "scab_periods", "scab_schema"]

SCHEMA = "limbwright.scab/1"
NOT_ADVICE = (
    "This is the published table of wet hours by temperature, set against your record. It is not "
    "advice to spray: follow your local warning service and the rules of your land."
)


@dataclass(frozen=True, slots=True)
class ScabRecord:
    """The wet spells of a record and what apple scab could make of them.

    ``begin`` and ``end`` bound the record, ``records`` counts its hours or days (``step``).
    ``wetness`` says in words how it was known when leaves were wet; ``measured`` is the share of
    the record in which it was measured.
    """

    file: str
    step: str
    records: int
    begin: np.datetime64
    end: np.datetime64
    wetness: str
    measured: float
    dry_gap_h: float
    night_counts: bool
    day_from_h: float
    spells: tuple[WetSpell, ...]

    @property
    def last(self) -> np.datetime64:
        """The last hour or day of the record."""
        return np.datetime64(self.end - np.timedelta64(1, "m"))

    @property
    def infections(self) -> tuple[WetSpell, ...]:
        """The wet spells in which scab could infect."""
        return tuple(s for s in self.spells if s.primary != "none" or s.secondary)

    @property
    def beyond_table(self) -> tuple[WetSpell, ...]:
        """The wet spells of 6 hours or more that were too cold or too warm for the table."""
        return tuple(s for s in self.spells if s.wet_h >= 6.0 and not s.in_table)

    def to_dict(self) -> dict[str, Any]:
        """Return the record for JSON; times are of the clock of the place."""
        return {
            "schema": SCHEMA,
            "file": self.file,
            "step": self.step,
            "records": self.records,
            "begin": _minute(self.begin),
            "end": _minute(self.end),
            "wetness": self.wetness,
            "measured": round(self.measured, 4),
            "dry_gap_h": self.dry_gap_h,
            "night_counts": self.night_counts,
            "day_from_h": self.day_from_h,
            "spells": [
                {
                    "begin": _minute(one.begin),
                    "end": _minute(one.end),
                    "wet_h": one.wet_h,
                    "counted_h": one.counted_h,
                    "mean_c": round(one.mean_c, 2) if np.isfinite(one.mean_c) else None,
                    "in_table": one.in_table,
                    "primary": one.primary,
                    "secondary": one.secondary,
                    "lesions_days": one.lesions_days,
                }
                for one in self.spells
            ],
            "note": NOT_ADVICE,
        }


def _minute(when: np.datetime64) -> str:
    return str(when.astype("datetime64[m]"))


def scab_periods(
    weather: HourlyWeather | DailyWeather,
    *,
    dry_gap_h: float | None = None,
    night_counts: bool = False,
    day_from_h: float | None = None,
) -> ScabRecord:
    """Return the infection periods of a weather record.

    Parameters
    ----------
    weather
        As `read_weather` returns it.
    dry_gap_h
        Wet spells less than this apart are one; None takes 8 (sources give 4 to 12).
    night_counts
        Count a night's rain in full, as where scab was bad last year; so it is with a daily
        record, which does not know the hour.
    day_from_h
        Hour from which else a night's rain counts; None takes 7 (sources: sunrise to 8).

    Raises
    ------
    InputError
        The gap or the hour cannot be.
    """
    rules = parameters("scab_rules")
    gap = rules["dry_gap"].value if dry_gap_h is None else dry_gap_h
    day_h = rules["day_from"].value if day_from_h is None else day_from_h
    if isinstance(weather, DailyWeather):
        return ScabRecord(
            file=weather.file,
            step="day",
            records=len(weather.day),
            begin=weather.day[0],
            end=weather.day[-1] + np.timedelta64(1, "D"),
            wetness="The record gives the wet hours of each day.",
            measured=1.0,
            dry_gap_h=gap,
            night_counts=True,
            day_from_h=day_h,
            spells=daily_spells(weather.day, weather.mean_c, weather.wet_h, dry_gap_h=gap),
        )
    wet, _ = leaf_wet(weather.wet, weather.rain_mm, weather.humidity_pct)
    return ScabRecord(
        file=weather.file,
        step="hour",
        records=len(weather.when),
        begin=weather.when[0],
        end=weather.when[-1] + np.timedelta64(1, "h"),
        wetness=_wetness(weather),
        measured=float(np.isfinite(weather.wet).mean()),
        dry_gap_h=gap,
        night_counts=night_counts,
        day_from_h=day_h,
        spells=wet_spells(
            weather.when,
            weather.temperature_c,
            wet,
            dry_gap_h=gap,
            night_counts=night_counts,
            day_from_h=day_h,
        ),
    )


def _wetness(weather: HourlyWeather) -> str:
    measured = np.isfinite(weather.wet)
    rest = ~measured
    rain = bool(np.isfinite(weather.rain_mm[rest]).any())
    damp = bool(np.isfinite(weather.humidity_pct[rest]).any())
    limit = parameters("scab_rules")["wet.humidity"].value
    how = {
        (True, True): f"wet when rain fell or the air held {limit:g} % humidity or more.",
        (True, False): "wet when rain fell. Dew and slow drying are missed: wet spells come out "
        "too short.",
        (False, True): f"wet when the air held {limit:g} % humidity or more. Rain in drier air is "
        "missed.",
    }.get((rain, damp), "")
    if measured.all() or not how:
        return "Leaf wetness was measured."
    if measured.any():
        return f"Leaf wetness was measured in {measured.mean():.0%} of the hours; else {how}"
    return f"Leaf wetness was not measured: leaves count as {how}"


@cache
def _schema_text() -> str:
    return files("limbwright.light").joinpath("scab.schema.json").read_text("utf-8")


def scab_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of `ScabRecord.to_dict`."""
    schema: dict[str, Any] = json.loads(_schema_text())
    return schema

"""Whether a day's weather suits a job: go, look, or stay home, and why."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from limbwright.trade.parameters import parameters
from limbwright.trade.seasons.days import MONTHS
from limbwright.trade.seasons.job_windows import JobWindow
from limbwright.trade.seasons.rules import Job, find_job
from limbwright.trade.species import Species

__all__ = ["DayVerdict", "FitMonth", "Verdict", "WeatherDay", "day_verdict", "fit_days"]

Verdict = Literal["go", "look", "stay home"]
VERDICTS: tuple[Verdict, ...] = ("go", "look", "stay home")
LEAFY = ("summer", "watershoots")
"""Jobs done in leaf."""


@dataclass(frozen=True, slots=True)
class WeatherDay:
    """The weather of a day, or its forecast; None what is not known.

    ``wind_m_s`` is the greatest ten-minute mean, ``wet_h`` the hours leaves and bark were wet.
    """

    day: date
    min_c: float | None = None
    mean_c: float | None = None
    max_c: float | None = None
    rain_mm: float | None = None
    wet_h: float | None = None
    wind_m_s: float | None = None


@dataclass(frozen=True, slots=True)
class DayVerdict:
    """What a day is good for: the strictest word any reason gives, and what was not known."""

    day: date
    verdict: Verdict
    reasons: tuple[str, ...]
    unknown: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FitMonth:
    """Days of one month of a record that lie in a window: how many suit the job."""

    month: date
    days: int
    go: int
    look: int
    stay_home: int

    @property
    def words(self) -> str:
        """Such as ``November 2026``."""
        return f"{MONTHS[self.month.month - 1]} {self.month.year}"


def day_verdict(
    weather: WeatherDay,
    job: str | Job,
    species: Species,
    conditions: Collection[str] = (),
    *,
    look_at_unknown: bool = True,
) -> DayVerdict:
    """Return whether a day's weather suits a job, with the reasons.

    Parameters
    ----------
    weather
        What is not known is named in ``unknown``.
    conditions
        Of the tree or the orchard; ``canker``, ``fire blight`` and ``silver leaf`` count here.
    look_at_unknown
        True: a day of which something needed is not known is at best one to ``look`` at.

    Notes
    -----
    Limits and their sources are in ``data/weather_limits.csv``. A verdict of ``go`` says that the
    figures given pass them, not that the work is without danger: the ground, the gusts and the
    tree are judged on the day.
    """
    kind = find_job(job) if isinstance(job, str) else job
    said: list[tuple[int, str]] = []
    if kind.crown:
        said += _frost(weather)
        said += _wind(weather)
    elif kind.key == "planting":
        said += _frozen_ground(weather)
    said += _rain(weather)
    said += _heat(weather, kind)
    said += _ills(weather, kind, species, conditions)
    worst = max((level for level, _ in said), default=0)
    unknown = [name for name, value in _needed(weather, kind) if value is None]
    if unknown and look_at_unknown:
        worst = max(worst, 1)
    reasons = tuple(text for _, text in sorted(said, key=lambda one: -one[0]))
    return DayVerdict(weather.day, VERDICTS[worst], reasons, tuple(unknown))


def _needed(weather: WeatherDay, job: Job) -> list[tuple[str, float | None]]:
    wet = weather.rain_mm if weather.rain_mm is not None else weather.wet_h
    found = [("rain", wet), ("frost", weather.min_c), ("heat", weather.max_c)]
    return [*found, ("wind", weather.wind_m_s)] if job.crown else found


def _frost(weather: WeatherDay) -> list[tuple[int, str]]:
    table = parameters("weather_limits")
    coldest = weather.min_c if weather.min_c is not None else weather.mean_c
    if coldest is None:
        return []
    if coldest < table["frost.stop"].value:
        return [(2, f"frost of {coldest:.0f} °C: frozen wood splinters and wounds freeze back")]
    if coldest < table["frost.look"].value:
        return [(1, f"frost of {coldest:.0f} °C: wait until the wood has thawed; rungs are icy")]
    return []


def _frozen_ground(weather: WeatherDay) -> list[tuple[int, str]]:
    table = parameters("weather_limits")
    if weather.mean_c is not None and weather.mean_c < table["frost.look"].value:
        return [(2, "the ground is likely to be frozen: heel the trees in and wait")]
    if weather.min_c is not None and weather.min_c < table["frost.look"].value:
        return [(1, "night frost: keep the roots covered, and look whether the ground has thawed")]
    return []


def _wind(weather: WeatherDay) -> list[tuple[int, str]]:
    table, wind = parameters("weather_limits"), weather.wind_m_s
    if wind is None:
        return []
    if wind >= table["wind.stop"].value:
        return [(2, f"wind of {wind:.0f} m/s, Beaufort 6 or more: nobody up a ladder or a tree")]
    if wind >= table["wind.look"].value:
        return [(1, f"wind of {wind:.0f} m/s, Beaufort 5: work from the ground alone")]
    return []


def _rain(weather: WeatherDay) -> list[tuple[int, str]]:
    table = parameters("weather_limits")
    if weather.rain_mm is not None and weather.rain_mm >= table["rain.stop"].value:
        return [(2, f"{weather.rain_mm:.0f} mm of rain: wet rungs, wet wounds, soft ground")]
    if weather.rain_mm is not None and weather.rain_mm >= table["rain.wet"].value:
        return [(1, "some rain: begin when bark and rungs are dry")]
    if weather.rain_mm is None and (weather.wet_h or 0.0) >= table["wet.look"].value:
        return [(1, f"wet for {weather.wet_h:.0f} hours: begin when bark and rungs are dry")]
    return []


def _heat(weather: WeatherDay, job: Job) -> list[tuple[int, str]]:
    table = parameters("weather_limits")
    hottest = weather.max_c if weather.max_c is not None else weather.mean_c
    if hottest is None:
        return []
    if hottest >= table["heat.stop"].value:
        return [(2, f"{hottest:.0f} °C: too hot to climb, and bared bark may scorch")]
    if hottest >= table["heat.look"].value:
        leaf = ", and take little leaf" if job.key in LEAFY else ""
        return [(1, f"{hottest:.0f} °C: start early, rest in the shade, drink{leaf}")]
    return []


def _ills(
    weather: WeatherDay, job: Job, species: Species, conditions: Collection[str]
) -> list[tuple[int, str]]:
    table = parameters("weather_limits")
    wet = _is_wet(weather)
    found: list[tuple[int, str]] = []
    if not job.crown or wet is not True:
        return found
    cankered = job.key == "canker" or "canker" in conditions
    if cankered:
        found.append((2, "wet, with canker in the tree: rain splash carries its spores"))
    if "silver leaf" in conditions and species.group == "stone":
        found.append((2, "wet, with silver leaf in the orchard: its fungus sheds spores now"))
    blighted = job.key == "fire-blight" or "fire blight" in conditions
    if blighted and species.group == "pome":
        mean = weather.mean_c
        cold = mean is not None and mean < table["hygiene.cold"].value
        warm = mean is not None and mean >= table["blight.mean"].value
        word = "warm and wet: fire blight infects" if warm else "wet, with fire blight about"
        found.append((1 if cold else 2, word))
    return found


def _is_wet(weather: WeatherDay) -> bool | None:
    table = parameters("weather_limits")
    if weather.rain_mm is not None and weather.rain_mm >= table["rain.wet"].value:
        return True
    if weather.wet_h is not None:
        return weather.wet_h >= table["wet.look"].value
    return None if weather.rain_mm is None else False


def fit_days(
    record: Iterable[WeatherDay],
    windows: Sequence[JobWindow],
    species: Species,
    conditions: Collection[str] = (),
) -> tuple[FitMonth, ...]:
    """Return, month by month, how many days of a record lie in a window and suit its job.

    Parameters
    ----------
    windows
        Those of one job, one for each year of the record and the year before.

    Notes
    -----
    What the record does not hold counts for nothing here; wind seldom is in one.
    """
    open_days: dict[date, Job] = {}
    for window in windows:
        for run in window.runs:
            for span in run:
                for k in range(span.days):
                    open_days[date.fromordinal(span.first.toordinal() + k)] = window.job
    counts: dict[date, list[int]] = {}
    for weather in record:
        row = counts.setdefault(weather.day.replace(day=1), [0, 0, 0])
        job = open_days.get(weather.day)
        if job is not None:
            found = day_verdict(weather, job, species, conditions, look_at_unknown=False)
            row[VERDICTS.index(found.verdict)] += 1
    return tuple(FitMonth(m, sum(row), *row) for m, row in sorted(counts.items()))

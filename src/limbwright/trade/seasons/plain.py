"""The windows of jobs as plain values, for JSON; the schema is beside it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from limbwright.trade.seasons.job_windows import JobWindow, Reason, Span
from limbwright.trade.seasons.weather_day import FitMonth
from limbwright.trade.seasons.weeks import conflicts, quiet_span, weeks

__all__ = ["SCHEMA", "windows_schema", "windows_to_dict"]

SCHEMA = "limbwright.windows/1"


def windows_to_dict(
    windows: Sequence[JobWindow], fit: Sequence[Sequence[FitMonth]] = ()
) -> dict[str, Any]:
    """Return the windows of one species and year for JSON.

    Parameters
    ----------
    windows
        One a job, all of one species, year and place.
    fit
        Days of a weather record that suit each job, in the order of ``windows``; may be empty.

    Raises
    ------
    ValueError
        There is no window.
    """
    if not windows:
        raise ValueError("no window to tell of")
    first = windows[0]
    days = fit or [()] * len(windows)
    return {
        "schema": SCHEMA,
        "species": first.species,
        "year": first.year,
        "basis": first.basis,
        "sentence": first.sentence,
        "caution": first.caution,
        "jobs": [_job(one, months) for one, months in zip(windows, days, strict=True)],
    }


@cache
def _schema_text() -> str:
    return files("limbwright.trade.seasons").joinpath("windows.schema.json").read_text("utf-8")


def windows_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of `windows_to_dict`."""
    schema: dict[str, Any] = json.loads(_schema_text())
    return schema


def _job(window: JobWindow, months: Sequence[FitMonth]) -> dict[str, Any]:
    quiet = quiet_span(window)
    return {
        "job": window.job.key,
        "name": window.job.words,
        "spans": [_span(one) for one in window.spans],
        "windows": [[_span(one) for one in run] for run in window.runs],
        "rules": {key: _reason(one) for key, one in _heard(window).items()},
        "conflicts": [
            {
                "rule": one.rule,
                "first": one.first.isoformat(),
                "last": one.last.isoformat(),
                "days": one.days,
                "of_days": one.of_days,
                "sentence": one.sentence,
            }
            for one in conflicts(window)
        ],
        "quiet": None if quiet is None else [day.isoformat() for day in quiet],
        "weeks": [
            {
                "monday": one.monday.isoformat(),
                "week": one.number,
                "open_days": one.open_days,
                "care_days": one.care_days,
                "closed_days": one.closed_days,
                "cautions": one.cautions,
                "rules": list(one.rules),
            }
            for one in weeks(window)
        ],
        "fit_days": [
            {
                "month": f"{one.month:%Y-%m}",
                "days": one.days,
                "go": one.go,
                "look": one.look,
                "stay_home": one.stay_home,
            }
            for one in months
        ],
    }


def _heard(window: JobWindow) -> dict[str, Reason]:
    """Return the rules that some span names, in the order of the window's own."""
    spans = (*window.spans, *(span for run in window.runs for span in run))
    named = {key for span in spans for key in (*span.rules, span.decided_by)}
    return {key: one for key, one in window.reasons.items() if key in named}


def _span(span: Span) -> dict[str, Any]:
    return {
        "first": span.first.isoformat(),
        "last": span.last.isoformat(),
        "state": span.state,
        "decided_by": span.decided_by,
        "rules": list(span.rules),
    }


def _reason(one: Reason) -> dict[str, str]:
    return {
        "name": one.name,
        "sentence": one.sentence,
        "strength": one.strength,
        "scheme": one.scheme,
        "place": one.place,
        "dated": one.dated,
        "source": one.source,
    }

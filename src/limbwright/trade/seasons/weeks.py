"""What a window meets, and the weeks in which it meets least."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta

from limbwright.trade.seasons.job_windows import DOUBT, JobWindow, Span

__all__ = ["Conflict", "Week", "conflicts", "quiet_span", "weeks"]

ISO_WEEK = 7


@dataclass(frozen=True, slots=True)
class Week:
    """Seven days from a Monday, with what they hold for a job.

    ``cautions`` is the sum over the days of the rules that ask for care, those in doubt among
    them; ``rules`` names them, the most frequent first.
    """

    monday: date
    open_days: int
    care_days: int
    closed_days: int
    cautions: int
    rules: tuple[str, ...]

    @property
    def last(self) -> date:
        """The Sunday."""
        return self.monday + timedelta(days=ISO_WEEK - 1)

    @property
    def number(self) -> int:
        """Number of the week by ISO 8601."""
        return self.monday.isocalendar().week


@dataclass(frozen=True, slots=True)
class Conflict:
    """A rule that meets a window: on how many of its days, from the first of them to the last."""

    rule: str
    name: str
    first: date
    last: date
    days: int
    of_days: int
    sentence: str


def weeks(window: JobWindow) -> tuple[Week, ...]:
    """Return the weeks of the windows that begin in the year, the least disturbed first.

    First come weeks with fewer closed days, then with fewer days that need care, then with fewer
    rules that ask for it, then the earlier. No weight is set between rules: each counts as one.
    """
    days: dict[date, Span] = {}
    for run in window.runs:
        for span in run:
            for k in range(span.days):
                days[span.first + timedelta(days=k)] = span
    mondays = sorted({day - timedelta(days=day.weekday()) for day in days})
    return tuple(sorted((_week(monday, days, window) for monday in mondays), key=_order))


def _order(week: Week) -> tuple[int, int, int, date]:
    return week.closed_days, week.care_days, week.cautions, week.monday


def _week(monday: date, days: dict[date, Span], window: JobWindow) -> Week:
    states: Counter[str] = Counter()
    asks: Counter[str] = Counter()
    for k in range(ISO_WEEK):
        span = days.get(monday + timedelta(days=k))
        states["closed" if span is None else span.state] += 1
        if span is not None:
            asks.update(key for key in span.rules if _asks(key, window))
    rules = tuple(key for key, _ in sorted(asks.items(), key=lambda one: (-one[1], one[0])))
    return Week(monday, states["open"], states["care"], states["closed"], sum(asks.values()), rules)


def _asks(key: str, window: JobWindow) -> bool:
    """Return whether a rule asks for care: not the window itself, nor a rule that only allows."""
    if key in window.windows:
        return False
    return window.reasons[key].strength not in ("allow", "only", "forbid")


def conflicts(window: JobWindow) -> tuple[Conflict, ...]:
    """Return what meets the windows that begin in the year, the most days first."""
    found = []
    of_days = sum(span.days for run in window.runs for span in run)
    keys = dict.fromkeys(k for run in window.runs for span in run for k in span.rules)
    for key in keys:
        if not _asks(key, window):
            continue
        met = [span for run in window.runs for span in run if key in span.rules]
        days = sum(span.days for span in met)
        reason = window.reasons[key]
        first, last = met[0].first, met[-1].last
        spans: list[tuple[date, date]] = []
        for span in met:
            if spans and span.first - spans[-1][1] <= timedelta(days=1):
                spans[-1] = spans[-1][0], span.last
            else:
                spans.append((span.first, span.last))
        when = " and ".join(f"{_says(a)} to {_says(b)}" for a, b in spans)
        sentence = (
            f"{reason.name[:1].upper()}{reason.name[1:]}: on {days} of {of_days} days, "
            f"{when}. {reason.sentence}"
        )
        found.append(Conflict(key, reason.name, first, last, days, of_days, sentence))
    return tuple(sorted(found, key=lambda one: (-one.days, one.rule.endswith(DOUBT), one.rule)))


def quiet_span(window: JobWindow) -> tuple[date, date] | None:
    """Return the longest row of open days in the windows that begin in the year; None if none."""
    best: tuple[date, date] | None = None
    for run in window.runs:
        begin: date | None = None
        for span in run:
            if span.state != "open":
                begin = None
                continue
            begin = span.first if begin is None else begin
            if best is None or span.last - begin > best[1] - best[0]:
                best = begin, span.last
    return best


def _says(day: date) -> str:
    return f"{day.day} {day:%B} {day.year}"

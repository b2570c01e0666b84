"""The season of a job that runs or comes next, by the calendar and the rules of the place."""

from __future__ import annotations

from datetime import date, timedelta
from functools import lru_cache

from limbwright.model.site import Site
from limbwright.trade.place_window import agreed_days, heard_rules
from limbwright.trade.seasons.job_windows import windows_for
from limbwright.trade.seasons.local import LocalRule
from limbwright.trade.seasons.placed import place_of
from limbwright.trade.species import Species

__all__ = ["season_begins"]

DAY = timedelta(days=1)
KEPT = 256
"""Seasons kept once worked out; judgement: species times jobs of a few holdings."""


@lru_cache(maxsize=KEPT)
def season_begins(
    kind: Species,
    site: Site,
    today: date,
    local_rules: tuple[LocalRule, ...] = (),
    *,
    job: str = "structural",
    months: frozenset[int] = frozenset(range(1, 13)),
) -> int:
    """Return the year in which the season of a job begins that runs on a day, else the next one.

    It is the season of the first day, from ``today`` on, on which one may work: a day in the agreed
    days of the place, or one of ``months`` that sources do not rule out. A day that a rule of the
    place adds counts to the season whose middle is nearest. Where the place has no calendar or its
    rules leave no day at all, the calendar of its half of the world alone tells.

    Parameters
    ----------
    local_rules
        Rules of the place; those that change no day of this job count for nothing.
    job
        A key of `trade.seasons.rules.JOBS` that is done in this species.
    months
        Months, 1 to 12, in which days that some sources doubt count as days of the season.
    """
    calendar = site if place_of(site).basis != "none" else Site(southern=site.southern)
    heard = heard_rules(local_rules, job, kind, site) if calendar is site else ()
    years = range(today.year - 1, today.year + 3)
    for rules in dict.fromkeys((heard, ())):
        for year in years[:-1]:
            found = windows_for(job, kind, calendar, year, None, rules)
            agreed = agreed_days(found)
            for span in (s for run in found.runs for s in run):
                day = max(span.first, today)
                while day <= span.last:
                    if day.month in months or any(a <= day <= b for a, b in agreed):
                        return _season_of(day, kind, calendar, job)
                    day += DAY
    return today.year


def _season_of(day: date, kind: Species, site: Site, job: str) -> int:
    """Return the year in which the season begins, by the calendar, whose middle is nearest."""
    middles = {}
    for year in range(day.year - 1, day.year + 2):
        days = agreed_days(windows_for(job, kind, site, year))
        if days:
            middles[year] = days[0][0] + (days[-1][1] - days[0][0]) / 2
    return min(middles, key=lambda year: abs(middles[year] - day))

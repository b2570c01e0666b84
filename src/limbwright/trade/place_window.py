"""The window of one place, in words for a card: the calendar's, unless the place has it otherwise.

Where no local rule has a say and a plain calendar holds, it is `trade.windows.group_window`. Else
the days come from `trade.seasons.job_windows`, and the sentence says whose rule moved them.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import lru_cache

from limbwright.model.site import Site
from limbwright.trade.parameters import parameters
from limbwright.trade.seasons.days import MONTHS, YearDay, inside, say_span
from limbwright.trade.seasons.days import axis as axis_of
from limbwright.trade.seasons.job_windows import JobWindow, windows_for
from limbwright.trade.seasons.local import LocalRule
from limbwright.trade.seasons.placed import place_of
from limbwright.trade.seasons.rules import find_job
from limbwright.trade.species import Species
from limbwright.trade.windows import Window, group_window, nesting_months

__all__ = ["agreed_days", "heard_rules", "place_window"]

YEAR = 2001
"""A common year: days of windows are the same in each, the end of February aside."""
AXIS = axis_of(date(YEAR, 1, 1), date(YEAR, 12, 31))
PLACES_KEPT = 256
"""Windows kept once worked out; judgement: species times jobs of a few holdings."""
HOW = {
    "pome": "while dormant, on a dry day above frost",
    "stone": "on a dry day",
    "planting": "while leafless and the ground is open",
}
EVERY_MONTH = tuple(range(1, 13))

Days = tuple[date, date]


@lru_cache(maxsize=PLACES_KEPT)
def place_window(
    kind: Species,
    site: Site,
    local_rules: tuple[LocalRule, ...] = (),
    *,
    job: str = "structural",
    usual: Window | None = None,
) -> Window:
    """Return when a job may be done in a species in one place.

    Parameters
    ----------
    site
        Its latitude, or its half of the world.
    local_rules
        Rules of the place, which come before the calendar. Those that change no day on which
        one may work are not told.
    job
        A key of `trade.seasons.rules.JOBS` that is done in this species.
    usual
        The window of that job where the place has it no other way; None: that of pruning.
    """
    usual = group_window(kind.group, site.southern) if usual is None else usual
    place = place_of(site)
    one = find_job(job)
    ours = [r for r in local_rules if r.concerns(one, kind.key, kind.group)]
    if place.basis == "none":
        look = " Look for nests first." if one.crown else ""
        return Window(EVERY_MONTH, f"{place.sentence}{look}{_told(ours)}", usual.reason)
    heard = heard_rules(local_rules, job, kind, site)
    if heard:
        found = windows_for(job, kind, site, YEAR, None, heard)
        usual = _moved(found, kind, site, usual, heard)
    if not _calm(site):
        usual = Window(usual.months, f"{usual.sentence} {place.sentence}", usual.reason)
    return usual


def heard_rules(
    local_rules: tuple[LocalRule, ...], job: str, kind: Species, site: Site
) -> tuple[LocalRule, ...]:
    """Return the rules of a place that change a day of a job, or ask to look on one."""
    ours = [r for r in local_rules if r.concerns(find_job(job), kind.key, kind.group)]
    if not ours:
        return ()
    plain = windows_for(job, kind, site, YEAR)
    return tuple(r for r in ours if _says(r, plain, kind, site))


def _calm(site: Site) -> bool:
    """Return whether the calendar holds at this latitude without a warning."""
    table = parameters("season_climate")
    return table["tropics.latitude"].high <= abs(site.latitude) <= table["far.latitude"].value


def _states(found: JobWindow) -> list[str]:
    """Return the state of each day of the year."""
    return [span.state for span in found.spans for _ in range(span.days)]


def _says(rule: LocalRule, plain: JobWindow, kind: Species, site: Site) -> bool:
    """Return whether a rule changes a day, or asks to look on one when work may be done."""
    before = _states(plain)
    if rule.strength == "look first":
        days = inside(rule.first, rule.last, AXIS).tolist()
        return any(on and state != "closed" for on, state in zip(days, before, strict=True))
    after = windows_for(plain.job.key, kind, site, YEAR, None, (rule,))
    return _states(after) != before or agreed_days(after) != agreed_days(plain)


def _moved(
    found: JobWindow, kind: Species, site: Site, usual: Window, rules: tuple[LocalRule, ...]
) -> Window:
    """Return the window as the rules of the place leave it."""
    days = sorted(agreed_days(found), key=lambda d: (d[0].month - usual.months[0]) % len(MONTHS))
    if not days:
        return Window((), f"The rules of the place leave no day.{_told(rules)}", usual.reason)
    spans = " and ".join(say_span(_day(first), _day(last)) for first, last in days)
    months = tuple(dict.fromkeys(m for first, last in days for m in _months(first, last)))
    how = HOW.get(found.job.key, HOW[kind.group])
    sentence = f"{spans}, {how}."
    shared = [MONTHS[m - 1] for m in months if m in nesting_months(site.southern)]
    if found.job.crown and kind.group == "stone" and shared:
        span = shared[0] if len(shared) == 1 else f"{shared[0]} to {shared[-1]}"
        sentence += (
            f" Birds may be nesting in {span}: look for nests first and wait where one is in use."
        )
    return Window(months, f"{sentence}{_told(rules)}", usual.reason)


def agreed_days(found: JobWindow) -> list[Days]:
    """Return the days on which one may work by what sources agree on, and by local leave."""
    allows = {key for key, one in found.reasons.items() if one.strength == "allow"}
    out: list[Days] = []
    for run in found.runs:
        for span in run:
            if span.state != "open" and not (found.windows | allows) & set(span.rules):
                continue
            if out and out[-1][1] + timedelta(days=1) == span.first:
                out[-1] = (out[-1][0], span.last)
            else:
                out.append((span.first, span.last))
    return out


def _day(day: date) -> YearDay:
    return YearDay(day.month, day.day)


def _months(first: date, last: date) -> list[int]:
    span = (last.year - first.year) * len(MONTHS) + last.month - first.month
    return [(first.month - 1 + k) % len(MONTHS) + 1 for k in range(span + 1)]


def _told(rules: tuple[LocalRule, ...] | list[LocalRule]) -> str:
    return "".join(f" {one.words}" for one in rules)

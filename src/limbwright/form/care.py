"""What goes with forming: when it may be done, guard, tie and water, and the cautions."""

from __future__ import annotations

import csv
from calendar import month_name
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from functools import cache
from importlib.resources import files

from limbwright.form.results import FormRow
from limbwright.form.settings import FormSettings
from limbwright.form.target import grazers
from limbwright.model.site import Site
from limbwright.trade.next_season import season_begins
from limbwright.trade.place_window import place_window
from limbwright.trade.seasons.job_windows import DOUBT, windows_for
from limbwright.trade.seasons.local import LocalRule
from limbwright.trade.species import Species
from limbwright.trade.windows import Window, nesting_months

__all__ = ["cautions", "form_window", "reminders", "season_name", "season_year"]

FENCES = {
    "sheep": "for sheep the top rail at 1.1 m or more, half a metre off the stem",
    "cattle": "for cattle a pen of strong rails, its top at 1.2 m or more",
    "horses": "for horses 1.8 m high, or so wide that they reach no branch",
    "goats": "for goats 1.8 m high and closed all round",
    "deer": "for deer 1.2 m high for small ones and 1.8 m for large",
}
"""Heights: Scottish grant specification of 2015 for sheep, cattle, horses and goats; deer from
memory. English grant: a wooden guard 2 m high or more keeps animals half a metre off the stem."""

NEVER_DORMANT = " Never while dormant, for fear of silver leaf."


def form_window(
    kind: Species, site: Site, year: int, local_rules: tuple[LocalRule, ...] = ()
) -> Window:
    """Return when a young tree may be formed in the season that begins in a year.

    The days are those of formative pruning in ``season_rules.csv``, which gives their sources;
    other accounts are told beside them. Rules of the place come before both, and are told.
    """
    half = Site(southern=site.southern)
    found = windows_for("formative", kind, half, year)
    run = found.runs[0]
    sure = [one for one in run if DOUBT not in one.decided_by]
    first, last = sure[0].first, sure[-1].last
    how = "while dormant, on a dry day above frost" if kind.group == "pome" else "on a dry day"
    sentence = f"{_day(first)} to {_day(last)}, {how}."
    if (run[0].first, run[-1].last) != (first, last):
        sentence += f" By other accounts {_day(run[0].first)} to {_day(run[-1].last)}."
    if kind.group == "stone":
        sentence += NEVER_DORMANT
    span = (last.year - first.year) * 12 + last.month - first.month
    months = tuple((first.month - 1 + k) % 12 + 1 for k in range(span + 1))
    usual = Window(months, sentence, found.reasons[sure[0].rules[0]].sentence)
    when = place_window(kind, site, local_rules, job="formative", usual=usual)
    if kind.group == "stone" and NEVER_DORMANT not in when.sentence:
        when = replace(when, sentence=when.sentence + NEVER_DORMANT)
    return when


def season_year(
    kind: Species, site: Site, today: date, local_rules: tuple[LocalRule, ...] = ()
) -> int:
    """Return the year in which the running season of a species began, else the next one begins.

    A season runs while by some account, and by the rules of the place, one may still form a tree.
    """
    return season_begins(kind, site, today, local_rules, job="formative")


def season_name(kind: Species, site: Site, year: int) -> str:
    """Return the season that begins in a year, such as ``winter 2027-28``."""
    run = windows_for("formative", kind, Site(southern=site.southern), year).runs[0]
    name = "winter" if kind.group == "pome" else "spring or summer"
    return (
        f"{name} {year}" if run[-1].last.year == year else f"{name} {year}-{(year + 1) % 100:02d}"
    )


def _day(day: date) -> str:
    return f"{day.day} {month_name[day.month]}"


def reminders(
    age: int | None, grazed_by: str, rows: Iterable[FormRow], settings: FormSettings
) -> tuple[str, ...]:
    """Return what else a visit looks to, in the order one meets it.

    Figures: water 10 to 20 L a week (an orchard charity), clear circle of 1 m (English and Irish
    grants), mulch 5 to 10 cm (the same charity), no fruit in the planting year (growers' forum).
    """
    found = []
    animals, _ = grazers(grazed_by)
    guards = [FENCES[a] for a in animals if a in FENCES]
    if guards:
        found.append(f"Guard: {'; '.join(guards)}. Mend it before they come back.")
    low, high = settings.low("tie_years"), settings.high("tie_years")
    if age is None or age < settings["tie_years"]:
        found.append(
            "Tie: loosen it before it cuts in; nothing may rub. Stake and tie go when the stem "
            f"stands alone, mostly after {low:.0f} to {high:.0f} years."
        )
    else:
        found.append("Take stake and tie away if they are still there.")
    if age is None or age <= 3:
        found.append(
            "Ground: a circle a metre wide free of grass, 5 to 10 cm of mulch off the bark, 10 to "
            "20 litres of water a week in dry spells."
        )
    if age is not None and age <= 0:
        found.append("Rub the blossom off: no fruit in the year of planting.")
    rows = tuple(rows)
    if any(r.work == "spread" or (r.work == "head" and r.spread_to_deg) for r in rows):
        found.append(
            "Spread with a forked stick or a soft tie to a peg while the wood is supple; take it "
            "off when the limb holds by itself, after a summer."
        )
    if any(r.work == "head" for r in rows):
        found.append("In early summer rub out soft upright shoots behind the cuts.")
    return tuple(found)


def cautions(
    kind: Species,
    site: Site,
    when: Window,
    rows: Iterable[FormRow],
    settings: FormSettings,
    more: Iterable[str] = (),
) -> tuple[str, ...]:
    """Return the cautions whose occasion this tree and this work give."""
    rows = tuple(rows)
    texts = _texts()
    cut_now = [r for r in rows if r.cuts]
    keys = []
    if any((r.cut_at_m or 0.0) > settings["reach"] for r in cut_now):
        keys.append("height")
    if cut_now:
        keys.append("brash" if kind.group == "stone" else "stock")
    if any(r.role == "failed" for r in rows):
        keys.append("hygiene")
    working = any(r.order for r in rows)
    if working and set(when.months) & set(nesting_months(site.southern)):
        keys.append("nesting")
    return (*more, *(texts[key] for key in keys))


@cache
def _texts() -> dict[str, str]:
    text = files("limbwright.trade").joinpath("data", "cautions.csv").read_text("utf-8")
    return {row["key"]: row["text"] for row in csv.DictReader(text.splitlines())}

"""Draw the ribbon of docs/method/windows.md, and print its tables of rules.

Run: ``python benchmarks/draw_ribbon.py [folder]``. Writes ``ribbon.svg``, a year in the temperate
north with two invented seasons of work hung on it, and prints the rules as the page has them.
"""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

from limbwright.model.site import Site
from limbwright.report.ribbon import Hung, ribbon_svg
from limbwright.report.whole import write_whole
from limbwright.trade.seasons.days import MONTHS, YearDay
from limbwright.trade.seasons.ribbon import ribbon
from limbwright.trade.seasons.rules import Rule, season_rules

PICTURES = Path(__file__).resolve().parents[1] / "docs" / "pictures"
YEAR = 2027
KINDS = {"pome": "pome", "stone": "stone", "all": "all"}
SOURCES_HEAD = "| rule | scheme, place, date | source |\n|---|---|---|"
HEAD = "| rule | fruit | days (what sources give) | binds | moves with |\n|---|---|---|---|---|"


def picture() -> str:
    """Return the picture of the page."""
    hung = (
        Hung(date(YEAR, 1, 11), date(YEAR, 2, 19), "apples, year 1 (invented)"),
        Hung(date(YEAR, 9, 6), date(YEAR, 9, 24), "plums (invented)"),
    )
    return ribbon_svg(ribbon(YEAR, Site(latitude_deg=52.0)), hung=hung)


def rules_table() -> str:
    """Return the table of rules of the page."""
    return "\n".join([HEAD, *(_row(rule) for rule in season_rules())])


def sources_table() -> str:
    """Return the table of the page that tells where each rule comes from."""
    return "\n".join([SOURCES_HEAD, *(_source(rule) for rule in season_rules())])


def _source(rule: Rule) -> str:
    where = "; ".join(part for part in (rule.scheme, rule.place, rule.dated) if part)
    return f"| {rule.name} | {where or '-'} | {rule.source} |"


def _row(rule: Rule) -> str:
    fruit = ", ".join(KINDS.get(kind, kind.replace("-", " ")) for kind in rule.kinds)
    first, last = (_end(days) for days in (rule.first, rule.last))
    days = "all year" if rule.key == "ground" else f"{first} to {last}"
    days = "the hot days of a climate" if rule.season == "hot" else days
    needs = f", with {rule.needs}" if rule.needs else ""
    moves = {"": "calendar", "hot": "climate"}.get(rule.season, rule.season)
    return f"| {rule.name} | {fruit} | {days} | {rule.strength}{needs} | {moves} |"


def _end(days: tuple[YearDay, YearDay, YearDay]) -> str:
    low, value, high = (_short(day) for day in days)
    return value if low == high else f"{value} ({low}–{high})"


def _short(day: YearDay) -> str:
    return "end Feb" if day == YearDay(2, 29) else f"{day.day} {MONTHS[day.month - 1][:3]}"


if __name__ == "__main__":
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else PICTURES
    write_whole(folder / "ribbon.svg", picture().encode("utf-8"))
    print(rules_table())
    print()
    print(sources_table())

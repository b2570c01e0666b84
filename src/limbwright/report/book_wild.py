"""What a report says of wildlife, health, cautions and windows, from the tables of the trade."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from limbwright.cuts.cautions import Caution, orchard_cautions
from limbwright.model.records import StationRecord
from limbwright.needs.cautions import BELOW, NESTING, STOCK, STONE
from limbwright.report.book_words import and_list, counted, day_words, places, sentence
from limbwright.report.book_works import LOOKS, PLANTING, Work, group_of, seasons_named
from limbwright.report.holding_report import HoldingReport
from limbwright.report.ribbon import Hung, ribbon_svg
from limbwright.stages.seasons import year_of
from limbwright.trade.deadwood import deadwood_rule
from limbwright.trade.habitat import features
from limbwright.trade.health import problems
from limbwright.trade.mistletoe import mistletoe_advice, mistletoe_of
from limbwright.trade.seasons.job_windows import JobWindow, windows_for
from limbwright.trade.seasons.ribbon import ribbon
from limbwright.trade.seasons.weeks import conflicts, quiet_span
from limbwright.trade.species import species

__all__ = [
    "caution_words",
    "health_words",
    "names_of",
    "open_words",
    "own_cautions",
    "ribbon_picture",
    "shared_cautions",
    "totals",
    "wildlife_words",
    "window_of",
    "window_words",
]

STANDS_FOR = {"pome": "apple", "stone": "plum"}
SHARED = (
    *("people", "height", "chainsaw", "lines", "protected", "nesting", "brash", "stock"),
    *("lone", "weather", "handling"),
)
"""Cautions that hold for everybody on a page; all others are told of their trees."""
SAID_BY = {"people": BELOW, "brash": STONE, "stock": STOCK}
"""What a need says in its own words and a shared caution says as well."""
NESTING_BEGINS = NESTING.split("{")[0]
DIG = "Before posts or pits are dug ask for a plan of what lies underground."
"""Common practice."""
MOST_NAMED = 24
"""Trees named before the rest are counted; judgement: two lines of a page."""
RIBBON_MM = 190.0
HALF_YEAR_MONTH = 7


def window_of(report: HoldingReport, season: str, group: str) -> JobWindow:
    """Return the window of structural pruning of pome or stone fruit in a season."""
    year = year_of(season) or report.made_on.year
    return windows_for(
        "structural",
        species(STANDS_FOR[group]),
        report.holding.site,
        year,
        None,
        report.rules,
        report.conditions,
    )


def window_words(report: HoldingReport) -> list[dict[str, Any]]:
    """Return each pruning window that comes next: its days, its quiet days, what meets it."""
    out = []
    for group in _groups(report):
        season = report.first_season[group]
        found = window_of(report, season, group)
        days = [f"{day_words(first)} to {day_words(last)}" for first, last in _open_days(found)]
        quiet = quiet_span(found)
        out.append(
            {
                "title": f"{'Pome' if group == 'pome' else 'Stone'} fruit, {season}",
                "days": "; ".join(days) or "not known here: ask growers of the place",
                "quiet": "" if quiet is None else f"{day_words(quiet[0])} to {day_words(quiet[1])}",
                "rests_on": found.sentence,
                "meets": [one.sentence for one in conflicts(found)],
                "caution": found.caution,
            }
        )
    return out


def _open_days(window: JobWindow) -> list[tuple[date, date]]:
    """Return the days of each run on which sources agree that the job may be done."""
    out = []
    for run in window.runs:
        days = [s for s in run if s.state == "open" or window.windows & set(s.rules)]
        if days:
            out.append((days[0].first, days[-1].last))
    return out


def open_words(report: HoldingReport, season: str, group: str) -> str:
    """Return the days of a season in which pruning is open, and the least disturbed of them."""
    found = window_of(report, season, group)
    days = [f"{day_words(first)} to {day_words(last)}" for first, last in _open_days(found)]
    if not days:
        return "Days not known here: ask growers of the place."
    quiet = quiet_span(found)
    said = f"{'; '.join(days)}."
    if quiet is not None:
        said += f" Least in the way: {day_words(quiet[0])} to {day_words(quiet[1])}."
    return said


def ribbon_picture(report: HoldingReport) -> str:
    """Return the year as a ribbon with the seasons of the plan hung below it (SVG).

    From the middle of a year on it is the next year that lies ahead.
    """
    year = report.made_on.year + (report.made_on.month >= HALF_YEAR_MONTH)
    hung = []
    for group in _groups(report):
        for one in report.sums:
            # all that is done in the season, planting and looks at stone fruit in winter too
            mine = [w for w in one.works if not w.rest]
            if not one.season or not mine or abs((year_of(one.season) or 0) - year) > 1:
                continue
            trees = counted(len({w.tree for w in mine}), "tree")
            for first, last in _open_days(window_of(report, one.season, group)):
                if first.year <= year <= last.year and one.season in _seasons(report, group):
                    hung.append(Hung(first, last, f"{one.season}: {trees}"))
    drawn = ribbon(year, report.holding.site, None, report.rules, report.conditions)
    return ribbon_svg(drawn, hung=hung, width_mm=RIBBON_MM)


def _seasons(report: HoldingReport, group: str) -> tuple[str, ...]:
    return seasons_named(report.first_season, report.seasons)[group]


def _groups(report: HoldingReport) -> list[str]:
    groups = {group_of(s.species) for s in report.stations}
    return [group for group in ("pome", "stone") if group in groups]


def wildlife_words(report: HoldingReport) -> dict[str, Any]:
    """Return habitat counted, the deadwood rule by orchard, trees left alone, and mistletoe."""
    tally = report.baselines[0].tally
    counts = [
        [one.name, str(tally.by_feature[one.key]), sentence(one.asks)]
        for one in features()
        if tally.by_feature.get(one.key)
    ]
    advised = [
        (name, deadwood_rule([s for s in report.named if s.orchard == name], report.orchard(name)))
        for name in report.orchards
    ]
    said = [advice.reasons for _, advice in advised]
    # what holds for all orchards is told once
    shared = [w for w in said[0] if len(said) > 1 and all(w in other for other in said)]
    rules = []
    for name, advice in advised:
        piles = f"{advice.log_piles_low} to {advice.log_piles_high}"
        if advice.log_piles_low == advice.log_piles_high:
            piles = str(advice.log_piles_low)
        rules.append(
            {
                "orchard": name or "The orchard",
                "reasons": [words for words in advice.reasons if words not in shared],
                "piles": f"Log piles: {piles}.",
                "stand": _grouped(
                    (one.tree, f"{'Stands' if one.keep else 'Need not stand'}. {sentence(one.why)}")
                    for one in advice.trees
                ),
            }
        )
    left = _grouped(
        (need.tree, f"{sentence(need.kind.value)} {sentence(need.kind.because)}")
        for need in report.needs
        if need.kind.value in LOOKS and need.station.status != "dead"
    )
    return {
        "trees": f"{counted(tally.with_habitat, 'tree')} of {tally.trees} bear habitat; "
        f"{counted(tally.standing_dead, 'dead tree')} standing.",
        "features": counts,
        "shared": " ".join(shared),
        "rules": rules,
        "left": left,
        "mistletoe": _mistletoe(report),
    }


def _grouped(told: Iterable[tuple[str, str]], most: int = 0) -> list[str]:
    """Return what is told of trees, each once with its trees after it (0: all of them)."""
    trees: dict[str, list[str]] = {}
    for tree, words in told:
        trees.setdefault(words, []).append(tree)
    return [f"{words} ({places(names, most)})" for words, names in trees.items()]


def _mistletoe(report: HoldingReport) -> list[str]:
    told = []
    for one in report.stations:
        if one.status in ("gap", "stump"):
            continue
        found, _ = mistletoe_of(one, report.skeletons.get(one.tree))
        if found is None:
            continue
        advice = mistletoe_advice(found)
        told.append((one.tree, " ".join(advice.reasons)))
    return _grouped(told)


def health_words(report: HoldingReport) -> list[list[str]]:
    """Return problems found: name, trees that have it or may, what is done, how it is handled."""
    rows = []
    for one in problems():
        trees = report.problems.get(one.key)
        if not trees:
            continue
        named = [tree for tree, sure in trees if sure == "named"]
        maybe = [tree for tree, sure in trees if sure != "named"]
        said = [places(named, MOST_NAMED)] if named else []
        said += [f"suspected: {places(maybe, MOST_NAMED)}"] if maybe else []
        what = " ".join(sentence(w) for w in (one.response, one.hygiene, one.disposal) if w)
        rows.append([one.name, "; ".join(said), what])
    return rows


def shared_cautions(
    report: HoldingReport, stations: Iterable[StationRecord], orchard: str
) -> tuple[Caution, ...]:
    """Return the cautions that hold for all work among some stations of an orchard.

    A tree of no known species is told those of an apple.
    """
    found = orchard_cautions(
        (s if s.species else replace(s, species=STANDS_FOR["pome"]) for s in stations),
        report.orchard(orchard),
        southern=report.holding.site.southern,
    )
    return tuple(one for one in found if one.key in SHARED)


def own_cautions(work: Work, shared: Sequence[Caution]) -> tuple[str, ...]:
    """Return the cautions of one tree's work that those shared by all do not say already."""
    keys = {one.key for one in shared}
    said = {one.text for one in shared} | {SAID_BY[key] for key in keys & SAID_BY.keys()}
    own = [
        text
        for text in work.cautions
        if text not in said and not ("nesting" in keys and text.startswith(NESTING_BEGINS))
    ]
    return tuple(sentence(text) for text in (*own, *((DIG,) if work.kind in PLANTING else ())))


def caution_words(report: HoldingReport) -> dict[str, list[str]]:
    """Return the cautions of all orchards in full, and those of single trees with their names."""
    every: dict[str, list[str]] = {}
    said: dict[str, list[Caution]] = {}
    for name in report.orchards:
        mine = [s for s in report.named if s.orchard == name]
        where = report.orchard(name)
        found = orchard_cautions(mine, where, southern=report.holding.site.southern)
        said[name] = list(found)
        for one in found:
            every.setdefault(one.full, []).append(name or "the orchard")
    whole = []
    for text, names in every.items():
        everywhere = len(names) == len(report.orchards)
        whole.append(text if everywhere else f"{text} ({and_list(names)})")
    single = _grouped(
        (
            (work.tree, text)
            for work in report.works
            for text in own_cautions(work, said[work.orchard])
        ),
        MOST_NAMED,
    )
    return {"whole": whole, "single": single}


def names_of(stations: Sequence[StationRecord], status: str) -> str:
    """Return the stations of one status as a list in words."""
    return places((s.tree for s in stations if s.status == status), MOST_NAMED)


def totals(found: Mapping[str, int]) -> str:
    """Return counts as words, such as ``apple: 34; pear: 6``."""
    return "; ".join(f"{name}: {many}" for name, many in found.items())

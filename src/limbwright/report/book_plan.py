"""The management plan of a holding: for its owner, one PDF that says all there is to say."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

from limbwright.needs.order import rank
from limbwright.report.book import set_book
from limbwright.report.book_trees import TreePages, tree_pages, tree_rows, young_rows
from limbwright.report.book_wild import (
    caution_words,
    health_words,
    names_of,
    ribbon_picture,
    totals,
    wildlife_words,
    window_words,
)
from limbwright.report.book_words import (
    CHANCES_RANK,
    NOT_KNOWN,
    added,
    counted,
    day_words,
    hours_words,
    money_words,
    percent,
    sentence,
    unmarked,
)
from limbwright.report.holding_report import HoldingReport, SeasonSum
from limbwright.report.map import map_pages
from limbwright.report.whole import write_whole

__all__ = ["management_plan", "plan_data", "report_foot"]

MAP_MM = (190.0, 236.0)
FIRST_TREES = 5
NO_AIMS = "No aims were written down: ask the owner first, for all else follows from them."
HOURS_ARE = (
    "Hours are person-hours at the trees, brash cleared; ways, breaks and carting are not in them. "
    "The range adds up all low ends and all high ends, as if all went well or all badly."
)


def management_plan(
    report: HoldingReport,
    path: str | os.PathLike[str],
    *,
    on_progress: Callable[[str], None] | None = None,
) -> Path:
    """Write the management plan as PDF, whole or not at all, and return its path.

    Parameters
    ----------
    report
        The holding with its needs and plans.
    path
        The PDF.
    on_progress
        Told what is being drawn.
    """
    data, pictures = plan_data(report, on_progress)
    if on_progress is not None:
        on_progress("setting the pages")
    return write_whole(Path(path), set_book("plan-book.typ", data, pictures)[0])


def plan_data(
    report: HoldingReport, on_progress: Callable[[str], None] | None = None
) -> tuple[dict[str, Any], dict[str, str | bytes]]:
    """Return all words and figures of the plan, and its drawings by file name."""

    def tell(what: str) -> None:
        if on_progress is not None:
            on_progress(what)

    pictures: dict[str, str | bytes] = {}
    tell("drawing the maps")
    maps = _maps(report, pictures)
    tell("drawing the year")
    pictures["ribbon.svg"] = ribbon_picture(report)
    tell("drawing the trees")
    pages: TreePages = tree_pages(report)
    pictures |= pages.pictures
    data = {
        "holding": report.holding.name or "The holding",
        "title": "management plan",
        "marked": report.holding.marked,
        "foot": report_foot(report),
        "front": _front(report),
        "aims": list(report.holding.aims) or [NO_AIMS],
        "note": unmarked(report.holding.note, report.holding.marked),
        "stands": _stands(report),
        "maps": maps,
        "seasons": _seasons(report),
        "windows": window_words(report),
        "ribbon": "ribbon.svg",
        "wild": wildlife_words(report),
        "health": health_words(report),
        "young": young_rows(report),
        "cautions": caution_words(report),
        "unknown": list(report.unknown),
        "chances": CHANCES_RANK,
        "pages": pages.words,
        "trees": tree_rows(report),
    }
    return data, pictures


def report_foot(report: HoldingReport) -> str:
    """Return what stands at the foot of every page."""
    who = f" by {report.who}" if report.who else ""
    return (
        f"{day_words(report.made_on)}{who}. From surveys, not an inspection; local law and "
        "licensed practice come first."
    )


def _front(report: HoldingReport) -> dict[str, Any]:
    whole = report.baselines[0]
    planned = [one for one in report.sums if one.season]
    hours = added(one.hours for one in planned)
    first = next((one for one in planned if one.trees), planned[0])
    facts = [("Holding", report.holding.name), ("Owner", report.holding.owner or NOT_KNOWN)]
    facts.append(("Made on", day_words(report.made_on) + (f", by {report.who}" * bool(report.who))))
    if report.scheme:
        dated = f" (terms of {report.scheme_dated})" if report.scheme_dated else ""
        facts.append(("Scheme", report.scheme + dated))
    facts += [
        (
            "Stations",
            f"{whole.stations}: {whole.living} living, {whole.dead} standing dead, "
            f"{counted(whole.stumps, 'stump')}, {counted(whole.gaps, 'gap')}; "
            f"{percent(whole.occupancy)} bear a live tree",
        ),
        (
            "Work in all",
            f"{hours_words(hours)} of person-hours over {len(report.season_names)} seasons",
        ),
        (
            "First",
            f"{first.season}: {counted(first.trees, 'tree')}, {hours_words(first.hours)}",
        ),
    ]
    if report.rate is not None:
        facts.append(
            (
                "Cost in all",
                f"{money_words(hours, report.rate, report.currency)} at "
                f"{report.currency} {report.rate:g} an hour, as given by whoever made this",
            )
        )
    ranked = rank(report.needs)
    urgent = [one.need for one in ranked if one.need.urgency.value == "now"]
    first_trees = [one.sentence for one in ranked if one.need not in urgent]
    return {
        "first": first_trees[:FIRST_TREES],
        "facts": [list(pair) for pair in facts],
        "urgent": [f"{n.tree}: {sentence(n.urgency.because)}" for n in urgent],
    }


def _stands(report: HoldingReport) -> dict[str, Any]:
    counts, kinds = [], []
    for number, one in enumerate(report.baselines):
        whole = number == 0 and len(report.baselines) > 1
        name = "Whole holding" if whole else one.orchard or "The orchard"
        counts.append(
            [
                name,
                str(one.stations),
                str(one.living),
                str(one.dead),
                str(one.stumps),
                str(one.gaps),
                percent(one.occupancy),
                NOT_KNOWN if one.girth_cm is None else f"{one.girth_cm:.0f} cm",
                NOT_KNOWN if one.height_m is None else f"{one.height_m:.1f} m",
                str(one.surveyed),
                f"{one.tally.with_habitat} of {one.tally.trees}",
            ]
        )
        kinds.append([name, totals(one.species), totals(one.ages), totals(one.condition)])
    places = []
    for name in report.orchards:
        place = report.orchard(name)
        grazed = f"grazed by {place.grazed_by}" if place.grazed_by else "no grazing noted"
        below = "; people are often below" if place.people_below else ""
        access = f"; access: {place.access}" if place.access else ""
        told = unmarked(place.note, report.holding.marked)
        note = f". {told}" if told else ""
        places.append(f"{name or 'The orchard'}: {grazed}{below}{access}{note}")
    return {
        "counts": counts,
        "kinds": kinds,
        "places": places,
        "dead": names_of(report.stations, "dead"),
    }


def _maps(report: HoldingReport, pictures: dict[str, str | bytes]) -> list[dict[str, str]]:
    first = set(report.first_season.values())
    planned = {w.tree for w in report.works if w.season in first and not w.rest}
    wide, high = MAP_MM
    drawn = map_pages(
        report.holding,
        report.stations,
        kinds={need.tree: need.kind.value for need in report.needs},
        planned=planned,
        width_mm=wide,
        most_height_mm=high,
    )
    out = []
    for number, page in enumerate(drawn, 1):
        file = f"map-{number}.svg"
        pictures[file] = page.svg
        title = page.orchard or "The whole holding"
        out.append({"title": f"{title}, {page.sheet}" if page.sheet else title, "file": file})
    return out


def _seasons(report: HoldingReport) -> dict[str, Any]:
    rows = [_season_row(report, one) for one in report.sums if one.works and one.season]
    planned = [one for one in report.sums if one.season]
    hours = added(one.hours for one in planned)
    cost = report.rate is not None
    total = [
        "All seasons",
        str(len({w.tree for one in planned for w in one.works if not w.rest})),
        str(sum(one.cuts for one in planned)),
        str(sum(one.rests for one in planned)),
        hours_words(hours, unit=False),
    ]
    if report.rate is not None:
        total.append(money_words(hours, report.rate, report.currency))
    later = next(one for one in report.sums if not one.season)
    said = []
    if later.works:
        said.append(
            f"Besides, {counted(later.trees, 'tree')} with {hours_words(later.hours)} can wait "
            "beyond these seasons and bear no date."
        )
    said.append(HOURS_ARE)
    if report.rate is not None:
        said.append(
            f"The rate of {report.currency} {report.rate:g} an hour is the one given for this "
            "report; no price was assumed."
        )
    said.append(
        "Trees whose limbs are surveyed go by their own plan. All others go by the walk: what "
        "presses comes in the first season, what has two years in the second, and what has five "
        "is shared out over the seasons after so that their hours come out even. Cuts are counted "
        "where they are known."
    )
    return {"rows": rows, "total": total, "cost": cost, "said": said}


def _season_row(report: HoldingReport, one: SeasonSum) -> list[str]:
    row = [
        one.season,
        str(one.trees),
        str(one.cuts) if one.cuts else NOT_KNOWN,
        str(one.rests) if one.rests else NOT_KNOWN,
        hours_words(one.hours, unit=False),
    ]
    if report.rate is not None:
        row.append(money_words(one.hours, report.rate, report.currency))
    return row

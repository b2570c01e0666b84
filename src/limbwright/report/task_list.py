"""The list of a year's tasks: a page for each orchard and season, to print and to tick."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from limbwright.cuts.cautions import Caution
from limbwright.errors import InputError
from limbwright.growth.ranges import Range
from limbwright.model.numbered import in_order
from limbwright.report.book import set_book
from limbwright.report.book_plan import report_foot
from limbwright.report.book_trees import who_is
from limbwright.report.book_wild import open_words, own_cautions, shared_cautions
from limbwright.report.book_words import (
    CHANCES_RANK,
    added,
    counted,
    hours_words,
    money_words,
    percent,
    places,
    sentence,
)
from limbwright.report.book_works import LOOKS, PLANTING, Work, group_of, season_key
from limbwright.report.holding_report import HoldingReport
from limbwright.report.whole import write_whole
from limbwright.trade.parameters import parameters

__all__ = ["TaskPage", "skills_of", "task_list", "task_pages"]

Paper = Literal["a4", "a5"]
LETTERS = "abcdefghijklmnopqrstuvwxyz"


@dataclass(frozen=True, slots=True)
class TaskPage:
    """What is to be done in one orchard in one season, in walking order.

    ``window`` says on which days; ``shared`` are the cautions that hold for all of it.
    """

    orchard: str
    season: str
    window: str
    works: tuple[Work, ...]
    shared: tuple[Caution, ...] = ()

    @property
    def hours(self) -> Range:
        """Person-hours of the page."""
        return added(w.hours for w in self.works)

    @property
    def own(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Each caution that is not for all, with its stations, the most frequent first."""
        found: dict[str, list[str]] = {}
        for work in self.works:
            for text in own_cautions(work, self.shared):
                found.setdefault(text, []).append(work.station)
        ordered = sorted(found.items(), key=lambda one: -len(one[1]))
        return tuple((text, tuple(dict.fromkeys(stations))) for text, stations in ordered)


def task_pages(report: HoldingReport, season: str = "") -> tuple[TaskPage, ...]:
    """Return the tasks of a season, or of the seasons that come next, by season and orchard.

    Raises
    ------
    InputError
        The report tells of no such season.
    """
    if season and season not in report.season_names:
        raise InputError(
            f"The plan has no {season!r}.", f"It has {', '.join(report.season_names)}."
        )
    wanted = {season} if season else set(report.first_season.values())
    pages = []
    for name in sorted(wanted, key=season_key):
        for orchard in report.orchards:
            mine = [
                w for w in report.works if (w.season, w.orchard) == (name, orchard) and not w.rest
            ]
            if mine:
                mine.sort(key=lambda w: in_order(w.station))
                group = next(
                    (g for g, first in report.first_season.items() if _like(first, name)),
                    group_of(mine[0].species),
                )
                window = open_words(report, name, group)
                trees = {w.tree for w in mine}
                stations = [s for s in report.named if s.tree in trees]
                shared = shared_cautions(report, stations, orchard)
                pages.append(TaskPage(orchard, name, window, tuple(mine), shared))
    return tuple(pages)


def _like(first: str, season: str) -> bool:
    """Return whether two seasons are the same part of a year, such as two winters."""
    return first.split(" ")[0] == season.split(" ")[0]


def skills_of(work: Work) -> str:
    """Return what work asks of the people who do it, from its tools, its height and its kind."""
    tools = parameters("tools")
    said = []
    if work.at_once:
        said.append("a qualified arborist looks first")
    if work.kind in PLANTING:
        said.append("planting and guards")
        if work.kind == "replace":
            said.append("felling, trained, if it must come down")
        return "; ".join(said)
    if work.kind in LOOKS:
        return "; ".join([*said, "a look from the ground"])
    if any("chainsaw" in tool for tool in work.tools):
        said.append("chainsaw, trained and licensed")
    high = work.highest_m
    if high is None:
        said.append("height not known: look first")
    elif high <= tools["ground_reach"].value:
        said.append("from the ground")
    elif high <= tools["ladder_reach"].value:
        said.append("three-legged ladder")
    elif work.basis == "walk":
        said.append("ladder; trained climber or lift for the top")
    else:
        said.append("trained climber or lift")
    return "; ".join(said)


def task_list(
    report: HoldingReport,
    path: str | os.PathLike[str],
    *,
    season: str = "",
    page: Paper = "a4",
) -> Path:
    """Write the list of tasks as PDF, whole or not at all, and return its path.

    Parameters
    ----------
    report
        The holding with its needs and plans.
    path
        The PDF.
    season
        One season; the seasons that come next if left out.
    page
        ``a4``, or ``a5`` for the pocket.

    Raises
    ------
    InputError
        There is no such season or page, or nothing to do.
    """
    if page not in ("a4", "a5"):
        raise InputError(f"There is no page {page!r} for task lists.", "Choose a4 or a5.")
    pages = task_pages(report, season)
    if not pages:
        raise InputError("There are no tasks in that season.", "Choose another season.")
    data = {
        "holding": report.holding.name or "The holding",
        "title": "tasks, " + (season or " and ".join(dict.fromkeys(p.season for p in pages))),
        "marked": report.holding.marked,
        "foot": report_foot(report),
        "paper": page,
        "pages": [_page(report, one) for one in pages],
    }
    return write_whole(Path(path), set_book("tasks.typ", data, {})[0])


def _page(report: HoldingReport, one: TaskPage) -> dict[str, Any]:
    letters = {text: _letter(k) for k, (text, _) in enumerate(one.own)}
    record = report.orchard(one.orchard)
    place = [f"Grazed by {record.grazed_by}." if record.grazed_by else ""]
    place.append("People are often below." if record.people_below else "")
    place.append(f"Access: {sentence(record.access)}" if record.access else "")
    said = f"{counted(len(one.works), 'tree')}, {hours_words(one.hours)}"
    if report.rate is not None:
        said += f", {money_words(one.hours, report.rate, report.currency)}"
    shared = [c.text or c.full for c in one.shared]
    if any("chance" in work.why for work in one.works):
        shared.append(CHANCES_RANK)
    return {
        "orchard": one.orchard or "The orchard",
        "season": one.season,
        "window": one.window,
        "place": " ".join(word for word in place if word),
        "said": said,
        "rows": [_row(report, work, one, letters) for work in one.works],
        "shared": shared,
        "own": [
            {"letter": letters[text], "words": f"{text} ({places(stations)})"}
            for text, stations in one.own
        ],
    }


def _letter(number: int) -> str:
    """Return a, b, ... z, aa, ab ..."""
    if number < len(LETTERS):
        return LETTERS[number]
    return _letter(number // len(LETTERS) - 1) + LETTERS[number % len(LETTERS)]


def _row(
    report: HoldingReport, work: Work, page: TaskPage, letters: dict[str, str]
) -> dict[str, str]:
    station = next(s for s in report.stations if s.tree == work.tree)
    dose = work.dose if work.dose is not None else work.dose_limit
    care = [letters[text] for text in own_cautions(work, page.shared)]
    return {
        "station": work.station,
        "who": who_is(station),
        "now": "Now." if work.at_once else "",
        "what": work.what,
        "why": work.why,
        "dose": percent(dose),
        "hours": hours_words(work.hours, unit=False),
        "skills": sentence(skills_of(work)),
        "care": ", ".join(sorted(dict.fromkeys(care), key=lambda c: (len(c), c))),
    }

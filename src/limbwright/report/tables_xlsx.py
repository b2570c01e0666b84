"""The tables of a report: a workbook of sheets with a frozen header, or one table as CSV."""

from __future__ import annotations

import io
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from limbwright.report.book_trees import who_is
from limbwright.report.book_wild import own_cautions
from limbwright.report.book_works import Work
from limbwright.report.holding_report import HoldingReport
from limbwright.report.task_list import TaskPage, skills_of
from limbwright.report.whole import write_whole
from limbwright.report.year_done import YearlyReport
from limbwright.survey.spreadsheet import csv_bytes
from limbwright.survey.workbook_out import workbook_bytes

__all__ = ["Sheet", "plan_sheets", "task_sheets", "write_csv", "write_workbook", "year_sheets"]

Cell = str | int | float | None
NARROWEST, WIDEST = 8, 60
"""Widths of columns in letters; judgement."""
WORK_COLUMNS = (
    *("orchard", "station", "season", "species", "kind", "what", "why", "basis", "cuts"),
    *("dose_pct", "dose_most_pct", "wound_pct", "hours", "hours_low", "hours_high"),
)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table: its name, its columns with units in their names, its rows."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def plan_sheets(report: HoldingReport) -> tuple[Sheet, ...]:
    """Return the tables of the management plan: about, stations, seasons, work, cautions."""
    h = report.holding
    about: list[tuple[Cell, ...]] = [
        ("holding", h.name),
        ("owner", h.owner),
        ("marked", h.marked),
        ("made on", report.made_on.isoformat()),
        ("made by", report.who),
        ("scheme", report.scheme),
        ("scheme dated", report.scheme_dated),
        ("rate an hour", report.rate),
        ("currency", report.currency),
        *(("aim", aim) for aim in h.aims),
        *(("not known", words) for words in report.unknown),
    ]
    seasons: list[tuple[Cell, ...]] = [
        (
            one.season or "later",
            one.trees,
            one.cuts,
            one.rests,
            *(round(x, 2) for x in (one.hours.value, one.hours.low, one.hours.high)),
            *_costs(report, one.hours.value, one.hours.low, one.hours.high),
        )
        for one in report.sums
    ]
    columns = (
        *("season", "trees", "cuts", "rests", "hours", "hours_low", "hours_high"),
        *(("cost", "cost_low", "cost_high") if report.rate is not None else ()),
    )
    return (
        Sheet("about", ("what", "value"), tuple(about)),
        _stations(report),
        Sheet("seasons", columns, tuple(seasons)),
        Sheet("work", WORK_COLUMNS, tuple(_work(w) for w in report.works)),
        _cautions(report.works),
    )


def _costs(report: HoldingReport, *hours: float) -> tuple[float, ...]:
    return () if report.rate is None else tuple(round(report.rate * h, 2) for h in hours)


def _stations(report: HoldingReport) -> Sheet:
    columns = (
        *("orchard", "station", "status", "species", "cultivar", "planted", "girth_cm"),
        *("height_m", "spread_m", "condition", "need", "need_because", "urgency"),
        *("urgency_because", "chance_a_year", "dose_most_pct", "hours", "hours_low", "hours_high"),
        *("review_year", "limbs_surveyed", "features", "faults"),
    )
    rows: list[tuple[Cell, ...]] = []
    for s, n in zip(report.stations, report.needs, strict=True):
        rows.append(
            (
                *(s.orchard, s.station, s.status, s.species, s.cultivar, s.planted, s.girth_cm),
                *(s.height_m, s.spread_m, s.condition, n.kind.value, n.kind.because),
                *(n.urgency.value, n.urgency.because),
                None if n.chance is None else round(n.chance.value, 4),
                None if n.dose is None else round(100.0 * n.dose.value, 1),
                *(_two(x) for x in (n.hours.value, n.hours.low, n.hours.high)),
                n.review.value,
                "yes" if s.tree in report.skeletons else "no",
                s.features,
                s.faults,
            )
        )
    return Sheet("stations", columns, tuple(rows))


def _work(w: Work) -> tuple[Cell, ...]:
    return (
        *(w.orchard, w.station, w.season or "later", w.species, w.kind, w.what, w.why, w.basis),
        w.cuts,
        *(_percent(x) for x in (w.dose, w.dose_limit, w.wound_share)),
        *(round(x, 2) for x in (w.hours.value, w.hours.low, w.hours.high)),
    )


def _two(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


def _percent(share: float | None) -> float | None:
    return None if share is None else round(100.0 * share, 2)


def _cautions(works: Sequence[Work]) -> Sheet:
    rows = dict.fromkeys((w.orchard, w.station, text) for w in works for text in w.cautions)
    return Sheet("cautions", ("orchard", "station", "caution"), tuple(rows))


def task_sheets(report: HoldingReport, pages: Sequence[TaskPage]) -> tuple[Sheet, ...]:
    """Return the tasks as one table, with columns to fill in, and the cautions for all."""
    places = {s.tree: s for s in report.stations}
    rows = [
        (
            *_work(w),
            who_is(places[w.tree]),
            skills_of(w),
            " ".join(own_cautions(w, page.shared)),
            page.window,
            *("", "", ""),
        )
        for page in pages
        for w in page.works
    ]
    columns = (
        *WORK_COLUMNS,
        *("tree", "skills", "cautions", "window", "done_on", "who", "found"),
    )
    shared = dict.fromkeys((p.orchard, p.season, c.text or c.full) for p in pages for c in p.shared)
    return (
        Sheet("tasks", columns, tuple(rows)),
        Sheet("for everybody", ("orchard", "season", "caution"), tuple(shared)),
    )


def year_sheets(year: YearlyReport) -> tuple[Sheet, ...]:
    """Return the tables of a yearly report: trees, cuts, forecast and found, answers, next."""
    trees = [
        (
            *(t.work.tree, t.work.season, t.work.species, t.work.who),
            "" if t.work.worked_on is None else t.work.worked_on.isoformat(),
            *(t.work.count(name) for name in ("made", "otherwise", "not made", "besides")),
            *(_percent(x) for x in (t.work.dose_planned, t.work.dose_taken)),
            *(_percent(x) for x in (t.work.wound_planned, t.work.wound_made)),
            *(_two(x) for x in (t.work.hours_planned, t.work.hours)),
            *(_two(x) for x in (t.work.brash_planned, t.work.brash_hours)),
            *(t.crown.height_m, t.crown.spread_m),
            *(_two(x) for x in (t.crown.foreseen_height_m, t.crown.foreseen_spread_m)),
            "" if t.before is None else t.before.file,
            "" if t.after is None else t.after.file,
            " ".join(v.found for v in t.visits if v.found),
        )
        for t in year.trees
    ]
    cuts = [
        (
            *(t.work.tree, t.work.season, c.order, c.limb, c.cut, c.outcome),
            *(_percent(c.dose), _two(c.wound_cm2), c.note),
        )
        for t in year.trees
        for c in t.work.cuts
    ]
    compared = [
        (
            *(c.tree, c.day.isoformat(), c.what, c.unit),
            *(round(x, 4) for x in (c.value, c.low, c.high, c.found)),
            "yes" if c.inside else "no",
        )
        for c in year.compared
    ]
    answers = [
        (
            *(r.tree, r.seen_on.isoformat(), r.shoots, r.shoot_length_cm, r.extension_cm),
            *(r.condition, " ".join(r.limbs_lost), r.note),
        )
        for r in year.responses
    ]
    return (
        Sheet(
            "trees",
            (
                *("tree", "season", "species", "who", "worked_on", "cuts_made", "cuts_otherwise"),
                *("cuts_not_made", "cuts_besides", "dose_planned_pct", "dose_taken_pct"),
                *("wound_planned_pct", "wound_made_pct", "hours_planned", "hours"),
                *("brash_hours_planned", "brash_hours", "height_m", "spread_m"),
                *("foreseen_height_m", "foreseen_spread_m", "photo_before", "photo_after"),
                "found",
            ),
            tuple(trees),
        ),
        Sheet(
            "cuts",
            (
                *("tree", "season", "order", "limb", "cut", "outcome", "dose_pct"),
                *("wound_area_cm2", "note"),
            ),
            tuple(cuts),
        ),
        Sheet(
            "forecast and found",
            ("tree", "day", "what", "unit", "foretold", "low", "high", "found", "within"),
            tuple(compared),
        ),
        Sheet(
            "answers",
            (
                *("tree", "seen_on", "shoots", "shoot_length_cm", "extension_cm", "condition"),
                *("limbs_lost", "note"),
            ),
            tuple(answers),
        ),
        Sheet("next", WORK_COLUMNS, tuple(_work(w) for w in year.next_works)),
    )


def write_workbook(sheets: Sequence[Sheet], path: str | os.PathLike[str]) -> Path:
    """Write tables as one workbook (XLSX), whole or not at all, and return its path.

    The header stays in sight and is bold; text is never taken for a formula.
    """
    from openpyxl import load_workbook
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    named: Mapping[str, tuple[Sequence[str], Sequence[Sequence[object]]]] = {
        one.title: (one.columns, one.rows) for one in sheets
    }
    book = load_workbook(io.BytesIO(workbook_bytes(named)))
    for one in sheets:
        sheet = book[one.title]
        sheet.freeze_panes = "A2"
        for cell in sheet[1]:
            cell.font = Font(bold=True)
        for k, name in enumerate(one.columns):
            longest = max((len(str(row[k])) for row in one.rows if row[k] is not None), default=0)
            wide = min(max(longest, len(name), NARROWEST), WIDEST)
            sheet.column_dimensions[get_column_letter(k + 1)].width = wide + 2
    out = io.BytesIO()
    book.save(out)
    return write_whole(Path(path), out.getvalue())


def write_csv(sheet: Sheet, path: str | os.PathLike[str]) -> Path:
    """Write one table as CSV (UTF-8), whole or not at all, and return its path."""
    return write_whole(Path(path), csv_bytes(sheet.columns, sheet.rows))

"""Write the reports of a holding: management plan, yearly report, task lists."""

from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import date
from pathlib import Path
from typing import Any, Literal

from limbwright.report.book_plan import management_plan
from limbwright.report.holding_report import HoldingReport
from limbwright.report.tables_xlsx import (
    plan_sheets,
    task_sheets,
    write_csv,
    write_workbook,
    year_sheets,
)
from limbwright.report.task_list import task_list, task_pages
from limbwright.report.yearly_report import YearlyReport, yearly_report

__all__ = ["FILES", "ORDER", "write_report", "write_reports"]


FILES = {
    "plan": ("management-plan.pdf", "management-plan.xlsx", "stations.csv"),
    "year": ("yearly-report.pdf", "yearly-report.xlsx"),
    "tasks": ("tasks.pdf", "tasks.xlsx", "tasks.csv"),
}
ORDER = ("plan", "year", "tasks")


def write_reports(
    gathered: HoldingReport,
    kinds: Collection[str],
    folder: Path,
    *,
    period: tuple[date, date],
    season: str = "",
    page: str = "a4",
    tell: Callable[[str], None] | None = None,
) -> tuple[dict[str, Path], dict[str, Any]]:
    """Write the reports asked for, of `ORDER`, into a folder.

    Returns
    -------
    written
        The path of each file by its name.
    told
        The figures at the head of each report, as plain values.
    """
    written: dict[str, Path] = {}
    told: dict[str, Any] = {"holding": gathered.holding.name}
    for kind in ORDER:
        if kind not in kinds:
            continue
        if tell is not None and kind != "plan":  # the plan tells its own parts
            tell("setting the yearly report" if kind == "year" else "setting the tasks")
        files, told[kind] = write_report(
            gathered, kind, folder, period=period, season=season, page=page, tell=tell
        )
        written |= files
    return written, told


def write_report(
    gathered: HoldingReport,
    kind: str,
    folder: Path,
    *,
    period: tuple[date, date],
    season: str = "",
    page: str = "a4",
    tell: Callable[[str], None] | None = None,
) -> tuple[dict[str, Path], dict[str, Any]]:
    """Write one report of `ORDER` with its tables; returns as `write_reports`, told of it alone."""
    folder.mkdir(parents=True, exist_ok=True)
    if kind == "plan":
        sheets = plan_sheets(gathered)
        return _by_name(
            management_plan(gathered, folder / "management-plan.pdf", on_progress=tell),
            write_workbook(sheets, folder / "management-plan.xlsx"),
            write_csv(sheets[1], folder / "stations.csv"),
        ), _plan_told(gathered)
    if kind == "year":
        done = YearlyReport(gathered, *period)
        return _by_name(
            yearly_report(done, folder / "yearly-report.pdf"),
            write_workbook(year_sheets(done), folder / "yearly-report.xlsx"),
        ), _year_told(done)
    pages = task_pages(gathered, season)
    told = {
        "pages": len(pages),
        "trees": sum(len(p.works) for p in pages),
        "hours": round(sum(p.hours.value for p in pages), 1),
    }
    if not pages:
        return {}, told
    leaf: Literal["a4", "a5"] = "a5" if page == "a5" else "a4"
    tasks = task_sheets(gathered, pages)
    return _by_name(
        task_list(gathered, folder / "tasks.pdf", season=season, page=leaf),
        write_workbook(tasks, folder / "tasks.xlsx"),
        write_csv(tasks[0], folder / "tasks.csv"),
    ), told


def _by_name(*paths: Path) -> dict[str, Path]:
    return {path.name: path for path in paths}


def _plan_told(gathered: HoldingReport) -> dict[str, Any]:
    return {
        "stations": len(gathered.stations),
        "seasons": [
            {
                "season": one.season,
                "trees": one.trees,
                "cuts": one.cuts,
                "hours": round(one.hours.value, 1),
                "hours_low": round(one.hours.low, 1),
                "hours_high": round(one.hours.high, 1),
            }
            for one in gathered.sums
        ],
        "not_known": len(gathered.unknown),
    }


def _year_told(done: YearlyReport) -> dict[str, Any]:
    planned, noted, trees = done.hours
    return {
        "first": done.first.isoformat(),
        "last": done.last.isoformat(),
        "trees": len({t.work.tree for t in done.trees}),
        "cuts": dict(done.outcomes),
        "hours_planned": round(planned, 1),
        "hours": round(noted, 1),
        "trees_with_hours": trees,
        "missed": list(done.missed),
    }

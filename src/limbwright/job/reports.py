"""Write the reports of a holding: management plan, yearly report, task lists."""

from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import date
from pathlib import Path
from typing import Any

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

__all__ = ["FILES", "ORDER", "write_reports"]


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
    folder.mkdir(parents=True, exist_ok=True)
    written: dict[str, Path] = {}
    told: dict[str, Any] = {"holding": gathered.holding.name}

    def keep(path: Path) -> None:
        written[path.name] = path

    if "plan" in kinds:
        keep(management_plan(gathered, folder / "management-plan.pdf", on_progress=tell))
        sheets = plan_sheets(gathered)
        keep(write_workbook(sheets, folder / "management-plan.xlsx"))
        keep(write_csv(sheets[1], folder / "stations.csv"))
        told["plan"] = _plan_told(gathered)
    if "year" in kinds:
        if tell is not None:
            tell("setting the yearly report")
        done = YearlyReport(gathered, *period)
        keep(yearly_report(done, folder / "yearly-report.pdf"))
        keep(write_workbook(year_sheets(done), folder / "yearly-report.xlsx"))
        told["year"] = _year_told(done)
    if "tasks" in kinds:
        if tell is not None:
            tell("setting the tasks")
        pages = task_pages(gathered, season)
        told["tasks"] = {
            "pages": len(pages),
            "trees": sum(len(p.works) for p in pages),
            "hours": round(sum(p.hours.value for p in pages), 1),
        }
        if pages:
            keep(
                task_list(
                    gathered,
                    folder / "tasks.pdf",
                    season=season,
                    page="a5" if page == "a5" else "a4",
                )
            )
            tasks = task_sheets(gathered, pages)
            keep(write_workbook(tasks, folder / "tasks.xlsx"))
            keep(write_csv(tasks[0], folder / "tasks.csv"))
    return written, told


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

"""The cut list: one row a cut, for a spreadsheet or another program."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from limbwright.cuts.results import Plan
from limbwright.report.whole import write_whole
from limbwright.survey.spreadsheet import csv_bytes
from limbwright.survey.workbook_out import workbook_bytes

__all__ = ["COLUMNS", "cut_list_rows", "write_cut_list_csv", "write_cut_list_xlsx"]

COLUMNS = (
    "tree",
    "season",
    "order",
    "cut",
    "limb",
    "segment",
    "at_m",
    "height_m",
    "diameter_mm",
    "bearing_deg",
    "piece_kg",
    "piece_length_m",
    "dose",
    "wound_area_cm2",
    "to_lateral",
    "tool",
    "hours",
    "reason",
    "effect",
)


def cut_list_rows(plans: Iterable[Plan]) -> list[dict[str, Any]]:
    """Return the cuts of all plans, lesser work last in each tree, as rows of `COLUMNS`."""
    rows = []
    for plan in plans:
        for row in plan.rows((*plan.cuts, *plan.lesser)):
            values = {"tree": plan.tree, "season": plan.season, **row}
            rows.append({name: values[name] for name in COLUMNS})
    return rows


def write_cut_list_csv(plans: Iterable[Plan], path: Path) -> Path:
    """Write the cut list as CSV (UTF-8 with header), whole or not at all.

    Text a spreadsheet would take for a formula gets an apostrophe before it; see
    `limbwright.survey.spreadsheet`.
    """
    return write_whole(path, csv_bytes(COLUMNS, _values(plans)))


def write_cut_list_xlsx(plans: Iterable[Plan], path: Path) -> Path:
    """Write the cut list as a workbook with one sheet, whole or not at all; text stays text."""
    return write_whole(path, workbook_bytes({"cut list": (COLUMNS, _values(plans))}))


def _values(plans: Iterable[Plan]) -> list[list[Any]]:
    return [list(row.values()) for row in cut_list_rows(plans)]

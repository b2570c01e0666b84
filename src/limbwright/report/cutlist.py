"""The cut list: one row a cut, for a spreadsheet or another program."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from limbwright.cuts.results import Plan
from limbwright.report.whole import write_whole

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
    """Write the cut list as CSV (UTF-8 with header), whole or not at all."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(cut_list_rows(plans))
    return write_whole(path, text.getvalue().encode("utf-8"))


def write_cut_list_xlsx(plans: Iterable[Plan], path: Path) -> Path:
    """Write the cut list as a spreadsheet with one sheet, whole or not at all."""
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    sheet = book.create_sheet("cut list")
    sheet.append(list(COLUMNS))
    for row in cut_list_rows(plans):
        # A leading sign would make a spreadsheet take words for a formula.
        sheet.append(
            [
                f"'{v}" if isinstance(v, str) and v[:1] in ("=", "+", "-", "@") else v
                for v in row.values()
            ]
        )
    data = io.BytesIO()
    book.save(data)
    return write_whole(path, data.getvalue())

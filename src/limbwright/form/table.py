"""The forming list: one row a shoot, in the manner of the cut list."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from limbwright.form.results import FormPlan
from limbwright.survey.spreadsheet import csv_bytes

__all__ = ["FORM_COLUMNS", "form_csv", "form_rows"]

FORM_COLUMNS = (
    *("tree", "season", "order", "cut", "shoot", "role", "at_m", "cut_at_m", "bearing_deg"),
    *("diameter_mm", "keep_cm", "takes_cm", "share_of_growth", "buds", "spread_to_deg", "dose"),
    *("wound_area_cm2", "tool", "what", "reason"),
)


def form_rows(plans: Iterable[FormPlan]) -> list[dict[str, Any]]:
    """Return the work of all plans in working order, then the shoots left, as `FORM_COLUMNS`.

    ``order`` is blank for a shoot left alone. ``cut`` is remove, shorten, head, spread, tie or
    leave; ``cut_at_m`` the height of the cut, ``at_m`` that of the shoot's base on the leader, or
    its way along its parent.
    """
    found = []
    for plan in plans:
        for row in sorted(plan.rows, key=lambda r: (r.order == 0, r.order)):
            values = row.to_dict() | {
                "tree": plan.tree,
                "season": plan.season,
                "order": row.order or None,
                "cut": row.work,
                "share_of_growth": round(row.share, 4),
                "reason": row.why,
            }
            found.append({name: values[name] for name in FORM_COLUMNS})
    return found


def form_csv(plans: Iterable[FormPlan]) -> bytes:
    """Return the forming list as CSV (UTF-8 with header), its text safe for spreadsheets."""
    return csv_bytes(FORM_COLUMNS, [list(row.values()) for row in form_rows(plans)])

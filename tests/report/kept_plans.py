"""Plan documents as a project keeps them, invented, small enough to reckon by hand."""

from __future__ import annotations

from typing import Any

__all__ = ["form_document", "season_document", "years_document"]


def cut(order: int, limb: str, **more: Any) -> dict[str, Any]:
    row = {
        "order": order,
        "cut": "remove",
        "limb": limb,
        "segment": order,
        "height_m": 3.0,
        "diameter_mm": 60.0,
        "piece_kg": 20.0,
        "dose": 0.05,
        "wound_area_cm2": 28.0,
        "tool": "pruning saw",
        "hours": 0.5,
    }
    return row | more


def season_document(tree: str, season: str = "winter 2026-27", **more: Any) -> dict[str, Any]:
    """Return a plan of one season with two cuts, 1.0 h, a tenth of the crown."""
    return {
        "tree": tree,
        "season": season,
        "species": "apple",
        "dose": 0.10,
        "dose_limit": 0.25,
        "wound_share": 0.08,
        "cuts": [cut(1, "a"), cut(2, "b", height_m=5.5, tool="chainsaw, three stages")],
        "lesser": [],
        "keep": [{"limb": "c", "why": "rot hole"}],
        "cautions": ["Keep away from the invented hedge."],
        "hours": 1.0,
        "summary": "First what could split.",
        "chance_before": 0.10,
        "chance_after": 0.04,
        "leaf_m2": 40.0,
        "gone_segments": [],
    } | more


def years_document(tree: str) -> dict[str, Any]:
    """Return a plan over three winters: cuts, a rest, cuts again."""
    seasons = []
    for name, plan, rest in (
        ("winter 2026-27", season_document(tree), False),
        ("winter 2027-28", None, True),
        ("winter 2028-29", season_document(tree, "winter 2028-29", dose=0.2, hours=2.0), False),
    ):
        why = "Rest after a season of cutting." if rest else "The dose is used up."
        seasons.append({"season": name, "plan": plan, "rest": rest, "why": why})
    return {
        "tree": tree,
        "species": "apple",
        "seasons": seasons,
        "trajectory": [
            {"year": k, "height_m": 7.0 - 0.5 * k, "spread_m": 8.0 - 0.5 * k} for k in range(10)
        ],
        "ways": [
            {"way": "staged", "chance": 0.21},
            {"way": "at once", "chance": 0.25},
            {"way": "left alone", "chance": 0.62},
        ],
        "target": {
            "height_m": 6.0,
            "spread_m": 7.0,
            "leaf_m2": 30.0,
            "height_now_m": 7.5,
            "spread_now_m": 8.5,
            "leaf_now_m2": 40.0,
        },
    }


def form_document(tree: str) -> dict[str, Any]:
    """Return the forming of a young tree: two cuts now, one foreseen next winter."""
    return {
        "tree": tree,
        "season": "winter 2026-27",
        "title": "choosing the scaffold",
        "because": "it has four good shoots",
        "rows": [
            {"order": 1, "shoot": "s1", "work": "shorten", "what": "shorten", "tool": "secateurs"},
            {"order": 2, "shoot": "s2", "work": "remove", "what": "take out", "tool": "secateurs"},
            {"order": 0, "shoot": "s3", "work": "leave", "what": "leave"},
        ],
        "dose": 0.3,
        "dose_limit": 0.5,
        "wound_share": 0.1,
        "hours": [0.2, 0.3, 0.5],
        "ahead": [
            {
                "year": 2027,
                "title": "building the crown",
                "what": "shorten by a third",
                "cuts": 4,
                "hours": [0.2, 0.4, 0.6],
            },
        ],
        "cautions": [],
    }

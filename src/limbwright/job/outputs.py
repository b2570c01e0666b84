"""Write what a run gave: cards, cut lists, JSON, summary; each file whole or not at all."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from limbwright.cuts.results import Plan, plans_to_dict
from limbwright.job.work import Done
from limbwright.model import StationRecord
from limbwright.report.card import cut_cards
from limbwright.report.cutlist import write_cut_list_csv
from limbwright.report.summary import summary_markdown
from limbwright.report.whole import write_whole
from limbwright.stages.results import YearsPlan, years_to_dict
from limbwright.statics.assess import Assessment

__all__ = ["CARDS", "first_cards", "write_plans", "write_year_tables", "write_years"]

CARDS = "cut-cards.pdf"
CardOf = tuple[Assessment, Plan, StationRecord | None]


def write_plans(
    done: Sequence[Done],
    folder: Path,
    *,
    holding: str = "",
    page: str = "a4",
    marked: str = "",
    workers: int | None = None,
) -> dict[str, Path]:
    """Write cards, cut list and summary of the trees that were planned.

    Returns the path of each kind of result: ``cards``, ``cut list``, ``plan``, ``summary``.
    """
    folder.mkdir(parents=True, exist_ok=True)
    items = [
        (one.assessment, one.plan, one.station)
        for one in done
        if one.assessment is not None and one.plan is not None
    ]
    paths = {
        "cards": folder / CARDS,
        "cut list": folder / "cut-list.csv",
        "plan": folder / "plan.json",
        "summary": folder / "summary.md",
    }
    plans = [planned for _, planned, _ in items]
    leaf: Literal["a4", "a5"] = "a5" if page == "a5" else "a4"
    cut_cards(items, paths["cards"], holding=holding, page=leaf, marked=marked, workers=workers)
    write_cut_list_csv(plans, paths["cut list"])
    as_json = json.dumps(plans_to_dict(plans), ensure_ascii=False, indent=1)
    write_whole(paths["plan"], as_json.encode("utf-8"))
    words = summary_markdown(items, holding=holding, marked=marked)
    write_whole(paths["summary"], words.encode("utf-8"))
    return paths


def write_years(
    planned: Sequence[YearsPlan],
    folder: Path,
    *,
    holding: str = "",
    page: str = "a4",
    marked: str = "",
    workers: int | None = None,
) -> dict[str, Path]:
    """Write the cards of each tree's first season, the cuts of all seasons, and the documents.

    Returns the path of each kind of result: ``cards`` (none where the first seasons cut nothing),
    ``cut list``, ``years``, ``summary``.
    """
    folder.mkdir(parents=True, exist_ok=True)
    now = first_cards(planned)
    paths = {}
    if now:
        leaf: Literal["a4", "a5"] = "a5" if page == "a5" else "a4"
        paths["cards"] = cut_cards(
            now, folder / CARDS, holding=holding, page=leaf, marked=marked, workers=workers
        )
    return {**paths, **write_year_tables(planned, folder, holding=holding, marked=marked)}


def first_cards(planned: Sequence[YearsPlan]) -> list[CardOf]:
    """Return what the cards of each tree's first season are made from."""
    first = {(plan.tree, plan.seasons[0].season) for plan in planned}
    every = [card for plan in planned for card in plan.cards()]
    return [card for card in every if (card[1].tree, card[1].season) in first]


def write_year_tables(
    planned: Sequence[YearsPlan], folder: Path, *, holding: str = "", marked: str = ""
) -> dict[str, Path]:
    """Write all that `write_years` writes but the cards."""
    paths = {
        "cut list": folder / "cut-list.csv",
        "years": folder / "years.json",
        "summary": folder / "summary.md",
    }
    every = [made for plan in planned for _, made, _ in plan.cards()]
    write_cut_list_csv(every, paths["cut list"])
    as_json = json.dumps(years_to_dict(planned), ensure_ascii=False, indent=1)
    write_whole(paths["years"], as_json.encode("utf-8"))
    words = summary_markdown(first_cards(planned), holding=holding, marked=marked)
    write_whole(paths["summary"], words.encode("utf-8"))
    return paths

"""Write what a run gave: cards, cut lists, JSON, summary; each file whole or not at all."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from limbwright.cuts.results import plans_to_dict
from limbwright.job.work import Done
from limbwright.report.card import cut_cards
from limbwright.report.cutlist import write_cut_list_csv
from limbwright.report.summary import summary_markdown
from limbwright.report.whole import write_whole
from limbwright.stages.results import YearsPlan, years_to_dict

__all__ = ["write_plans", "write_years"]


def write_plans(
    done: Sequence[Done], folder: Path, *, holding: str = "", page: str = "a4", marked: str = ""
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
        "cards": folder / "cut-cards.pdf",
        "cut list": folder / "cut-list.csv",
        "plan": folder / "plan.json",
        "summary": folder / "summary.md",
    }
    plans = [planned for _, planned, _ in items]
    cut_cards(
        items, paths["cards"], holding=holding, page="a5" if page == "a5" else "a4", marked=marked
    )
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
) -> dict[str, Path]:
    """Write the cards of each tree's first season, the cuts of all seasons, and the documents.

    Returns the path of each kind of result: ``cards`` (none where the first seasons cut nothing),
    ``cut list``, ``years``, ``summary``.
    """
    folder.mkdir(parents=True, exist_ok=True)
    paths = {
        "cards": folder / "cut-cards.pdf",
        "cut list": folder / "cut-list.csv",
        "years": folder / "years.json",
        "summary": folder / "summary.md",
    }
    every = [card for plan in planned for card in plan.cards()]
    first = {(plan.tree, plan.seasons[0].season) for plan in planned}
    now = [card for card in every if (card[1].tree, card[1].season) in first]
    if now:
        leaf: Literal["a4", "a5"] = "a5" if page == "a5" else "a4"
        cut_cards(now, paths["cards"], holding=holding, page=leaf, marked=marked)
    else:
        del paths["cards"]
    write_cut_list_csv([card[1] for card in every], paths["cut list"])
    as_json = json.dumps(years_to_dict(planned), ensure_ascii=False, indent=1)
    write_whole(paths["years"], as_json.encode("utf-8"))
    words = summary_markdown(now, holding=holding, marked=marked)
    write_whole(paths["summary"], words.encode("utf-8"))
    return paths

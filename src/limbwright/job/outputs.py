"""Write what a run gave: cards, cut lists, JSON, summary; each file whole or not at all."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Sequence
from pathlib import Path

from limbwright.cuts.results import plans_to_dict
from limbwright.job.work import Done
from limbwright.report.card import cut_cards
from limbwright.report.cutlist import write_cut_list_csv
from limbwright.report.summary import summary_markdown

__all__ = ["write_plans", "write_text"]


def write_text(path: Path, text: str) -> None:
    """Write a text file in one step, so that a stop never leaves half of it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=path.suffix)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as out:
            out.write(text)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def write_plans(
    done: Sequence[Done], folder: Path, *, holding: str = "", page: str = "a5", marked: str = ""
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
        items, paths["cards"], holding=holding, page="a4" if page == "a4" else "a5", marked=marked
    )
    write_cut_list_csv(plans, paths["cut list"])
    write_text(paths["plan"], json.dumps(plans_to_dict(plans), ensure_ascii=False, indent=1))
    write_text(paths["summary"], summary_markdown(items, holding=holding, marked=marked))
    return paths

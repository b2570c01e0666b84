"""More cuts than a page holds go on overleaf, and none is lost; what a full page leaves out."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from limbwright.cuts.results import Left
from limbwright.report.card import cut_cards


def texts(path: Path) -> list[str]:
    """Words of the pages with plain blanks between them."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(path).pages]


def with_cuts(item, count: int, **words):
    assessment, plan, station = item
    first = replace(plan.cuts[0], **words)
    cuts = tuple(replace(first, order=k) for k in range(1, count + 1))
    return assessment, replace(plan, cuts=cuts), station


@pytest.mark.parametrize(("page", "count"), [("a5", 12), ("a4", 20), ("a4", 40)])
def test_cuts_beyond_the_front_go_on_overleaf_and_none_is_lost(items, tmp_path, page, count):
    item = with_cuts(items[0], count, tool="pruning saw, three-legged ladder, " * 3)
    found = texts(cut_cards([item], tmp_path / "cards.pdf", page=page))
    assert "Cuts, continued" not in found[0]
    assert "Cuts, continued" in found[1]
    where = f"{item[1].cuts[0].height_m:.1f} m up"
    assert sum(text.count(where) for text in found) == count
    for cut in item[1].cuts:
        assert any(re.search(rf"\b{cut.order} (?:Shorten|Take out|Head)", text) for text in found)


def test_a_second_page_names_the_tree_and_shows_it_small(items, tmp_path: Path) -> None:
    item = with_cuts(items[0], 16, tool="pruning saw, three-legged ladder, " * 3)
    found = texts(cut_cards([item], tmp_path / "cards.pdf"))
    assert len(found) == 2
    assert item[1].tree in found[1]
    assert "Seen from above" in found[0]
    assert "Seen from above" in found[1]
    assert "1 / 2" in found[0]
    assert "2 / 2" in found[1]


def test_a_full_page_first_leaves_out_what_is_left_for_later_then_small_work(
    items, tmp_path: Path
) -> None:
    """With more and more cuts the fourth left-over goes, the effects, the others, then a page."""
    assessment, plan, station = items[1]
    left = tuple(Left(f"Z{k}", "shorten", f"reason {k} " + "why " * 15) for k in range(1, 8))
    seen = []
    for count in (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 14):
        cuts = tuple(
            replace(plan.cuts[0], order=k, effect=f"Left undone, thing {k} happens.")
            for k in range(1, count + 1)
        )
        crowded = replace(plan, cuts=cuts, left=left)
        found = texts(cut_cards([(assessment, crowded, station)], tmp_path / "c.pdf"))
        whole = " ".join(found)
        told = ("reason 4" in whole, "reason 3" in whole, "hing 1 happens" in whole)
        seen.append((len(found), *told))
        if not told[0]:
            rest = "And 4 more in the cut list and the plan." if told[1] else "7 in the plan, with"
            assert rest in whole
    order = [
        (1, True, True, True),
        (1, False, True, True),
        (1, False, True, False),
        (1, False, False, False),
        (2, True, True, True),
    ]
    places = [order.index(one) for one in seen]
    assert places == sorted(places)
    assert set(places) >= {0, 3, 4}
    assert len(set(places)) >= 4

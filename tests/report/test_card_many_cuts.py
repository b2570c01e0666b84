"""More cuts than the front of a card holds go on at the head of its back."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from pypdf import PdfReader

from limbwright.report.card import cut_cards


def test_cuts_beyond_the_front_head_the_back_and_none_is_lost(items, tmp_path: Path) -> None:
    assessment, plan, station = items[0]
    first = replace(plan.cuts[0], tool="pruning saw, three-legged ladder, " * 3)
    cuts = tuple(replace(first, order=k) for k in range(1, 13))
    path = cut_cards([(assessment, replace(plan, cuts=cuts), station)], tmp_path / "cards.pdf")
    texts = [page.extract_text() for page in PdfReader(path).pages]
    assert "Cuts, continued" not in texts[0]
    assert "Cuts, continued" in texts[1]
    where = f"{first.height_m:.1f} m up"
    listed = sum(text.count(where) for text in texts)
    assert listed == len(cuts)
    for cut in cuts:
        assert any(re.search(rf"(?m)^\s*{cut.order}\b", text) for text in texts)

"""How a card is fitted to its page: heights add up to the whole, and hardly fall."""

from __future__ import annotations

import json
from itertools import pairwise
from shutil import copyfile

import pytest
import typst

from limbwright.report import card
from limbwright.report.card import _Subject
from limbwright.report.fonts import font_folder

# Each row: what stands round the rows and row by row, beside the whole, in type of each size, as
# the columns narrow.
PROBE = """
#import "card-a4.typ": *
#context for card in data.cards {
  for aside in (false, true) {
    for trim in trims {
      for size in bodies {
        let rows = (130mm, 117mm, 104mm, 91mm, 78mm).map(wide => {
          let (least, edges, beside-text) = row-shape(card, size, trim)
          let around = high(size, wide, beside-drawings(card, trim, aside, none, rows-high: 0pt))
          let rows = card.cuts.map(cut => {
            calc.max(least, high(size, wide - beside-text, cut-row(cut, trim).at(1))) + edges
          })
          let whole = high(size, wide, beside-drawings(card, trim, aside, none))
          (around + rows.sum(), whole, ..rows)
        })
        [#metadata(rows)<told>]
      }
    }
  }
}
"""


@pytest.fixture(scope="module")
def told(items, tmp_path_factory) -> list[list[list[float]]]:
    root = tmp_path_factory.mktemp("card")
    subjects = [_Subject(*item, page="a4") for item in items]
    data = {
        "holding": "",
        "marked": "",
        "ground": "white",
        "cards": [one.words(root, number) for number, one in enumerate(subjects, 1)],
    }
    (root / "data.json").write_text(json.dumps(data), "utf-8")
    (root / "probe.typ").write_text(PROBE, "utf-8")
    for part in ("parts.typ", "card-a4.typ"):
        copyfile(f"{card.__file__.rpartition('/')[0]}/{part}", root / part)
    setter = typst.Compiler(
        root / "probe.typ",
        root=root,
        font_paths=[font_folder()],
        ignore_system_fonts=True,
        sys_inputs={"measuring": "yes"},
    )
    found = json.loads(setter.query("<told>", field="value"))
    assert len(found) == len(items) * 2 * 6 * 3
    return found


def test_rows_and_what_stands_round_them_add_up_to_the_whole(told) -> None:
    for widths in told:
        for added, whole, *_ in widths:
            assert added == pytest.approx(whole, abs=1e-4)


def test_rows_in_a_narrower_column_are_no_lower(told) -> None:
    """But for the faces in a line, of which the highest gives its height: a tenth at most [mm]."""
    grew = 0
    for widths in told:
        for wider, narrower in pairwise(widths):
            for before, after in zip(wider[2:], narrower[2:], strict=True):
                assert after >= before - 0.1
                grew += after > before + 1.0
    assert grew > len(told)


def test_rows_scale_with_their_type(told) -> None:
    """A row at 10.5 points in 91 mm is one at 9 points in 78 mm, drawn larger."""
    large, _, small = told[:3]
    ratio = 10.5 / 9.0
    # the room for words is what stays beside the number and the box, which scale too
    for high, low in zip(large[3][2:], small[4][2:], strict=True):
        assert high == pytest.approx(ratio * low, rel=1e-6)

"""In what order, with what tool, in how many pieces."""

from __future__ import annotations

import numpy as np
import pytest
from tests.cuts.old_tree import Drawn, draw, old_apple

from limbwright.cuts.candidates import Candidate
from limbwright.cuts.order import (
    lies_over,
    order_of_work,
    piece_length_m,
    point_words,
    tool_words,
)
from limbwright.cuts.plan import plan
from limbwright.cuts.results import Wishes
from limbwright.cuts.weights import Settings
from limbwright.model.skeleton import Skeleton
from limbwright.statics.assess import assess


@pytest.mark.parametrize(
    ("diameter_mm", "height_m", "kg", "words"),
    [
        (10, 3.0, 0, ["secateurs", "ladder"]),
        (25, 1.8, 1, ["loppers"]),
        (60, 3.5, 5, ["pole saw from the ground"]),
        (60, 5.5, 5, ["pruning saw", "climber"]),
        (100, 3.0, 20, ["pruning saw", "three-legged ladder", "three stages"]),
        (150, 3.0, 90, ["chainsaw, by trained people only", "3 pieces", "rope"]),
    ],
)
def test_the_tool_follows_from_thickness_and_height(
    diameter_mm: float, height_m: float, kg: float, words: list[str]
) -> None:
    said = tool_words(diameter_mm, height_m, kg, 2.0, Settings())
    assert all(w in said for w in words), said


def test_nothing_is_roped_from_the_ground() -> None:
    assert "rope" not in tool_words(150, 1.5, 90, 2.0, Settings())


@pytest.mark.parametrize(
    ("height_m", "kg", "length_m", "pieces", "longest"),
    [
        (4.0, 10.0, 2.5, 1, None),  # light and short: as it is
        (4.0, 10.0, 5.0, 2, "2.5 m"),  # too long to guide
        (2.5, 10.0, 3.5, 2, "1.8 m"),  # its tip would touch down first
        (1.5, 10.0, 2.8, 2, "1.4 m"),  # short enough to guide, but not to hang
        (3.0, 100.0, 3.0, 3, "1.0 m"),  # too heavy
    ],
)
def test_pieces_are_light_enough_and_shorter_than_their_fall(
    height_m: float, kg: float, length_m: float, pieces: int, longest: str | None
) -> None:
    said = tool_words(90, height_m, kg, length_m, Settings())
    if longest is None:
        assert "pieces" not in said
        return
    assert f"{pieces} pieces from the tip, none over {longest}" in said
    assert float(longest.split()[0]) <= height_m


def test_thick_wood_is_cut_in_three_stages_and_the_card_says_which() -> None:
    """Undercut 15 to 30 cm out, as garden sources say; then from above; then the clean cut."""
    assert "three stages, undercut first" in tool_words(100, 1.5, 5, 1.0, Settings())
    assert "undercut" not in tool_words(60, 1.5, 5, 1.0, Settings())
    made = plan(assess(draw(old_apple())), wishes=Wishes(force=frozenset({"4"})))
    said = " ".join(made.cautions)
    assert said.index("undercut") < said.index("from above") < said.index("outside the collar")
    assert "15 to 30 cm" in said


def test_a_piece_over_a_kept_limb_is_lowered_clear_of_it() -> None:
    def tree(keep: str) -> Skeleton:
        limbs = [
            Drawn("stem", "", 0.0, 300, 3.0, 0, 90),
            Drawn("high", "stem", 1.0, 80, 3.0, 90, 20),
            Drawn("low", "stem", 0.6, 80, 3.0, 90, 10, keep=keep),
        ]
        return draw(limbs, derived=False)

    kept, plain = tree("nest hole"), tree("")
    stands = np.zeros(kept.n, dtype=np.bool_)
    high = next(x for x in kept.limbs if x.label == "high").first_segment
    low = next(x for x in kept.limbs if x.label == "low").first_segment
    assert lies_over(kept, high, stands) == "low"
    assert lies_over(kept, low, stands) == "", "nothing falls upwards"
    assert lies_over(plain, high, stands) == ""
    said = tool_words(80, 3.0, 10, 3.0, Settings(), over="low")
    assert "rope it clear of limb low, to be kept" in said


def test_the_work_goes_from_the_top_down() -> None:
    tree = draw(old_apple())
    first = {limb.label: limb.first_segment for limb in tree.limbs}
    cuts = [Candidate(first[x], "remove", 0, 0.0, 50.0) for x in ("12", "11", "9")]
    done = [c.segment for c in order_of_work(tree, cuts)]
    assert done == [first["11"], first["9"], first["12"]]


def test_a_piece_is_as_long_as_its_longest_way() -> None:
    tree = draw(old_apple(), derived=False)
    limb = next(x for x in tree.limbs if x.label == "11")
    assert piece_length_m(tree, limb.first_segment) == pytest.approx(limb.length_m)


@pytest.mark.parametrize(
    ("bearing", "words"), [(0, "north"), (359, "north"), (46, "north-east"), (271, "west")]
)
def test_bearings_are_told_by_the_compass(bearing: float, words: str) -> None:
    assert point_words(bearing) == words

"""In what order, with what tool, in how many pieces."""

from __future__ import annotations

import pytest
from tests.cuts.old_tree import draw, old_apple

from limbwright.cuts.candidates import Candidate
from limbwright.cuts.order import order_of_work, piece_length_m, point_words, tool_words
from limbwright.cuts.weights import Settings


@pytest.mark.parametrize(
    ("diameter_mm", "height_m", "kg", "words"),
    [
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

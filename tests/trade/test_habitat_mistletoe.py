"""Mistletoe: read in clumps or words, thinned by a share, and some always left."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.trade.mistletoe import Mistletoe, mistletoe_advice, mistletoe_in


@pytest.mark.parametrize(
    ("text", "clumps", "counted"),
    [
        ("9 clumps of mistletoe", 9, True),
        ("mistletoe, 9 clumps", 9, True),
        ("mistletoe: 9", 9, True),
        ("two clumps of mistletoe on the north side", 2, True),
        ("mistletoe (4 male, 5 female)", 9, True),
        ("heavy mistletoe", 18, False),
        ("moderate mistletoe", 7, False),
        ("a few clumps of mistletoe", 2, False),
        ("mistletoe", None, False),
        ("3 rot holes; mistletoe", None, False),
        ("covered in mistletoe", 18, False),
        ("mistletoe: heavy", 18, False),
        ("mistletoe on a small, heavy limb", None, False),
    ],
)
def test_clumps_are_read_or_taken_from_the_word(
    text: str, clumps: int | None, counted: bool
) -> None:
    found = mistletoe_in(text)
    assert found is not None
    assert (found.clumps, found.counted) == (clumps, counted)


def test_the_share_of_the_crown_is_read_and_no_other() -> None:
    for text, share in (
        ("mistletoe, 20 % of the crown", 0.2),
        ("mistletoe, 20 % crown", 0.2),
        ("mistletoe, 20 % dead", None),
    ):
        found = mistletoe_in(text)
        assert found is not None
        assert found.crown_share == share


@pytest.mark.parametrize(
    "text", ["no mistletoe", "0 clumps of mistletoe", "mistletoe: none", "ivy", ""]
)
def test_none_is_none(text: str) -> None:
    assert mistletoe_in(text) is None


def test_nine_clumps_are_thinned_over_two_seasons_and_three_stay() -> None:
    found = mistletoe_in("9 clumps of mistletoe (4 male, 5 female)")
    assert found is not None
    advice = mistletoe_advice(found)
    # a quarter to a third stay for good; at most half go in one season
    assert (advice.take, advice.later, advice.leave) == (4, 2, 3)
    assert (advice.take_low, advice.take_high) == (3, 6)
    assert advice.males == 3  # one male stays, for the berries
    assert advice.sail_m2[0] < advice.sail_m2[1] < advice.sail_m2[2]


def test_a_few_clumps_and_those_the_owner_wants_are_left() -> None:
    for text in ("3 clumps of mistletoe", "mistletoe the owner wants kept", "mistletoe"):
        found = mistletoe_in(text)
        assert found is not None
        assert mistletoe_advice(found).take == 0


def test_where_it_fills_more_than_a_third_of_the_crown_fewer_stay() -> None:
    much = mistletoe_in("12 clumps of mistletoe, 80 % of crown")
    less = mistletoe_in("12 clumps of mistletoe, 20 % of crown")
    assert much is not None
    assert less is not None
    assert mistletoe_advice(much).leave == 4  # the smaller of 30 % kept and a third over 80 %
    assert mistletoe_advice(less).leave == 4
    full = mistletoe_in("30 clumps of mistletoe, 100 % of crown")
    assert full is not None
    assert mistletoe_advice(full).leave < 10
    assert any("more than a third" in one for one in mistletoe_advice(full).reasons)


@given(st.integers(0, 300), st.one_of(st.none(), st.floats(0.0, 1.0)))
def test_nothing_is_taken_twice_and_some_always_stay(clumps: int, share: float | None) -> None:
    advice = mistletoe_advice(Mistletoe(clumps, clumps, clumps, True, crown_share=share))
    assert advice.take + advice.later + advice.leave == max(clumps, advice.leave)
    assert advice.leave >= min(1, clumps)
    assert advice.take <= 0.5 * clumps
    assert advice.take_low <= advice.take <= advice.take_high <= clumps

"""A tree left alone: what grows, what stays, and that time adds up."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.trees import random_skeleton, skeletons, worked_tree

from limbwright.errors import InputError
from limbwright.growth.rates import Rates, rates
from limbwright.growth.thicken import GROWN, thicken
from limbwright.model.skeleton import Skeleton, State

WEAK, SLOW, ORDINARY, STRONG = (rates("apple", extension_cm=cm) for cm in (2.0, 9.0, 25.0, 55.0))
any_rates = st.sampled_from((WEAK, SLOW, ORDINARY, STRONG))
spans = st.floats(0.0, 8.0)

GROWING = (
    "start_m",
    "end_m",
    "start_diameter_mm",
    "end_diameter_mm",
    "leaf_area_m2",
    "fruit_kg",
    "fine_wood_kg",
)
LASTING = (
    "parent",
    "subtree_end",
    "state",
    "limb",
    "union",
    "cavity_wall_mm",
    "keep",
    "surveyed",
    "segment_ids",
)


def close(a: Skeleton, b: Skeleton) -> None:
    for name in GROWING:
        np.testing.assert_allclose(getattr(a, name), getattr(b, name), rtol=1e-9, atol=1e-9)
    for name in LASTING:
        np.testing.assert_array_equal(getattr(a, name), getattr(b, name))
    for one, two in zip(a.limbs, b.limbs, strict=True):
        assert one.diameter_mm == pytest.approx(two.diameter_mm)
        assert one.length_m == pytest.approx(two.length_m)


@settings(deadline=None, max_examples=60)
@given(skeletons(), any_rates, spans, spans)
def test_years_add_up(tree: Skeleton, one: Rates, a: float, b: float) -> None:
    close(thicken(thicken(tree, one, a), one, b), thicken(tree, one, a + b))
    close(thicken(tree, one, 0.0), tree)


def test_a_stem_and_a_limb_worked_by_hand() -> None:
    # stem 400 mm, ring 1.75 of which 0.8 counts: 10 years add 28 mm, 7 %; the limb 7 % too
    tree = worked_tree(
        [-1, 0, 0],
        [[0, 0, 0], [0, 0, 2], [0, 0, 2]],
        [[0, 0, 2], [3, 0, 2], [0, 2, 4]],
        [400.0, 200.0, 100.0],
        [380.0, 100.0, 60.0],
        leaf_area_m2=[0.0, 40.0, 20.0],
    )
    grown = thicken(tree, ORDINARY, 10.0)
    assert ORDINARY.stem_mm == 400.0
    np.testing.assert_allclose(grown.start_diameter_mm, [428.0, 214.0, 107.0])
    # leaf: 4 x 1.75 / 400 gained less 0.005 died back
    np.testing.assert_allclose(grown.leaf_area_m2[1:], np.array([40.0, 20.0]) * 1.0125**10)
    # limbs: two thirds of the stem's yearly share, 2 x 1.75 / 400
    longer = (1.0 + 2.0 / 3.0 * 2.0 * 1.75 / 400.0) ** 10
    np.testing.assert_allclose(grown.length_m, [2.0, 3.0 * longer, math.sqrt(8.0) * longer])
    np.testing.assert_allclose(grown.start_m, tree.start_m)


@settings(deadline=None, max_examples=60)
@given(skeletons(min_segments=2), any_rates, st.floats(0.1, 10.0))
def test_dead_wood_stays_as_it_was_and_every_piece_stays_joined(
    tree: Skeleton, one: Rates, span: float
) -> None:
    grown = thicken(tree, one, span)
    dead = tree.state == int(State.DEAD)
    for name in ("start_diameter_mm", "end_diameter_mm", "fine_wood_kg"):
        np.testing.assert_array_equal(getattr(grown, name)[dead], getattr(tree, name)[dead])
    np.testing.assert_allclose(grown.length_m[dead], tree.length_m[dead])
    np.testing.assert_allclose(grown.start_m[1:], grown.end_m[grown.parent[1:]], atol=1e-9)
    assert (grown.start_diameter_mm >= tree.start_diameter_mm).all()
    assert (grown.length_m >= tree.length_m - 1e-9).all()


@given(skeletons(min_segments=2, faults=False), any_rates)
def test_forks_keep_the_balance_of_their_sections(tree: Skeleton, one: Rates) -> None:
    grown = thicken(tree, one, 10.0)

    def balance(of: Skeleton) -> np.ndarray:
        below = np.bincount(of.parent[1:], of.start_diameter_mm[1:] ** 2, minlength=of.n)
        return below / of.end_diameter_mm**2

    np.testing.assert_allclose(balance(grown), balance(tree))


def test_a_dead_stem_lets_nothing_thicken() -> None:
    tree = worked_tree(
        [-1, 0],
        [[0, 0, 0], [0, 0, 2]],
        [[0, 0, 2], [1, 0, 4]],
        [300.0, 200.0],
        [250.0, 100.0],
        state=[1, 0],
    )
    np.testing.assert_array_equal(
        thicken(tree, STRONG, 5.0).start_diameter_mm, tree.start_diameter_mm
    )


def test_what_grew_says_so_and_is_closed_to_writing() -> None:
    grown = thicken(random_skeleton(1, 20), ORDINARY, 3.0)
    told = grown.provenance
    for name in ("leaf_area", "fruit", "fine_wood"):
        assert {told.rules[k] for k in told.codes[name]} == {GROWN}
    assert told.is_measured("diameter", grown.n).all()
    again = thicken(grown, ORDINARY, 3.0)
    assert again.provenance.rules.count(GROWN) == 1
    for name in (*GROWING, *LASTING):
        assert not getattr(again, name).flags.writeable


@pytest.mark.parametrize("span", [-1.0, math.nan, math.inf])
def test_a_time_that_cannot_be_is_told(span: float) -> None:
    with pytest.raises(InputError, match="years"):
        thicken(random_skeleton(1, 3), ORDINARY, span)

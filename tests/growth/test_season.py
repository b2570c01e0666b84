"""Seasons of cutting and growing, one after the other."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.trees import cut_masks, random_skeleton, skeletons, worked_tree

from limbwright.errors import InputError
from limbwright.growth.prune import closed, cut_bases, pruned
from limbwright.growth.rates import Rates, rates
from limbwright.growth.response import long_run_share, regrowth_share
from limbwright.growth.season import GrownTree, after_season, dose_of, season_on
from limbwright.growth.thicken import thicken
from limbwright.model.skeleton import Bools, Limb, Skeleton, State

WEAK, ORDINARY, STRONG = (rates("apple", extension_cm=cm) for cm in (2.0, 25.0, 55.0))
any_rates = st.sampled_from((WEAK, ORDINARY, STRONG))
ARRAYS = (
    "start_m",
    "end_m",
    "start_diameter_mm",
    "end_diameter_mm",
    "leaf_area_m2",
    "fruit_kg",
    "fine_wood_kg",
    "parent",
    "subtree_end",
)


@st.composite
def cut_trees(draw: st.DrawFn) -> tuple[Skeleton, Bools]:
    tree = draw(skeletons(min_segments=2))
    cuts = draw(st.lists(st.integers(1, tree.n - 1), min_size=1, max_size=3))
    return tree, ~cut_masks(tree, cuts)


def live_leaf(tree: Skeleton) -> float:
    return float(tree.leaf_area_m2[tree.state != int(State.DEAD)].sum())


def five(leaf: float = 25.0) -> Skeleton:
    """Return a stem with four equal limbs."""
    end = [[2.0, 0, 3], [-2.0, 0, 3], [0, 2.0, 3], [0, -2.0, 3]]
    return worked_tree(
        [-1, 0, 0, 0, 0],
        [[0, 0, 0], *[[0, 0, 2]] * 4],
        [[0, 0, 2], *end],
        [400.0] + [180.0] * 4,
        [380.0] + [60.0] * 4,
        leaf_area_m2=[0.0] + [leaf] * 4,
        fine_wood_kg=[0.0] + [8.0] * 4,
        fruit_kg=[0.0] + [20.0] * 4,
    )


def only(tree: Skeleton, *cuts: int) -> Bools:
    return np.isin(np.arange(tree.n), cuts)


@settings(deadline=None, max_examples=60)
@given(cut_trees())
def test_a_pruned_tree_is_the_tree_built_from_what_stays(case: tuple[Skeleton, Bools]) -> None:
    tree, gone = case
    left = pruned(tree, gone)
    stays = np.flatnonzero(~closed(tree, gone))
    new = {int(old): k for k, old in enumerate(stays)}
    again = Skeleton.build(
        tree=tree.tree,
        species=tree.species,
        parent=[new.get(int(p), -1) for p in tree.parent[stays]],
        start_m=tree.start_m[stays],
        end_m=tree.end_m[stays],
        start_diameter_mm=tree.start_diameter_mm[stays],
        end_diameter_mm=tree.end_diameter_mm[stays],
        limb=tree.limb[stays],
        limbs=[Limb("stem", -1, 0, 0.0, 1.0, 1.0, 0.0, 0.0)],
        leaf_area_m2=tree.leaf_area_m2[stays],
        fruit_kg=tree.fruit_kg[stays],
        fine_wood_kg=tree.fine_wood_kg[stays],
    )
    for name in ARRAYS:
        np.testing.assert_array_equal(getattr(left, name), getattr(again, name))
    np.testing.assert_array_equal(left.segment_ids, tree.segment_ids[stays])
    for k, one in enumerate(left.limbs):
        assert left.limb[one.first_segment] == k
        assert one.label == tree.limbs[tree.limb[stays[one.first_segment]]].label
        if one.parent >= 0:
            old = tree.limbs[tree.limb[stays[one.first_segment]]]
            assert left.limbs[one.parent].label == tree.limbs[old.parent].label


def test_a_shortened_limb_is_told_as_long_as_it_is() -> None:
    tree = random_skeleton(5, 14)
    bases = {one.first_segment for one in tree.limbs}
    cut = next(i for i in range(tree.n - 1, 0, -1) if i not in bases)
    left = pruned(tree, only(tree, cut))
    label = tree.limbs[tree.limb[cut]].label
    limb = next(one for one in left.limbs if one.label == label)
    mine = np.flatnonzero(left.limb == left.limbs.index(limb))
    assert limb.length_m <= float(left.length_m[mine].sum()) + 1e-9


def test_limbs_that_rub_what_is_gone_rub_no_more() -> None:
    tree = worked_tree(
        [-1, 0, 0],
        [[0, 0, 0], [0, 0, 2], [0, 0, 2]],
        [[0, 0, 2], [2, 0, 3], [2, 1, 3]],
        [300.0, 100.0, 90.0],
        [280.0, 40.0, 40.0],
    )
    limbs = [
        Limb("stem", -1, 0, 0.0, 300.0, 2.0, 0.0, 90.0),
        Limb("A", 0, 1, 2.0, 100.0, 2.2, 90.0, 27.0, rubs="B"),
        Limb("B", 0, 2, 2.0, 90.0, 2.4, 63.0, 24.0, rubs="A"),
    ]
    arrays = {name: getattr(tree, name) for name in ARRAYS if name != "subtree_end"}
    named = Skeleton.build(
        tree="worked example", species="apple", limb=[0, 1, 2], limbs=limbs, **arrays
    )
    assert [one.rubs for one in pruned(named, only(named, 1)).limbs] == ["", ""]


@settings(deadline=None, max_examples=60)
@given(skeletons(), any_rates, st.floats(0.0, 5.0))
def test_a_season_without_cuts_is_growth_alone(tree: Skeleton, one: Rates, span: float) -> None:
    none = np.zeros(tree.n, dtype=np.bool_)
    found, grown = after_season(tree, none, one, years=span), thicken(tree, one, span)
    for name in ARRAYS:
        np.testing.assert_array_equal(getattr(found, name), getattr(grown, name))


@settings(deadline=None, max_examples=60)
@given(cut_trees(), any_rates, st.floats(0.0, 10.0), st.sampled_from(("remove", "head")))
def test_the_crown_never_outgrows_the_one_the_roots_carried(
    case: tuple[Skeleton, Bools], one: Rates, span: float, kind: str
) -> None:
    tree, gone = case
    found = after_season(tree, gone, one, kinds=kind, years=span)  # type: ignore[arg-type]
    uncut = thicken(tree, one, span)
    assert live_leaf(found) <= live_leaf(uncut) * (1.0 + 1e-9)
    assert float(found.fine_wood_kg.sum()) <= float(uncut.fine_wood_kg.sum()) * (1.0 + 1e-9)
    assert float(found.fruit_kg.sum()) <= float(uncut.fruit_kg.sum()) * (1.0 + 1e-9)
    assert found.start_diameter_mm[0] <= uncut.start_diameter_mm[0] + 1e-9


@settings(deadline=None, max_examples=60)
@given(cut_trees(), any_rates, st.floats(1.0, 4.0), st.floats(0.0, 4.0))
def test_seasons_one_after_the_other_are_the_same_as_all_at_once(
    case: tuple[Skeleton, Bools], one: Rates, a: float, b: float
) -> None:
    tree, gone = case
    first = season_on(GrownTree.standing(tree), gone, one, years=a)
    none = np.zeros(first.skeleton.n, dtype=np.bool_)
    then = season_on(first, none, one, years=b)
    once = season_on(GrownTree.standing(tree), gone, one, years=a + b)
    for name in ARRAYS:
        np.testing.assert_allclose(
            getattr(then.skeleton, name), getattr(once.skeleton, name), rtol=1e-9, atol=1e-9
        )
    np.testing.assert_allclose(then.leaf_to_come_m2, once.leaf_to_come_m2, atol=1e-9)
    np.testing.assert_allclose(then.fruit_to_come_kg, once.fruit_to_come_kg, atol=1e-9)


def test_one_limb_in_four_taken_worked_by_hand() -> None:
    tree = five()
    gone = only(tree, 2)
    assert dose_of(tree, gone) == pytest.approx(0.25)
    found = after_season(tree, gone, ORDINARY, years=2.0)
    trend = 1.0125**2
    omega = regrowth_share(ORDINARY, 2.0, 0.25)
    assert omega == pytest.approx(0.5 * (1.0 - math.exp(-2.0 / 1.8)))
    # regrowth hangs on the stem, which bears the cut
    np.testing.assert_allclose(found.leaf_area_m2, trend * np.array([25.0 * omega, 25, 25, 25]))
    np.testing.assert_allclose(found.fine_wood_kg, trend * np.array([8.0 * omega, 8, 8, 8]))
    # the crop comes later: time constant 1.8 + 2 years
    fruit = 20.0 * 0.5 * (1.0 - math.exp(-2.0 / 3.8))
    np.testing.assert_allclose(found.fruit_kg, trend * np.array([fruit, 20, 20, 20]))
    # the stem lost a quarter of its leaf and so of its ring in the first year, the limbs nothing
    year = math.log1p(2.0 * 1.75 * 0.8 / 400.0)
    stem = 400.0 * math.exp(0.75 * year)
    stem += 2.0 * 1.75 * 0.8
    assert found.start_diameter_mm[0] == pytest.approx(stem)
    assert found.start_diameter_mm[1] / 180.0 == pytest.approx(
        math.exp(year) * (1.0 + 2.0 * 1.75 * 0.8 / (400.0 * math.exp(0.75 * year)))
    )


def test_doses_compound_as_the_shares_left_say() -> None:
    # a quarter of the crown present each year leaves 75, 56, 42 % where nothing grows again
    for dose, left in ((0.25, (75, 56, 42)), (0.2, (80, 64, 51)), (0.1, (90, 81, 73))):
        crown = 1.0
        for percent in left:
            crown *= 1.0 - dose
            assert math.floor(100.0 * crown + 0.5) == percent
    # the same with a tree: 64 equal shoots, a quarter of those standing each year
    n = 64
    turn = np.linspace(0.0, 2.0 * np.pi, n, endpoint=False)
    end = np.stack([np.cos(turn), np.sin(turn), np.full(n, 3.0)], axis=1)
    tree = worked_tree(
        [-1] + [0] * n,
        [[0, 0, 0], *[[0, 0, 2]] * n],
        np.vstack([[0, 0, 2], end]),
        [400.0] + [40.0] * n,
        [390.0] + [10.0] * n,
        leaf_area_m2=[0.0] + [1.0] * n,
    )
    bare, grown = GrownTree.standing(tree), GrownTree.standing(tree)
    crowns, regrown = [], []
    for taken in (16, 12, 9):
        for_bare = only(bare.skeleton, *range(1, taken + 1))
        assert dose_of(bare.skeleton, for_bare) == pytest.approx(0.25, abs=1e-9)
        bare = season_on(bare, for_bare, ORDINARY, years=0.0)
        grown = season_on(
            grown, only(grown.skeleton, *range(1, taken + 1)), ORDINARY, dose=0.25, years=1.0
        )
        crowns.append(live_leaf(bare.skeleton) / n)
        regrown.append(live_leaf(grown.skeleton) / n)
    np.testing.assert_allclose(crowns, [0.75, 0.5625, 0.421875])
    assert all(b > a for a, b in zip(crowns, regrown, strict=True))
    assert regrown[-1] < 0.421875 + 0.5 * (1.0 - 0.421875) * 1.0125**3


def test_dead_wood_neither_counts_as_dose_nor_sprouts() -> None:
    tree = worked_tree(
        [-1, 0, 1, 0],
        [[0, 0, 0], [0, 0, 2], [1, 0, 3], [0, 0, 2]],
        [[0, 0, 2], [1, 0, 3], [2, 0, 3], [-2, 0, 3]],
        [300.0, 120.0, 60.0, 150.0],
        [290.0, 80.0, 20.0, 40.0],
        state=[0, 1, 1, 0],
        leaf_area_m2=[0.0, 0.0, 0.0, 30.0],
        fine_wood_kg=[0.0, 0.0, 3.0, 6.0],
    )
    gone = only(tree, 2)
    assert dose_of(tree, gone) == 0.0
    found = season_on(GrownTree.standing(tree), gone, STRONG)
    assert found.leaf_to_come_m2.sum() == found.fine_wood_to_come_kg.sum() == 0.0
    assert found.skeleton.fine_wood_kg[1] == 0.0


def test_each_cut_is_answered_by_its_kind_and_lost_with_its_bearer() -> None:
    tree = five()
    gone = only(tree, 1, 3)
    kinds = {1: "head", 3: "thin"}
    found = season_on(GrownTree.standing(tree), gone, ORDINARY, kinds=kinds, dose=0.3, years=0.0)  # type: ignore[arg-type]
    due = 25.0 * sum(long_run_share(ORDINARY, 0.3, kind=k) for k in ("head", "thin"))
    assert found.leaf_to_come_m2[0] == pytest.approx(due)
    chain = worked_tree(
        [-1, 0, 1, 0],
        [[0, 0, 0], [0, 0, 2], [1, 0, 3], [0, 0, 2]],
        [[0, 0, 2], [1, 0, 3], [2, 0, 4], [-2, 0, 3]],
        [300.0, 120.0, 60.0, 150.0],
        [290.0, 80.0, 20.0, 40.0],
        leaf_area_m2=[0.0, 5.0, 10.0, 30.0],
    )
    first = season_on(GrownTree.standing(chain), only(chain, 2), ORDINARY)
    assert first.leaf_to_come_m2[1] > 0.0
    second = season_on(first, only(first.skeleton, 1), ORDINARY, years=0.0)
    taken = float(first.skeleton.leaf_area_m2[1])
    share = long_run_share(ORDINARY, dose_of(first.skeleton, only(first.skeleton, 1)))
    assert second.leaf_to_come_m2.tolist() == pytest.approx([share * taken, 0.0])


def test_cut_bases_are_where_the_saw_goes() -> None:
    tree = random_skeleton(4, 15)
    gone = only(tree, 6) | only(tree, int(tree.n - 1))
    falls = closed(tree, gone)
    bases = cut_bases(tree, gone)
    assert falls[bases].all()
    assert not falls[tree.parent[bases]].any()
    brute = np.zeros(tree.n, dtype=np.bool_)
    for i in np.flatnonzero(gone):
        brute[tree.in_subtree(int(i))] = True
    np.testing.assert_array_equal(falls, brute)


def test_marks_that_cannot_be_are_told() -> None:
    tree = five()
    with pytest.raises(InputError, match="stem"):
        after_season(tree, only(tree, 0), ORDINARY)
    with pytest.raises(InputError, match="3 marks"):
        after_season(tree, np.zeros(3, dtype=np.bool_), ORDINARY)
    with pytest.raises(InputError, match="dose"):
        after_season(tree, only(tree, 1), ORDINARY, dose=1.5)

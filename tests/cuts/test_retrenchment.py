"""A veteran's crown comes in by little: within its dose, thin wood only, the inner growth kept."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.cuts.old_tree import Drawn, draw, old_apple
from tests.trees import random_skeleton

from limbwright.cuts.retrenchment import Retrenchment, retrenchment, step_rows
from limbwright.cuts.weights import Settings
from limbwright.errors import PlanError
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Floats, Skeleton, State
from limbwright.trade.parameters import parameters

VETERAN = StationRecord("1", note="veteran")
TABLE = parameters("retrenchment")


def standing(tree: Skeleton, found: Retrenchment, until: int) -> Floats:
    """Share of each segment that stands after the first ``until`` steps, cut by cut."""
    left = np.ones(tree.n)
    for step in found.steps[:until]:
        for cut in step.cuts:
            left[cut.segment + 1 : int(tree.subtree_end[cut.segment])] = 0.0
            left[cut.segment] = min(left[cut.segment], cut.share)
    return left


def check(tree: Skeleton, found: Retrenchment) -> None:
    """Hold a plan of steps to its own promises, reckoned anew from its cuts."""
    leaf = np.where(tree.state == State.LIVE, tree.leaf_area_m2, 0.0)
    live = tree.state == State.LIVE
    height = found.height_m
    for k, step in enumerate(found.steps):
        before, after = standing(tree, found, k), standing(tree, found, k + 1)
        taken = float((leaf * (before - after)).sum()) / float((leaf * before).sum())
        assert step.dose == pytest.approx(taken, abs=1e-9)
        assert step.dose <= step.dose_limit + 1e-9
        ends = tree.start_m + after[:, None] * (tree.end_m - tree.start_m)
        assert step.height_m == pytest.approx(ends[live & (after > 0), 2].max())
        assert step.height_m <= height + 1e-9
        height = step.height_m
        for cut in step.cuts:
            assert cut.diameter_mm <= TABLE["largest_cut"].value + 1e-6
            assert cut.shorten_m >= TABLE["least_shortening"].value
            assert tree.state[cut.segment] == State.LIVE
            point = tree.start_m[cut.segment] + cut.share * (
                tree.end_m[cut.segment] - tree.start_m[cut.segment]
            )
            np.testing.assert_allclose(point, cut.point_m)
    whole = tree.subtree_sum(leaf)
    left = standing(tree, found, len(found.steps))
    rest = tree.subtree_sum(leaf * left)
    for limb in tree.limbs[1:]:
        first = limb.first_segment
        if left[first] >= 1.0:
            assert rest[first] >= TABLE["leaf_below"].value * whole[first] - 1e-9
    cut_axes = {c.segment for step in found.steps for c in step.cuts}
    assert not any((tree.keep[tree.in_subtree(i)] > 0).any() for i in cut_axes)


def pole(height_m: float = 10.0, thick_mm: float = 40.0) -> Skeleton:
    """An upright whip whose thickness falls evenly to a quarter, and a low limb that bears leaf."""
    return draw(
        [
            Drawn("stem", "", 0.0, 200, 2.0, 0, 90),
            Drawn("leader", "stem", 1.0, thick_mm, height_m - 2.0, 0, 90),
            Drawn("low", "stem", 0.9, 60, 3.0, 90, 10, crown=3.0),
        ],
        derived=False,
        steps=8,
    )


def test_an_upright_end_is_cut_at_the_height_of_each_step() -> None:
    found = retrenchment(pole(), VETERAN, year=2027, steps=3, height_share=0.15, dose=0.3)
    assert found.height_m == pytest.approx(10.0)
    assert [s.year for s in found.steps] == [2027, 2031, 2035]
    assert [s.target_height_m for s in found.steps] == pytest.approx([9.5, 9.0, 8.5])
    for step in found.steps:
        (cut,) = [c for c in step.cuts if c.limb == "leader"]
        assert cut.height_m == pytest.approx(step.target_height_m)
        assert cut.shorten_m == pytest.approx(0.5)
        assert cut.at_m == pytest.approx(step.target_height_m - 2.0)
        # tapers from 40 to 10 mm over 8 m
        assert cut.diameter_mm == pytest.approx(40.0 - 30.0 * cut.at_m / 8.0)
        assert cut.wound_area_cm2 == pytest.approx(np.pi * (cut.diameter_mm / 20.0) ** 2)
    check(pole(), found)


def test_the_dose_holds_a_step_and_the_next_makes_it_good() -> None:
    tree = draw(old_apple())
    free = retrenchment(tree, VETERAN, year=2027, steps=2, height_share=0.3, dose=0.3)
    tight = retrenchment(tree, VETERAN, year=2027, steps=2, height_share=0.3, dose=0.02)
    check(tree, tight)
    assert tight.steps[0].dose <= 0.02
    assert tight.steps[0].height_m > free.steps[0].height_m
    assert any("dose" in why for why in tight.steps[0].held)
    assert tight.steps[1].height_m < tight.steps[0].height_m
    # more was not possible: most of the dose is used
    assert tight.steps[0].dose > 0.01


def test_without_a_wish_the_table_s_steps_are_taken_within_the_veterans_dose() -> None:
    tree = draw(old_apple())
    found = retrenchment(tree, VETERAN, year=2027)
    check(tree, found)
    assert found.state == "veteran"
    assert len(found.steps) == 5
    assert found.rest_years == 4
    assert (found.years_low, found.years_high) == (12, 20)  # 3 to 5 years between five steps
    assert {s.dose_limit for s in found.steps} == {Settings()["dose_veteran"]}
    drop = 1.0 - found.steps[-1].height_m / found.height_m
    assert 0.05 < drop <= 0.15 + 1e-9


def test_thick_wood_is_not_cut_and_that_is_told() -> None:
    found = retrenchment(pole(thick_mm=300.0), VETERAN, year=2027, height_share=0.2, dose=0.3)
    assert all(c.diameter_mm <= 50.0 for s in found.steps for c in s.cuts)
    assert any("thicker than 50 mm" in why for s in found.steps for why in s.held)


def test_kept_limbs_and_those_with_habitat_are_not_touched() -> None:
    for change in ({"keep": "owl"}, {"note": "frass"}):
        tree = draw(old_apple(L4=change, L11=change))
        found = retrenchment(tree, VETERAN, year=2027, height_share=0.3, dose=0.3)
        cut = {c.limb for s in found.steps for c in s.cuts if c.surveyed}
        assert not {"4", "11"} & cut
        assert any("kept" in why for s in found.steps for why in s.held)


def test_dead_tops_stay_and_do_not_count_for_the_height() -> None:
    tree = draw(old_apple(L4={"state": State.DEAD}, L11={"state": State.DEAD}))
    found = retrenchment(tree, VETERAN, year=2027)
    assert found.top_m > found.height_m
    assert not {"4", "11"} & {c.limb for s in found.steps for c in s.cuts}
    check(tree, found)


def test_a_lateral_just_below_takes_over_else_a_stub_is_left() -> None:
    limbs = [
        Drawn("stem", "", 0.0, 200, 2.0, 0, 90),
        Drawn("a", "stem", 1.0, 40, 4.0, 0, 90),
        Drawn("b", "a", 0.75, 15, 1.0, 90, 20),
        Drawn("low", "stem", 0.9, 80, 3.0, 90, 10, crown=3.0),
    ]
    tree = draw(limbs, derived=False, steps=8, leaf_m2=30.0)
    found = retrenchment(tree, VETERAN, year=2027, steps=1, height_share=0.15, dose=0.3)
    (cut,) = [c for c in found.steps[0].cuts if c.limb == "a"]
    assert cut.height_m == pytest.approx(5.1)  # the lateral springs at 5.0 m
    assert (cut.to_lateral, cut.stub_m) == ("to limb b", 0.0)
    low = retrenchment(pole(), VETERAN, year=2027, steps=1, height_share=0.15, dose=0.3)
    (end,) = [c for c in low.steps[0].cuts if c.limb == "leader"]
    assert (end.to_lateral, end.stub_m) == ("", TABLE["stub"].value)


def test_a_limb_keeps_half_of_its_leaf() -> None:
    found = retrenchment(pole(), VETERAN, year=2027, steps=1, height_share=0.33, dose=0.33)
    tree = pole()
    leaf = tree.subtree_sum(tree.leaf_area_m2)
    rest = tree.subtree_sum(tree.leaf_area_m2 * standing(tree, found, 1))
    for limb in tree.limbs[1:]:
        assert rest[limb.first_segment] >= 0.5 * leaf[limb.first_segment] - 1e-9


@pytest.mark.parametrize(
    "wish",
    [{"steps": 0}, {"rest_years": 0}, {"height_share": 0.0}, {"height_share": 0.5}, {"dose": 0.4}],
)
def test_a_wish_out_of_bounds_is_refused_with_what_would_be_right(wish: dict[str, float]) -> None:
    with pytest.raises(PlanError, match="Give"):
        retrenchment(draw(old_apple()), VETERAN, year=2027, **wish)  # type: ignore[arg-type]


def test_a_tree_without_live_crown_is_refused() -> None:
    dead = [Drawn("stem", "", 0.0, 200, 2.0, 0, 90, state=State.DEAD)]
    with pytest.raises(PlanError, match="no live crown"):
        retrenchment(draw(dead, leaf_m2=0.0), VETERAN, year=2027)


def test_a_tree_that_is_no_veteran_is_told_of() -> None:
    tree = draw(old_apple())
    routine = retrenchment(tree, StationRecord("1", note="pruned yearly"), year=2027)
    assert any("not a veteran" in why for why in routine.reasons)
    assert not any("not a veteran" in w for w in retrenchment(tree, VETERAN, year=2027).reasons)


def test_a_step_becomes_rows_for_a_card_one_a_limb() -> None:
    tree = draw(old_apple())
    found = retrenchment(tree, VETERAN, year=2027, steps=2)
    step = next(s for s in found.steps if s.cuts)
    rows = step_rows(step, tree, Settings(), first_order=3)
    assert [r.order for r in rows] == list(range(3, 3 + len(rows)))
    assert {r.limb for r in rows} == {c.limb for c in step.cuts}
    assert sum(r.dose for r in rows) == pytest.approx(step.dose)
    assert sum(r.wound_area_cm2 for r in rows) == pytest.approx(
        sum(c.wound_area_cm2 for c in step.cuts)
    )
    assert all(r.reason.startswith("Shorten ") for r in rows)


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    steps=st.integers(1, 4),
    share=st.floats(0.02, 0.33),
    dose=st.floats(0.005, 0.33),
)
def test_any_tree_comes_in_within_its_limits(
    seed: int, steps: int, share: float, dose: float
) -> None:
    tree = random_skeleton(seed, 60, faults=True)
    if float(tree.leaf_area_m2[tree.state == State.LIVE].sum()) <= 0.0:
        return
    check(tree, retrenchment(tree, VETERAN, year=2027, steps=steps, height_share=share, dose=dose))

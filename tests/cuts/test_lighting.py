"""Light as a reason to cut: exact where it is priced, and closer than adding up."""

from __future__ import annotations

import numpy as np
import pytest
from tests.cuts.old_tree import Drawn, draw, old_apple

from limbwright.cuts.evaluate import cuts_of, evaluate
from limbwright.cuts.lighting import Lighting, Lit
from limbwright.cuts.plan import plan
from limbwright.cuts.question import ask
from limbwright.cuts.results import Plan
from limbwright.cuts.weights import Settings
from limbwright.light.canopy import canopy
from limbwright.light.crown import crown_light, relight
from limbwright.light.cuts import worth_of_light
from limbwright.light.sky import season_sky
from limbwright.model import Site, Skeleton
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import State
from limbwright.statics.assess import assess


def upright(leaf_m2: float, rise_deg: float = 75.0, limbs: int = 5) -> Skeleton:
    stem = Drawn("stem", "", 0.0, 300, 2.0, 0, 90)
    turn = 360.0 / limbs
    around = [Drawn(str(k), "stem", 1.0, 90, 4.0, turn * k, rise_deg) for k in range(limbs)]
    return draw([stem, *around], leaf_m2=leaf_m2)


def asked(tree: Skeleton) -> tuple[Lit, Lighting]:
    """The best lit plan of a tree, and its light."""
    question = ask(assess(tree))
    return question.answer("proof"), question.light


def true_price(lit: Lit, light: Lighting, gone: np.ndarray) -> float:
    """Objective of a plan with its light reckoned for the whole plan at once."""
    beside = float(lit.whole_h[cuts_of(lit.built.problem, gone)].sum())
    at = evaluate(lit.built.problem, gone)
    return at.objective_h + beside - float(light.gained(gone[None])[0])


def every_plan(lit: Lit) -> list[np.ndarray]:
    """All plans within the limits of a tree with few candidates."""
    problem = lit.built.problem
    plans: list[list[bool]] = [[False]]
    for parent in problem.parent[1:]:
        # what stands on a piece that is gone is gone; any other stands or goes
        plans = [
            [*one, gone] for one in plans for gone in ((True,) if one[parent] else (False, True))
        ]
    return [gone for gone in map(np.array, plans) if not evaluate(problem, gone).violated]


@pytest.mark.parametrize(("limbs", "leaf_m2"), [(3, 60.0), (3, 150.0), (4, 90.0)])
def test_the_plan_is_nearly_the_best_of_all_with_its_true_light(limbs: int, leaf_m2: float) -> None:
    """Brute force: every plan priced with its light reckoned anew; within 2 % of the best."""
    lit, light = asked(upright(leaf_m2, limbs=limbs))
    nothing = np.zeros(lit.built.problem.nodes, dtype=bool)
    best = min(true_price(lit, light, gone) for gone in every_plan(lit))
    mine = true_price(lit, light, lit.solved.solution.gone)
    assert mine == pytest.approx(lit.solved.now.objective_h, abs=1e-6)
    gain = true_price(lit, light, nothing) - best
    assert mine - best <= 0.02 * gain + 1e-6


def crooked(seed: int) -> Skeleton:
    """A stem with three to five limbs of any thickness, length, rise and bearing."""
    rng = np.random.default_rng(seed)
    limbs = [
        Drawn(
            str(k),
            "stem",
            rng.uniform(0.6, 1.0),
            rng.uniform(60, 150),
            rng.uniform(2, 5),
            rng.uniform(0, 360),
            rng.uniform(20, 85),
        )
        for k in range(3 + seed % 3)
    ]
    stem = Drawn("stem", "", 0.0, 300, 2.0, 0, 90)
    return draw([stem, *limbs], leaf_m2=float(rng.uniform(30, 300)))


@pytest.mark.parametrize("seed", range(24))
def test_of_all_plans_of_a_crooked_tree_none_is_better_by_a_hundredth(seed: int) -> None:
    lit, light = asked(crooked(seed))
    found = np.array(every_plan(lit))
    best = min(true_price(lit, light, gone) for gone in found)
    nothing = true_price(lit, light, np.zeros(found.shape[1], dtype=bool))
    assert lit.solved.now.objective_h - best <= 0.01 * (nothing - best) + 1e-6


def test_the_problem_s_light_is_exact_for_the_plan_and_for_one_cut_more_or_less() -> None:
    lit, light = asked(draw(old_apple(), leaf_m2=200.0))
    problem, gone = lit.built.problem, lit.solved.solution.gone
    here = true_price(lit, light, gone)
    base = evaluate(problem, gone).objective_h
    for node in range(1, problem.nodes):
        other = gone.copy()
        below = slice(node, int(problem.end[node]))
        if gone[node] and gone[problem.parent[node]]:
            continue  # it falls with what carries it
        other[below] = not gone[node]
        reckoned = evaluate(problem, other).objective_h - base
        assert true_price(lit, light, other) - here == pytest.approx(reckoned, abs=1e-6)


def test_what_single_cuts_give_adds_up_to_nearly_what_all_give() -> None:
    for leaf_m2 in (60.0, 200.0, 400.0):
        lit, _ = asked(draw(old_apple(), leaf_m2=leaf_m2))
        assert lit.gained_h > 0.0
        assert lit.alone_h == pytest.approx(lit.gained_h, rel=0.2)


def test_the_coarse_crown_of_a_plan_agrees_with_a_fine_one() -> None:
    """Against the light of a crown twice as fine, 72 directions for 24: to a fifth."""
    tree = draw(old_apple(), leaf_m2=200.0)
    lit, light = asked(tree)
    gone = lit.built.gone_segments(lit.solved.solution.gone)
    dead = np.where(tree.state == State.DEAD, 0.0, tree.leaf_area_m2)
    held = canopy(tree)
    before = crown_light(held, season_sky(Site().latitude))
    after = relight(before, ~gone)
    stays = after.canopy.leaf_in_cells()
    more = worth_of_light(after.field) - worth_of_light(before.field)
    fine = light.hours * float((stays * more).sum()) / float(dead.sum())
    assert lit.gained_h == pytest.approx(fine, rel=0.2)


def test_a_full_upright_crown_is_thinned_for_light_and_an_open_one_little() -> None:
    full, open_ = plan(assess(upright(150.0))), plan(assess(upright(8.0, rise_deg=20.0)))
    assert full.dose >= 0.10
    assert full.light_after.mean > full.light_before.mean + 0.01
    assert any(" light in" in c.reason or "opens the centre" in c.reason for c in full.cuts)
    assert not any("light in" in c.reason for c in open_.cuts)


def told(tree: Skeleton, **more: object) -> Plan:
    return plan(assess(tree), StationRecord("1", **more))  # type: ignore[arg-type]


def test_weak_and_veteran_trees_are_not_thinned_for_light() -> None:
    for word in ("poor", "veteran"):
        made = told(draw(old_apple(), leaf_m2=300.0), condition=word)
        assert made.light_gain_h == 0.0
        assert not any("light in" in c.reason or "centre" in c.reason for c in made.cuts)


def test_a_limb_in_the_centre_opens_it() -> None:
    """A goblet with a limb straight up its middle: taking that out is told as opening it."""
    stem = Drawn("stem", "", 0.0, 300, 2.0, 0, 90)
    around = [Drawn(str(k), "stem", 1.0, 160, 4.0, 45.0 * k, 35) for k in range(8)]
    made = plan(assess(draw([stem, *around, Drawn("9", "stem", 1.0, 70, 3.0, 0, 88)], leaf_m2=200)))
    middle = [c for c in made.cuts if c.limb == "9"]
    assert middle
    assert "opens the centre" in middle[0].reason


def test_a_tree_on_which_no_cut_is_offered_is_left() -> None:
    pole = draw([Drawn("stem", "", 0.0, 300, 2.0, 0, 90)], leaf_m2=20.0, derived=False)
    made = plan(assess(pole))
    assert made.cuts == ()
    assert made.light_after.mean == made.light_before.mean


def test_where_light_is_worth_nothing_the_plan_is_that_without_it() -> None:
    made = plan(assess(draw(old_apple(), leaf_m2=200.0)), settings=Settings({"light": 0.0}))
    assert made.light_gain_h == 0.0
    assert "light" not in " ".join(c.reason for c in made.cuts)

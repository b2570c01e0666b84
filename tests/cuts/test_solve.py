"""The solver against brute force, a dynamic programme, and what must always hold."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.cuts.problems import every_plan, linear_problem, random_problem

from limbwright.cuts.evaluate import evaluate, prices
from limbwright.cuts.fast import closed
from limbwright.cuts.reach import Reach, hold, risk_of_changes
from limbwright.cuts.relaxation import Ended, Relaxation
from limbwright.cuts.solve import colliding, next_best, solve
from limbwright.errors import PlanError


@pytest.fixture(autouse=True, scope="module")
def _solver_alone() -> Iterator[None]:
    """Small trees would have all their plans priced; here the solver has to find the best."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("limbwright.cuts.fast.FEW", 0)
        yield


def brute(problem):
    plans = every_plan(problem)
    found = prices(problem, plans)
    allowed = ~found.broken.any(axis=1)
    if not allowed.any():
        return None
    return float(found.objective_h[allowed].min())


@pytest.mark.parametrize("block", range(12))
def test_small_trees_are_solved_to_the_best_plan_of_all(block: int) -> None:
    """Brute force over every plan of 120 trees of 5 to 12 candidates, all rules on."""
    for seed in range(block * 10, block * 10 + 10):
        problem = random_problem(seed, 5 + seed % 8)
        best = brute(problem)
        if best is None:
            with pytest.raises(PlanError):
                solve(problem, gap=1e-7)
            continue
        found = solve(problem, gap=1e-7)
        assert found.objective_h == pytest.approx(best, abs=1e-5)
        assert found.bound_h <= best + 1e-6
        assert not evaluate(problem, found.gone).violated


def knapsack(problem) -> float:
    """Depth-first knapsack on a tree: f(i, b) = max(f(i+1, b), G_i + f(end_i, b - W_i))."""
    n, room = problem.nodes, int(problem.dose_limit_m2)
    gain, leaf = problem.gone_gain_h, problem.leaf_m2
    table = np.zeros((n + 1, room + 1))
    for i in range(n - 1, 0, -1):
        end = int(problem.end[i])
        worth = float(gain[i:end].sum()) - float(problem.cut_cost_h[i])
        weight = round(float(leaf[i:end].sum()))
        table[i] = table[i + 1]
        if weight <= room:
            table[i, weight:] = np.maximum(
                table[i, weight:], worth + table[end, : room + 1 - weight]
            )
    return float(table[1, room])


@pytest.mark.parametrize("seed", range(20))
def test_one_limit_matches_an_independent_dynamic_programme(seed: int) -> None:
    problem = linear_problem(seed, 40)
    found = solve(problem, gap=1e-9)
    assert -found.objective_h == pytest.approx(knapsack(problem), abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.integers(4, 40))
def test_no_limit_is_ever_broken_and_nothing_above_a_cut_survives(seed: int, nodes: int) -> None:
    problem = random_problem(seed, nodes)
    for engine in ("proof", "fast"):
        try:
            found = solve(problem, engine=engine)
        except PlanError:
            continue
        now = evaluate(problem, found.gone)
        assert now.violated == ()
        assert not (found.gone[problem.parent[1:]] & ~found.gone[1:]).any()
        assert now.objective_h >= found.bound_h - 1e-9
        assert now.objective_h == pytest.approx(found.objective_h)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000))
def test_keeping_a_limb_never_makes_a_better_plan(seed: int) -> None:
    problem = replace(random_problem(seed, 10), forced=np.zeros(11, dtype=np.bool_))
    free = solve(problem, gap=1e-7)
    for node in np.flatnonzero(free.cuts):
        kept = problem.forbidden.copy()
        kept[node] = True
        held = solve(replace(problem, forbidden=kept), gap=1e-7)
        assert held.objective_h >= free.objective_h - 1e-6
        assert not held.gone[node]


def test_the_same_problem_gives_the_same_plan() -> None:
    problem = random_problem(3, 40)
    one, two = solve(problem), solve(problem)
    assert (one.gone == two.gone).all()
    assert one.objective_h == two.objective_h


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000))
def test_supporting_planes_lie_below_the_risk_of_every_plan(seed: int) -> None:
    problem = random_problem(seed, 7, rules=False)
    model = Relaxation(problem)
    linear = model.solve_linear()
    assert linear is not None
    for gone in every_plan(problem)[::7]:
        model.solver.changeColsBounds(
            problem.nodes,
            np.arange(problem.nodes, dtype=np.int32),
            gone.astype(float),
            gone.astype(float),
        )
        if model._run() is Ended.BEST:
            value = model.solver.getInfo().objective_function_value * model.unit_h
            assert value <= evaluate(problem, gone).objective_h + 1e-5


def test_wishes_that_collide_are_named() -> None:
    problem = random_problem(5, 10)
    everything = np.zeros(11, dtype=np.bool_)
    everything[1] = True
    tight = replace(
        problem,
        forced=everything,
        forbidden=np.zeros(11, dtype=np.bool_),
        heirs=((),) * 11,
        dose_limit_m2=0.01,
        wound_limit_cm2=1e9,
        max_cuts=None,
        deadwood_min_kg=0.0,
        balance_limit_kg_m=1e9,
    )
    with pytest.raises(PlanError):
        solve(tight)
    assert colliding(tight) == ("dose",)


def test_a_limb_both_forced_and_kept_collides_with_keep() -> None:
    problem = random_problem(6, 8, rules=False)
    node = np.zeros(9, dtype=np.bool_)
    node[3] = True
    clash = replace(problem, forced=node, forbidden=node, dose_limit_m2=1e9, wound_limit_cm2=1e9)
    with pytest.raises(PlanError):
        solve(clash)
    assert "keep" in colliding(clash)


@pytest.mark.parametrize("seed", range(1, 8))
def test_the_next_best_plan_leaves_a_limb_and_is_no_better(seed: int) -> None:
    problem = random_problem(seed, 9, rules=False)
    best = solve(problem, gap=1e-7)
    other = next_best(problem, best, gap=1e-7)
    if not best.cuts.any():
        assert other is None
        return
    assert other is not None
    assert (best.cuts & ~other.gone).any()
    assert other.objective_h >= best.objective_h - 1e-6
    plans = every_plan(problem)
    found = prices(problem, plans)
    differ = (best.cuts[None] & ~plans).any(axis=1) & ~found.broken.any(axis=1)
    assert other.objective_h == pytest.approx(float(found.objective_h[differ].min()), abs=1e-5)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(3, 30), st.booleans())
def test_the_risk_of_a_changed_plan_is_the_whole_evaluation(
    seed: int, nodes: int, groups: bool
) -> None:
    """The table of what each piece does where, against the loads summed and turned anew."""
    problem = random_problem(seed, nodes)
    rng = np.random.default_rng(seed)
    if groups:
        problem = replace(problem, section_group=rng.integers(0, 4, problem.sections))
    drawn = rng.random((12, problem.nodes)) < 0.15
    plans = closed(problem, drawn & (np.arange(problem.nodes) > 0))
    reach = Reach.of(problem)
    quick = risk_of_changes(problem, reach, hold(problem, reach, plans[0]), plans)
    for gone, risk in zip(plans, quick, strict=True):
        assert risk == pytest.approx(evaluate(problem, gone).terms["risk"], abs=1e-9)

"""What the quick search and the answers around it must give, limbs forced further in included."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import pytest
from tests.cuts.problems import every_plan, random_problem

from limbwright.cuts.evaluate import prices
from limbwright.cuts.problem import LIMITS, Problem
from limbwright.cuts.solve import colliding, next_best, solve, without
from limbwright.errors import PlanError
from limbwright.model.skeleton import Bools


@pytest.fixture(autouse=True, scope="module")
def _solver_alone() -> Iterator[None]:
    """Small trees would have all their plans priced; here the solver has to find the best."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("limbwright.cuts.fast.FEW", 0)
        yield


def with_forced(seed: int) -> Problem:
    """Return a small problem in which any limb may have to go, one that carries others included."""
    problem = random_problem(seed, 5 + seed % 7)
    rng = np.random.default_rng(seed + 9)
    forced = np.zeros(problem.nodes, dtype=np.bool_)
    if seed % 2:
        forced[rng.integers(1, problem.nodes)] = True
    if seed % 3 == 0:
        forced[rng.integers(1, problem.nodes)] = True
    return replace(problem, forced=forced)


def allowed(problem: Problem) -> tuple[Bools, np.ndarray, Bools]:
    plans = every_plan(problem)
    found = prices(problem, plans)
    return plans, found.objective_h, ~found.broken.any(axis=1)


@pytest.mark.parametrize("block", range(10))
def test_both_engines_find_a_plan_wherever_there_is_one(block: int) -> None:
    for seed in range(block * 10, block * 10 + 10):
        problem = with_forced(seed)
        _, cost, may = allowed(problem)
        for engine in ("proof", "fast"):
            if not may.any():
                with pytest.raises(PlanError):
                    solve(problem, engine=engine, gap=1e-7)
                continue
            found = solve(problem, engine=engine, gap=1e-7)
            assert not (found.gone[problem.parent[1:]] & ~found.gone[1:]).any()
            assert found.bound_h <= cost[may].min() + 1e-6
            if engine == "proof":
                assert found.objective_h == pytest.approx(cost[may].min(), abs=1e-5)


ONLY_PLAN = (223, 347, 403, 487)
"""Examples in which whole decisions leave no second plan, though shares of limbs would."""


@pytest.mark.parametrize("seeds", [*(range(b, b + 20) for b in range(0, 100, 20)), ONLY_PLAN])
def test_a_second_plan_is_the_best_other_one_or_none(seeds: Sequence[int]) -> None:
    """Also where the limits leave one plan alone: that is no failure of the first."""
    for seed in seeds:
        problem = with_forced(seed)
        plans, cost, may = allowed(problem)
        if not may.any():
            continue
        best = solve(problem, gap=1e-7)
        other = next_best(problem, best, gap=1e-7)
        chosen = best.cuts & ~problem.forced
        differs = (chosen & ~plans).any(axis=1) & may
        assert (other is not None) == bool(differs.any())
        if other is not None:
            assert other.objective_h == pytest.approx(cost[differs].min(), abs=1e-5)
            assert not (other.gone[problem.parent[1:]] & ~other.gone[1:]).any()


def test_the_fewest_limits_are_named_whose_relaxing_helps() -> None:
    """Against all plans: relaxing the named limits leaves a plan, and no fewer limits do."""
    seen = 0
    for seed in range(120):
        problem = with_forced(seed)
        plans, _, may = allowed(problem)
        if may.any():
            continue
        seen += 1
        broken = prices(problem, plans).broken
        goes = ~(~plans & problem.forced).any(axis=1)  # to relax "keep" frees no forced limb
        named = colliding(problem)
        others = [k for k, name in enumerate(LIMITS) if name not in named]
        assert (goes & ~broken[:, others].any(axis=1)).any()
        assert len(named) == broken[goes].sum(axis=1).min()
    assert seen > 10


def test_two_limits_that_both_stand_in_the_way_are_both_named() -> None:
    problem = random_problem(5, 10, rules=False)
    forced = np.zeros(11, dtype=np.bool_)
    forced[1] = True
    tight = replace(problem, forced=forced, dose_limit_m2=0.01, wound_limit_cm2=0.01)
    assert colliding(tight) == ("dose", "wound share")


def test_undoing_a_cut_keeps_what_is_forced_beyond_it() -> None:
    """Every piece that falls with a cut is forced in turn: without the cut, it still goes."""
    held = 0
    for seed in range(1, 30):
        problem = random_problem(seed, 12, rules=False)
        best = solve(problem)
        for node in np.flatnonzero(best.cuts):
            end = int(problem.end[node])
            for j in range(int(node) + 1, end):
                forced = np.zeros(problem.nodes, dtype=np.bool_)
                forced[j] = True
                told = without(replace(problem, forced=forced), best.gone, int(node))
                expected = best.gone.copy()
                expected[node:end] = False
                expected[j : problem.end[j]] = True
                assert (told == expected).all()
                held += 1
    assert held > 10

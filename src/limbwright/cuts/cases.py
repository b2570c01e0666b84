"""Solving one tree on the load cases that tell, exactly for all of them.

With fewer cases the cost of a plan is never higher, so a bound proven on some holds for all; the
plan found is priced with all, and a case that then turns out to matter is taken in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from limbwright.cuts.build_problem import Built, for_cases, telling_cases
from limbwright.cuts.evaluate import Evaluation, evaluate
from limbwright.cuts.fast import closed
from limbwright.cuts.limits import Limits, say_binding
from limbwright.cuts.solve import Solution, colliding, solve
from limbwright.errors import PlanError
from limbwright.model.skeleton import Bools, Ints

__all__ = ["Engine", "Solved", "best_cuts"]

Engine = Literal["proof", "fast"]

ROUNDS = 6  # of taking in load cases; in practice one or two are enough
MISSED_H = 1e-3  # a load case left out that costs more than this is taken in


@dataclass(frozen=True, slots=True)
class Solved:
    """A solved tree: the plan found priced under all load cases, and what was proven.

    ``within`` is the share of the improvement over doing nothing that is not proven to be out of
    reach; NaN where nothing was proven.
    """

    built: Built
    solution: Solution
    now: Evaluation
    nothing_h: float
    bound_h: float
    within: float


def best_cuts(
    built: Built,
    bounds: Limits,
    tree: str,
    engine: Engine,
    *,
    known: Bools | None = None,
    rough: bool = False,
) -> Solved:
    """Return the best set of cuts of one tree.

    ``known`` is a plan to begin from; with ``rough`` the answer comes sooner, with a weaker bound.

    Raises
    ------
    PlanError
        No set of cuts meets the limits and wishes; names those that collide.
    """
    nothing = evaluate(built.problem, np.zeros(built.base.size, dtype=np.bool_))
    chosen = telling_cases(built, nothing.utilisation)
    for _ in range(ROUNDS):
        part = for_cases(built, chosen)
        solution = _one(part, bounds, tree, engine, known, rough)
        known = solution.gone
        now = evaluate(built.problem, known)
        missed = now.section_cost - evaluate(part.problem, known).section_cost
        short = np.flatnonzero(missed > MISSED_H)
        if short.size == 0:
            break
        chosen = np.unique(np.concatenate([chosen, _worst_cases(built, now, short)]))
    bound = min(float(solution.bound_h), now.objective_h)
    gained = nothing.objective_h - bound
    gap = now.objective_h - bound
    if not math.isfinite(bound):
        within = math.nan
    else:
        within = 0.0 if gained <= 1e-6 else max(0.0, gap / gained)
    solution = replace(solution, objective_h=now.objective_h)
    return Solved(built, solution, now, nothing.objective_h, bound, within)


def _worst_cases(built: Built, now: Evaluation, sections: Ints) -> Ints:
    """Return the dearest load case at each of some sections, as indices into the built problem."""
    p = built.problem
    u = now.utilisation.T[sections]
    lines = p.slope[sections] * u[:, :, None] + p.intercept[sections]
    return np.asarray(np.unique(np.argmax(lines.max(axis=-1), axis=1)), dtype=np.int64)


def _one(
    part: Built, bounds: Limits, tree: str, engine: Engine, known: Bools | None, rough: bool
) -> Solution:
    """Solve, and put an impossible set of wishes into words."""
    names: tuple[str, ...]
    try:
        solution = solve(part.problem, engine=engine, start=known, rough=rough)
        if math.isfinite(solution.objective_h):
            return solution
        names = colliding(part.problem)
    except PlanError:
        names = colliding(part.problem)
        if not names:  # no wish stands against another: the search was cut short
            raise
    alone = _asked(part)
    dose = float(alone.leaf_m2) / max(bounds.live_leaf_m2, 1e-9)
    # all the limits that the wishes alone break, then any that a wish breaks only with another
    broken = [name for name in alone.violated if name not in ("balance", "keep")]
    names = tuple(dict.fromkeys([*broken, *names]))
    said = [say_binding(name, dose, bounds, float(alone.wound_cm2)) for name in names]
    raise PlanError(
        f"No plan for tree {tree} meets all that is asked: {'; '.join(said) or 'the wishes'}.",
        "Drop a wish, or spread the work over more seasons.",
    )


def _asked(part: Built) -> Evaluation:
    """Return what the forced cuts alone come to."""
    p = part.problem
    return evaluate(p, closed(p, p.forced[None])[0])

"""Find the best set of cuts, prove how good it is, and say which limits bind or collide."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from limbwright.cuts.evaluate import evaluate, prices
from limbwright.cuts.fast import (
    EXCHANGED,
    STARTS,
    all_plans,
    best_of,
    closed,
    improve,
    rounded,
    worth_trying,
)
from limbwright.cuts.problem import LIMITS, Problem
from limbwright.cuts.reach import Reach, hold, risk_of_changes
from limbwright.cuts.relaxation import Ended, Relaxation
from limbwright.errors import PlanError
from limbwright.model.skeleton import Bools

__all__ = ["Solution", "colliding", "next_best", "solve", "without"]

ROUNDS = 30
"""Rounds of whole solving before the best plan so far is returned with its bound."""
MODEL_SHARE = 0.8
"""Share of the gap the solver may leave in its model; the rest is for planes still missing."""
LOOSE_GAP = 0.1
"""Gap of the fast engine where it must fall back on whole decisions to meet the limits at all."""
ROUGH_ROUNDS = 3
"""Rounds of planes for a rough answer: with planes from before, later ones hardly move it."""
ENOUGH = 0.02
"""Gap at which the fast engine stops looking: nearer the linear bound than most plans can be."""


@dataclass(frozen=True, slots=True)
class Solution:
    """A set of cuts and its certificate.

    ``gone``, ``cuts`` ``(N,)``. No plan can cost less than ``bound_h``; ``within`` is the share of
    the best possible improvement on doing nothing that could still be missing. ``binding`` names
    the limits that leave no room for a further useful cut.
    """

    gone: Bools
    cuts: Bools
    objective_h: float
    bound_h: float
    nothing_h: float
    within: float
    engine: str
    binding: tuple[str, ...]
    seconds: float


def solve(
    problem: Problem,
    *,
    engine: Literal["proof", "fast"] = "proof",
    gap: float = 0.01,
    time_limit_s: float = 10.0,
    start: Bools | None = None,
    rough: bool = False,
    model: Relaxation | None = None,
) -> Solution:
    """Return the best set of cuts within the limits.

    Where there are few plans, all of them are priced. Otherwise ``proof`` runs until no plan can be
    better by more than ``gap`` of the improvement, or the time
    is up; ``fast`` rounds the linear answer and improves it, with the linear bound. When the time
    is up, the best plan known is given with the bound proven so far. ``start`` is a plan to begin
    from; with it, ``rough`` gives an answer at once with a weaker bound, to be shown while a better
    one is worked out. ``model`` is that of the same tree asked before, other than in forced or
    forbidden limbs alone: its planes and its last answer are used again, and it is changed. The
    same problem gives the same plan on every machine unless the time limit stops the proof or a
    ``model`` brings planes along.

    Raises
    ------
    PlanError
        No set of cuts meets the limits, or none was found in the time, or the problem holds what is
        not a number; the message says which.
    """
    began = time.perf_counter()
    problem.check()
    until = began + time_limit_s
    reach = model.reach if model is not None and model.fits(problem) else Reach.of(problem)
    nothing = evaluate(problem, np.zeros(problem.nodes, dtype=np.bool_)).objective_h
    few = all_plans(problem)
    if few is not None:
        gone = best_of(problem, reach, few) if few.shape[0] else problem.forced
        if not math.isfinite(_price(problem, gone)):
            raise _impossible()
        return _told(problem, reach, gone, -math.inf, nothing, engine, began, every=True)
    if model is None or not model.restrict(problem):
        model = Relaxation(problem, reach=reach)
    linear = model.solve_linear(ROUGH_ROUNDS if rough else 30, until)
    if linear is None:
        raise _impossible()
    share, bound = linear
    enough = bound + max(gap, ENOUGH) * max(nothing - bound, 0.0)
    most = 1 if rough else EXCHANGED
    useful = worth_trying(problem, reach, share)
    begin = [*rounded(problem, reach, share)[:STARTS]]
    if start is not None:
        begin = [closed(problem, (start | problem.forced)[None])[0], *begin[:1]]
    if engine == "proof":
        # single changes make a plan good enough to begin from; the solver finds the rest
        gone = improve(problem, reach, begin[:2], useful)
        gone, bound = _prove(problem, model, gone, bound, nothing, gap, until)
        if not _price(problem, gone) - bound <= gap * max(nothing - bound, 0.0) + 1e-6:
            gone = improve(problem, reach, [gone, *begin], useful, enough_h=enough)
    else:
        gone = improve(problem, reach, begin, useful, enough_h=enough, most=most)
        if not math.isfinite(_price(problem, gone)):
            # Exchanges found no plan; whole decisions find one or prove that there is none.
            gone, bound = _prove(problem, model, gone, bound, nothing, LOOSE_GAP, until)
    return _told(problem, reach, gone, bound, nothing, engine, began)


def _told(
    problem: Problem,
    reach: Reach,
    gone: Bools,
    bound: float,
    nothing: float,
    engine: str,
    began: float,
    *,
    every: bool = False,
) -> Solution:
    """Return the plan with its certificate; ``every``: all others were priced too."""
    now = evaluate(problem, gone)
    if now.violated:
        raise PlanError(
            "No set of cuts that meets the limits was found in the time given.",
            "Allow more time, or ask which limits collide.",
        )
    bound = now.objective_h if every else min(bound, now.objective_h)
    gained = max(nothing, now.objective_h) - bound
    return Solution(
        gone=gone,
        cuts=now.cuts,
        objective_h=now.objective_h,
        bound_h=bound,
        nothing_h=nothing,
        within=0.0 if gained <= 1e-6 else (now.objective_h - bound) / gained,
        engine=engine,
        binding=_binding(problem, reach, gone),
        seconds=time.perf_counter() - began,
    )


def _prove(
    problem: Problem,
    model: Relaxation,
    gone: Bools,
    bound: float,
    nothing: float,
    gap: float,
    until: float,
) -> tuple[Bools, float]:
    """Close the gap with whole decisions, adding planes at each plan the solver proposes."""
    best = _price(problem, gone)
    model.make_whole()
    model.risk = None  # the plan in hand is priced rightly in the model before it is compared
    model.add_planes(gone.astype(np.float64))
    for _ in range(ROUNDS):
        target = max(gap * (max(nothing, best) - bound if math.isfinite(best) else 1.0), 1e-7)
        if best - bound <= target or time.perf_counter() >= until:
            break
        found = model.solve_whole(MODEL_SHARE * target, until - time.perf_counter())
        if found.ended is Ended.NONE:
            if not math.isfinite(best):
                raise _impossible()
            break
        bound = max(bound, found.bound_h)
        if found.gone is None:  # the time was up before the solver had a plan of its own
            break
        price = _price(problem, found.gone)
        if price < best - 1e-12:
            gone, best = found.gone, price
        if model.add_planes(found.gone.astype(np.float64)) == 0 and price > best + target:
            break
    return gone, bound


def _impossible() -> PlanError:
    return PlanError("No set of cuts meets the limits.", "Ask which limits collide.")


def _price(problem: Problem, gone: Bools) -> float:
    now = prices(problem, gone[None])
    return math.inf if bool(now.broken.any()) else float(now.objective_h[0])


def _better(problem: Problem, one: Bools, other: Bools) -> bool:
    return _price(problem, one) < _price(problem, other)


def _binding(problem: Problem, reach: Reach, gone: Bools) -> tuple[str, ...]:
    """Name the limits that stand alone between this plan and a better one by one more cut."""
    nodes = np.flatnonzero(~gone[1:]) + 1
    if not nodes.size:
        return ()
    every = np.arange(problem.nodes)
    more = gone | ((every >= nodes[:, None]) & (every < problem.end[nodes][:, None]))
    risk = risk_of_changes(problem, reach, hold(problem, reach, gone), more)
    found = prices(problem, more, risk)
    here = _price(problem, gone)
    useful = found.objective_h < here - 1e-6
    alone = found.broken.sum(axis=1) == 1
    stopped = found.broken[useful & alone].any(axis=0)
    return tuple(name for name, hit in zip(LIMITS, stopped, strict=True) if hit)


def colliding(problem: Problem) -> tuple[str, ...]:
    """Return the fewest limits that must be relaxed before any plan meets the rest.

    Sets are tried by size, so none smaller will do; of two as small, the one told first in
    `LIMITS`. Empty where the limits can all be met. A deletion filter (Chinneck & Dravnieks
    1991) would name one clash and leave the next for the next try.
    """
    for relaxed in _by_size():
        if _feasible(problem, frozenset(relaxed)):
            return relaxed
    return LIMITS


def _by_size() -> Iterator[tuple[str, ...]]:
    for size in range(len(LIMITS)):
        yield from combinations(LIMITS, size)


def _feasible(problem: Problem, relaxed: frozenset[str]) -> bool:
    model = Relaxation(problem, relaxed=relaxed, price=False)
    model.risk = np.full(problem.groups, np.inf)  # no risk planes: only the limits matter
    model.make_whole()
    for _ in range(ROUNDS):
        found = model.solve_whole(1e-9, 10.0)
        if found.gone is None:  # none there, or none found: neither may be promised
            return False
        model.risk = np.full(problem.groups, np.inf)
        if model.add_planes(found.gone.astype(np.float64)) == 0:
            return True
    return True


def next_best(problem: Problem, solution: Solution, gap: float = 0.02) -> Solution | None:
    """Return the best plan that leaves at least one of the limbs this plan takes, or None."""
    cuts = solution.cuts & ~problem.forced
    if not bool(cuts.any()):
        return None
    began = time.perf_counter()
    model = Relaxation(problem, leave_one=cuts)
    linear = model.solve_linear()
    if linear is None:
        return None
    bound = linear[1]
    best: Bools | None = None
    for node in np.flatnonzero(cuts):
        one = without(problem, solution.gone, int(node))
        if best is None or _better(problem, one, best):
            best = one
    assert best is not None
    try:
        gone, bound = _prove(problem, model, best, bound, solution.nothing_h, gap, began + 5.0)
    except PlanError:  # the limits leave no other plan
        return None
    if not math.isfinite(_price(problem, gone)):
        return None
    now = evaluate(problem, gone)
    gained = max(solution.nothing_h, now.objective_h) - bound
    return Solution(
        gone=gone,
        cuts=now.cuts,
        objective_h=now.objective_h,
        bound_h=min(bound, now.objective_h),
        nothing_h=solution.nothing_h,
        within=0.0 if gained <= 1e-6 else max(0.0, (now.objective_h - bound) / gained),
        engine="proof",
        binding=(),
        seconds=time.perf_counter() - began,
    )


def without(problem: Problem, gone: Bools, node: int) -> Bools:
    """Return the plan without its cut at ``node``; what is forced further out still goes."""
    out = gone.copy()
    inside = slice(node, int(problem.end[node]))
    out[inside] = False
    out[node + 1 : inside.stop] |= problem.forced[node + 1 : inside.stop]
    return np.asarray(closed(problem, out[None])[0])

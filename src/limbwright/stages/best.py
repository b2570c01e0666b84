"""The best sequence of one tree: which seasons rest, what each cuts, and how good that is proven."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limbwright.cuts.build_problem import NEGLIGIBLE_H, TELLING_SHARE
from limbwright.cuts.evaluate import section_use
from limbwright.cuts.lighting import LITTLE_H
from limbwright.cuts.problem import Problem
from limbwright.errors import PlanError
from limbwright.model.skeleton import Bools, Floats, Ints
from limbwright.stages.build import Asked
from limbwright.stages.joint import Joint
from limbwright.stages.lit import YearsLight
from limbwright.stages.price import Priced, price, sections_use
from limbwright.stages.rhythm import patterns, rhythm
from limbwright.stages.search import Bench, built_up, improve
from limbwright.stages.solve import Found, priced_h, prove, ring, roll
from limbwright.stages.years import Years, cases_of

__all__ = ["Best", "best_sequence"]

LIGHT_ROUNDS = 3  # judgement: nearly all plans stay the same after the second
CASE_ROUNDS = 4  # of taking in load cases; in practice one or two are enough
MISSED_H = 1e-3  # a load case left out that costs more than this is taken in
PLANE_ROUNDS = 8
"""Rounds of planes for a bound at most: later ones hardly raise it."""
ROLLED = 2
"""Choices of rest seasons that are worked out, those of the best bounds."""
ROLL_GAP = 0.01
"""Gap at which the solver stops on one season of the rolling years; exchanges come after."""


@dataclass(frozen=True)
class Best:
    """The sequence found: what is gone ``(Y, N)`` after each season, and what is proven of it.

    ``doses`` ``(Y,)`` are the shares each season was held to, 0 for a rest. ``within`` is the
    share of the best possible improvement on doing nothing that could still be missing.
    ``light_h`` ``(Y,)`` is what light the state after each season gives while it lasts.
    """

    gone: Bools
    doses: Floats
    priced: Priced
    objective_h: float
    nothing_h: float
    bound_h: float
    within: float
    light_h: Floats
    seconds: float


@dataclass(frozen=True)
class _Work:
    """One tree being worked on: its seasons with the load cases that tell, and their model."""

    years: Years
    model: Joint
    light: YearsLight
    choices: tuple[Floats, ...]
    nothing_h: float
    deadline: float
    gap: float
    proof: bool


def best_sequence(
    asked: Asked,
    *,
    before: Sequence[float] = (),
    proof: bool = False,
    gap: float = 0.01,
    time_limit_s: float = 30.0,
) -> Best:
    """Return the best sequence of cuts found and how near the best possible it is proven to be.

    Parameters
    ----------
    asked
        The tree over its seasons.
    before
        Doses of the seasons before the first, earliest first: a hard one asks for a light next.
    proof
        All seasons at once by whole decisions, until the gap is closed or the time is up;
        otherwise season by season.
    gap
        Share of the improvement that may be missing for a proof to end.
    time_limit_s
        Time after which the best sequence so far is given [s].

    Raises
    ------
    PlanError
        The limits and wishes leave no sequence.
    """
    began = time.perf_counter()
    whole = asked.years
    whole.check()
    nothing = np.zeros((whole.count, whole.nodes), dtype=np.bool_)
    nothing_h = price(whole, nothing).objective_h
    rule = rhythm(asked.question.settings, frail=asked.question.bounds.state.frail)
    choices = patterns(rule, whole.dose, before)
    light = YearsLight(whole, asked.question.light)
    index = [_telling(p) for p in whole.seasons]
    known: tuple[Bools, Floats] | None = None
    for _ in range(CASE_ROUNDS):
        part = cases_of(whole, index)
        levels = sorted({float(d) for one in choices for d in one if d > 0.0})
        work = _Work(
            years=part,
            model=Joint(part, doses=levels),
            light=light,
            choices=choices,
            nothing_h=nothing_h,
            deadline=began + time_limit_s,
            gap=gap,
            proof=proof,
        )
        gone, doses, bound = _solved(work, known)
        known = gone, doses
        more = _missed(whole, gone, index)
        if more is None:
            break
        index = more
    now = price(whole, gone, doses)
    light_h = light.gained_h(gone)
    objective = now.objective_h - float(light_h.sum())
    bound = min(bound, objective)
    gained = max(nothing_h, objective) - bound
    return Best(
        gone=gone,
        doses=doses,
        priced=now,
        objective_h=objective,
        nothing_h=nothing_h,
        bound_h=bound,
        within=0.0 if gained <= 1e-6 else (objective - bound) / gained,
        light_h=light_h,
        seconds=time.perf_counter() - began,
    )


def _cost(p: Problem, use: Floats) -> Floats:
    """Price ``(C, S)`` [h] of each section under each load case alone."""
    lines = p.slope.transpose(1, 0, 2) * use[..., None] + p.intercept.transpose(1, 0, 2)
    return np.asarray(np.maximum(lines.max(axis=-1), 0.0) * p.section_cost_h)


def _telling(p: Problem) -> Ints:
    """Return the load cases worst, or nearly so, at some section of the uncut tree."""
    if not p.sections:
        return np.zeros(1, dtype=np.int64)
    cost = _cost(p, section_use(p, np.ones((1, p.nodes)))[0])
    worst = cost.max(axis=0)
    near = (cost >= TELLING_SHARE * worst) & (worst > NEGLIGIBLE_H)
    chosen = np.flatnonzero(near.any(axis=1))
    return chosen if chosen.size else np.zeros(1, dtype=np.int64)


def _missed(whole: Years, gone: Bools, index: list[Ints]) -> list[Ints] | None:
    """Return the load cases and those the sequence turns out to need; None where none is new."""
    found, fresh = [], False
    for y, p in enumerate(whole.seasons):
        more = index[y]
        if p.sections:
            cost = _cost(p, sections_use(whole, gone[None], y)[0])
            cost[:, gone[y, p.section_node]] = 0.0
            short = (cost.max(axis=0) - cost[index[y]].max(axis=0)) * whole.weight[y]
            at = np.flatnonzero(short > MISSED_H)
            fresh |= bool(at.size)
            more = np.unique(np.concatenate([more, cost[:, at].argmax(axis=0)]))
        found.append(more)
    return found if fresh else None


def _solved(work: _Work, known: tuple[Bools, Floats] | None) -> tuple[Bools, Floats, float]:
    """Return the best sequence, its doses and its bound, under the load cases of ``work``."""
    if known is None:
        # without its light known, the first sequence only says where to look
        gone, doses, bound = _answer(work, work.light.at_first(), None, first=True)
    else:
        gone, doses = known
        bound = -math.inf
    if not work.light.counts and known is None:
        return gone, doses, bound
    price_h = _true_h(work, gone, doses)
    for _ in range(LIGHT_ROUNDS):
        light_h, more_h = work.light.beside(gone)
        other, held, bound = _answer(work, light_h, (gone, doses), first=False)
        bound -= more_h
        other_h = _true_h(work, other, held)
        if other_h > price_h - LITTLE_H:
            break
        gone, doses, price_h = other, held, other_h
        if not work.light.counts or time.perf_counter() >= work.deadline:
            break
    return gone, doses, bound


def _true_h(work: _Work, gone: Bools, doses: Floats) -> float:
    """Price of a sequence with its true light [h]."""
    return priced_h(work.years, gone, doses) - float(work.light.gained_h(gone).sum())


def _answer(
    work: _Work, light_h: Floats, known: tuple[Bools, Floats] | None, *, first: bool
) -> tuple[Bools, Floats, float]:
    """Return the best sequence with light as a sum, its doses, and the bound over all choices."""
    model = work.model
    model.set_light(light_h if work.light.counts else None)
    ranked = _ranked(work)
    if not ranked:
        raise PlanError(
            "No sequence of cuts meets the limits over these seasons.",
            "Give more seasons or drop a wish; the plan of one season names what collides.",
        )
    best = None if known is None else known
    best_h = math.inf if best is None else _linear_h(work, light_h, *best)
    bounds = [b for b, _, _ in ranked]
    for k, (bound, doses, share) in enumerate(ranked):
        if best is not None and (k >= (ROLLED if first else 1) or bound > best_h):
            break
        start = known[0] if known is not None and np.array_equal(known[1], doses) else None
        gone = _worked(work, doses, share, bound, light_h, start, roll_too=first)
        if gone is None:
            continue
        found_h = _linear_h(work, light_h, gone, doses)
        if found_h < best_h:
            best, best_h = (gone, doses), found_h
    if best is None or (work.proof and not (first and work.light.counts)):
        best, best_h, bounds = _proven(work, ranked, best, best_h, light_h)
    if best is None:
        raise PlanError("No sequence that meets the limits was found.", "Allow more time.")
    return best[0], best[1], min(bounds)


def _linear_h(work: _Work, light_h: Floats, gone: Bools, doses: Floats) -> float:
    return priced_h(work.years, gone, doses, light_h if work.light.counts else None)


def _ranked(work: _Work) -> list[tuple[float, Floats, Floats]]:
    """Return bound [h], doses and share gone of each choice of rests that can be, best first."""
    out = []
    for doses in work.choices:
        work.model.hold_to(doses)
        linear = work.model.solve_linear(PLANE_ROUNDS, gain_h=1e-3 * max(work.nothing_h, 1.0))
        if linear is not None:
            out.append((linear[1], doses, linear[0]))
    return sorted(out, key=lambda one: one[0])


def _worked(
    work: _Work,
    doses: Floats,
    share: Floats,
    bound: float,
    light_h: Floats,
    start: Bools | None,
    *,
    roll_too: bool,
) -> Bools | None:
    """Return the best sequence found for one choice of rests, or None."""
    years, model = work.years, work.model
    light = light_h if work.light.counts else None
    model.hold_to(doses)
    may = ring(years, share)
    bench = Bench(years, doses, light, may)
    tries = [] if start is None else [start]
    if roll_too:
        rolled = roll(
            years, model, work.nothing_h, bound, may=may, gap=ROLL_GAP, light_h=light
        )
        tries += [] if rolled is None else [rolled]
    tries.append(built_up(bench, share))
    ends = [improve(bench, one, until=work.deadline) for one in tries]
    ends.sort(key=lambda one: priced_h(years, one, doses, light))
    return ends[0] if math.isfinite(priced_h(years, ends[0], doses, light)) else None


def _proven(
    work: _Work,
    ranked: list[tuple[float, Floats, Floats]],
    best: tuple[Bools, Floats] | None,
    best_h: float,
    light_h: Floats,
) -> tuple[tuple[Bools, Floats] | None, float, list[float]]:
    """Prove every choice of rests that could still be better, all seasons at once."""
    light = light_h if work.light.counts else None
    bounds = []
    for bound, doses, _ in ranked:
        target = work.gap * max(work.nothing_h - bound, 0.0)
        if best is not None and bound >= best_h - target:
            bounds.append(bound)
            continue
        work.model.hold_to(doses)
        nothing = np.zeros((work.years.count, work.years.nodes), dtype=np.bool_)
        start = best[0] if best is not None and np.array_equal(best[1], doses) else nothing
        begin = Found(start, priced_h(work.years, start, doses, light), bound)
        found = prove(
            work.years,
            work.model,
            begin,
            work.nothing_h,
            gap=work.gap,
            time_limit_s=max(work.deadline - time.perf_counter(), 0.01),
            light_h=light,
        )
        bounds.append(found.bound_h)
        if found.objective_h < best_h:
            best, best_h = (found.gone, doses), found.objective_h
    return best, best_h, bounds

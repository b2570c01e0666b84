"""The best sequence of one tree: which seasons rest, what each cuts, and what is proven of it."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass

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
from limbwright.stages.rhythm import Rhythm, patterns, rhythm
from limbwright.stages.search import Bench, built_up, improve
from limbwright.stages.solve import Found, prove, ring, roll
from limbwright.stages.years import Years, cases_of

__all__ = ["Best", "best_of_years", "best_sequence"]

LIGHT_ROUNDS = 3  # judgement: nearly all plans stay the same after the second
CASE_ROUNDS = 4  # of taking in load cases; in practice one or two are enough
MISSED_H = 1e-3  # a load case left out that costs more than this is taken in
PLANE_ROUNDS = 8
"""Rounds of planes for a bound at most: later ones hardly raise it."""
ROUGH_ROUNDS = 3
"""Rounds of planes to rank the choices of rest seasons, of which the best are worked out."""
LITTLE_SHARE = 1e-3
"""A bound that rises by less than this share of the price of doing nothing is left as it is."""
ROLL_GAP = 0.01
"""Gap at which the solver stops on one season of the rolling years; exchanges come after."""


START_GAP = 0.03
"""Gap at which whole decisions stop that only give exchanges a place to begin from."""


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


@dataclass(frozen=True, slots=True)
class Ranked:
    """A choice of rests: its bound [h], its doses ``(Y,)``, share gone ``(Y, N)`` if worked out."""

    bound_h: float
    doses: Floats
    share: Floats | None


@dataclass(frozen=True)
class _Work:
    """One tree being worked on: its seasons with the load cases that tell, and their model."""

    years: Years
    model: Joint
    light: YearsLight
    rule: Rhythm
    before: tuple[float, ...]
    choices: tuple[Floats, ...]
    nothing_h: float
    deadline: float
    gap: float
    proof: bool

    @property
    def little_h(self) -> float:
        """Rise of a bound that is not worth another round [h]."""
        return LITTLE_SHARE * max(abs(self.nothing_h), 1.0)

    def bench(self, light_h: Floats | None, may: Bools | None = None) -> Bench:
        """Return what sequences are weighed with, light told piece by piece."""
        if may is None:
            may = np.ones(self.years.nodes, dtype=np.bool_)
        light = light_h if self.light.counts else None
        return Bench(self.years, self.rule, self.before, light, may)

    def true_h(self, gone: Bools) -> float:
        """Price of a sequence with its true light [h]."""
        return self.bench(None).one_h(gone) - float(self.light.gained_h(gone).sum())

    def choice_of(self, gone: Bools) -> Floats:
        """Return the choice of rest seasons that has room for a sequence, the widest first."""
        now = price(self.years, gone)
        room = np.where(now.cuts.any(axis=1), np.maximum(now.dose, 1e-12), 0.0)
        for doses in self.choices:
            if bool(
                (doses >= room * (1 - 1e-9) - 1e-9).all() and ((doses > 0) | (room <= 0)).all()
            ):
                return doses
        return self.choices[0]


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
    settings, frail = asked.question.settings, asked.question.bounds.state.frail
    return best_of_years(
        asked.years,
        YearsLight(asked.years, asked.question.light),
        rhythm(settings, frail=frail),
        before=before,
        proof=proof,
        gap=gap,
        time_limit_s=time_limit_s,
    )


def best_of_years(
    whole: Years,
    light: YearsLight,
    rule: Rhythm,
    *,
    before: Sequence[float] = (),
    proof: bool = False,
    gap: float = 0.01,
    time_limit_s: float = 30.0,
) -> Best:
    """Return the same for a tree given as arrays, with its light and its rhythm."""
    began = time.perf_counter()
    whole.check()
    nothing = np.zeros((whole.count, whole.nodes), dtype=np.bool_)
    nothing_h = price(whole, nothing).objective_h
    choices = patterns(rule, whole.dose, before)
    levels = sorted({float(d) for one in choices for d in one if d > 0.0})
    index = [_telling(p) for p in whole.seasons]
    gone: Bools | None = None
    for _ in range(CASE_ROUNDS):
        part = cases_of(whole, index)
        work = _Work(
            years=part,
            model=Joint(part, doses=levels),
            light=light,
            rule=rule,
            before=tuple(before),
            choices=choices,
            nothing_h=nothing_h,
            deadline=began + time_limit_s,
            gap=gap,
            proof=proof,
        )
        gone, bound = _solved(work, gone)
        more = _missed(whole, gone, index)
        if more is None:
            break
        index = more
    assert gone is not None
    doses = work.choice_of(gone)
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


def _solved(work: _Work, gone: Bools | None) -> tuple[Bools, float]:
    """Return the best sequence and its bound under the load cases of ``work``."""
    ranked: list[Ranked] | None = None
    done = False
    if gone is None:
        # its light not yet known, the first sequence only says where to look
        gone, ranked = _first(work)
        done = not work.light.counts
    price_h = work.true_h(gone)
    for round_ in range(0 if done else LIGHT_ROUNDS):
        light_h, _ = work.light.beside(gone)
        other = _next(work, light_h, gone, roll_too=round_ == 0)
        other_h = work.true_h(other)
        if other_h > price_h - LITTLE_H:
            break
        gone, price_h = other, other_h
        if not work.light.counts or time.perf_counter() >= work.deadline:
            break
    while True:
        light_h, more_h = work.light.beside(gone)
        ranked = _ranked(work, light_h, PLANE_ROUNDS, ranked)
        bound = ranked[0].bound_h
        if not work.proof:
            return gone, bound - more_h
        other, bound = _proven(work, ranked, gone, light_h, gap=work.gap)
        other_h = work.true_h(other)
        done = other_h > price_h - LITTLE_H or not work.light.counts
        if done or time.perf_counter() >= work.deadline:
            return (other if other_h < price_h else gone), bound - more_h
        gone, price_h = other, other_h


def _first(work: _Work) -> tuple[Bools, list[Ranked]]:
    """Return a first sequence, its light reckoned cut by cut, and the choices as ranked for it."""
    light_h = work.light.at_first()
    ranked = _ranked(work, light_h, ROUGH_ROUNDS)
    if not ranked:
        raise _impossible()
    best = _begun(work, ranked[0], light_h)
    if best is None:  # exchanges found none; whole decisions find one or show that there is none
        best, _ = _proven(work, ranked, None, light_h, gap=max(START_GAP, work.gap))
    return best, ranked


def _begun(work: _Work, best: Ranked, light_h: Floats) -> Bools | None:
    """Return a sequence for the best choice of rests; None where none is found.

    Where light counts it is no more than a place to look from, and rolling waits for better light.
    """
    share, bound = best.share, best.bound_h
    if not work.light.counts:
        work.model.hold_to(best.doses)
        linear = work.model.solve_linear(PLANE_ROUNDS, gain_h=work.little_h)
        share, bound = (share, bound) if linear is None else linear
    assert share is not None
    bench = work.bench(light_h, ring(work.years, share))
    starts = [built_up(bench, share)]
    if not work.light.counts:
        rolled = roll(bench, work.model, work.nothing_h, bound, gap=ROLL_GAP)
        starts += [] if rolled is None else [rolled]
    ends = [improve(bench, one, until=work.deadline) for one in starts]
    found = min(ends, key=bench.one_h)
    return found if math.isfinite(bench.one_h(found)) else None


def _next(work: _Work, light_h: Floats, gone: Bools, *, roll_too: bool) -> Bools:
    """Return a better sequence, its light told beside ``gone``; that itself if none is found."""
    model = work.model
    model.set_light(light_h if work.light.counts else None)
    model.hold_to(work.choice_of(gone))
    linear = model.solve_linear(PLANE_ROUNDS, gain_h=work.little_h)
    if linear is None:
        return gone
    share, bound = linear
    bench = work.bench(light_h, ring(work.years, share))
    tries = [gone]
    if roll_too:
        rolled = roll(bench, model, work.nothing_h, bound, gap=ROLL_GAP)
        tries += [] if rolled is None else [rolled]
    ends = [improve(bench, one, until=work.deadline) for one in tries]
    return min(ends, key=bench.one_h)


def _ranked(
    work: _Work, light_h: Floats, rounds: int, known: list[Ranked] | None = None
) -> list[Ranked]:
    """Return the choices of rests that can be, each with its bound [h], the least bound first.

    A choice is worked out no further than to show that it is not the best, unless a proof is
    asked for. ``known`` is an earlier ranking: its order helps, and without light its bounds hold.
    """
    work.model.set_light(light_h if work.light.counts else None)
    if known is None:
        known = [Ranked(-math.inf, doses, None) for doses in work.choices]
    out: list[Ranked] = []
    least = math.inf
    for one in known:
        if one.bound_h >= least and not (work.light.counts or work.proof):
            out.append(one)
            continue
        work.model.hold_to(one.doses)
        enough = math.inf if work.proof else least
        linear = work.model.solve_linear(rounds, gain_h=work.little_h, enough_h=enough)
        if linear is not None:
            share, bound = linear
            least = min(least, bound)
            out.append(Ranked(bound, one.doses, share))
    return sorted(out, key=lambda one: one.bound_h)


def _proven(
    work: _Work,
    ranked: list[Ranked],
    best: Bools | None,
    light_h: Floats,
    *,
    gap: float,
) -> tuple[Bools, float]:
    """Prove every choice of rests that could still be better, all seasons at once."""
    bench = work.bench(light_h)
    best_h = math.inf if best is None else bench.one_h(best)
    least = math.inf
    for one in ranked:
        bound, doses = one.bound_h, one.doses
        target = gap * max(work.nothing_h - bound, 0.0)
        if best is not None and bound >= best_h - target:
            least = min(least, bound)
            continue
        work.model.hold_to(doses)
        found = prove(
            bench,
            work.model,
            Found(best, best_h, bound),
            work.nothing_h,
            gap=gap,
            time_limit_s=max(work.deadline - time.perf_counter(), 0.01),
        )
        least = min(least, found.bound_h)
        best, best_h = found.gone, found.objective_h
    if best is None:
        if math.isinf(least):  # proven of every choice of rests
            raise _impossible()
        raise PlanError("No sequence that meets the limits was found.", "Allow more time.")
    return best, least


def _impossible() -> PlanError:
    return PlanError(
        "No sequence of cuts meets the limits over these seasons.",
        "Give more seasons or drop a wish; the plan of one season names what collides.",
    )

"""The best sequence of one tree: which seasons rest, what each cuts, and what is proven of it."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.cuts.lighting import LITTLE_H
from limbwright.errors import PlanError
from limbwright.model.skeleton import Bools, Floats
from limbwright.stages.bounds import Bounds, bounds
from limbwright.stages.build import Asked
from limbwright.stages.fold import fold
from limbwright.stages.joint import Joint
from limbwright.stages.lit import YearsLight
from limbwright.stages.price import Priced, new_cuts, price
from limbwright.stages.rhythm import Rhythm, patterns, rhythm
from limbwright.stages.search import Bench, built_up, improve
from limbwright.stages.solve import Found, prove, redecide, ring, roll
from limbwright.stages.telling import missed, telling
from limbwright.stages.years import Years, cases_of

__all__ = ["Best", "best_of_years", "best_sequence"]

LIGHT_ROUNDS = 3  # judgement: nearly all plans stay the same after the second
CASE_ROUNDS = 4  # of taking in load cases; in practice one or two are enough
LITTLE_SHARE = 1e-3
"""A bound that rises by less than this share of the price of doing nothing is left as it is."""
ROLL_GAP = 0.01
"""Gap at which the solver stops on one season of the rolling years; exchanges come after."""


START_GAP = 0.03
"""Gap at which whole decisions stop that only give exchanges a place to begin from."""
POLISHED_GAP = 0.008
"""A small tree with more of the gain unproven than this has all seasons decided at once."""
POLISHED = 150
"""Pieces times seasons of a tree small enough for that (benchmarks/stages.py)."""


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

    def bench(self, light_h: Floats | None) -> Bench:
        """Return what sequences are weighed with, light told piece by piece."""
        light = light_h if self.light.counts else None
        return Bench(self.years, self.rule, self.before, light)

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
    index = [telling(p) for p in whole.seasons]
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
        more = missed(whole, gone, index)
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


def _solved(work: _Work, gone: Bools | None) -> tuple[Bools, float]:
    """Return the best sequence and its bound under the load cases of ``work``."""
    known = [] if gone is None else [gone]
    light_h = work.light.at_first() if gone is None else work.light.beside(gone)[0]
    found = _bounds(work, light_h)
    # its light not yet known, the first sequence only says where to look
    better = _looked(work, found, light_h, known, rolling=not (work.light.counts and gone is None))
    if better is None:  # whole decisions find one or show that there is none
        better, _ = _proven(work, found, None, light_h, gap=max(START_GAP, work.gap))
    gone, price_h = better, work.true_h(better)
    for round_ in range(LIGHT_ROUNDS if work.light.counts else 0):
        light_h, _ = work.light.beside(gone)
        found = _bounds(work, light_h)
        other = _looked(work, found, light_h, [gone], rolling=round_ == 0)
        if other is None or work.true_h(other) > price_h - LITTLE_H:
            break
        gone, price_h = other, work.true_h(other)
        if time.perf_counter() >= work.deadline:
            break
    told = light_h
    while True:
        light_h, more_h = work.light.beside(gone)
        if work.light.counts and not np.array_equal(told, light_h):
            found, told = _bounds(work, light_h), light_h
        gap = work.gap if work.proof else POLISHED_GAP
        open_h = price_h + more_h - found.bound_h
        small = work.years.count * work.years.nodes <= POLISHED
        if not work.proof and (open_h <= gap * (work.nothing_h - found.bound_h) or not small):
            return gone, found.bound_h - more_h
        other, bound = _proven(work, found, gone, light_h, gap=gap)
        other_h = work.true_h(other)
        done = other_h > price_h - LITTLE_H or not (work.light.counts and work.proof)
        if done or time.perf_counter() >= work.deadline:
            return (other if other_h < price_h else gone), bound - more_h
        gone, price_h = other, other_h


def _bounds(work: _Work, light_h: Floats) -> Bounds:
    """Return the bounds of the choices of rests, light told piece by piece."""
    found = bounds(
        work.model,
        work.choices,
        light_h if work.light.counts else None,
        little_h=work.little_h,
        every=work.proof,
    )
    if found is None:
        raise _impossible()
    return found


def _looked(
    work: _Work, found: Bounds, light_h: Floats, known: list[Bools], *, rolling: bool
) -> Bools | None:
    """Return the best sequence found near the linear answer and those ``known``, None for none.

    Only pieces that these touch may be cut; the rest is folded into what carries it.
    """
    years, share = work.years, found.begin.share
    assert share is not None
    may = ring(years, share)
    for one in known:
        may |= new_cuts(years, one).any(axis=0)
    small = fold(years, may)
    light = small.summed(light_h) if work.light.counts else None
    bench = Bench(small.years, work.rule, work.before, light)
    starts = [small.part(one) for one in known]
    if rolling:
        nothing, bound = work.nothing_h - small.fixed_h, found.begin.bound_h - small.fixed_h
        rolled = roll(bench, found.begin.doses, nothing, bound, gap=ROLL_GAP)
        starts += [] if rolled is None else [rolled]
    if not starts:
        starts = [built_up(bench, small.part(share))]
    ends = [improve(bench, one, until=work.deadline) for one in starts]
    best = min(ends, key=bench.one_h)
    price = bench.one_h(best)
    if not math.isfinite(price):
        return None
    nothing, bound = work.nothing_h - small.fixed_h, found.bound_h - small.fixed_h
    # where light is told anew, once is enough: with the first that is not a guess
    if rolling and price - bound > POLISHED_GAP * (nothing - bound):
        doses = work.choice_of(small.whole(best))
        again = redecide(bench, best, doses, nothing, bound, until=work.deadline)
        if bench.one_h(again) < price:
            best = improve(bench, again, until=work.deadline)
    return small.whole(best)


def _proven(
    work: _Work,
    found: Bounds,
    best: Bools | None,
    light_h: Floats,
    *,
    gap: float,
) -> tuple[Bools, float]:
    """Prove every choice of rests that could still be better, all seasons at once."""
    bench = work.bench(light_h)
    best_h = math.inf if best is None else bench.one_h(best)
    least = math.inf
    for one in found.ranked:
        bound, doses = one.bound_h, one.doses
        target = gap * max(work.nothing_h - bound, 0.0)
        if best is not None and bound >= best_h - target:
            least = min(least, bound)
            continue
        work.model.hold_to(doses)
        proven = prove(
            bench,
            work.model,
            Found(best, best_h, bound),
            work.nothing_h,
            gap=gap,
            time_limit_s=max(work.deadline - time.perf_counter(), 0.01),
        )
        least = min(least, proven.bound_h)
        best, best_h = proven.gone, proven.objective_h
    if best is None:
        if math.isinf(least):  # proven of every choice of rests
            raise _impossible()
        raise PlanError(
            "No sequence that meets the limits was found in the time there was.",
            "Give more seasons or drop a wish.",
        )
    return best, least


def _impossible() -> PlanError:
    return PlanError(
        "No sequence of cuts meets the limits over these seasons.",
        "Give more seasons or drop a wish; the plan of one season names what collides.",
    )

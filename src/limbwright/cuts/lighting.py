"""Light as a reason to cut: what the leaf that stays gains, reckoned exactly, solved in steps.

The light several cuts give together is not the sum of what each gives alone: a limb behind two
others is lit only when both are gone, and what lights leaf that goes too is no gain. The solver
needs a sum. So it is first given what each cut gives alone; the plan it finds is reckoned
exactly, and with what each cut gives or would give beside that plan it is asked again, until the
plan stays the same or gets no better. How far the sum it used was from the truth is told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from limbwright.cuts.build_problem import Built
from limbwright.cuts.cases import Engine, Solved, best_cuts
from limbwright.cuts.evaluate import cuts_of, evaluate
from limbwright.cuts.limits import Limits
from limbwright.cuts.problem import Problem
from limbwright.cuts.solve import Solution
from limbwright.light.cuts import CutLight, cut_light
from limbwright.light.sky import season_sky
from limbwright.model.site import Site
from limbwright.model.skeleton import Bools, Floats, Skeleton, State
from limbwright.trade.parameters import parameters

__all__ = [
    "Lighting",
    "Lit",
    "best_lit_cuts",
    "light_alone",
    "light_beside",
    "light_by_piece",
    "lighting",
    "lit_as_chosen",
]

ROUNDS = 4  # judgement: nearly all plans stay the same after the second
LITTLE_H = 1e-3  # a plan better by less than this is not worth another round


@dataclass(frozen=True)
class Lighting:
    """The crown in the pieces of a problem, and what light is worth.

    ``hours`` is the worth of the whole crown brought from darkness into full fruiting light;
    0 for a tree that is not to be thinned for light.
    """

    pieces: CutLight
    hours: float

    def gained(self, gone: Bools) -> Floats:
        """Return ``(K,)`` hours of light that the plans ``gone`` ``(K, N)`` give what stays."""
        if self.hours <= 0.0 or len(gone) == 0:
            return np.zeros(len(gone))
        return self.hours * self.pieces.gained(gone)


@dataclass(frozen=True, slots=True)
class Lit:
    """The best plan found with its light, and what each cut does for it.

    ``built`` has what each cut gives in light beside the plan put into its problem; ``light_h``
    ``(N,)`` is that: what the plan would lose without the cut, or gain by one more; ``whole_h``
    ``(N,)`` that with what cuts of the plan further out give, as it stands there. ``gained_h``
    is what the plan gives in all, ``alone_h`` the sum of what each of its cuts would give alone.
    """

    light: Lighting
    built: Built
    solved: Solved
    light_h: Floats
    whole_h: Floats
    gained_h: float
    alone_h: float


def lighting(skeleton: Skeleton, site: Site, built: Built, hours: float) -> Lighting:
    """Return the light of a tree in the pieces of its problem."""
    count = int(parameters("light")["sky.plan_directions"].value)
    sky = season_sky(site.latitude, clearness=site.clearness, directions=count)
    leaf = np.where(skeleton.state == State.DEAD, 0.0, skeleton.leaf_area_m2)
    return Lighting(cut_light(replace(skeleton, leaf_area_m2=leaf), sky, built.node_of), hours)


def light_alone(problem: Problem, light: Lighting, of: Bools | None = None) -> Floats:
    """Return ``(N,)`` hours of light each cut gives when it is the only one.

    ``of`` ``(N,)`` are the cuts to reckon, all if None; 0 for the others.
    """
    nodes = np.arange(problem.nodes)
    asked = nodes[1:] if of is None else np.flatnonzero(of[1:]) + 1
    gone = (nodes[None, :] >= asked[:, None]) & (nodes[None, :] < problem.end[asked, None])
    alone = np.zeros(problem.nodes)
    alone[asked] = light.gained(gone)
    return alone


def light_beside(
    problem: Problem, light: Lighting, gone: Bools, alone: Floats
) -> tuple[Floats, Floats, float]:
    """Return what each cut gives beside a plan, what the wood beyond each gives, and the total.

    The first, ``(N,)`` hours: for a cut of the plan, what is lost without it; for wood that
    stands, what one more cut adds; for wood that falls with a cut of the plan, what it would give
    alone, in the same proportion. The second, ``(N,)``: the first with that of the plan's cuts
    further out, which a cut below them takes over. ``alone`` is read only where wood goes.
    """
    nodes = np.arange(problem.nodes)
    inside = (nodes[None, :] >= nodes[:, None]) & (nodes[None, :] < problem.end[:, None])
    cut = cuts_of(problem, gone)
    asked = np.flatnonzero(cut | ~gone)[1:]
    other = np.where(cut[asked, None], gone & ~inside[asked], gone | inside[asked])
    found = light.gained(np.concatenate([gone[None], other]))
    total = float(found[0])
    beside = alone.copy()
    beside[asked] = np.where(cut[asked], total - found[1:], found[1:] - total)
    for i in np.flatnonzero(cut):
        below = np.arange(i + 1, int(problem.end[i]))
        if alone[i] > 0.0:
            beside[below] = alone[below] * beside[i] / alone[i]
    whole = beside.copy()
    for i in np.flatnonzero(~gone)[1:]:
        whole[i] += beside[i:][cut[i:] & inside[i, i:]].sum()
    return beside, whole, total


def light_by_piece(problem: Problem, whole_h: Floats) -> Floats:
    """Return hours of light ``(N,)`` piece by piece.

    ``whole_h`` ``(N,)`` is what all the wood beyond each cut gives when it goes. A piece has that
    of the cut at its base less that of the cuts next further out, so that whatever single cut
    brings pieces down, they add up to what is told of that cut.
    """
    piece = whole_h.copy()
    np.subtract.at(piece, problem.parent[1:], whole_h[1:])
    piece[0] = 0.0
    return piece


def _with(built: Built, whole_h: Floats) -> Built:
    """Return the problem with hours of light, told piece by piece."""
    p = built.problem
    gain = p.gone_gain_h + light_by_piece(p, whole_h)
    return replace(built, problem=replace(p, gone_gain_h=gain))


def best_lit_cuts(built: Built, light: Lighting, bounds: Limits, tree: str, engine: Engine) -> Lit:
    """Return the best set of cuts of one tree, their light included.

    The bound is proven for the light reckoned as a sum that is exact for the plan found and for
    each plan that differs from it by one cut.

    Raises
    ------
    PlanError
        No set of cuts meets the limits and wishes; names those that collide.
    """
    problem = built.problem
    if light.hours <= 0.0:
        solved = best_cuts(built, bounds, tree, engine)
        none = np.zeros(problem.nodes)
        return Lit(light, built, solved, none, none, 0.0, 0.0)
    alone = light_alone(problem, light)
    # a first plan only says where to look: the proof comes with the light beside it
    solved = best_cuts(_with(built, alone), bounds, tree, "fast", rough=True)
    best = _anchored(built, light, solved, alone)
    for _ in range(ROUNDS):
        # the same question, each cut's light now as it is beside the best plan known
        offset_h = best.gained_h - float(best.light_h[best.cut].sum())
        solved = best_cuts(_with(built, best.whole_h), bounds, tree, engine, known=best.gone)
        bound_h = solved.bound_h - offset_h
        gone = solved.solution.gone
        price_h = evaluate(problem, gone).objective_h - float(light.gained(gone[None])[0])
        if price_h > best.price_h - LITTLE_H:
            break
        best = _anchored(built, light, solved, alone)
    return _told(light, built, best, solved, bound_h, alone)


def lit_as_chosen(built: Built, light: Lighting, gone: Bools) -> Lit:
    """Return what a set of cuts chosen elsewhere, ``gone`` ``(N,)``, does, its light included.

    Nothing is proven of it: bound and share are not numbers.
    """
    nothing_h = evaluate(built.problem, np.zeros_like(gone)).objective_h
    now = evaluate(built.problem, gone)
    solution = Solution(gone, now.cuts, now.objective_h, math.nan, nothing_h, math.nan, "", (), 0.0)
    solved = Solved(built, solution, now, nothing_h, math.nan, math.nan)
    if light.hours <= 0.0:
        none = np.zeros(built.problem.nodes)
        return Lit(light, built, solved, none, none, 0.0, 0.0)
    alone = light_alone(built.problem, light, gone)
    return _told(light, built, _anchored(built, light, solved, alone), solved, math.nan, alone)


@dataclass(frozen=True, slots=True)
class _Anchor:
    """A plan priced with its true light, and each cut's light beside it, all in hours."""

    gone: Bools
    cut: Bools
    price_h: float
    gained_h: float
    light_h: Floats
    whole_h: Floats
    solved: Solved


def _anchored(built: Built, light: Lighting, solved: Solved, alone: Floats) -> _Anchor:
    gone = solved.solution.gone
    beside, whole, total = light_beside(built.problem, light, gone, alone)
    price = evaluate(built.problem, gone).objective_h - total
    return _Anchor(gone, cuts_of(built.problem, gone), price, total, beside, whole, solved)


def _told(
    light: Lighting, built: Built, best: _Anchor, last: Solved, bound_h: float, alone: Floats
) -> Lit:
    """Return the best plan in a problem where each cut has its true part of the light.

    ``last`` is the answer to that same problem, ``bound_h`` its bound on the true price.
    """
    lit = _with(built, best.whole_h)
    now = replace(evaluate(lit.problem, best.gone), objective_h=best.price_h)
    bound = min(bound_h, best.price_h)
    gained = last.nothing_h - bound
    if not math.isfinite(bound):
        within = math.nan
    else:
        within = 0.0 if gained <= 1e-6 else (best.price_h - bound) / gained
    solution = replace(best.solved.solution, objective_h=best.price_h)
    solved = Solved(lit, solution, now, last.nothing_h, bound, within)
    return Lit(
        light=light,
        built=lit,
        solved=solved,
        light_h=best.light_h,
        whole_h=best.whole_h,
        gained_h=best.gained_h,
        alone_h=float(alone[best.cut].sum()),
    )

"""Find the best sequence of seasons: rolling years first, all seasons at once where asked."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass

import numpy as np

from limbwright.cuts.relaxation import Ended
from limbwright.model.skeleton import Bools, Floats
from limbwright.stages.joint import Joint
from limbwright.stages.search import Bench
from limbwright.stages.turn import Turn
from limbwright.stages.years import Years

__all__ = ["Found", "prove", "redecide", "ring", "roll"]

ROUNDS = 40
"""Rounds of whole solving before the best sequence so far is taken."""
MODEL_SHARE = 0.8
"""Share of the gap the solver may leave in its model; the rest is for planes still missing."""
TURN_ROUNDS = 3
"""Rounds of planes with parts allowed before whole decisions of a season."""
AGAIN_GAP = 0.005
"""Gap of the season that is decided again. It is the first, which does most: on eight trees of 200
candidates a second one took a tenth of the time more and gained 0.1 % of the gain on two."""
AGAIN_NODES = 8
"""Branches of its tree the solver looks at for that: more took seconds and found little."""
LITTLE = 0.001
"""It must gain more than this share, or it is left as it is; exchanges find the rest."""
TOUCHED = 0.02
"""A piece whose share in the linear answer is above this may be cut, and those next to it."""


@dataclass(frozen=True, slots=True)
class Found:
    """A sequence ``(Y, N)``, or None yet; its price and a bound no sequence can be below [h]."""

    gone: Bools | None
    objective_h: float
    bound_h: float


def ring(years: Years, share: Floats) -> Bools:
    """Return ``(N,)`` pieces the linear answer ``(Y, N)`` touches, their parents and children."""
    parent = years.seasons[0].parent
    touched = share.max(axis=0) > TOUCHED
    out = touched.copy()
    out[1:] |= touched[parent[1:]]
    out[parent[1:][touched[1:]]] = True
    out[0] = False
    return np.asarray(out)


def prove(
    bench: Bench,
    model: Joint,
    start: Found,
    nothing_h: float,
    *,
    gap: float = 0.01,
    time_limit_s: float = 20.0,
) -> Found:
    """Close the gap with whole decisions in all seasons at once, held as the model is held.

    ``start`` may be a sequence of other rest seasons; its price is what there is to beat, and the
    bound told is the least a sequence of these rest seasons can cost.
    """
    until = time.perf_counter() + time_limit_s
    gone, best, bound = start.gone, start.objective_h, start.bound_h
    model.make_whole()
    model.risk = None
    if gone is not None:
        model.add_planes(gone.astype(np.float64))
    for _ in range(ROUNDS):
        reach = max(nothing_h, best) - bound if math.isfinite(best) else 1.0
        target = max(gap * reach, 1e-7)
        if best - bound <= target or time.perf_counter() >= until:
            break
        below = best - MODEL_SHARE * target
        found = model.solve_whole(MODEL_SHARE * target, until - time.perf_counter(), below_h=below)
        if found.ended is Ended.NONE:
            bound = max(bound, below)  # no sequence that rests so is better by that much
            break
        bound = max(bound, min(found.bound_h, below))
        if found.gone is None:
            break
        price = bench.one_h(found.gone)
        if price < best - 1e-12:
            gone, best = found.gone, price
        if model.add_planes(found.gone.astype(np.float64)) == 0 and price > best + target:
            break
    return Found(gone, best, min(bound, best))


def roll(
    bench: Bench,
    doses: Floats,
    nothing_h: float,
    bound_h: float,
    *,
    gap: float = 0.005,
    season_limit_s: float = 5.0,
) -> Bools | None:
    """Return a sequence found season by season, each with all later years' loads in view.

    In its turn only that season's cuts are free: what was cut stays cut, and later seasons make
    none. ``doses`` ``(Y,)`` are those the seasons are held to, 0 for a rest. None where the limbs
    that must go cannot.
    """
    years = bench.years
    fixed = np.zeros((years.count, years.nodes), dtype=np.bool_)
    target = max(gap * (nothing_h - bound_h), 1e-7)
    for y in np.flatnonzero(doses > 0.0).tolist():
        more = bool((doses[y + 1 :] > 0.0).any())
        for must in (True, False):
            turn = Turn(years, fixed, y, doses, bench.light_h, must=must)
            found = _season(turn, target, time.perf_counter() + season_limit_s)
            if found is not None or not more:  # what must go may wait for room in a later season
                break
        if found is not None:
            fixed[y:] = found
    return fixed if math.isfinite(bench.one_h(fixed)) else None


def redecide(
    bench: Bench, gone: Bools, doses: Floats, nothing_h: float, bound_h: float, *, until: float
) -> Bools:
    """Decide the first season of work again, the others as they are.

    ``gone`` ``(Y, N)`` keeps its limits and ``doses`` ``(Y,)``; so does what is returned, which
    is never dearer.
    """
    y = next(iter(np.flatnonzero(doses > 0.0).tolist()), None)
    if y is None:
        return gone
    gain_h = nothing_h - bound_h
    least_h = LITTLE * max(gain_h, 0.0)
    turn = Turn(bench.years, gone, y, doses, bench.light_h)
    turn.stop_after(AGAIN_NODES)
    found = _season(turn, AGAIN_GAP * gain_h, until, gone[y], least_h)
    if found is None:
        return gone
    other = turn.sequence(found)
    return other if bench.one_h(other) < bench.one_h(gone) - least_h else gone


def _season(
    turn: Turn, target_h: float, until: float, start: Bools | None = None, least_h: float = 0.0
) -> Bools | None:
    """Return what is gone ``(N,)`` after the best season of a turn; None where none can be.

    With a ``start``, one is looked for that is better by ``least_h``, and that itself returned
    where none is.
    """
    turn.add_planes(turn.before if start is None else start)
    linear = turn.solve_linear(TURN_ROUNDS)
    best, bound = start, math.inf if linear is None else linear
    best_h = math.inf if start is None else turn.price_h(start) - least_h
    for _ in range(ROUNDS if bound < best_h else 0):
        below = math.inf if start is None else best_h
        left = until - time.perf_counter()
        answer = turn.solve_whole(MODEL_SHARE * target_h, left, below_h=below)
        if answer.gone is None:
            break
        bound = max(bound, answer.bound_h)
        new = turn.add_planes(answer.gone)
        price = turn.price_h(answer.gone)
        if price < best_h:
            best, best_h = answer.gone, price
        if new == 0 or best_h - bound <= target_h or time.perf_counter() >= until:
            break
    return best

"""Find the best sequence of seasons: rolling years first, all seasons at once where asked."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass

import numpy as np

from limbwright.cuts.relaxation import Ended
from limbwright.errors import PlanError
from limbwright.model.skeleton import Bools, Floats
from limbwright.stages.joint import Joint
from limbwright.stages.price import prices
from limbwright.stages.years import Years

__all__ = ["Found", "priced_h", "prove", "ring", "roll"]

ROUNDS = 40
"""Rounds of whole solving before the best sequence so far is taken."""
MODEL_SHARE = 0.8
"""Share of the gap the solver may leave in its model; the rest is for planes still missing."""
TOUCHED = 0.02
"""A piece whose share in the linear answer is above this may be cut, its parent and children too."""


@dataclass(frozen=True, slots=True)
class Found:
    """A sequence ``(Y, N)``, its price and a bound no sequence can be below [h]."""

    gone: Bools
    objective_h: float
    bound_h: float


def priced_h(years: Years, gone: Bools, doses: Floats, light_h: Floats | None = None) -> float:
    """Return the price [h] of one sequence, endless where it breaks a limit.

    ``light_h`` ``(Y, N)`` what each piece gone adds in light.
    """
    now = prices(years, gone[None], doses)
    if bool(now.broken.any()):
        return math.inf
    light = 0.0 if light_h is None else float((light_h * gone).sum())
    return float(now.objective_h[0]) - light


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
    years: Years,
    model: Joint,
    start: Found,
    nothing_h: float,
    *,
    gap: float = 0.01,
    time_limit_s: float = 20.0,
    light_h: Floats | None = None,
    may: Bools | None = None,
) -> Found:
    """Close the gap of a sequence with whole decisions in all seasons at once.

    With ``may`` ``(N,)`` only those pieces may be cut: the bound then stays that of ``start``.

    Raises
    ------
    PlanError
        The limits leave no sequence.
    """
    until = time.perf_counter() + time_limit_s
    gone, best, bound = start.gone, start.objective_h, start.bound_h
    inner = -math.inf if may is not None else bound
    model.make_whole(may=may)
    model.risk = None
    model.add_planes(gone.astype(np.float64))
    for _ in range(ROUNDS):
        floor = max(inner, bound)
        reach = max(nothing_h, best) - floor if math.isfinite(best) else 1.0
        target = max(gap * reach, 1e-7)
        if best - floor <= target or time.perf_counter() >= until:
            break
        found = model.solve_whole(MODEL_SHARE * target, until - time.perf_counter())
        if found.ended is Ended.NONE:
            if not math.isfinite(best) and may is None:
                raise PlanError("No sequence of cuts meets the limits.")
            break
        inner = max(inner, found.bound_h)
        if may is None:
            bound = max(bound, inner)
        if found.gone is None:
            break
        price = priced_h(years, found.gone, model.doses, light_h)
        if price < best - 1e-12:
            gone, best = found.gone, price
        if model.add_planes(found.gone.astype(np.float64)) == 0 and price > best + target:
            break
    return Found(gone, best, min(bound, best))


def roll(
    years: Years,
    model: Joint,
    nothing_h: float,
    bound_h: float,
    *,
    may: Bools | None = None,
    gap: float = 0.005,
    season_limit_s: float = 5.0,
    light_h: Floats | None = None,
) -> Bools | None:
    """Return a sequence found season by season, each with all later years' loads in view.

    In its turn only that season's cuts are free: what was cut stays cut, and later seasons make
    none. None where a season finds no cuts within the limits.
    """
    fixed = np.zeros((years.count, years.nodes), dtype=np.bool_)
    for y in range(years.count):
        if model.rests is not None and bool(model.rests[y]):
            fixed[y:] = fixed[y - 1] if y else False
            continue
        found = _season(years, model, fixed, y, nothing_h, bound_h, may, gap, season_limit_s, light_h)
        if found is None:
            return None
        fixed[y:] = found
    return fixed


def _season(
    years: Years,
    model: Joint,
    fixed: Bools,
    y: int,
    nothing_h: float,
    bound_h: float,
    may: Bools | None,
    gap: float,
    season_limit_s: float,
    light_h: Floats | None,
) -> Bools | None:
    """Return what is gone ``(N,)`` after the best season ``y``."""
    until = time.perf_counter() + season_limit_s
    model.make_whole(fixed=fixed, free=y, may=may)
    model.risk = None
    target = max(gap * (nothing_h - bound_h), 1e-7)
    best, best_h, bound = fixed[y], priced_h(years, fixed, model.doses, light_h), -math.inf
    if not math.isfinite(best_h):  # what must go by the end may still be standing
        best = None
    for _ in range(ROUNDS):
        if best_h - bound <= target or time.perf_counter() >= until:
            break
        answer = model.solve_whole(MODEL_SHARE * target, until - time.perf_counter())
        if answer.gone is None:
            break
        bound = max(bound, answer.bound_h)
        price = priced_h(years, answer.gone, model.doses, light_h)
        if price < best_h:
            best, best_h = answer.gone[y], price
        if model.add_planes(answer.gone.astype(np.float64)) == 0:
            break
    return best

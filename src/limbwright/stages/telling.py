"""Which load cases tell: the worst ones first, others when a sequence makes them matter."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from limbwright.cuts.build_problem import NEGLIGIBLE_H, TELLING_SHARE
from limbwright.cuts.evaluate import section_use
from limbwright.cuts.problem import Problem
from limbwright.model.skeleton import Bools, Floats, Ints
from limbwright.stages.price import sections_use
from limbwright.stages.years import Years

__all__ = ["missed", "telling"]

MISSED_H = 1e-3  # a load case left out that costs more than this is taken in


def _cost(p: Problem, use: Floats) -> Floats:
    """Price ``(C, S)`` [h] of each section under each load case alone."""
    lines = p.slope.transpose(1, 0, 2) * use[..., None] + p.intercept.transpose(1, 0, 2)
    return np.asarray(np.maximum(lines.max(axis=-1), 0.0) * p.section_cost_h)


def telling(p: Problem) -> Ints:
    """Return the load cases worst, or nearly so, at some section of the uncut tree."""
    if not p.sections:
        return np.zeros(1, dtype=np.int64)
    cost = _cost(p, section_use(p, np.ones((1, p.nodes)))[0])
    worst = cost.max(axis=0)
    near = (cost >= TELLING_SHARE * worst) & (worst > NEGLIGIBLE_H)
    chosen = np.flatnonzero(near.any(axis=1))
    return chosen if chosen.size else np.zeros(1, dtype=np.int64)


def missed(whole: Years, gone: Bools, index: Sequence[Ints]) -> list[Ints] | None:
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

"""A good plan at once: round the linear answer, then improve it by small exchanges."""

from __future__ import annotations

import numpy as np

from limbwright.cuts.evaluate import prices, risk_of_more
from limbwright.cuts.problem import Problem
from limbwright.model.skeleton import Bools, Floats, Ints

__all__ = ["closed", "improve", "rounded"]

LEVELS = (0.999, 0.9, 0.75, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.03)
"""Shares at which the linear answer is cut off; any will do, exchanges mend the rest."""
BREAKING_H = 1.0e6
"""Price of each broken limit while plans are compared: more than any plan is worth."""

SWAPPED = 8
"""Cuts dropped and cuts made instead that are tried in pairs: 64 pairs, a few milliseconds."""


def _score(problem: Problem, gone: Bools) -> Floats:
    found = prices(problem, gone)
    return np.asarray(found.objective_h + BREAKING_H * found.broken.sum(axis=1))


def closed(problem: Problem, gone: Bools) -> Bools:
    """Add to each set ``(B, N)`` everything that hangs on what is gone."""
    out = gone.copy()
    for i in range(1, problem.nodes):
        out[:, i] |= out[:, problem.parent[i]]
    return out


def rounded(problem: Problem, share: Floats) -> Bools:
    """Return the best of the linear answer's roundings, mended by dropping cuts where it breaks."""
    tries = np.stack([share >= level for level in LEVELS] + [problem.forced])
    tries[:, problem.kept_by_rule] = False
    tries |= problem.forced
    tries = closed(problem, tries)
    tries = np.unique(tries, axis=0)
    best = tries[int(np.argmin(_score(problem, tries)))]
    return _mended(problem, best)


def _mended(problem: Problem, gone: Bools) -> Bools:
    """Drop the cut that helps most until no limit is broken or nothing is left to drop."""
    current, score = gone, float(_score(problem, gone[None])[0])
    while score >= BREAKING_H:
        tries = _drops(problem, current)
        if not tries.shape[0]:
            break
        scores = _score(problem, tries)
        at = int(np.argmin(scores))
        if scores[at] >= score:
            break
        current, score = tries[at], float(scores[at])
    return current


def _cuts(problem: Problem, gone: Bools) -> Ints:
    at = np.flatnonzero(gone[1:] & ~gone[problem.parent[1:]]) + 1
    return np.asarray(at, dtype=np.int64)


def _drops(problem: Problem, gone: Bools) -> Bools:
    out = []
    for i in _cuts(problem, gone):
        if problem.forced[i : problem.end[i]].any():
            continue
        one = gone.copy()
        one[i : problem.end[i]] = False
        out.append(one)
    return np.asarray(out, dtype=np.bool_).reshape(-1, problem.nodes)


def improve(problem: Problem, gone: Bools, useful: Bools, rounds: int = 12) -> Bools:
    """Improve a plan by adding, dropping, sliding and swapping cuts until nothing helps.

    ``useful`` ``(N,)`` marks the nodes worth trying, such as those the linear answer touches.
    """
    current, score = gone, float(_score(problem, gone[None])[0])
    may = useful & ~problem.kept_by_rule
    for _ in range(rounds):
        tries, scores = _neighbours(problem, current, may)
        if not tries.shape[0]:
            break
        order = np.argsort(scores, kind="stable")
        if scores[order[0]] >= score - 1e-9:
            swapped = _swaps(problem, current, tries, scores)
            if not swapped.shape[0]:
                break
            again = _score(problem, swapped)
            at = int(np.argmin(again))
            if again[at] >= score - 1e-9:
                break
            current, score = swapped[at], float(again[at])
            continue
        current, score = tries[order[0]], float(scores[order[0]])
    return current


def _neighbours(problem: Problem, gone: Bools, may: Bools) -> tuple[Bools, Floats]:
    """One cut more, one less, or one slid a step towards the ground or the tips; their scores."""
    other = [*_drops(problem, gone)]
    for i in _cuts(problem, gone):
        if problem.forced[i]:
            continue
        opened = gone.copy()
        opened[i] = False
        other.append(opened)
        for c in np.flatnonzero(problem.parent == i):
            one = gone.copy()
            one[i : problem.end[i]] = False
            one[c : problem.end[c]] = True
            other.append(closed(problem, (one | problem.forced)[None])[0])
    fewer = np.asarray(other, dtype=np.bool_).reshape(-1, problem.nodes)
    nodes = np.flatnonzero(may & ~gone)
    every = np.arange(problem.nodes)
    more = gone | ((every >= nodes[:, None]) & (every < problem.end[nodes][:, None]))
    found = prices(problem, more, risk_of_more(problem, gone, nodes))
    scores = found.objective_h + BREAKING_H * found.broken.sum(axis=1)
    return np.concatenate([fewer, more]), np.concatenate([_score(problem, fewer), scores])


def _swaps(problem: Problem, gone: Bools, singles: Bools, scores: Floats) -> Bools:
    """Drop one cut and make another: the likeliest pairs of single changes."""
    drops = _drops(problem, gone)[:SWAPPED]
    more = singles.sum(axis=1) > gone.sum()
    good = np.flatnonzero(more)[np.argsort(scores[more] % BREAKING_H, kind="stable")[:SWAPPED]]
    out = [d | (singles[g] & ~gone) for d in drops for g in good]
    return closed(problem, np.asarray(out, dtype=np.bool_).reshape(-1, problem.nodes))

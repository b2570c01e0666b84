"""A good plan at once: round the linear answer, then improve it by small exchanges."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np

from limbwright.cuts.evaluate import Prices, prices
from limbwright.cuts.problem import Problem
from limbwright.cuts.reach import Held, Reach, hold, risk_of_changes
from limbwright.model.skeleton import Bools, Floats, Ints

__all__ = [
    "EXCHANGED",
    "STARTS",
    "all_plans",
    "best_of",
    "closed",
    "improve",
    "rounded",
    "worth_trying",
]

LEVELS = (0.999, 0.9, 0.75, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.03)
"""Shares at which the linear answer is cut off; any will do, exchanges mend the rest."""
TOUCHED = 0.02
"""A node whose linear share is above this, its parent and its children are tried by exchange."""
ALONE = 12
"""And so are this many cuts that gain most when made alone."""
LEAST_H = 1e-9
"""A change must gain more than this [h], so that rounding errors never go round in circles."""
PAIRED = 150
"""Pairs of changes tried where no single one helps: two to four milliseconds at 300 pieces."""
REFILLED, REFILLS = 8, 2
"""Plans with cuts left out that are filled anew, and cuts made in each."""
FEW = 1500
"""Trees with no more plans than this have all of them priced instead: some ten milliseconds."""
STARTS, EXCHANGED = 5, 3
"""Roundings improved by single changes, and how many of the ends by several at once: of 180 trees
(five invented holdings, 60 random) three starts left one at 92 % of the best gain, five none
below 96 %."""


@dataclass(frozen=True, slots=True)
class _Tried:
    """Plans ``(B, N)`` beside their prices [h] and how far beyond the limits they are."""

    gone: Bools
    objective_h: Floats
    excess: Floats

    def best(self) -> int:
        """Index of the plan least beyond the limits, of those the cheapest."""
        return int(np.lexsort((self.objective_h, self.excess))[0])


def excess(problem: Problem, found: Prices) -> Floats:
    """Return how far plans ``(B,)`` are beyond the limits, 0 where they keep them all."""
    p = problem
    most_kg_m = p.balance_limit_kg_m if np.isfinite(p.balance_limit_kg_m) else 1.0
    over = np.column_stack(
        [
            (found.leaf_m2 - p.dose_limit_m2) / max(float(p.leaf_m2.sum()), 1e-12),
            (found.wound_cm2 - p.wound_limit_cm2) / max(float(p.cut_area_cm2.sum()), 1e-12),
            (found.balance_kg_m - p.balance_limit_kg_m) / max(most_kg_m, 1e-12),
            (p.deadwood_min_kg - found.deadwood_kg) / max(p.deadwood_min_kg, 1e-12),
            (found.cuts.sum(axis=1) - float(p.max_cuts or 0)) / p.nodes,
            np.ones(found.leaf_m2.size),
            np.ones(found.leaf_m2.size),
        ]
    )
    return np.asarray(np.where(found.broken, np.maximum(over, 1e-12), 0.0).sum(axis=1))


def closed(problem: Problem, gone: Bools) -> Bools:
    """Add to each set ``(B, N)`` everything that hangs on what is gone."""
    out = gone.copy()
    for nodes in problem.generations:
        out[:, nodes] |= out[:, problem.parent[nodes]]
    return out


def _tried(problem: Problem, reach: Reach, held: Held, tries: Bools) -> _Tried:
    found = prices(problem, tries, risk_of_changes(problem, reach, held, tries))
    return _Tried(tries, found.objective_h, excess(problem, found))


def all_plans(problem: Problem) -> Bools | None:
    """Return every plan ``(B, N)`` that heeds the limbs kept and forced; None where many."""
    end, may = problem.end, ~problem.kept_by_rule
    count = np.ones(problem.nodes + 1)  # of ways to cut among the nodes from i on
    for i in range(problem.nodes - 1, 0, -1):
        count[i] = count[i + 1] + (count[end[i]] if may[i] else 0.0)
    if count[1] > FEW:
        return None
    plans = {problem.nodes: np.zeros((1, problem.nodes), dtype=np.bool_)}
    for i in range(problem.nodes - 1, 0, -1):
        plans[i] = plans[i + 1]
        if may[i]:
            cut = plans[int(end[i])].copy()
            cut[:, i : end[i]] = True
            plans[i] = np.concatenate([plans[i], cut])
    every = plans.get(1, plans[problem.nodes])
    return every[every[:, problem.forced].all(axis=1)]


def best_of(problem: Problem, reach: Reach, plans: Bools) -> Bools:
    """Return the plan of ``(B, N)`` least beyond the limits, of those the cheapest."""
    held = hold(problem, reach, np.zeros(problem.nodes, dtype=np.bool_))
    return np.asarray(plans[_tried(problem, reach, held, plans).best()])


def rounded(problem: Problem, reach: Reach, share: Floats) -> Bools:
    """Return the linear answer's roundings ``(R, N)``, mended where they break a limit, best first.

    A rounding is mended by leaving out cuts, first those whose loss hurts least for what it frees.
    """
    tries = np.stack([share >= level for level in LEVELS] + [problem.forced])
    tries[:, problem.kept_by_rule] = False
    tries |= problem.forced
    tries = np.unique(closed(problem, tries), axis=0)
    held = hold(problem, reach, np.zeros(problem.nodes, dtype=np.bool_))
    found = _tried(problem, reach, held, tries)
    while bool((found.excess > 0.0).any()):
        mended = np.unique(_mended(problem, reach, held, found), axis=0)
        if mended.shape == found.gone.shape and bool((mended == found.gone).all()):
            break
        found = _tried(problem, reach, held, mended)
    return found.gone[np.lexsort((found.objective_h, found.excess))]


def _mended(problem: Problem, reach: Reach, held: Held, found: _Tried) -> Bools:
    """Leave one cut out of every plan ``(B, N)`` that is beyond a limit, where that helps."""
    out = found.gone.copy()
    over = found.excess > 0.0
    drops = [_drops(problem, g) if o else out[:0] for g, o in zip(out, over, strict=True)]
    tried = _tried(problem, reach, held, np.concatenate(drops))
    first = 0
    for k, some in enumerate(drops):
        mine = slice(first, first + some.shape[0])
        first = mine.stop
        freed = found.excess[k] - tried.excess[mine]
        loss = tried.objective_h[mine] - found.objective_h[k]
        # a drop that costs nothing is taken first; others by loss for what they free
        rate = np.where(loss > 0.0, loss / np.maximum(freed, 1e-12), loss)
        rate[freed <= 1e-12] = np.inf
        if rate.size and np.isfinite(rate).any():
            out[k] = some[int(np.argmin(rate))]
    return out


def worth_trying(problem: Problem, reach: Reach, share: Floats) -> Bools:
    """Nodes ``(N,)`` to try: what the linear answer touches, next to it, or gains most alone."""
    touched = share > TOUCHED
    ring = touched.copy()
    ring[1:] |= touched[problem.parent[1:]]
    ring[problem.parent[1:][touched[1:]]] = True
    every = np.arange(problem.nodes)
    alone = (every >= every[:, None]) & (every < problem.end[:, None])
    alone[0] = False  # is never cut: doing nothing, to compare with
    none = hold(problem, reach, alone[0])
    found = _tried(problem, reach, none, alone | closed(problem, problem.forced[None]))
    gain = found.objective_h[0] - found.objective_h
    fits = (found.excess <= found.excess[0]) & (gain > 0.0)
    most = np.argsort(np.where(fits, -gain, np.inf), kind="stable")[:ALONE]
    ring[most[fits[most]]] = True
    ring[0] = False
    return np.asarray(ring)


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


def improve(
    problem: Problem,
    reach: Reach,
    starts: Sequence[Bools],
    useful: Bools,
    *,
    enough_h: float | None = None,
    most: int = EXCHANGED,
) -> Bools:
    """Improve plans by adding, dropping and sliding cuts; return the best plan found.

    ``useful`` ``(N,)`` marks the nodes worth trying, such as those the linear answer touches. With
    ``enough_h`` several cuts are then changed at once, from the best ``most`` of the plans so
    far, until one costs no more than that.
    """
    may = useful & ~problem.kept_by_rule
    ends = [_descend(problem, reach, one, may) for one in starts]
    ends.sort(key=_rank)
    if enough_h is None:
        return np.asarray(ends[0].gone[0])
    best = ends[0]
    seen: set[bytes] = set()
    for end in ends[:most]:
        if _rank(best) <= (0.0, enough_h):
            break
        if end.gone[0].tobytes() not in seen:
            seen.add(end.gone[0].tobytes())
            found = _exchange(problem, reach, end, may)
            best = min(best, found, key=_rank)
    return np.asarray(best.gone[0])


def _rank(found: _Tried) -> tuple[float, float]:
    """How far the plan in hand is beyond the limits, then its price."""
    return float(found.excess[0]), float(found.objective_h[0])


def _exchange(problem: Problem, reach: Reach, found: _Tried, may: Bools) -> _Tried:
    """Make changes of several cuts at once, and single ones after, until none helps."""
    while True:
        gone = found.gone[0]
        held = hold(problem, reach, gone)
        for more in chain([_pairs(problem, found)], _refills(problem, reach, held, found, may)):
            if not more.shape[0]:
                continue
            tried = _tried(problem, reach, held, np.concatenate([gone[None], more]))
            at = tried.best()
            if _helps(tried, at):
                found = _descend(problem, reach, tried.gone[at], may)
                break
        else:
            return found


def _descend(problem: Problem, reach: Reach, gone: Bools, may: Bools) -> _Tried:
    """Make the best single change for as long as one helps; the plan then, and its neighbours."""
    while True:
        held = hold(problem, reach, gone)
        singles = np.concatenate([gone[None], _singles(problem, gone, may)])
        found = _tried(problem, reach, held, singles)
        at = found.best()
        if not _helps(found, at):
            return found
        gone = singles[at]


def _refills(
    problem: Problem, reach: Reach, held: Held, found: _Tried, may: Bools
) -> Iterator[Bools]:
    """Plans ``(D, N)`` with a cut or two left out and the room filled anew, cut by cut."""
    gone = found.gone[0]
    drops = _drops(problem, gone)
    two = [a & b for k, a in enumerate(drops) for b in drops[:k]]
    for lacking in (drops, np.asarray(two, dtype=np.bool_).reshape(-1, problem.nodes)):
        filled = lacking[:REFILLED]
        for _ in range(filled.shape[0] and REFILLS):
            nodes = np.flatnonzero(may & ~filled.all(axis=0))
            if not nodes.size:
                return
            every = np.arange(problem.nodes)
            inside = (every >= nodes[:, None]) & (every < problem.end[nodes][:, None])
            more = filled[:, None] | inside
            tried = _tried(problem, reach, held, more.reshape(-1, problem.nodes))
            # what was left out does not come back at once, or nothing would be found
            same = (more == gone).all(axis=2)
            cost = np.where((tried.excess.reshape(same.shape) > 0.0) | same, np.inf, 0.0)
            cost += tried.objective_h.reshape(same.shape)
            at = np.argmin(cost, axis=1)
            fits = np.isfinite(cost[np.arange(at.size), at])
            filled = np.where(fits[:, None], more[np.arange(at.size), at], filled)
            yield filled


def _helps(found: _Tried, at: int) -> bool:
    """Whether plan ``at`` is better than the first, which is the one in hand."""
    nearer = found.excess[at] < found.excess[0] - 1e-12
    cheaper = found.objective_h[at] < found.objective_h[0] - LEAST_H
    return bool(nearer or (cheaper and found.excess[at] <= found.excess[0]))


def _singles(problem: Problem, gone: Bools, may: Bools) -> Bools:
    """One cut more, one less, or one slid a step towards the tips."""
    fewer = [*_drops(problem, gone)]
    for i in _cuts(problem, gone):
        if problem.forced[i]:
            continue
        opened = gone.copy()
        opened[i] = False
        fewer.append(opened)
        for c in np.flatnonzero(problem.parent == i):
            one = gone.copy()
            one[i : problem.end[i]] = False
            one[c : problem.end[c]] = True
            fewer.append(one | problem.forced)
    nodes = np.flatnonzero(may & ~gone)
    every = np.arange(problem.nodes)
    more = gone | ((every >= nodes[:, None]) & (every < problem.end[nodes][:, None]))
    other = closed(problem, np.asarray(fewer, dtype=np.bool_).reshape(-1, problem.nodes))
    return np.concatenate([other, more])


def _pairs(problem: Problem, found: _Tried) -> Bools:
    """Two single changes at once: those of least price together that the dose has room for."""
    gone, singles = found.gone[0], found.gone[1:]
    added, left = singles & ~gone, gone & ~singles
    change = found.objective_h[1:] - found.objective_h[0]
    leaf = (added.astype(float) - left) @ problem.leaf_m2
    room = problem.dose_limit_m2 * (1 + 1e-9) - float(gone @ problem.leaf_m2)
    together = change[:, None] + change
    none = (leaf[:, None] + leaf > room) & (leaf[:, None] + leaf > 0.0)
    none |= (added @ added.T) | (left @ left.T)  # one within the other: a single change does it
    together[none | (np.arange(change.size) <= np.arange(change.size)[:, None])] = np.inf
    order = np.argsort(together, axis=None, kind="stable")[:PAIRED]
    a, b = np.divmod(order[np.isfinite(together.ravel()[order])], max(change.size, 1))
    pairs = (gone & ~(left[a] | left[b])) | added[a] | added[b] | problem.forced
    return closed(problem, pairs.reshape(-1, problem.nodes))

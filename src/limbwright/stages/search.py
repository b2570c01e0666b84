"""Better sequences by small changes: a cut more, fewer, earlier, later, further out or swapped."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix

from limbwright.cuts.reach import grouped, section_prices
from limbwright.model.skeleton import Bools, Floats
from limbwright.stages.price import new_cuts, prices
from limbwright.stages.rhythm import Rhythm
from limbwright.stages.years import Years

__all__ = ["Bench", "built_up", "improve"]

LEAST_H = 1e-9
"""A change must gain more than this [h], so that rounding errors never go round in circles."""
AT_ONCE = 12
"""Changes taken from one round of trying, best first, each only if it still helps."""
PAIRED = 200
"""Pairs of changes tried where no single one helps."""
SOME = 1e-6
"""Pieces of which the linear answer takes less than this are not let in by it."""


@dataclass(frozen=True)
class Bench:
    """What sequences are weighed with: the seasons, their rhythm, their light.

    ``before`` are the doses of earlier seasons, ``light_h`` ``(Y, N)`` what each piece gone adds in
    light.
    """

    years: Years
    rule: Rhythm
    before: tuple[float, ...]
    light_h: Floats | None

    def price_h(self, tries: Bools, risk_h: Floats | None = None) -> Floats:
        """Return prices ``(B,)`` [h] of ``tries`` ``(B, Y, N)``, endless beyond the limits.

        ``risk_h`` ``(B,)`` where it is known already.
        """
        found = prices(self.years, tries, risk_h=risk_h)
        out = found.objective_h
        if self.light_h is not None:
            out = out - tries.reshape(len(tries), -1) @ self.light_h.ravel()
        dose = found.taken_m2 / np.maximum(found.standing_m2, 1e-9)
        fine = self.rule.kept(dose, np.asarray(found.cuts.any(axis=2)), self.before)
        return np.where(found.broken.any(axis=(1, 2)) | ~fine, math.inf, out)

    def one_h(self, gone: Bools) -> float:
        """Return the price [h] of one sequence ``(Y, N)``."""
        return float(self.price_h(gone[None])[0])


@dataclass(frozen=True, slots=True)
class _Held:
    """A sequence with the shares and prices of its sections worked out, season by season."""

    gone: Bools
    parts: tuple[Floats, ...]
    section_h: tuple[Floats, ...]
    price_h: float


def _hold(bench: Bench, gone: Bools) -> _Held:
    years = bench.years
    went = gone.astype(np.float64)
    parts, section_h = [], []
    for y, p in enumerate(years.seasons):
        here = years.reach[y].parts(1.0 - went[y])
        if y:
            here = here + years.leafy_reach[y].parts(years.back[y] @ went)
        each = section_prices(p, here, np.arange(p.sections))
        each[gone[y, p.section_node]] = 0.0
        parts.append(here)
        section_h.append(each)
    risk = sum(
        float(years.weight[y] * years.worth[y] * grouped(p, section_h[y]).sum())
        for y, p in enumerate(years.seasons)
    )
    price = float(bench.price_h(gone[None], np.asarray([risk]))[0])
    return _Held(gone, tuple(parts), tuple(section_h), price)


def _risk_h(bench: Bench, held: _Held, tries: Bools) -> Floats:
    """Return the risk [h] ``(B,)`` of sequences that differ a little from the one held."""
    years = bench.years
    out = np.zeros(tries.shape[0])
    change = tries.astype(np.float64) - held.gone
    for y, p in enumerate(years.seasons):
        if not p.sections:
            continue
        flat, n = years.flat[y], years.nodes
        delta = -change[:, y]
        plan, node = np.nonzero(delta)
        data = delta[plan, node]
        if y and years.regrown[y] > 0.0:
            again = np.einsum("t,btn->bn", years.back[y], change)
            more_plan, more_node = np.nonzero(again)
            data = np.concatenate([data, again[more_plan, more_node]])
            plan = np.concatenate([plan, more_plan])
            node = np.concatenate([node, n + more_node])
        first, count = flat.start[node], np.diff(flat.start)[node]
        back = np.repeat(np.arange(node.size), count)
        rows = flat.row[np.arange(back.size) - (np.cumsum(count) - count - first)[back]]
        at = flat.section[rows]
        down = tries[:, y, p.section_node]
        stands = ~down[plan[back], at]
        back, rows, at = back[stands], rows[stands], at[stands]
        key = plan[back] * p.sections + at
        touched = np.zeros(tries.shape[0] * p.sections, dtype=np.bool_)
        touched[key] = True
        pairs = np.flatnonzero(touched)
        place = np.cumsum(touched) - 1
        size = (pairs.size, flat.section.size)
        shift = csr_matrix((data[back], (place[key], rows)), shape=size) @ flat.share
        where = pairs % p.sections
        parts = held.parts[y][where] + np.asarray(shift).reshape(-1, *held.parts[y].shape[1:])
        values = np.tile(held.section_h[y], (tries.shape[0], 1))
        values.reshape(-1)[pairs] = section_prices(p, parts, where)
        values[down] = 0.0
        out += years.weight[y] * years.worth[y] * grouped(p, values).sum(axis=1)
    return out


def _priced(bench: Bench, held: _Held, tries: Bools) -> Floats:
    """Return prices ``(B,)`` [h]; the risk of what breaks a limit is not worked out."""
    out = bench.price_h(tries, np.zeros(tries.shape[0]))
    fits = np.isfinite(out)
    if bool(fits.any()):
        out[fits] += _risk_h(bench, held, tries[fits])
    return out


def improve(bench: Bench, gone: Bools, *, until: float = math.inf) -> Bools:
    """Improve a sequence ``(Y, N)`` by changes of one or two cuts until none helps.

    Raises nothing: a sequence beyond its limits is given back as it is.
    """
    held = _hold(bench, gone)
    if not math.isfinite(held.price_h):
        return gone
    while time.perf_counter() < until:
        singles = _singles(bench, held.gone)
        if not singles.shape[0]:
            break
        price = _priced(bench, held, singles)
        better = _taken(bench, held, singles, price)
        if better is None:
            pairs = _pairs(held.gone, singles, price - held.price_h)
            if not pairs.shape[0]:
                break
            better = _taken(bench, held, pairs, _priced(bench, held, pairs))
        if better is None:
            break
        held = better
    return held.gone


def _taken(bench: Bench, held: _Held, tries: Bools, price: Floats) -> _Held | None:
    """Take the best changes, best first, each as long as it helps; None where none does."""
    order = np.argsort(price, kind="stable")[:AT_ONCE]
    order = order[price[order] < held.price_h - LEAST_H]
    if not order.size:
        return None
    best = _hold(bench, tries[order[0]])
    added, left = tries[order[1:]] & ~held.gone, held.gone & ~tries[order[1:]]
    while added.shape[0]:
        both = (best.gone | added) & ~left
        may = _fit(bench.years, both) & (both != best.gone).any(axis=(1, 2))
        both, added, left = both[may], added[may], left[may]
        if not both.shape[0]:
            break
        told = _priced(bench, best, both)
        helps = told < best.price_h - LEAST_H
        if not bool(helps.any()):
            break
        best = _hold(bench, both[int(np.argmin(told))])
        added, left = added[helps], left[helps]
    return best


def _fit(years: Years, gone: Bools) -> Bools:
    """Return ``(B,)`` whether what hangs on wood that is gone is gone too, and stays so."""
    parent = years.seasons[0].parent
    hangs = (gone[:, :, parent[1:]] & ~gone[:, :, 1:]).any(axis=(1, 2))
    return np.asarray(~hangs & ~(gone[:, :-1] & ~gone[:, 1:]).any(axis=(1, 2)))


def _singles(bench: Bench, gone: Bools) -> Bools:
    """Sequences ``(B, Y, N)`` with one cut more, earlier, later, left out or further out."""
    years = bench.years
    p = years.seasons[0]
    every = np.arange(years.nodes)
    open_ = np.flatnonzero(years.dose > 0.0)
    out = []
    for y in open_:
        nodes = np.flatnonzero(~gone[y])[1:]
        inside = (every >= nodes[:, None]) & (every < p.end[nodes][:, None])
        more = np.repeat(gone[None], nodes.size, axis=0)
        more[:, y:] |= inside[:, None]
        out.append(more)
    fewer = []
    for y, i in np.argwhere(new_cuts(years, gone)):
        inside = np.zeros(years.nodes, dtype=np.bool_)
        inside[i : p.end[i]] = True
        mine = inside & gone[y] & ~(gone[y - 1] if y else False)
        for later in (*open_[open_ > y], years.count):
            one = gone.copy()
            one[y:later, mine] = False
            fewer.append(one)
        opened = gone.copy()
        opened[y:, i] = False
        fewer.append(opened)
        for c in np.flatnonzero((p.parent == i) & mine):
            one = gone.copy()
            other = mine.copy()
            other[c : p.end[c]] = False
            one[y:, other] = False
            fewer.append(one)
    if fewer:
        out.append(np.asarray(fewer))
    return np.concatenate(out) if out else np.zeros((0, *gone.shape), dtype=np.bool_)


def _pairs(gone: Bools, singles: Bools, change: Floats) -> Bools:
    """Return two single changes at once: one that frees room and one that uses it."""
    flat = singles.reshape(singles.shape[0], -1)
    now = gone.ravel()
    frees = np.flatnonzero((now & ~flat).any(axis=1) & np.isfinite(change))
    uses = np.flatnonzero((flat & ~now).any(axis=1))
    if not frees.size or not uses.size:
        return np.zeros((0, *gone.shape), dtype=np.bool_)
    # a use that has no room now has no price: it is tried last, in the order it came
    gain = np.where(np.isfinite(change[uses]), change[uses], 0.0)
    together = change[frees][:, None] + gain
    order = np.argsort(together, axis=None, kind="stable")[:PAIRED]
    a, b = np.divmod(order, uses.size)
    left, added = now & ~flat[frees[a]], flat[uses[b]] & ~now
    out = (now & ~left) | added
    return np.asarray(np.unique(out, axis=0).reshape(-1, *gone.shape))


def built_up(bench: Bench, share: Floats) -> Bools:
    """Return a sequence from the linear answer: pieces in order of their share, where they fit."""
    years = bench.years
    p = years.seasons[0]
    gone = np.zeros((years.count, years.nodes), dtype=np.bool_)
    went = np.diff(share, axis=0, prepend=np.zeros((1, years.nodes)))
    order = np.argsort(-share.max(axis=0), kind="stable")
    none = np.zeros(1)
    for i in order[share.max(axis=0)[order] > SOME]:
        for y in np.argsort(-went[:, i], kind="stable"):
            if went[y, i] <= SOME or gone[y, i]:
                continue
            one = gone.copy()
            one[y:, i : p.end[i]] = True
            if math.isfinite(float(bench.price_h(one[None], none)[0])):
                gone = one
                break
    return gone

"""A smaller tree of the same prices: pieces that are not cut are folded into what carries them.

Where cuts are only looked for at some pieces, every other piece goes and stays with the nearest
of those that carries it. All that is told of it is summed into that one, so a sequence costs the
same hours, but for what no such sequence can change.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from limbwright.cuts.problem import Problem
from limbwright.cuts.reach import grouped, section_prices
from limbwright.model.skeleton import Bools, Floats, Ints
from limbwright.stages.years import Years

__all__ = ["Folded", "fold"]


@dataclass(frozen=True)
class Folded:
    """The smaller tree ``years`` of M pieces, and the piece ``of`` ``(N,)`` each is folded into.

    A sequence of it costs ``fixed_h`` less than the same sequence of the whole tree.
    """

    years: Years
    of: Ints
    own: Ints
    fixed_h: float

    def whole(self, gone: Bools) -> Bools:
        """Return a sequence ``(..., M)`` as one of the whole tree ``(..., N)``."""
        return np.asarray(gone[..., self.of])

    def part(self, gone: Floats | Bools) -> np.ndarray:
        """Return a sequence ``(..., N)`` as one of the smaller tree; its cuts must be at M."""
        return np.asarray(gone[..., self.own])

    def summed(self, values: Floats) -> Floats:
        """Return values ``(..., N)`` summed over the pieces folded together ``(..., M)``."""
        return np.asarray(np.add.reduceat(values[..., self.order], self.start, axis=-1))

    @property
    def order(self) -> Ints:
        """Pieces ``(N,)`` in order of what they are folded into."""
        return np.argsort(self.of, kind="stable")

    @property
    def start(self) -> Ints:
        """``(M,)`` where those folded into each begin in that order."""
        return np.searchsorted(self.of[self.order], np.arange(self.own.size))


def fold(years: Years, may: Bools) -> Folded:
    """Return the tree with only the pieces where ``may`` ``(N,)`` allows a cut, and the first.

    Limbs that must go may be cut in any case.
    """
    stay = may | years.seasons[-1].forced
    for p in years.seasons[:-1]:
        stay |= p.forced
    stay[0] = True
    own = np.flatnonzero(stay)
    place = np.cumsum(stay) - 1
    first = years.seasons[0]
    of = place.copy()
    for i in np.flatnonzero(~stay).tolist():
        of[i] = of[first.parent[i]]
    small = Folded(years, of, own, 0.0)
    keep, seasons = _sections(years, small)
    fixed = 0.0
    problems = []
    for y, p in enumerate(years.seasons):
        folded = _season(p, small, keep)
        gain, rest = seasons[y]
        problems.append(replace(folded, gone_gain_h=folded.gone_gain_h + gain))
        fixed += float(years.weight[y] * years.worth[y]) * rest
    return Folded(
        years=replace(
            years,
            seasons=tuple(problems),
            once_h=small.summed(years.once_h),
            leafy_force_n=tuple(_loads(small, f) for f in years.leafy_force_n),
            leafy_moment_n_m=tuple(_loads(small, m) for m in years.leafy_moment_n_m),
        ),
        of=of,
        own=own,
        fixed_h=fixed,
    )


def _loads(small: Folded, loads: Floats) -> Floats:
    """Return loads ``(C, N, 3)`` summed over the pieces folded together."""
    return np.asarray(np.add.reduceat(loads[:, small.order], small.start, axis=1))


def _sections(years: Years, small: Folded) -> tuple[Bools, list[tuple[Floats, float]]]:
    """Return ``(S,)`` the sections to keep, and what the others cost in each state.

    Beyond the others nothing can be cut: each costs the same as long as its piece stands. That is
    told as a gain ``(M,)`` of the piece that takes it, and as what they cost together [h].
    """
    first = years.seasons[0]
    if not first.sections:
        return np.zeros(0, dtype=np.bool_), [(np.zeros(small.own.size), 0.0)] * years.count
    at = small.of[first.section_node]
    lo, hi = (np.searchsorted(small.own, one) for one in (first.section_lo, first.section_hi))
    group = first.group_of
    keep = np.zeros(first.groups, dtype=np.bool_)
    np.logical_or.at(keep, group, hi > lo)
    order, begin = first.group_order
    # sections of one group that go with different pieces are no sum
    keep |= np.maximum.reduceat(at[order], begin) != np.minimum.reduceat(at[order], begin)
    out = []
    holder = at[order[begin]]
    for y, p in enumerate(years.seasons):
        parts = years.reach[y].parts(np.ones(p.nodes))
        price = grouped(p, section_prices(p, parts, np.arange(p.sections)))
        price = np.where(keep, 0.0, price)
        gain: Floats = np.bincount(holder, weights=price, minlength=small.own.size).astype(
            np.float64
        )
        out.append((gain, float(price.sum())))
    return np.asarray(keep[group]), out


def _season(p: Problem, small: Folded, keep: Bools) -> Problem:
    of, own = small.of, small.own
    lo, hi = np.searchsorted(own, p.section_lo[keep]), np.searchsorted(own, p.section_hi[keep])
    at = p.section_node[keep]
    # what hangs beyond a section and is not cut is part of its own piece
    prefix_f = np.zeros((p.force_n.shape[0], p.nodes + 1, 3))
    prefix_m = np.zeros_like(prefix_f)
    whole_f, whole_m = _loads(small, p.force_n), _loads(small, p.moment_n_m)
    np.cumsum(p.force_n, axis=1, out=prefix_f[:, 1:])
    np.cumsum(p.moment_n_m, axis=1, out=prefix_m[:, 1:])
    part_f = np.concatenate([np.zeros_like(whole_f[:, :1]), np.cumsum(whole_f, axis=1)], axis=1)
    part_m = np.concatenate([np.zeros_like(whole_m[:, :1]), np.cumsum(whole_m, axis=1)], axis=1)
    old_lo, old_hi = p.section_lo[keep], p.section_hi[keep]
    more_f = prefix_f[:, old_hi] - prefix_f[:, old_lo] - (part_f[:, hi] - part_f[:, lo])
    more_m = prefix_m[:, old_hi] - prefix_m[:, old_lo] - (part_m[:, hi] - part_m[:, lo])
    parent = p.parent[own]
    parent[1:] = of[parent[1:]]
    group = None if p.section_group is None else p.section_group[keep]
    return replace(
        p,
        parent=parent,
        end=np.searchsorted(own, p.end[own]),
        leaf_m2=small.summed(p.leaf_m2),
        cut_area_cm2=p.cut_area_cm2[own],
        cut_cost_h=p.cut_cost_h[own],
        gone_gain_h=small.summed(p.gone_gain_h),
        pairs=of[p.pairs],
        forced=p.forced[own],
        forbidden=p.kept_by_rule[own],
        heirs=tuple(_heirs(p, small, int(i)) for i in own),
        balance_kg_m=np.stack([small.summed(p.balance_kg_m[:, k]) for k in range(2)], axis=1),
        deadwood_kg=small.summed(p.deadwood_kg),
        force_n=whole_f,
        moment_n_m=whole_m,
        section_node=of[at],
        section_lo=lo,
        section_hi=hi,
        own_force_n=p.own_force_n[:, keep] + more_f,
        own_moment_n_m=p.own_moment_n_m[:, keep] + more_m,
        point_m=p.point_m[keep],
        axis=p.axis[keep],
        area_m2=p.area_m2[keep],
        modulus_m3=p.modulus_m3[keep],
        torsion_modulus_m3=p.torsion_modulus_m3[keep],
        bending_strength_mpa=p.bending_strength_mpa[:, keep],
        shear_strength_mpa=p.shear_strength_mpa[:, keep],
        slope=p.slope[keep],
        intercept=p.intercept[keep],
        section_cost_h=p.section_cost_h[keep],
        section_group=group,
        split_per_n_m=None if p.split_per_n_m is None else p.split_per_n_m[:, keep],
    )


def _heirs(p: Problem, small: Folded, node: int) -> tuple[int, ...]:
    """Return the heirs of a piece; none where one of them goes only with what carries it."""
    at = [int(small.of[h]) for h in p.heirs[node]]
    if any(small.own[k] < node < p.end[small.own[k]] for k in at):
        return ()
    return tuple(at)

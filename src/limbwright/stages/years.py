"""The cuts of one tree over several seasons as plain arrays: one problem a season, tied in time.

The pieces are those of the first season throughout. Season y meets the tree grown y years; what
was cut before is gone, and part of its leaf has grown again at the cut.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from limbwright.cuts.build_problem import problem_for_cases
from limbwright.cuts.problem import Problem
from limbwright.cuts.reach import Reach
from limbwright.model.skeleton import Floats, Ints

__all__ = ["Years", "cases_of", "state_weights"]


@dataclass(frozen=True, slots=True)
class Flat:
    """Rows of one season's two tables: the wood of pieces 0 to N - 1, then their new growth.

    ``share`` ``(2Q, C * K)``, ``section`` ``(2Q,)``; ``row[start[i]:start[i + 1]]`` are those of
    piece i, and of ``N + i`` for what grows again of it.
    """

    share: Floats
    section: Ints
    row: Ints
    start: Ints

    @classmethod
    def of(cls, wood: Reach, leafy: Reach) -> Flat:
        """Return the table of a season."""
        many = wood.section.size
        share = np.concatenate([wood.share, leafy.share]).reshape(2 * many, -1)
        return cls(
            np.ascontiguousarray(share),
            np.concatenate([wood.section, leafy.section]),
            np.concatenate([wood.of_node, many + leafy.of_node]),
            np.concatenate([wood.node_start, many + leafy.node_start[1:]]),
        )


@dataclass(frozen=True)
class Years:
    """Y seasons of one tree; all share nodes, heirs, pairs and sections.

    ``seasons[y]`` is the tree grown y years and never cut, its own limits in it; its
    ``gone_gain_h`` is what accrues over the whole horizon with the piece gone. ``weight`` ``(Y,)``
    the share of the horizon for which the state after season y lasts, ``worth`` ``(Y,)`` what an
    hour in season y is worth now. ``once_h`` ``(Y, N)`` work that is paid once when a piece goes,
    whatever brings it down. ``regrown`` ``(Y,)`` share of the leaf taken that is back k years
    after, 0 at first; ``leafy_force_n, leafy_moment_n_m`` ``(C, N, 3)`` a season: what the leaf,
    fruit and fine wood of a piece weigh at its base, where they grow again. ``dose`` ``(Y,)`` the
    most of the live leaf then standing that a season may take.
    """

    seasons: tuple[Problem, ...]
    weight: Floats
    worth: Floats
    once_h: Floats
    regrown: Floats
    leafy_force_n: tuple[Floats, ...]
    leafy_moment_n_m: tuple[Floats, ...]
    dose: Floats

    @property
    def count(self) -> int:
        """Number of seasons Y."""
        return len(self.seasons)

    @property
    def nodes(self) -> int:
        """Number of nodes N, the never-cut one included."""
        return self.seasons[0].nodes

    @cached_property
    def leaf_m2(self) -> Floats:
        """``(Y, N)`` live leaf of each piece, uncut."""
        return np.stack([p.leaf_m2 for p in self.seasons])

    @cached_property
    def leaf_beyond_m2(self) -> Floats:
        """``(Y, N)`` live leaf of each piece and all that hangs on it."""
        p = self.seasons[0]
        prefix = np.zeros((self.count, self.nodes + 1))
        np.cumsum(self.leaf_m2, axis=1, out=prefix[:, 1:])
        return np.asarray(prefix[:, p.end] - prefix[:, np.arange(self.nodes)])

    @cached_property
    def gain_h(self) -> Floats:
        """``(Y, N)`` what a piece gone gains while the state after each season lasts."""
        each = np.stack([p.gone_gain_h for p in self.seasons])
        return np.asarray((self.weight * self.worth)[:, None] * each)

    @cached_property
    def reach(self) -> tuple[Reach, ...]:
        """What each piece does in each section it loads, season by season."""
        return tuple(Reach.of(p) for p in self.seasons)

    @cached_property
    def leafy(self) -> tuple[Problem, ...]:
        """The same trees with only what grows again on them, at the base of each piece."""
        return tuple(
            replace(
                p,
                force_n=force,
                moment_n_m=moment,
                own_force_n=np.zeros_like(p.own_force_n),
                own_moment_n_m=np.zeros_like(p.own_moment_n_m),
            )
            for p, force, moment in zip(
                self.seasons, self.leafy_force_n, self.leafy_moment_n_m, strict=True
            )
        )

    @cached_property
    def leafy_reach(self) -> tuple[Reach, ...]:
        """What the whole leaf of each piece would do again at its base."""
        return tuple(Reach.of(p) for p in self.leafy)

    @cached_property
    def flat(self) -> tuple[Flat, ...]:
        """Wood and new growth of each season in one table, by node."""
        return tuple(
            Flat.of(wood, leafy) for wood, leafy in zip(self.reach, self.leafy_reach, strict=True)
        )

    @cached_property
    def back(self) -> Floats:
        """``(Y, Y)`` lower triangle: leaf back in state y by pieces gone after state t < y.

        ``back[y] @ gone`` sums to the share grown again: of a piece gone since state t it is
        ``regrown[y - t]``, since the steps from t on add up to it.
        """
        step = np.diff(self.regrown, prepend=0.0)
        out = np.zeros((self.count, self.count))
        for y in range(self.count):
            out[y, :y] = step[y - np.arange(y)]
        return out

    @cached_property
    def gone_sums(self) -> Floats:
        """``(Y * N, 2 + 6 * Y)`` factors of what is gone, in all that is linear in it.

        Columns: gain, work paid once; then, Y of each: live leaf more standing before a season,
        leaf it takes but for new growth, dead wood gone, pieces gone that may not go, what is gone
        of the balance east and north. They hold where nothing comes back.
        """
        count, n = self.count, self.nodes
        out = np.zeros((count, n, 2 + 6 * count))
        once = self.worth[:, None] * self.once_h
        out[..., 0], out[..., 1] = self.gain_h, once
        out[:-1, :, 1] -= once[1:]
        stand, taken, dead, kept, east, north = (2 + count * k for k in range(6))
        for y, p in enumerate(self.seasons):
            out[:, :, stand + y] = self.back[y][:, None] * self.leaf_m2[y]
            out[y, :, taken + y] = self.leaf_m2[y]
            if y:
                out[y - 1, :, stand + y] -= self.leaf_m2[y]
                out[y - 1, :, taken + y] = -self.leaf_m2[y]
            out[y, :, dead + y] = p.deadwood_kg
            out[y, :, kept + y] = p.kept_by_rule
            out[y, :, east + y], out[y, :, north + y] = p.balance_kg_m.T
        return np.asarray(out.reshape(count * n, -1))

    @cached_property
    def cut_sums(self) -> Floats:
        """``(Y * N, 3 * Y)`` factors of the cuts: a season's hours worth now, wounds, number."""
        out = np.zeros((self.count, self.nodes, self.count, 3))
        for y, p in enumerate(self.seasons):
            out[y, :, y, 0] = self.worth[y] * p.cut_cost_h
            out[y, :, y, 1] = p.cut_area_cm2
            out[y, :, y, 2] = 1.0
        return out.reshape(self.count * self.nodes, -1)

    def check(self) -> None:
        """Raise where the seasons do not make one problem.

        Raises
        ------
        ValueError
            Shapes do not fit, or the seasons are not of one tree.
        PlanError
            A number is none (NaN) or endless; the message names the array and the place.
        """
        first = self.seasons[0]
        for p, force in zip(self.seasons, self.leafy_force_n, strict=True):
            p.check()
            same = np.array_equal(p.parent, first.parent) and p.heirs == first.heirs
            same &= np.array_equal(p.section_node, first.section_node)
            same &= np.array_equal(p.group_of, first.group_of)
            same &= np.array_equal(p.pairs, first.pairs)
            if not same or force.shape != p.force_n.shape:
                raise ValueError("the seasons are not of one tree")
        shapes = (self.weight, self.worth, self.regrown, self.dose)
        if any(one.shape != (self.count,) for one in shapes):
            raise ValueError("weights, regrowth and doses are not one a season")
        if self.once_h.shape != (self.count, self.nodes):
            raise ValueError("work paid once does not fit the nodes")
        if self.regrown[0] != 0.0 or bool((np.diff(self.regrown) < 0.0).any()):
            raise ValueError("what has grown again begins at 0 and never falls")


def state_weights(seasons: int, horizon_years: float) -> Floats:
    """Return ``(Y,)`` the share of the horizon each state lasts: a year, the last all the rest.

    Their sum is 1 where the horizon is not shorter than the seasons.
    """
    horizon = max(horizon_years, 1e-9)
    out = np.full(seasons, 1.0 / horizon)
    out[-1] = max(horizon - seasons + 1, min(1.0, horizon)) / horizon
    return out


def cases_of(years: Years, index: Sequence[np.ndarray]) -> Years:
    """Return the same seasons with only the load cases ``index[y]`` in each."""
    return replace(
        years,
        seasons=tuple(problem_for_cases(p, at) for p, at in zip(years.seasons, index, strict=True)),
        leafy_force_n=tuple(f[at] for f, at in zip(years.leafy_force_n, index, strict=True)),
        leafy_moment_n_m=tuple(m[at] for m, at in zip(years.leafy_moment_n_m, index, strict=True)),
    )

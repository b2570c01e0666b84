"""The rules of several seasons as rows of a linear model."""

from __future__ import annotations

from collections.abc import Sequence

import highspy
import numpy as np
from numpy.typing import NDArray

from limbwright.cuts.problem import Problem
from limbwright.cuts.quiet import quiet_solver
from limbwright.model.skeleton import Bools, Floats, Ints
from limbwright.stages.years import Years

__all__ = [
    "Rows",
    "balance_row",
    "dead_row",
    "dose_row",
    "heir_rows",
    "limit_rows",
    "new_solver",
    "static_rows",
]

Narrow = NDArray[np.int32]
INF = float(highspy.kHighsInf)
OPTIONS = (
    ("threads", 1),
    ("random_seed", 0),
    ("mip_rel_gap", 0.0),
    # of its own searches only RENS finds sequences worth its time (benchmarks/stages.py)
    ("mip_heuristic_run_rins", False),
    ("mip_heuristic_run_root_reduced_cost", False),
    ("mip_heuristic_run_feasibility_jump", False),
)
DIRECTIONS = 8
"""Sides the circle of the balance limit is drawn with at first (judgement); more come as needed."""


def new_solver() -> highspy.Highs:
    """Return a solver set as the models of seasons need it."""
    solver = quiet_solver()
    for option, value in OPTIONS:
        solver.setOptionValue(option, value)
    return solver


class Rows:
    """Rows gathered for the solver: ``low <= sum(value * column) <= high``.

    ``monotone[y - 1]`` ``(N,)`` the rows by which nothing comes back from season y on; ``dose[y]``
    the row of each level a season may be held to, and
    ``dose_high`` what it is held below.
    """

    def __init__(self) -> None:
        self.monotone: list[Ints] = []
        self.dose: list[dict[float, int]] = []
        self.dose_high: dict[int, float] = {}
        self.count = 0
        self._low: list[Floats] = []
        self._high: list[Floats] = []
        self._length: list[Ints] = []
        self._index: list[Ints] = []
        self._value: list[Floats] = []

    def block(self, low: float, high: float, index: Ints, value: Floats) -> Ints:
        """Add equally long rows, ``index`` ``(R, L)``, ``value`` ``(L,)``; return their numbers."""
        many, length = index.shape
        self._low.append(np.full(many, low))
        self._high.append(np.full(many, high))
        self._length.append(np.full(many, length))
        self._index.append(index.ravel())
        self._value.append(np.tile(value, many))
        self.count += many
        return np.arange(self.count - many, self.count)

    def add(
        self, low: float, high: float, index: Ints, value: Floats, *, distinct: bool = False
    ) -> int:
        """Add one row; equal columns are summed unless ``distinct``. Returns its number."""
        if not distinct and np.unique(index).size != index.size:
            index, back = np.unique(index, return_inverse=True)
            value = np.asarray(np.bincount(back, weights=value), dtype=np.float64)
        used = value != 0.0
        self._low.append(np.asarray([low]))
        self._high.append(np.asarray([high]))
        self._length.append(np.asarray([int(used.sum())]))
        self._index.append(index[used])
        self._value.append(value[used])
        self.count += 1
        return self.count - 1

    def many(self, low: Floats, keep: Bools, row: Ints, index: Ints, value: Floats) -> None:
        """Add rows that hold sums above ``low`` ``(R,)``, those to ``keep`` ``(R,)``.

        Entry k is ``value[k]`` of column ``index[k]`` in row ``row[k]``; no column twice in a row.
        """
        used = (value != 0.0) & keep[row]
        order = np.argsort(row[used], kind="stable")
        self._length.append(np.bincount(row[used], minlength=low.size)[keep])
        self._index.append(index[used][order])
        self._value.append(value[used][order])
        self._low.append(low[keep])
        self._high.append(np.full(self._low[-1].size, INF))
        self.count += self._low[-1].size

    def packed(self) -> tuple[Floats, Floats, Narrow, Narrow, Floats] | None:
        """Return bounds, starts, columns and values as the solver takes them; None for no rows."""
        if not self.count:
            return None
        length = np.concatenate(self._length)
        starts = np.concatenate([[0], np.cumsum(length)[:-1]]).astype(np.int32)
        index = np.concatenate(self._index).astype(np.int32)
        low, high = np.concatenate(self._low), np.concatenate(self._high)
        return low, high, starts, index, np.concatenate(self._value)


def static_rows(years: Years, first_cut: int, first_pair: int, doses: Sequence[float]) -> Rows:
    """Return every rule that is known before the first plan; see docs/method/stages.md.

    Columns are: gone, season by season; from ``first_cut`` cut; from ``first_pair`` pairs.
    ``doses`` are the levels below the years' own at which a season may be held.
    """
    rows, n = Rows(), years.nodes
    every = np.arange(n)
    carried = np.flatnonzero(years.seasons[0].parent > 0)
    up = years.seasons[0].parent[carried]
    based = np.flatnonzero(years.seasons[0].parent == 0)
    for y, p in enumerate(years.seasons):
        at, cut = y * n, first_cut + y * n
        if y:
            now = np.column_stack([at + every, at - n + every])
            rows.monotone.append(rows.block(0.0, INF, now, np.array([1.0, -1.0])))
        goes = np.column_stack([at + carried, at + up])
        rows.block(0.0, INF, goes, np.array([1.0, -1.0]))
        low = np.column_stack([cut + carried, at + carried, at + up])
        base = np.column_stack([cut + based, at + based])
        signs, base_signs = np.array([1.0, -1.0, 1.0]), np.array([1.0, -1.0])
        if y:
            low = np.column_stack([low, at - n + carried, at - n + up])
            base = np.column_stack([base, at - n + based])
            signs, base_signs = np.array([1.0, -1.0, 1.0, 1.0, -1.0]), np.array([1.0, -1.0, 1.0])
        rows.block(0.0, INF, low, signs)
        rows.block(0.0, INF, base, base_signs)
        for k, (a, b) in enumerate(p.pairs):
            pair = first_pair + y * p.pairs.shape[0] + k
            rows.add(1.0, INF, np.asarray([at + a, at + b, pair]), np.ones(3))
        limit_rows(rows, p, at, cut)
        levels = sorted({float(years.dose[y]), *(d for d in doses if d < years.dose[y])})
        rows.dose.append({d: _dose(rows, years, y, d, own=d == levels[-1]) for d in levels})
    return rows


def limit_rows(rows: Rows, p: Problem, at: int, cut: int) -> None:
    """Add wounds, number of cuts, dead wood, heirs and balance of one season.

    ``at`` is the season's first column of pieces gone, ``cut`` that of its cuts.
    """
    every = np.arange(p.nodes)
    rows.add(-INF, p.wound_limit_cm2, cut + every, p.cut_area_cm2, distinct=True)
    if p.max_cuts is not None:
        rows.add(-INF, float(p.max_cuts), cut + every[1:], np.ones(p.nodes - 1), distinct=True)
    dead_row(rows, p, at)
    heir_rows(rows, p, at)
    if np.isfinite(p.balance_limit_kg_m):
        for angle in 2 * np.pi * np.arange(DIRECTIONS) / DIRECTIONS:
            balance_row(rows, p, at, np.array([np.cos(angle), np.sin(angle)]))


def heir_rows(rows: Rows, p: Problem, at: int) -> None:
    """Let an heir stand where a cut asks for one."""
    ruled, table = p.heir_table
    many = (table >= 0).sum(axis=1)
    over = p.parent[ruled]
    for size in np.unique(many).tolist():
        for carried in (False, True):
            mine = (many == size) & ((over > 0) == carried)
            # heirs come first in the table
            nodes = [ruled[mine, None], table[mine, :size]] + [over[mine, None]] * carried
            signs = np.ones(1 + size + carried)
            signs[1 + size :] = -1.0
            rows.block(-INF, float(size), at + np.concatenate(nodes, axis=1), signs)


def dead_row(rows: Rows, p: Problem, at: int) -> None:
    """Let enough dead wood stand."""
    most = float(p.deadwood_kg.sum()) - p.deadwood_min_kg
    rows.add(-INF, most, at + np.arange(p.nodes), p.deadwood_kg, distinct=True)


def balance_row(rows: Rows, p: Problem, at: int, direction: Floats) -> None:
    """Hold the balance of what stands in one direction ``(2,)``."""
    pull = p.balance_kg_m @ direction
    low = float(pull.sum()) - p.balance_limit_kg_m
    rows.add(low, INF, at + np.arange(p.nodes), pull, distinct=True)


def dose_row(years: Years, y: int, dose: float) -> tuple[list[Ints], list[Floats], float]:
    """Return columns, values and upper bound of ``leaf taken - dose * leaf then standing``."""
    n, leaf = years.nodes, years.leaf_m2[y]
    every = np.arange(n)
    index, value = [y * n + every], [leaf.copy()]
    if y:
        index.append((y - 1) * n + every)
        value.append(dose * leaf - leaf)
        for t in range(y):
            index.append(t * n + every)
            value.append(-dose * years.back[y, t] * leaf)
    return index, value, dose * float(leaf.sum())


def _dose(rows: Rows, years: Years, y: int, dose: float, *, own: bool) -> int:
    """Add the row of one level; open until the season is held to it, if not its own."""
    index, value, high = dose_row(years, y, dose)
    row = rows.add(-INF, high if own else INF, np.concatenate(index), np.concatenate(value))
    rows.dose_high[row] = high
    return row

"""The model of one season among several: what came before is fixed, and no later season cuts.

It is the model of all seasons with every later state tied to this season's, so that a section has
one price for all of them, and only the season's own decisions are left.
"""

from __future__ import annotations

import math

import highspy
import numpy as np
from scipy.sparse import csr_matrix

from limbwright.cuts.evaluate import cuts_of
from limbwright.cuts.fast import closed
from limbwright.cuts.relaxation import MISSING, MISSING_H, TIE_H, UNIT, Ended, Solving, Whole, good
from limbwright.errors import PlanError
from limbwright.model.skeleton import Bools, Floats, Ints
from limbwright.stages.planes import planes, sections
from limbwright.stages.rows import (
    Rows,
    balance_row,
    dead_row,
    dose_row,
    heir_rows,
    limit_rows,
    new_solver,
)
from limbwright.stages.years import Years

__all__ = ["Turn"]

INF = float(highspy.kHighsInf)


class Turn(Solving):
    """One HiGHS model of season ``y``: columns gone, cut, pair, risk.

    Parameters
    ----------
    years
        The tree over its seasons.
    fixed
        ``(Y, N)`` what the other seasons take: gone after those before ``y``, and what those after
        ``y`` take besides, in each of which it goes if this season leaves it.
    y
        The season that decides.
    doses
        ``(Y,)`` the most of the leaf then standing that each season may take.
    light_h
        ``(Y, N)`` what pieces gone add in light [h].
    must
        Limbs that must go by the end, and that no later season takes, go now.
    """

    def __init__(
        self,
        years: Years,
        fixed: Bools,
        y: int,
        doses: Floats,
        light_h: Floats | None,
        *,
        must: bool = True,
    ) -> None:
        self.years, self.y, n = years, y, years.nodes
        self.before = fixed[y - 1] if y else np.zeros(n, dtype=np.bool_)
        # what is gone in state t is ``taken[t] | (free[t] & x)``, x being what is decided here
        self.taken = fixed.copy()
        self.taken[y] = False
        self.taken[y + 1 :] &= ~fixed[y]
        self.taken[y + 1 :] = closed(years.seasons[0], self.taken[y + 1 :])
        self.free = ~self.taken
        self.free[:y] = False
        first = years.seasons[0]
        self.first_pair = 2 * n
        self.first_risk = 2 * n + first.pairs.shape[0]
        self.columns = self.first_risk + first.groups
        self.planes = 0
        self.risk = np.zeros(first.groups)
        self.solver = new_solver()
        self.unit_h = max(1.0, UNIT * self._risk_h(self.before))
        self._pass_columns(light_h, must=must)
        rows = Rows()
        self._rules(rows, doses)
        self._add(rows)

    def states(self, gone: Floats | Bools) -> Floats:
        """Return ``(Y, N)`` what is gone after each season with ``gone`` ``(N,)`` after this."""
        return np.asarray(self.taken + self.free * gone.astype(np.float64))

    @property
    def later(self) -> range:
        """The states that this season's decisions make."""
        return range(self.y, self.years.count)

    def _pass_columns(self, light_h: Floats | None, *, must: bool) -> None:
        years, y, n = self.years, self.y, self.years.nodes
        p, free = years.seasons[y], self.free
        cost = np.zeros(self.columns)
        gain = years.gain_h if light_h is None else years.gain_h + light_h
        cost[:n] = years.worth[y] * years.once_h[y] - (free * gain).sum(axis=0)
        cost[n : 2 * n] = years.worth[y] * p.cut_cost_h
        lasts = years.worth * years.weight
        for k in self.later[1:]:
            # what goes now is no work for the later season that would take it
            fresh = self.taken[k] & ~(self.taken[k - 1] if k > y + 1 else False)
            saved = years.once_h[k] + years.seasons[k].cut_cost_h * cuts_of(p, self.taken[k])
            cost[:n] -= years.worth[k] * saved * fresh
        for k in self.later:
            stands = free[k, p.pairs].all(axis=1)
            cost[self.first_pair : self.first_risk] += (
                lasts[k] * years.seasons[k].pair_cost_h * stands
            )
        self.cost_h = cost.copy()
        cost /= self.unit_h
        cost[self.first_risk :] = 1.0
        cost[:n] += TIE_H * np.arange(1, n + 1) / (n * (n + 1) / 2)
        lower, upper = np.zeros(self.columns), np.ones(self.columns)
        upper[self.first_risk :] = INF
        for k in self.later:
            upper[:n][years.seasons[k].kept_by_rule] = 0.0
        lower[:n][(years.seasons[-1].forced & ~self.taken[-1] & must) | self.before] = 1.0
        # a limb both forced and kept makes the model infeasible by a row, not by its bounds
        self.clash = np.flatnonzero(lower > upper)
        lower[self.clash] = 0.0
        self._begin(cost, lower, upper)

    def _rules(self, rows: Rows, doses: Floats) -> None:
        """Add the rules, told in the pieces gone in each state and then in those decided here."""
        years, y, n = self.years, self.y, self.years.nodes
        p, now, cut = years.seasons[y], self.y * n, years.count * n
        fresh = ~self.before
        if self.clash.size:
            rows.add(1.0, INF, now + self.clash[:1], np.ones(1))
        carried = np.flatnonzero((p.parent > 0) & fresh)
        up = p.parent[carried]
        based = np.flatnonzero((p.parent == 0) & fresh)
        rows.block(0.0, INF, now + np.column_stack([carried, up]), np.array([1.0, -1.0]))
        own = np.column_stack([cut + carried, now + carried, now + up])
        rows.block(0.0, INF, own, np.array([1.0, -1.0, 1.0]))
        rows.block(0.0, INF, np.column_stack([cut + based, now + based]), np.array([1.0, -1.0]))
        for k, (a, b) in enumerate(p.pairs):
            pair = cut + n + k
            rows.add(1.0, INF, np.asarray([now + a, now + b, pair]), np.ones(3))
        limit_rows(rows, p, now, cut)
        for k in self.later:
            if k > y:
                dead_row(rows, years.seasons[k], k * n)
            works = k == y or bool((self.taken[k] & ~self.taken[k - 1]).any())
            if works and k > y:
                heir_rows(rows, years.seasons[k], k * n)
            if works:
                self._dose_row(rows, k, float(doses[k]))

    def _dose_row(self, rows: Rows, k: int, dose: float) -> None:
        """Hold season ``k`` to its dose; what grew again on wood that goes then goes with it."""
        years, n = self.years, self.years.nodes
        parent = np.maximum(years.seasons[0].parent, 0)
        index, value, high = dose_row(years, k, dose)
        if k:
            most = years.regrown[k] * years.leaf_beyond_m2[k]
            goes = years.seasons[0].parent > 0
            if k == self.y:
                goes &= self.before & ~self.before[parent]
            else:  # at most: what this season takes with what carries it does not count
                goes &= self.taken[k, parent] & ~self.taken[k - 1, parent]
            at = np.flatnonzero(goes)
            index.append(k * n + parent[at] if k == self.y else (k - 1) * n + at)
            value.append(most[at])
        rows.add(-INF, high, np.concatenate(index), np.concatenate(value))

    def _add(self, rows: Rows) -> None:
        """Give the solver rows told in the pieces gone in each state, cuts, pairs and risks."""
        packed = rows.packed()
        if packed is None:
            return
        low, high, starts, index, value = packed
        many = self.years.count * self.years.nodes
        row = np.repeat(np.arange(low.size), np.diff(starts, append=index.size))
        state = index < many
        at = np.where(state, index, 0)
        shift = np.bincount(
            row, weights=value * (state & self.taken.ravel()[at]), minlength=low.size
        )
        value = np.where(state, value * self.free.ravel()[at], value)
        index = np.where(state, index % self.years.nodes, index - many + self.years.nodes)
        table = csr_matrix((value, (row, index)), shape=(low.size, self.columns))
        table.sum_duplicates()
        table.eliminate_zeros()
        good(
            self.solver.addRows(
                low.size,
                low - shift,
                high - shift,
                table.nnz,
                table.indptr[:-1].astype(np.int32),
                table.indices.astype(np.int32),
                table.data,
            )
        )

    def price_h(self, gone: Bools) -> float:
        """Return the price [h] of what is gone ``(N,)``, but for what is the same whatever goes."""
        p = self.years.seasons[self.y]
        went = gone.astype(np.float64)
        cut = gone & ~self.before & ~gone[np.maximum(p.parent, 0)]
        stand = ~(gone[p.pairs[:, 0]] | gone[p.pairs[:, 1]])
        each = np.concatenate([went, cut.astype(np.float64), stand.astype(np.float64)])
        return float(each @ self.cost_h[: self.first_risk]) + self._risk_h(gone)

    def _risk_h(self, gone: Bools) -> float:
        """Return the price [h] of the risk of all states with the pieces gone ``(N,)``."""
        states = self.states(gone)
        each = [self._grouped(k, sections(self.years, states, k).price_h)[0] for k in self.later]
        return float(sum(one.sum() for one in each))

    def sequence(self, gone: Bools) -> Bools:
        """Return ``(Y, N)`` the whole sequence with ``gone`` ``(N,)`` after this season."""
        return np.asarray(self.taken | (self.free & gone))

    def _grouped(self, k: int, value: Floats) -> tuple[Floats, Ints]:
        """Price ``(G,)`` [h] of each group in state ``k`` and the section that makes it."""
        p = self.years.seasons[k]
        if not p.sections:
            return np.zeros(0), np.zeros(0, dtype=np.int64)
        order = np.lexsort((value, p.group_of))
        last = np.searchsorted(p.group_of[order], np.arange(p.groups), side="right") - 1
        worst = order[last]
        return value[worst], worst

    def add_planes(self, gone: Floats | Bools) -> int:
        """Touch risk and balance at ``gone`` ``(N,)``; return how many rows were new."""
        rows, years = Rows(), self.years
        states = self.states(gone)
        if self.risk.size:
            self._risk_planes(rows, states)
        for k in self.later:
            p = years.seasons[k]
            left = (1.0 - states[k]) @ p.balance_kg_m
            size = float(np.linalg.norm(left))
            if size > p.balance_limit_kg_m * (1 + 1e-9) + 1e-9:
                balance_row(rows, p, k * years.nodes, left / size)
        self._add(rows)
        self.planes += rows.count
        return rows.count

    def _risk_planes(self, rows: Rows, states: Floats) -> None:
        years, y, n = self.years, self.y, self.years.nodes
        told = [sections(years, states, k) for k in self.later]
        groups = [self._grouped(k, one.price_h) for k, one in zip(self.later, told, strict=True)]
        value = np.sum([price for price, _ in groups], axis=0)
        missing = np.flatnonzero(value > self.risk * (1.0 + MISSING) + MISSING_H * self.unit_h)
        if not missing.size:
            return
        plane, low = np.zeros(missing.size * n), np.zeros(missing.size)
        for k, one, (price, worst) in zip(self.later, told, groups, strict=True):
            # a state in which it costs nothing has no plane: less than nothing would be taken off
            new = planes(years, k, one, worst[missing], (price[missing] > 0.0) / self.unit_h)
            past, back = years.back[k] @ self.taken, years.back[k] @ self.free
            low += new.low - np.add.reduceat(new.wood * self.taken[k, new.node], new.first)
            low += np.add.reduceat(new.again * past[new.node], new.first)
            here = new.wood * self.free[k, new.node] - new.again * back[new.node]
            plane += np.bincount(new.row * n + new.node, weights=here, minlength=plane.size)
        every = np.arange(missing.size)
        risk = self.first_risk + missing + (years.count - 1) * n
        rows.many(
            low,
            np.ones(missing.size, dtype=np.bool_),
            np.concatenate([np.repeat(every, n), every]),
            np.concatenate([np.tile(y * n + np.arange(n), missing.size), risk]),
            np.concatenate([plane, np.ones(missing.size)]),
        )

    def _kind(self, kind: highspy.HighsVarType) -> None:
        n = self.years.nodes
        good(self.solver.changeColsIntegrality(n, np.arange(n, dtype=np.int32), np.full(n, kind)))

    def _read(self) -> Floats:
        values = np.asarray(self.solver.getSolution().col_value)
        self.risk = values[self.first_risk :] * self.unit_h
        return np.asarray(np.clip(values[: self.years.nodes], 0.0, 1.0))

    def solve_linear(self, rounds: int) -> float | None:
        """Add planes at the answers with parts allowed; return the bound [h], None for no answer.

        The bound leaves out what `price_h` does.
        """
        bound = -math.inf
        for _ in range(rounds):
            ended = self._run()
            if ended is Ended.NONE:
                return None
            if ended is Ended.OPEN:
                raise PlanError("The linear model of a season could not be solved.")
            bound = max(bound, self._safe(self.solver.getInfo().objective_function_value))
            if self.add_planes(self._read()) == 0:
                break
        return bound

    def solve_whole(self, gap_h: float, time_limit_s: float, *, below_h: float = math.inf) -> Whole:
        """Solve with whole decisions; return what is gone ``(N,)`` and the proven bound [h].

        Only what costs less than ``below_h`` is looked for, as in `Joint.solve_whole`.
        """
        self._kind(highspy.HighsVarType.kInteger)
        self._look_below(below_h)
        ended, values, bound = self._run_whole(gap_h, time_limit_s)
        return Whole(ended, None if values is None else self._read() > 0.5, bound)

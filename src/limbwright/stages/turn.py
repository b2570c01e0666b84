"""The model of one season among several: what came before is fixed, and no later season cuts.

It is the model of all seasons with every later state tied to this season's, so that a section has
one price for all of them, and only the season's own decisions are left.
"""

from __future__ import annotations

import highspy
import numpy as np

from limbwright.cuts.quiet import quiet_solver
from limbwright.cuts.reach import gradients, uses
from limbwright.cuts.relaxation import MISSING, MISSING_H, TIE_H, UNIT, Ended, Solving, Whole, good
from limbwright.errors import PlanError
from limbwright.model.skeleton import Bools, Floats, Ints
from limbwright.stages.price import prices, standing_leaf_m2
from limbwright.stages.rows import Rows, balance_row, dead_row, limit_rows
from limbwright.stages.years import Years

__all__ = ["Turn"]

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


class Turn(Solving):
    """One HiGHS model of season ``y``: columns gone, cut, pair, risk.

    ``fixed`` ``(Y, N)`` is what is gone after the seasons before ``y``; ``dose`` the most of the
    leaf then standing it may take; ``light_h`` ``(Y, N)`` what pieces gone add in light. ``must``:
    limbs that must go by the end go now.
    """

    def __init__(
        self,
        years: Years,
        fixed: Bools,
        y: int,
        dose: float,
        light_h: Floats | None,
        *,
        must: bool = True,
    ) -> None:
        self.years, self.y, n = years, y, years.nodes
        self.fixed = fixed
        self.before = fixed[y - 1] if y else np.zeros(n, dtype=np.bool_)
        self.first_pair = 2 * n
        first = years.seasons[0]
        self.first_risk = 2 * n + first.pairs.shape[0]
        self.columns = self.first_risk + first.groups
        self.planes = 0
        self.risk = np.zeros(first.groups)
        self.solver = quiet_solver()
        for option, value in OPTIONS:
            self.solver.setOptionValue(option, value)
        self.unit_h = max(1.0, UNIT * self._risk_h(self.before))
        self._pass_columns(light_h, must=must)
        rows = Rows()
        self._rules(rows, dose)
        self._add(rows)

    @property
    def later(self) -> range:
        """The states that this season's decisions make."""
        return range(self.y, self.years.count)

    def _pass_columns(self, light_h: Floats | None, *, must: bool) -> None:
        years, y, n = self.years, self.y, self.years.nodes
        cost = np.zeros(self.columns)
        cost[:n] = years.worth[y] * years.once_h[y] - years.gain_h[y:].sum(axis=0)
        if light_h is not None:
            cost[:n] -= light_h[y:].sum(axis=0)
        cost[n : 2 * n] = years.worth[y] * years.seasons[y].cut_cost_h
        lasts = years.worth * years.weight
        cost[self.first_pair : self.first_risk] = sum(
            lasts[k] * years.seasons[k].pair_cost_h for k in self.later
        )
        self.cost_h = cost.copy()
        cost /= self.unit_h
        cost[self.first_risk :] = 1.0
        cost[:n] += TIE_H * np.arange(1, n + 1) / (n * (n + 1) / 2)
        lower, upper = np.zeros(self.columns), np.ones(self.columns)
        upper[self.first_risk :] = INF
        for k in self.later:
            upper[:n][years.seasons[k].kept_by_rule] = 0.0
        lower[:n][(years.seasons[-1].forced & must) | self.before] = 1.0
        # a limb both forced and kept makes the model infeasible by a row, not by its bounds
        self.clash = np.flatnonzero(lower > upper)
        lower[self.clash] = 0.0
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = self.columns, 0
        lp.col_cost_, lp.col_lower_, lp.col_upper_ = cost, lower, upper
        lp.row_lower_, lp.row_upper_ = np.zeros(0), np.zeros(0)
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.zeros(1, dtype=np.int32)
        lp.a_matrix_.index_ = np.zeros(0, dtype=np.int32)
        lp.a_matrix_.value_ = np.zeros(0)
        good(self.solver.passModel(lp))

    def _rules(self, rows: Rows, dose: float) -> None:
        years, y, n = self.years, self.y, self.years.nodes
        p, every = years.seasons[y], np.arange(n)
        fresh = ~self.before
        if self.clash.size:
            rows.add(1.0, INF, self.clash[:1], np.ones(1))
        carried = np.flatnonzero((p.parent > 0) & fresh)
        up = p.parent[carried]
        based = np.flatnonzero((p.parent == 0) & fresh)
        rows.block(0.0, INF, np.column_stack([carried, up]), np.array([1.0, -1.0]))
        own = np.column_stack([n + carried, carried, up])
        rows.block(0.0, INF, own, np.array([1.0, -1.0, 1.0]))
        rows.block(0.0, INF, np.column_stack([n + based, based]), np.array([1.0, -1.0]))
        for k, (a, b) in enumerate(p.pairs):
            rows.add(1.0, INF, np.asarray([a, b, self.first_pair + k]), np.ones(3))
        limit_rows(rows, p, 0, n)
        for k in self.later[1:]:
            dead_row(rows, years.seasons[k], 0)
        # what grew again on wood that goes now goes with it
        leaf = years.leaf_m2[y].copy()
        at = np.flatnonzero(self.before & (p.parent > 0))
        at = at[fresh[p.parent[at]]]
        np.add.at(leaf, p.parent[at], years.regrown[y] * years.leaf_beyond_m2[y, at])
        most = dose * float(standing_leaf_m2(years, self.fixed)[y])
        rows.add(-INF, most + float(leaf[self.before].sum()), every, leaf)

    def _add(self, rows: Rows) -> None:
        packed = rows.packed()
        if packed is not None:
            low, high, starts, index, value = packed
            good(self.solver.addRows(low.size, low, high, index.size, starts, index, value))

    def _state(self, gone: Floats, k: int) -> tuple[Floats, Ints, Floats]:
        """Price ``(S,)`` [h], worst line and summed shares of the sections in state ``k``."""
        years, p, y = self.years, self.years.seasons[k], self.y
        kept = 1.0 - gone
        parts = years.reach[k].parts(kept)
        if k:
            again = years.back[k, :y] @ self.fixed[:y] + years.back[k, y:].sum() * gone
            parts = parts + years.leafy_reach[k].parts(again)
        lines = p.slope * uses(parts)[..., None]
        lines += p.intercept * kept[p.section_node][:, None, None]
        flat = lines.reshape(p.sections, lines.shape[1] * lines.shape[2])
        best = np.argmax(flat, axis=1) if p.sections else np.zeros(0, dtype=np.int64)
        value = np.maximum(flat[np.arange(p.sections), best], 0.0) * self._price_of(k)
        value[kept[p.section_node] <= 0.0] = 0.0
        return value, best, parts

    def _price_of(self, k: int) -> Floats:
        years = self.years
        return years.seasons[k].section_cost_h * float(years.weight[k] * years.worth[k])

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
        went = gone.astype(np.float64)
        each = [self._grouped(k, self._state(went, k)[0])[0] for k in self.later]
        return float(sum(one.sum() for one in each))

    def fits(self, gone: Bools) -> bool:
        """Whether what is gone keeps every limit that this season can."""
        tried = self.fixed.copy()
        tried[self.y :] = gone
        broken = prices(self.years, tried[None], risk_h=np.zeros(1)).broken[0]
        return not bool(broken[self.y :, :5].any() or broken[self.y :, 6].any())

    def _grouped(self, k: int, value: Floats) -> tuple[Floats, Ints]:
        """Price ``(G,)`` [h] of each group in state ``k`` and the section that makes it."""
        p = self.years.seasons[k]
        if not p.sections:
            return np.zeros(0), np.zeros(0, dtype=np.int64)
        order = np.lexsort((value, p.group_of))
        last = np.searchsorted(p.group_of[order], np.arange(p.groups), side="right") - 1
        worst = order[last]
        return value[worst], worst

    def add_planes(self, gone: Floats) -> int:
        """Touch risk and balance at ``gone`` ``(N,)``; return how many rows were new."""
        rows, years = Rows(), self.years
        if self.risk.size:
            self._risk_planes(rows, gone)
        for k in self.later:
            p = years.seasons[k]
            left = (1.0 - gone) @ p.balance_kg_m
            size = float(np.linalg.norm(left))
            if size > p.balance_limit_kg_m * (1 + 1e-9) + 1e-9:
                balance_row(rows, p, 0, left / size)
        self._add(rows)
        self.planes += rows.count
        return rows.count

    def _risk_planes(self, rows: Rows, gone: Floats) -> None:
        years, y, n = self.years, self.y, self.years.nodes
        states = [self._state(gone, k) for k in self.later]
        told = [self._grouped(k, one[0]) for k, one in zip(self.later, states, strict=True)]
        value = np.sum([one[0] for one in told], axis=0)
        missing = np.flatnonzero(value > self.risk * (1.0 + MISSING) + MISSING_H * self.unit_h)
        if not missing.size:
            return
        plane, low = np.zeros(missing.size * n), np.zeros(missing.size)
        for k, (_, best, parts), (_, worst) in zip(self.later, states, told, strict=True):
            p, reach, at = years.seasons[k], years.reach[k], worst[missing]
            case, piece = np.divmod(best[at], p.slope.shape[2])
            cost = self._price_of(k)[at] / self.unit_h
            by = gradients(parts[at, case]) * (cost * p.slope[at, case, piece])[:, None]
            row, where, first = reach.rows_of(at)
            node = reach.node[where]
            wood = np.einsum("qk,qk->q", reach.share[where, case[row]], by[row])
            wood[first] += cost * p.intercept[at, case, piece]
            low += np.add.reduceat(wood, first)
            if k and years.regrown[k] > 0.0:
                leafy = years.leafy_reach[k].share[where, case[row]]
                again = np.einsum("qk,qk->q", leafy, by[row])
                past = years.back[k, :y] @ self.fixed[:y]
                low += np.add.reduceat(again * past[node], first)
                wood -= years.back[k, y:].sum() * again
                # a section that is gone costs nothing, whatever has grown again beyond it
                wood[first] += years.regrown[k] * np.add.reduceat(np.maximum(again, 0.0), first)
            plane += np.bincount(row * n + node, weights=wood, minlength=plane.size)
        every = np.arange(missing.size)
        rows.many(
            low,
            np.ones(missing.size, dtype=np.bool_),
            np.concatenate([np.repeat(every, n), every]),
            np.concatenate([np.tile(np.arange(n), missing.size), self.first_risk + missing]),
            np.concatenate([plane, np.ones(missing.size)]),
        )

    def _kind(self, kind: highspy.HighsVarType) -> None:
        n = self.years.nodes
        good(self.solver.changeColsIntegrality(n, np.arange(n, dtype=np.int32), np.full(n, kind)))

    def _read(self) -> Floats:
        values = np.asarray(self.solver.getSolution().col_value)
        self.risk = values[self.first_risk :] * self.unit_h
        return np.asarray(np.clip(values[: self.years.nodes], 0.0, 1.0))

    def solve_linear(self, rounds: int) -> bool:
        """Add planes at the answers with parts allowed; False where nothing is feasible."""
        for _ in range(rounds):
            ended = self._run()
            if ended is Ended.NONE:
                return False
            if ended is Ended.OPEN:
                raise PlanError("The linear model of a season could not be solved.")
            if self.add_planes(self._read()) == 0:
                break
        return True

    def solve_whole(self, gap_h: float, time_limit_s: float) -> Whole:
        """Solve with whole decisions; return what is gone ``(N,)`` and the proven bound [h]."""
        self._kind(highspy.HighsVarType.kInteger)
        ended, values, bound = self._run_whole(gap_h, time_limit_s)
        return Whole(ended, None if values is None else self._read() > 0.5, bound)

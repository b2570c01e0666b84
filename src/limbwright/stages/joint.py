"""All seasons of one tree in one linear model in HiGHS, risk by planes added where needed.

The same model serves the bound (parts of pieces allowed) and the proof (whole decisions in all
seasons). See docs/method/stages.md.
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence

import highspy
import numpy as np

from limbwright.cuts.relaxation import (
    MISSING,
    MISSING_H,
    TIE_H,
    UNIT,
    Ended,
    Solving,
    Whole,
    good,
)
from limbwright.errors import PlanError
from limbwright.model.skeleton import Floats
from limbwright.stages.planes import planes, sections
from limbwright.stages.price import standing_leaf_m2, taken_leaf_m2
from limbwright.stages.rows import Rows, balance_row, dose_row, new_solver, static_rows
from limbwright.stages.years import Years

__all__ = ["Joint"]

INF = float(highspy.kHighsInf)


class Joint(Solving):
    """One HiGHS model of several seasons: columns gone, cut, pair, risk for each season.

    ``doses`` are the levels, beside the years' own, at which a season may be held; see `hold_to`.
    ``runs``, ``planes`` and ``solver_s`` [s of the processor] tell what the answers took.
    """

    def __init__(self, years: Years, *, doses: Sequence[float] = ()) -> None:
        self.years = years
        y, n = years.count, years.nodes
        first = years.seasons[0]
        self.pairs = first.pairs.shape[0]
        self.first_cut, self.first_pair = y * n, 2 * y * n
        self.first_risk = self.first_pair + y * self.pairs + first.groups * np.arange(y + 1)
        self.columns = int(self.first_risk[-1])
        self.planes = 0
        self.risk: Floats | None = None
        nothing = np.zeros((y, n))
        self.unit_h = max(
            1.0,
            UNIT * sum(float(sections(years, nothing, k).price_h.max(initial=0)) for k in range(y)),
        )
        self.solver = new_solver()
        self.lower, self.upper = self._bounds()
        self._pass_columns()
        rows = static_rows(years, self.first_cut, self.first_pair, doses)
        self.monotone, self.dose_row, self.dose_high = rows.monotone, rows.dose, rows.dose_high
        self._add(rows)
        self.doses, self.rests = years.dose, np.zeros(y, dtype=np.bool_)
        self.carried: list[list[tuple[float, int, float]]] = [[] for _ in range(y)]

    def _bounds(self) -> tuple[Floats, Floats]:
        years, n = self.years, self.years.nodes
        lower, upper = np.zeros(self.columns), np.ones(self.columns)
        upper[self.first_risk[0] :] = INF
        for y, p in enumerate(years.seasons):
            upper[y * n : (y + 1) * n][p.kept_by_rule] = 0.0
        last = slice((years.count - 1) * n, years.count * n)
        lower[last][years.seasons[-1].forced] = 1.0
        return lower, upper

    def costs(self, light_h: Floats | None = None) -> Floats:
        """Return the cost [h] of every column; ``light_h`` ``(Y, N)`` of light a piece adds."""
        years, y, n = self.years, self.years.count, self.years.nodes
        cost = np.zeros(self.columns)
        worth = years.worth
        gone = -years.gain_h + worth[:, None] * years.once_h
        gone[:-1] -= worth[1:, None] * years.once_h[1:]
        if light_h is not None:
            gone = gone - light_h
        cost[: y * n] = gone.ravel()
        for k, p in enumerate(years.seasons):
            at = self.first_cut + k * n
            cost[at : at + n] = worth[k] * p.cut_cost_h
            at = self.first_pair + k * self.pairs
            cost[at : at + self.pairs] = worth[k] * years.weight[k] * p.pair_cost_h
            cost[self.first_risk[k] : self.first_risk[k + 1]] = self.unit_h
        return cost

    def _told(self, light_h: Floats | None) -> Floats:
        cost = self.costs(light_h) / self.unit_h
        many = self.years.count * self.years.nodes
        cost[:many] += TIE_H * np.arange(1, many + 1) / (many * (many + 1) / 2)
        return cost

    def _pass_columns(self) -> None:
        # a limb both forced and kept makes the model infeasible by a row, not by its bounds
        self.clash = np.flatnonzero(self.lower > self.upper)
        self.lower[self.clash] = 0.0
        self._begin(self._told(None), self.lower, self.upper)

    def _add(self, rows: Rows) -> None:
        if self.clash.size:
            rows.add(1.0, INF, self.clash[:1], np.ones(1))
            self.clash = self.clash[:0]
        packed = rows.packed()
        if packed is not None:
            low, high, starts, index, value = packed
            good(self.solver.addRows(low.size, low, high, index.size, starts, index, value))

    def set_light(self, light_h: Floats | None) -> None:
        """Let pieces gone gain ``light_h`` ``(Y, N)`` hours besides, in place of any before."""
        index = np.arange(self.columns, dtype=np.int32)
        good(self.solver.changeColsCost(self.columns, index, self._told(light_h)))

    def hold_to(self, doses: Floats) -> None:
        """Hold each season to a dose: one of the model's levels, or 0 for a rest."""
        for y, dose in enumerate(doses):
            for level, row in self.dose_row[y].items():
                held = dose > 0.0 and level >= dose - 1e-9
                self._row_upper(row, self.dose_high[row] if held else INF)
            for level, row, high in self.carried[y]:
                self._row_upper(row, high if dose > 0.0 and level >= dose - 1e-9 else INF)
            if dose > 0.0 and not any(abs(level - dose) < 1e-9 for level in self.dose_row[y]):
                raise ValueError(f"the model has no dose of {dose:g} in season {y + 1}")
        self.rests, self.doses = np.asarray(doses) <= 0.0, np.asarray(doses)
        self._tie()

    def _row_upper(self, row: int, upper: float) -> None:
        good(self.solver.changeRowBounds(row, -INF, upper))

    def _tie(self) -> None:
        """Let no cut be made in a season that rests."""
        n, count = self.years.nodes, self.years.count
        lower, upper = self.lower.copy(), self.upper.copy()
        if self.rests[0]:
            upper[:n] = 0.0
        for y in np.flatnonzero(self.rests).tolist():
            upper[self.first_cut + y * n : self.first_cut + (y + 1) * n] = 0.0
        index = np.arange(self.columns, dtype=np.int32)
        good(self.solver.changeColsBounds(self.columns, index, lower, upper))
        for y in range(1, count):
            rows = self.monotone[y - 1]
            high = np.full(n, 0.0 if self.rests[y] else INF)
            status = self.solver.changeRowsBounds(  # type: ignore[attr-defined]
                n, np.asarray(rows, np.int32), np.zeros(n), high
            )
            good(status)

    def _kind(self, kind: highspy.HighsVarType) -> None:
        many = self.years.count * self.years.nodes
        every = np.full(many, kind)
        good(self.solver.changeColsIntegrality(many, np.arange(many, dtype=np.int32), every))

    def solve_linear(
        self,
        rounds: int = 30,
        until: float = math.inf,
        *,
        gain_h: float = 0.0,
        enough_h: float = math.inf,
    ) -> tuple[Floats, float] | None:
        """Solve with parts allowed, all seasons deciding; planes are added until none is missing.

        It also stops after ``rounds``, when the time is up, when the bound rises by less than
        ``gain_h`` and when it has come to ``enough_h``. Returns the share gone ``(Y, N)`` and the
        bound [h], which holds whenever it stops; None where nothing is feasible.

        Raises
        ------
        PlanError
            The solver gave up.
        """
        self._kind(highspy.HighsVarType.kContinuous)
        share, bound = np.zeros((self.years.count, self.years.nodes)), -INF
        for _ in range(rounds):
            ended = self._run()
            if ended is Ended.NONE:
                return None
            if ended is Ended.OPEN:
                raise PlanError("The linear model of the seasons could not be solved.")
            share = self._read()
            before = bound
            bound = max(bound, self._safe(self.solver.getInfo().objective_function_value))
            if self.add_planes(share) == 0 or time.perf_counter() >= until:
                break
            if bound - before < gain_h or bound >= enough_h:
                break
        return share, bound

    def make_whole(self) -> None:
        """Ask for whole decisions in all seasons."""
        self._kind(highspy.HighsVarType.kInteger)

    def solve_whole(self, gap_h: float, time_limit_s: float, *, below_h: float = math.inf) -> Whole:
        """Solve with whole decisions; return the sequence ``(Y, N)`` and the proven bound [h].

        Only sequences that cost less than ``below_h`` are looked for: it ends with none where the
        model has none of them.
        """
        self._look_below(below_h)
        ended, values, bound = self._run_whole(gap_h, time_limit_s)
        return Whole(ended, None if values is None else self._read() > 0.5, bound)

    def _read(self) -> Floats:
        values = np.asarray(self.solver.getSolution().col_value)
        self.risk = values[self.first_risk[0] :] * self.unit_h
        gone = np.clip(values[: self.first_cut], 0.0, 1.0)
        return np.asarray(gone.reshape(self.years.count, self.years.nodes))

    def add_planes(self, gone: Floats, *, price: bool = True) -> int:
        """Touch risk, balance and dose at ``gone`` ``(Y, N)``; return how many rows were new.

        ``price`` False: the limits alone.
        """
        rows = Rows()
        for y, p in enumerate(self.years.seasons):
            if price and p.sections:
                self._risk_planes(rows, y, gone)
            left = (1.0 - gone[y]) @ p.balance_kg_m
            size = float(np.linalg.norm(left))
            if size > p.balance_limit_kg_m * (1 + 1e-9) + 1e-9:
                balance_row(rows, p, y * self.years.nodes, left / size)
        before = self.solver.getNumRow()
        held = (
            self._carried_rows(rows, gone) if not bool(((gone > 0.0) & (gone < 1.0)).any()) else []
        )
        many = rows.count
        self._add(rows)
        for y, row, high in held:
            self.carried[y].append((float(self.doses[y]), before + row, high))
        self.planes += many
        return many

    def _carried_rows(self, rows: Rows, gone: Floats) -> list[tuple[int, int, float]]:
        """Hold whole sequences over a dose to it where new growth falls with the wood it is on.

        That growth is a product of two choices, a and b; a + b - 1 is never more than it.
        """
        years, n = self.years, self.years.nodes
        whole = gone > 0.5
        taken, standing = taken_leaf_m2(years, whole), standing_leaf_m2(years, whole)
        parent = np.maximum(years.seasons[0].parent, 0)
        out = []
        for y in range(1, years.count):
            dose = float(self.doses[y])
            if dose <= 0.0 or taken[y] <= dose * standing[y] * (1 + 1e-9) + 1e-9:
                continue
            fresh = whole[y] & ~whole[y - 1]
            at = np.flatnonzero(whole[y - 1] & fresh[parent])
            most = years.regrown[y] * years.leaf_beyond_m2[y, at]
            index, value, high = dose_row(years, y, dose)
            index = [*index, (y - 1) * n + at, (y - 1) * n + parent[at], y * n + parent[at]]
            value = [*value, most, -2.0 * most, most]
            high += float(most.sum())
            row = rows.add(-INF, high, np.concatenate(index), np.concatenate(value))
            out.append((y, row, high))
        return out

    def _risk_planes(self, rows: Rows, y: int, gone: Floats) -> None:
        years, p, n = self.years, self.years.seasons[y], self.years.nodes
        told = sections(years, gone, y)
        now = np.zeros(p.groups)
        if self.risk is not None:
            at = self.first_risk[y] - self.first_risk[0]
            now = self.risk[at : at + p.groups]
        least = now[p.group_of] * (1.0 + MISSING) + MISSING_H * self.unit_h
        missing = np.flatnonzero(told.price_h > least)
        if not missing.size:
            return
        new = planes(years, y, told, missing, 1.0 / self.unit_h)
        here = told.price_h[missing] - new.most * self.unit_h * gone[y, p.section_node[missing]]
        steps = years.back[y]
        earlier = np.flatnonzero(steps > 0.0)
        every = np.arange(missing.size)
        index = [y * n + new.node, *(t * n + new.node for t in earlier)]
        rows.many(
            new.low,
            here > least[missing],
            np.concatenate([new.row] * (1 + earlier.size) + [every]),
            np.concatenate([*index, self.first_risk[y] + p.group_of[missing]]),
            np.concatenate(
                [new.wood, *(-steps[t] * new.again for t in earlier), np.ones(every.size)]
            ),
        )

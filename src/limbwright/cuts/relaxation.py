"""The linear model of the cuts in HiGHS, with supporting planes added where they are needed.

Risk is a convex function of the loads that stay, and those are linear in what goes; so a plane
that touches it at one plan lies below it everywhere (Kelley 1960). Planes are added at the
points the solver visits until none is missing.
"""

from __future__ import annotations

import highspy
import numpy as np

from limbwright.cuts.evaluate import section_loads
from limbwright.cuts.problem import Problem
from limbwright.cuts.quiet import quiet_solver
from limbwright.model.skeleton import Bools, Floats, Ints
from limbwright.statics.stress import utilisation_gradient

__all__ = ["Relaxation"]

INF = float(highspy.kHighsInf)
TIE_H = 1e-7
"""Whole of the tiny costs that make equal plans come out the same everywhere [h]."""
MISSING_H = 1e-6
"""Planes that would raise a section's risk by less than this are not worth a row [h]."""
DIRECTIONS = 8


class Relaxation:
    """One HiGHS model of a problem: columns gone, cut, pair, risk; rows the rules and planes.

    ``relaxed`` names limits to leave out (to find which collide); ``leave_one`` ``(N,)`` marks
    cuts of which at least one must not be made again (for the next best plan).
    """

    def __init__(
        self,
        problem: Problem,
        *,
        relaxed: frozenset[str] = frozenset(),
        leave_one: Bools | None = None,
        price: bool = True,
    ) -> None:
        self.problem = problem
        n, pairs, s = problem.nodes, problem.pairs.shape[0], problem.sections
        self.n, self.first_cut, self.first_pair = n, n, 2 * n
        self.first_risk = 2 * n + pairs
        self.columns = 2 * n + pairs + s
        self.planes = 0
        self.solver = quiet_solver()
        for option, value in (
            ("threads", 1),
            ("random_seed", 0),
            ("mip_rel_gap", 0.0),
            # A good plan is in hand before whole decisions are asked for: searching for others
            # took longer than the proof (benchmarks/optimiser.py).
            ("mip_heuristic_effort", 0.0),
            ("mip_heuristic_run_rens", False),
            ("mip_heuristic_run_rins", False),
            ("mip_heuristic_run_root_reduced_cost", False),
            ("mip_heuristic_run_feasibility_jump", False),
        ):
            self.solver.setOptionValue(option, value)
        self._columns(relaxed, price)
        self._rules(relaxed)
        if leave_one is not None:
            nodes = np.flatnonzero(leave_one)
            self._row(-INF, nodes.size - 1.0, nodes, np.ones(nodes.size))

    def _columns(self, relaxed: frozenset[str], price: bool) -> None:
        p, n = self.problem, self.n
        cost = np.zeros(self.columns)
        lower, upper = np.zeros(self.columns), np.ones(self.columns)
        if price:
            cost[:n] = -p.gone_gain_h + TIE_H * np.arange(1, n + 1) / (n * (n + 1) / 2)
            cost[n : 2 * n] = p.cut_cost_h
            cost[self.first_pair : self.first_risk] = p.pair_cost_h
            cost[self.first_risk :] = 1.0
        upper[self.first_risk :] = INF
        if "keep" in relaxed:
            upper[0] = 0.0
        else:
            upper[:n][p.kept_by_rule] = 0.0
        lower[:n][p.forced] = 1.0
        # A limb both forced and kept collides; the row below keeps the bounds themselves proper.
        clash = lower > upper
        lower[clash] = 0.0
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = self.columns, 0
        lp.col_cost_, lp.col_lower_, lp.col_upper_ = cost, lower, upper
        lp.row_lower_, lp.row_upper_ = np.zeros(0), np.zeros(0)
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.zeros(1, dtype=np.int32)
        lp.a_matrix_.index_ = np.zeros(0, dtype=np.int32)
        lp.a_matrix_.value_ = np.zeros(0)
        _good(self.solver.passModel(lp))
        self._batch: list[tuple[float, float, Ints, Floats]] = []
        for node in np.flatnonzero(clash[:n]):
            self._row(1.0, INF, np.asarray([node]), np.ones(1))

    def _rules(self, relaxed: frozenset[str]) -> None:
        p, n = self.problem, self.n
        for i in range(1, n):
            up = int(p.parent[i])
            if up > 0:
                self._row(0.0, INF, np.asarray([i, up]), np.asarray([1.0, -1.0]))
                index, value = np.asarray([n + i, i, up]), np.asarray([1.0, -1.0, 1.0])
            else:
                index, value = np.asarray([n + i, i]), np.asarray([1.0, -1.0])
            self._row(0.0, INF, index, value)
        for k, (a, b) in enumerate(p.pairs):
            self._row(1.0, INF, np.asarray([a, b, self.first_pair + k]), np.ones(3))
        every = np.arange(n)
        if "dose" not in relaxed:
            self._row(-INF, p.dose_limit_m2, every, p.leaf_m2)
        if "wound share" not in relaxed:
            self._row(-INF, p.wound_limit_cm2, n + every, p.cut_area_cm2)
        if "number of cuts" not in relaxed and p.max_cuts is not None:
            self._row(-INF, float(p.max_cuts), n + every[1:], np.ones(n - 1))
        if "deadwood" not in relaxed:
            self._row(-INF, float(p.deadwood_kg.sum()) - p.deadwood_min_kg, every, p.deadwood_kg)
        if "heir" not in relaxed:
            for i, heirs in enumerate(p.heirs):
                if heirs:
                    up = int(p.parent[i])
                    nodes = np.asarray([i, *heirs, *([up] if up > 0 else [])])
                    ones = np.ones(nodes.size)
                    ones[1 + len(heirs) :] = -1.0
                    self._row(-INF, float(len(heirs)), nodes, ones)
        self.balanced = "balance" not in relaxed
        if self.balanced:
            for angle in 2 * np.pi * np.arange(DIRECTIONS) / DIRECTIONS:
                self._balance(np.asarray([np.cos(angle), np.sin(angle)]))
        self._flush()

    def _balance(self, direction: Floats) -> None:
        p = self.problem
        pull = p.balance_kg_m @ direction
        self._row(float(pull.sum()) - p.balance_limit_kg_m, INF, np.arange(self.n), pull)

    def _row(self, low: float, high: float, index: Ints, value: Floats) -> None:
        """Keep a row for the next flush; equal columns are summed."""
        if np.unique(index).size != index.size:
            index, back = np.unique(index, return_inverse=True)
            value = np.asarray(np.bincount(back, weights=value), dtype=np.float64)
        used = value != 0.0
        self._batch.append((low, high, index[used], value[used]))

    def _flush(self) -> None:
        rows = [r for r in self._batch if r[2].size or r[0] > 0.0 or r[1] < 0.0]
        self._batch = []
        if not rows:
            return
        starts = np.concatenate([[0], np.cumsum([r[2].size for r in rows])[:-1]]).astype(np.int32)
        index = np.concatenate([r[2] for r in rows]).astype(np.int32)
        value = np.concatenate([r[3] for r in rows])
        low = np.asarray([r[0] for r in rows])
        high = np.asarray([r[1] for r in rows])
        _good(self.solver.addRows(len(rows), low, high, index.size, starts, index, value))

    def add_planes(self, gone: Floats) -> int:
        """Touch the risk at ``gone`` ``(N,)`` (parts allowed); return how many rows were new."""
        p = self.problem
        before = self.planes
        if p.sections:
            self._risk_planes(gone)
        if self.balanced:
            left = (1.0 - gone) @ p.balance_kg_m
            size = float(np.linalg.norm(left))
            if size > p.balance_limit_kg_m * (1 + 1e-9) + 1e-9:
                self._balance(left / size)
                self.planes += 1
        self._flush()
        return self.planes - before

    def _risk_planes(self, gone: Floats) -> None:
        p = self.problem
        kept = 1.0 - gone
        force, moment = (a[0] for a in section_loads(p, kept[None]))
        use, by_force, by_moment = utilisation_gradient(
            force,
            moment,
            p.axis,
            p.area_m2,
            p.modulus_m3,
            p.torsion_modulus_m3,
            p.bending_strength_mpa,
            p.shear_strength_mpa,
        )
        stands = kept[p.section_node]
        lines = p.slope * use.T[:, :, None] + p.intercept * stands[:, None, None]
        pieces = lines.shape[2]
        flat = lines.reshape(p.sections, -1)
        best = np.argmax(flat, axis=1)
        value = np.maximum(flat[np.arange(p.sections), best], 0.0) * p.section_cost_h
        now = self.risk if self.risk is not None else np.zeros(p.sections)
        missing = np.flatnonzero(value > now + MISSING_H)
        case_of, piece_of = np.divmod(best, pieces)
        every = np.arange(p.sections)
        gm = by_moment[case_of, every]
        # gf.F + gm.(M - p x F) = (gf - gm x p).F + gm.M
        gf = by_force[case_of, every] - np.cross(gm, p.point_m)
        own_all = np.einsum("sk,sk->s", p.own_force_n[case_of, every], gf)
        own_all += np.einsum("sk,sk->s", p.own_moment_n_m[case_of, every], gm)
        for s in missing:
            case, piece = int(case_of[s]), int(piece_of[s])
            nodes = np.arange(p.section_lo[s], p.section_hi[s])
            reach = slice(int(p.section_lo[s]), int(p.section_hi[s]))
            share = p.force_n[case, reach] @ gf[s] + p.moment_n_m[case, reach] @ gm[s]
            own = float(own_all[s])
            a = float(p.section_cost_h[s] * p.slope[s, case, piece])
            b = float(p.section_cost_h[s] * p.intercept[s, case, piece])
            index = np.concatenate([[self.first_risk + s, p.section_node[s]], nodes])
            row = np.concatenate([[1.0, a * own + b], a * share])
            self._row(a * (float(share.sum()) + own) + b, INF, index, row)
            self.planes += 1

    risk: Floats | None = None

    def solve_linear(self, rounds: int = 30) -> tuple[Floats, float] | None:
        """Solve the linear model, adding planes until none is missing.

        Returns the share gone ``(N,)`` and the bound [h], or None where nothing is feasible.
        """
        gone, bound = np.zeros(self.n), -INF
        for _ in range(rounds):
            if not self._run():
                return None
            values = np.asarray(self.solver.getSolution().col_value)
            gone = np.clip(values[: self.n], 0.0, 1.0)
            self.risk = values[self.first_risk :]
            bound = float(self.solver.getInfo().objective_function_value) - TIE_H
            if self.add_planes(gone) == 0:
                break
        return gone, bound

    def make_whole(self) -> None:
        """Ask for whole decisions: a limb goes or stays."""
        index = np.arange(self.n, dtype=np.int32)
        kinds = np.full(self.n, highspy.HighsVarType.kInteger)
        _good(self.solver.changeColsIntegrality(self.n, index, kinds))

    def solve_whole(self, gap_h: float, time_limit_s: float) -> tuple[Bools, float] | None:
        """Solve with whole decisions; return the set gone and the proven bound [h].

        ``gap_h`` is the absolute gap at which the solver may stop. No plan is handed over to start
        from: with rows added since, HiGHS 1.16 then gives back that plan beside another's value.
        """
        self.solver.setOptionValue("mip_abs_gap", max(gap_h, 1e-9))
        self.solver.setOptionValue("time_limit", max(time_limit_s, 0.05))
        if not self._run():
            return None
        values = np.asarray(self.solver.getSolution().col_value)
        self.risk = values[self.first_risk :]
        bound = float(self.solver.getInfo().mip_dual_bound) - TIE_H
        return values[: self.n] > 0.5, bound

    def _run(self) -> bool:
        status = self.solver.run()
        state = self.solver.getModelStatus()
        if state == highspy.HighsModelStatus.kInfeasible:
            return False
        _good(status)
        done = (highspy.HighsModelStatus.kOptimal, highspy.HighsModelStatus.kTimeLimit)
        return state in done and bool(len(self.solver.getSolution().col_value))


def _good(status: highspy.HighsStatus) -> None:
    if status == highspy.HighsStatus.kError:
        raise RuntimeError("the solver refused the model")

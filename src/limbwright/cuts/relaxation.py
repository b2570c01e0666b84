"""The linear model of the cuts in HiGHS, with supporting planes added where they are needed.

Risk is a convex function of the loads that stay, and those are linear in what goes; so a plane
that touches it at one plan lies below it everywhere (Kelley 1960). Planes are added at the
points the solver visits until none is missing.
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, fields
from enum import Enum

import highspy
import numpy as np

from limbwright.cuts.problem import Problem
from limbwright.cuts.quiet import quiet_solver
from limbwright.cuts.reach import Reach, gradients, grouped, hold, uses
from limbwright.errors import PlanError
from limbwright.model.skeleton import Bools, Floats, Ints

__all__ = [
    "DOUBT",
    "MISSING",
    "MISSING_H",
    "TIE_H",
    "UNIT",
    "Ended",
    "Relaxation",
    "Solving",
    "Whole",
    "good",
]

INF = float(highspy.kHighsInf)
FEASIBLE = int(highspy.SolutionStatus.kSolutionStatusFeasible)
TIE_H = 1e-7
"""Whole of the tiny costs that make equal plans come out the same everywhere [h]."""
MISSING_H = 1e-6
"""Planes that would raise a section's risk by less than this are not worth a row [h]."""
MISSING = 1e-9
"""And so are those that would raise it by less than this share: a dear risk is a long sum."""
DOUBT = 1e-9
"""Share of a bound taken off for rounding in the solver, whose sums are of doubles."""
DIRECTIONS = 8
"""Sides the circle of the balance limit is drawn with at first (judgement); more come as needed."""
UNIT = 1e-3
"""Prices are handed to the solver in units of this share of the risk of doing nothing, or in
hours where that is more: its tolerances are absolute and made for values up to some thousands."""
GOES_WITH, CUT_BELOW = np.asarray([1.0, -1.0]), np.asarray([1.0, -1.0, 1.0])


class Ended(Enum):
    """How the solver ended: with the best answer, a proof that there is none, or neither."""

    BEST = "best"
    NONE = "none"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class Whole:
    """Whole decisions: how the solver ended, the set gone ``(N,)`` if it has one, its bound [h]."""

    ended: Ended
    gone: Bools | None
    bound_h: float


class Solving:
    """A HiGHS model with prices in units of ``unit_h`` [h]; it counts its runs and their time."""

    solver: highspy.Highs
    unit_h: float
    runs = 0
    solver_s = 0.0

    def _begin(self, cost: Floats, lower: Floats, upper: Floats) -> None:
        """Give the solver the columns, without a row yet."""
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = cost.size, 0
        lp.col_cost_, lp.col_lower_, lp.col_upper_ = cost, lower, upper
        lp.row_lower_, lp.row_upper_ = np.zeros(0), np.zeros(0)
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.zeros(1, dtype=np.int32)
        lp.a_matrix_.index_ = np.zeros(0, dtype=np.int32)
        lp.a_matrix_.value_ = np.zeros(0)
        good(self.solver.passModel(lp))

    def _safe(self, value: float) -> float:
        """Bound [h] from the solver's: less the costs that tell ties apart, and its tolerances."""
        return (value - TIE_H - DOUBT * abs(value)) * self.unit_h

    def _run(self) -> Ended:
        began = time.process_time()
        status = self.solver.run()
        self.runs += 1
        self.solver_s += time.process_time() - began
        state = self.solver.getModelStatus()
        if state == highspy.HighsModelStatus.kInfeasible:
            return Ended.NONE
        good(status)
        return Ended.BEST if state == highspy.HighsModelStatus.kOptimal else Ended.OPEN

    def stop_after(self, nodes: int) -> None:
        """Let whole decisions stop after so many branches, with the best found by then."""
        self.solver.setOptionValue("mip_max_nodes", nodes)

    def _look_below(self, price_h: float) -> None:
        """Let the next whole decisions only be looked for where they cost less [h].

        HiGHS takes its `objective_bound` for the price of an answer in hand, and ends with none
        where none is better.
        """
        told = (price_h + DOUBT * abs(price_h)) / self.unit_h + TIE_H
        self.solver.setOptionValue("objective_bound", min(told, INF))

    def _run_whole(self, gap_h: float, time_limit_s: float) -> tuple[Ended, Floats | None, float]:
        """Run with whole decisions; return how it ended, the columns if any, the bound [h]."""
        self.solver.setOptionValue("mip_abs_gap", max(gap_h / self.unit_h, 1e-9))
        self.solver.setOptionValue("time_limit", max(time_limit_s, 0.01))
        ended = self._run()
        self.solver.setOptionValue("time_limit", INF)
        self.solver.setOptionValue("objective_bound", INF)
        if ended is Ended.NONE:
            return ended, None, INF
        info, solution = self.solver.getInfo(), self.solver.getSolution()
        proven = float(info.mip_dual_bound)
        bound = self._safe(proven) if abs(proven) < INF else -INF
        if info.primal_solution_status != FEASIBLE or not len(solution.col_value):
            return Ended.OPEN, None, bound
        return ended, np.asarray(solution.col_value), bound


class Relaxation(Solving):
    """One HiGHS model of a problem: columns gone, cut, pair, risk; rows the rules and planes.

    ``relaxed`` names limits to leave out (to find which collide); ``leave_one`` ``(N,)`` marks
    cuts of which at least one must not be made again (for the next best plan). ``runs``,
    ``planes`` and ``solver_s`` [s of the processor] tell what the answers took.
    """

    def __init__(
        self,
        problem: Problem,
        *,
        relaxed: frozenset[str] = frozenset(),
        leave_one: Bools | None = None,
        price: bool = True,
        reach: Reach | None = None,
    ) -> None:
        self.problem = problem
        self.reach = Reach.of(problem) if reach is None else reach
        n, pairs, s = problem.nodes, problem.pairs.shape[0], problem.groups
        self.n, self.first_cut, self.first_pair = n, n, 2 * n
        self.first_risk = 2 * n + pairs
        self.columns = 2 * n + pairs + s
        self.planes = 0
        none = hold(problem, self.reach, np.zeros(n, dtype=np.bool_))
        self.unit_h = max(1.0, UNIT * float(grouped(problem, none.section_h).sum()))
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
            tie = TIE_H * np.arange(1, n + 1) / (n * (n + 1) / 2)
            cost[:n] = tie - p.gone_gain_h / self.unit_h
            cost[n : 2 * n] = p.cut_cost_h / self.unit_h
            cost[self.first_pair : self.first_risk] = p.pair_cost_h / self.unit_h
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
        self._begin(cost, lower, upper)
        self._batch: list[tuple[float, float, Ints, Floats]] = []
        for node in np.flatnonzero(clash[:n]):
            self._row(1.0, INF, np.asarray([node]), np.ones(1))

    def _rules(self, relaxed: frozenset[str]) -> None:
        p, n = self.problem, self.n
        for i, up in enumerate(p.parent.tolist()):
            if i and up > 0:
                self._batch.append((0.0, INF, np.asarray((i, up)), GOES_WITH))
                self._batch.append((0.0, INF, np.asarray((n + i, i, up)), CUT_BELOW))
            elif i:
                self._batch.append((0.0, INF, np.asarray((n + i, i)), GOES_WITH))
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
        good(self.solver.addRows(len(rows), low, high, index.size, starts, index, value))

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
        p, reach = self.problem, self.reach
        kept = 1.0 - gone
        parts = reach.parts(kept)
        lines = p.slope * uses(parts)[..., None]
        lines += p.intercept * kept[p.section_node][:, None, None]
        flat = lines.reshape(p.sections, -1)
        best = np.argmax(flat, axis=1)
        value = np.maximum(flat[np.arange(p.sections), best], 0.0) * p.section_cost_h
        now = self.risk if self.risk is not None else np.zeros(p.groups)
        least = now[p.group_of] * (1.0 + MISSING) + MISSING_H * self.unit_h
        missing = np.flatnonzero(value > least)
        if not missing.size:
            return
        case, piece = np.divmod(best[missing], lines.shape[2])
        cost = p.section_cost_h[missing] / self.unit_h
        slope = cost * p.slope[missing, case, piece]
        fixed = cost * p.intercept[missing, case, piece]
        # the utilisation grows in proportion to the load, so a plane needs no constant of its own
        by = gradients(parts[missing, case]) * slope[:, None]
        back, rows, first = reach.rows_of(missing)
        last = np.append(first[1:], back.size)
        value_of = np.einsum("qk,qk->q", reach.share[rows, case[back]], by[back])
        value_of[first] += fixed
        low = np.add.reduceat(value_of, first)
        node = reach.node[rows]
        for k, s in enumerate(missing):
            mine = slice(int(first[k]), int(last[k]))
            index = np.concatenate([[self.first_risk + p.group_of[s]], node[mine]])
            value_row = np.concatenate([[1.0], value_of[mine]])
            used = value_row != 0.0
            self._batch.append((float(low[k]), INF, index[used], value_row[used]))
        self.planes += missing.size

    risk: Floats | None = None

    def fits(self, problem: Problem) -> bool:
        """Whether a problem is this one but for its forced and forbidden limbs."""
        return all(
            getattr(problem, one.name) is getattr(self.problem, one.name)
            for one in fields(Problem)
            if one.name not in ("forced", "forbidden")
        )

    def restrict(self, problem: Problem) -> bool:
        """Take over the forced and forbidden limbs of a problem that is the same otherwise.

        Planes and basis stay, so that the next answer takes a few steps. False, with nothing
        changed, where the limbs asked for collide already: a model of their own tells better.
        """
        if not self.fits(problem) or bool((problem.kept_by_rule & problem.forced).any()):
            return False
        index = np.arange(self.n, dtype=np.int32)
        lower = problem.forced.astype(np.float64)
        upper = np.where(problem.kept_by_rule, 0.0, 1.0)
        good(self.solver.changeColsBounds(self.n, index, lower, upper))
        self._kind(highspy.HighsVarType.kContinuous)
        self.problem, self.risk = problem, None
        return True

    def solve_linear(
        self, rounds: int = 30, until: float = math.inf
    ) -> tuple[Floats, float] | None:
        """Solve the linear model, adding planes until none is missing or the time is up.

        Returns the share gone ``(N,)`` and the bound [h], or None where nothing is feasible. The
        bound of every round holds. Time is only looked at after the first.

        Raises
        ------
        PlanError
            The solver gave up: neither an answer nor a proof that there is none.
        """
        gone, bound = np.zeros(self.n), -INF
        for _ in range(rounds):
            ended = self._run()
            if ended is Ended.NONE:
                return None
            if ended is Ended.OPEN:
                raise PlanError("The linear model of the cuts could not be solved.")
            values = np.asarray(self.solver.getSolution().col_value)
            gone = np.clip(values[: self.n], 0.0, 1.0)
            self.risk = values[self.first_risk :] * self.unit_h
            bound = max(bound, self._safe(self.solver.getInfo().objective_function_value))
            if self.add_planes(gone) == 0 or time.perf_counter() >= until:
                break
        return gone, bound

    def make_whole(self) -> None:
        """Ask for whole decisions: a limb goes or stays."""
        self._kind(highspy.HighsVarType.kInteger)

    def _kind(self, kind: highspy.HighsVarType) -> None:
        index = np.arange(self.n, dtype=np.int32)
        good(self.solver.changeColsIntegrality(self.n, index, np.full(self.n, kind)))

    def solve_whole(self, gap_h: float, time_limit_s: float) -> Whole:
        """Solve with whole decisions; return the set gone and the proven bound [h].

        ``gap_h`` is the absolute gap at which the solver may stop. No plan is handed over to start
        from: with rows added since, HiGHS 1.16 then gives back that plan beside another's value.
        """
        ended, values, bound = self._run_whole(gap_h, time_limit_s)
        if values is None:
            return Whole(ended, None, bound)
        self.risk = values[self.first_risk :] * self.unit_h
        return Whole(ended, values[: self.n] > 0.5, bound)


def good(status: highspy.HighsStatus) -> None:
    """Raise a `RuntimeError` where the solver refused what it was given."""
    if status == highspy.HighsStatus.kError:
        raise RuntimeError("the solver refused the model")

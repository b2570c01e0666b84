"""Time of choosing the cuts, beside one linear solve of the same model.

Run: ``python benchmarks/optimiser.py [random problems]``. Problems are the surveyed trees of the
invented holding (at most 80 candidates) and random ones of 300. The floor of each is the linear
model with all its planes, solved once from nothing in the same run; what is above it is the price
of finding the planes and of the proof. Times are medians; machine, cores and load decide them, the
ratios less so.
"""

from __future__ import annotations

import sys
import time
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.cuts.problems import random_problem

from limbwright.cuts.build_problem import build_problem, for_cases, telling_cases
from limbwright.cuts.candidates import candidates
from limbwright.cuts.crossing import crossings
from limbwright.cuts.evaluate import evaluate
from limbwright.cuts.limits import limits
from limbwright.cuts.motives import crown, motives
from limbwright.cuts.problem import Problem
from limbwright.cuts.relaxation import Relaxation
from limbwright.cuts.results import Wishes
from limbwright.cuts.solve import Solution, solve
from limbwright.cuts.weights import Settings
from limbwright.demo import make_holding
from limbwright.errors import PlanError
from limbwright.model.records import StationRecord, TreeSurvey
from limbwright.statics.assess import assess
from limbwright.survey.build import build_skeleton
from limbwright.trade.species import species

TARGET_PROOF_S, TARGET_PROOF_300_S = 0.050, 1.0
TARGET_FAST_S, TARGET_SHARE, TARGET_WHAT_IF_S = 0.060, 0.97, 0.040
GAP = 0.01
REPEATS = 3


@dataclass(frozen=True)
class Timed:
    """One problem: its size, times [s] and what the fast engine reached of what can be had."""

    nodes: int
    floor_s: float
    proof_s: float
    within: float
    fast_s: float
    fast_share: float
    what_if_s: float


def surveyed_problems() -> list[Problem]:
    """Return the problem of every tree of the invented holding, as a plan would solve it first."""
    holding = make_holding(1)
    settings, wishes = Settings(), Wishes()
    out = []
    for station in holding.stations:
        limbs = tuple(one for one in holding.limbs if one.station == station.station)
        if limbs:
            out.append(_surveyed(TreeSurvey(station, limbs), station, settings, wishes))
    return [p for p in out if 1 < p.nodes <= 81]


def _surveyed(
    tree: TreeSurvey, station: StationRecord, settings: Settings, wishes: Wishes
) -> Problem:
    skeleton, _ = build_skeleton(tree)
    assessment = assess(skeleton)
    kind, wood = species(skeleton.species), assessment.loads.wood_kg
    bounds = limits(skeleton, wood, kind, station, wishes, settings, year=2026)
    crossing = crossings(skeleton, settings)
    shape = crown(skeleton, wood, settings)
    speaks = motives(skeleton, wood, shape, crossing, settings)
    offer = candidates(assessment, kind, crossing, wishes, settings, speaks.total)
    built = build_problem(
        assessment, offer.candidates, offer.forbidden, crossing, speaks, bounds, kind, settings
    )
    nothing = evaluate(built.problem, np.zeros(built.base.size, dtype=np.bool_))
    return for_cases(built, telling_cases(built, nothing.utilisation)).problem


def random_problems(count: int, nodes: int = 300) -> list[Problem]:
    """Return random problems that can be solved at all, with room for as many cuts as pay."""
    out: list[Problem] = []
    seed = 1
    while len(out) < count:
        problem = random_problem(seed, nodes)
        seed += 1
        try:
            solve(problem, engine="fast")
        except PlanError:
            continue
        out.append(problem)
    return out


def floor_s(problem: Problem) -> float:
    """Return the time of one linear solve, with every plane that is needed there from the start."""
    model = Relaxation(problem)
    model.solve_linear()
    taken = []
    for _ in range(REPEATS):
        model.solver.clearSolver()
        begun = time.perf_counter()
        model.solver.run()
        taken.append(time.perf_counter() - begun)
    return float(np.median(taken))


def what_if_s(problem: Problem, plan: Solution) -> float:
    """Return the median time of the fast answer when one limb of the plan is to be kept."""
    taken = []
    for node in np.flatnonzero(plan.cuts & ~problem.forced)[:3]:
        forbidden = problem.forbidden.copy()
        forbidden[node] = True
        start = plan.gone.copy()
        start[node : problem.end[node]] = False
        kept = replace(problem, forbidden=forbidden)
        begun = time.perf_counter()
        with suppress(PlanError):  # to find that it cannot be is an answer too
            solve(kept, engine="fast", start=start, rough=True)
        taken.append(time.perf_counter() - begun)
    return float(np.median(taken)) if taken else float("nan")


def timed(problem: Problem) -> Timed:
    """Return the times of one problem."""
    proofs = [solve(problem, gap=GAP) for _ in range(REPEATS)]
    quick = [solve(problem, engine="fast") for _ in range(REPEATS)]
    proof, fast = proofs[0], quick[0]
    gained = proof.nothing_h - proof.bound_h
    return Timed(
        nodes=problem.nodes - 1,
        floor_s=floor_s(problem),
        proof_s=float(np.median([one.seconds for one in proofs])),
        within=proof.within,
        fast_s=float(np.median([one.seconds for one in quick])),
        # against the proven bound, so never flattering; doing nothing may itself be forbidden
        fast_share=(proof.nothing_h - fast.objective_h) / gained if gained > 1e-9 else 1.0,
        what_if_s=what_if_s(problem, proof),
    )


def told(name: str, values: list[float], target: float, floor: list[float]) -> None:
    """Print the median, the worst, the target and the ratio to the floor."""
    known = np.array([(v, f) for v, f in zip(values, floor, strict=True) if np.isfinite(v)])
    middle, worst = float(np.median(known[:, 0])), float(known[:, 0].max())
    ratio = float(np.median(known[:, 0] / known[:, 1]))
    met = "met" if middle <= target else "missed"
    print(
        f"  {name:<22} median {1e3 * middle:8.1f} ms  worst {1e3 * worst:8.1f} ms  "
        f"target {1e3 * target:6.0f} ms ({met})  {ratio:6.1f} x one linear solve"
    )


def report(title: str, found: list[Timed], proof_target_s: float) -> None:
    """Print one block of figures."""
    floor = [one.floor_s for one in found]
    sizes = [one.nodes for one in found]
    print(f"{title}: {len(found)} problems of {min(sizes)} to {max(sizes)} candidates")
    print(f"  one linear solve       median {1e3 * float(np.median(floor)):8.1f} ms")
    told(f"proof at {GAP:.0%}", [one.proof_s for one in found], proof_target_s, floor)
    told("fast plan", [one.fast_s for one in found], TARGET_FAST_S, floor)
    told("what if one is kept", [one.what_if_s for one in found], TARGET_WHAT_IF_S, floor)
    share = np.array([one.fast_share for one in found])
    met = "met" if float(np.median(share)) >= TARGET_SHARE else "missed"
    print(
        f"  fast plan has          median {np.median(share):.1%}, least {share.min():.1%} of what "
        f"can be had; target {TARGET_SHARE:.0%} ({met})"
    )
    open_gap = sum(one.within > GAP * 1.001 for one in found)
    print(f"  proofs not closed to {GAP:.0%} in time: {open_gap} of {len(found)}")


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 8
    surveyed = [timed(p) for p in surveyed_problems()]
    report("Surveyed trees of the invented holding", surveyed, TARGET_PROOF_S)
    drawn = [timed(p) for p in random_problems(count)]
    report("Random problems", drawn, TARGET_PROOF_300_S)


if __name__ == "__main__":
    main()

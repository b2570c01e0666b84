"""Time of choosing the cuts, beside one linear solve of the same model.

Run: ``python benchmarks/optimiser.py [random problems]``. Problems are the surveyed trees of the
invented holding (at most 80 candidates), the scaffolds of a published survey where that is at
hand (``LIMBWRIGHT_DATA``, see the tests) and random ones of 300 candidates. The floor of each is
the linear model with all its planes, solved once from nothing in the same run; what is above it is
the price of finding the planes and of the proof. Times are of the processor, one thread, which on
an idle machine is the time one waits; a busy one shares its caches and is slower still, so the
ratios say more. The last line tells how much of the time the machine did something else.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

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
from limbwright.survey import read_survey
from limbwright.survey.build import build_skeleton
from limbwright.trade.species import species

TARGET_PROOF_S, TARGET_PROOF_300_S = 0.050, 1.0
TARGET_FAST_S, TARGET_SHARE, TARGET_WHAT_IF_S = 0.060, 0.97, 0.040
clock = time.process_time
GAP = 0.01
BEST_GAP = 0.002  # of the proof that the fast plan is held against
REPEATS = 3
ASKED = 5  # limbs of each plan that are asked for
DATA = Path(
    os.environ.get(
        "LIMBWRIGHT_DATA", Path(__file__).resolve().parents[1] / ".." / "shared" / "data"
    )
)


@dataclass(frozen=True)
class Work:
    """What one solve took: runs of the solver, planes added, time in the solver and in all [s]."""

    runs: int
    planes: int
    solver_s: float
    whole_s: float


@dataclass(frozen=True)
class Timed:
    """One problem: its size, times [s] and what the fast engine reached of what can be had."""

    nodes: int
    floor_s: float
    proof_s: float
    within: float
    fast_s: float
    fast_share: float
    what_if_s: list[float]
    proof: Work
    fast: Work


def surveyed_problems() -> list[Problem]:
    """Return the problem of every tree of the invented holding, as a plan would solve it first."""
    holding = make_holding(1)
    trees = []
    for station in holding.stations:
        limbs = tuple(one for one in holding.limbs if one.station == station.station)
        if limbs:
            trees.append(TreeSurvey(station, limbs))
    return _problems(trees)


def scaffold_problems() -> list[Problem]:
    """Return the problems of a published survey of scaffolds (Brym & Ernest 2018), if at hand."""
    path = DATA / "limb-surveys" / "scaffolds.csv"
    columns = Path(__file__).resolve().parents[1] / "examples" / "scaffolds.toml"
    return _problems(read_survey(path, columns=columns).trees) if path.exists() else []


def _problems(trees: Iterable[TreeSurvey]) -> list[Problem]:
    settings, wishes = Settings(), Wishes()
    every = [_surveyed(tree, tree.station, settings, wishes) for tree in trees]
    return [p for p in every if 1 < p.nodes <= 81]


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
        begun = clock()
        model.solver.run()
        taken.append(clock() - begun)
    return float(np.median(taken))


def what_if_s(problem: Problem, plan: Solution) -> list[float]:
    """Return the times of the answer when one limb of the plan is to be kept, limb by limb.

    The model of the tree is at hand, as it is when its plan is shown.
    """
    model = Relaxation(problem)
    solve(problem, engine="fast", model=model)
    taken = []
    for node in np.flatnonzero(plan.cuts & ~problem.forced)[:ASKED]:
        forbidden = problem.forbidden.copy()
        forbidden[node] = True
        kept = replace(problem, forbidden=forbidden)
        begun = clock()
        with suppress(PlanError):  # to find that it cannot be is an answer too
            solve(kept, engine="fast", start=plan.gone, rough=True, model=model)
        taken.append(clock() - begun)
    return taken


def work(problem: Problem, engine: Literal["proof", "fast"]) -> Work:
    """Return what one solve took, its model made within the time."""
    begun = clock()
    model = Relaxation(problem)
    solve(problem, engine=engine, gap=GAP, model=model)
    return Work(model.runs, model.planes, model.solver_s, clock() - begun)


def _repeated(problem: Problem, engine: Literal["proof", "fast"]) -> tuple[Solution, float]:
    taken = []
    for _ in range(REPEATS):
        begun = clock()
        found = solve(problem, engine=engine, gap=GAP)
        taken.append(clock() - begun)
    return found, float(np.median(taken))


def timed(problem: Problem) -> Timed:
    """Return the times of one problem."""
    proof, proof_s = _repeated(problem, "proof")
    fast, fast_s = _repeated(problem, "fast")
    best = solve(problem, gap=BEST_GAP, time_limit_s=20.0)
    # doing nothing may itself be forbidden
    gained = best.nothing_h - best.objective_h
    return Timed(
        nodes=problem.nodes - 1,
        floor_s=floor_s(problem),
        proof_s=proof_s,
        within=proof.within,
        fast_s=fast_s,
        fast_share=(best.nothing_h - fast.objective_h) / gained if gained > 1e-6 else 1.0,
        what_if_s=what_if_s(problem, proof),
        proof=work(problem, "proof"),
        fast=work(problem, "fast"),
    )


def told(name: str, values: list[float], target: float, floor: list[float]) -> None:
    """Print the median, nine of ten, the worst, the target and the ratio to the floor."""
    middle, most = np.quantile(values, [0.5, 0.9])
    met = "met" if middle <= target else "missed"
    print(
        f"  {name:<20} median {1e3 * middle:7.1f} ms  90 % {1e3 * most:7.1f} ms  worst "
        f"{1e3 * max(values):7.1f} ms  target {1e3 * target:5.0f} ms ({met})  "
        f"{middle / float(np.median(floor)):5.1f} x one linear solve"
    )


def told_work(name: str, all_work: list[Work]) -> None:
    """Print the planes and solves of the median problem, and whose time it was."""
    runs, planes = (np.median([getattr(w, k) for w in all_work]) for k in ("runs", "planes"))
    solver = 1e3 * np.median([w.solver_s for w in all_work])
    ours = 1e3 * np.median([w.whole_s - w.solver_s for w in all_work])
    print(
        f"  {name:<20} {runs:.0f} solves, {planes:.0f} planes: {solver:.1f} ms in the solver, "
        f"{ours:.1f} ms outside it"
    )


def report(title: str, found: list[Timed], proof_target_s: float) -> None:
    """Print one block of figures."""
    floor = [one.floor_s for one in found]
    sizes = [one.nodes for one in found]
    print(f"{title}: {len(found)} problems of {min(sizes)} to {max(sizes)} candidates")
    print(f"  one linear solve     median {1e3 * float(np.median(floor)):7.1f} ms")
    told(f"proof at {GAP:.0%}", [one.proof_s for one in found], proof_target_s, floor)
    told("fast plan", [one.fast_s for one in found], TARGET_FAST_S, floor)
    asked = [t for one in found for t in one.what_if_s]
    told("what if one is kept", asked, TARGET_WHAT_IF_S, floor)
    told_work("work of a proof", [one.proof for one in found])
    told_work("work of a fast plan", [one.fast for one in found])
    share = np.array([one.fast_share for one in found])
    met = "met" if float(np.median(share)) >= TARGET_SHARE else "missed"
    print(
        f"  fast plan has        median {np.median(share):.1%}, least {share.min():.1%} of what "
        f"the best plan gains; target {TARGET_SHARE:.0%} ({met})"
    )
    open_gap = sum(one.within > GAP * 1.001 for one in found)
    print(f"  proofs not closed to {GAP:.0%} in time: {open_gap} of {len(found)}")


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 8
    wall, cpu = time.perf_counter(), time.process_time()
    surveyed = [timed(p) for p in surveyed_problems()]
    report("Surveyed trees of the invented holding", surveyed, TARGET_PROOF_S)
    scaffolds = [timed(p) for p in scaffold_problems()]
    if scaffolds:
        report("Scaffolds of a published survey", scaffolds, TARGET_PROOF_S)
    else:
        print("The published survey of scaffolds is not here: set LIMBWRIGHT_DATA.")
    drawn = [timed(p) for p in random_problems(count)]
    report("Random problems", drawn, TARGET_PROOF_300_S)
    idle = 1.0 - (time.process_time() - cpu) / (time.perf_counter() - wall)
    print(f"The machine did something else for {max(0.0, idle):.0%} of the time.")


if __name__ == "__main__":
    main()

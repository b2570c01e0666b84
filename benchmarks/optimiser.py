"""Time of choosing the cuts, beside one linear solve of the same model.

Run: ``python benchmarks/optimiser.py [random problems]``. Problems are the surveyed trees of the
invented holding (at most 80 candidates), the scaffolds of a published survey where that is at
hand (``LIMBWRIGHT_DATA``, see the tests) and random ones of 300 candidates. The floor of each is
the linear model with all its planes, solved once from nothing in the same run; what is above it is
the price of finding the planes and of the proof. The problems of trees are those the proof ends
on, each cut's light beside the plan in them; "with light" is the whole answer, which solves two or
three of them and reckons the light in between. Times are of the processor, one thread, which on
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

from limbwright.cuts.build_problem import for_cases, telling_cases
from limbwright.cuts.evaluate import evaluate
from limbwright.cuts.problem import Problem
from limbwright.cuts.question import Question, ask
from limbwright.cuts.relaxation import Relaxation
from limbwright.cuts.solve import Solution, solve
from limbwright.demo import make_holding
from limbwright.errors import PlanError
from limbwright.model import Site, TreeSurvey
from limbwright.statics.assess import assess
from limbwright.survey import read_survey
from limbwright.survey.build import build_skeleton

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


def surveyed() -> list[Question]:
    """Return what is asked of every tree of the invented holding."""
    holding = make_holding(1)
    return _questions(holding.surveys(), holding.site)


def scaffolds() -> list[Question]:
    """Return the same of a published survey of scaffolds (Brym & Ernest 2018), if at hand."""
    path = DATA / "limb-surveys" / "scaffolds.csv"
    columns = Path(__file__).resolve().parents[1] / "examples" / "scaffolds.toml"
    return _questions(read_survey(path, columns=columns).trees, Site()) if path.exists() else []


def _questions(trees: Iterable[TreeSurvey], site: Site) -> list[Question]:
    every = [ask(assess(build_skeleton(one)[0], site), one.station, year=2026) for one in trees]
    return [q for q in every if 1 < q.built.problem.nodes <= 81]


def solved_last(question: Question) -> Problem:
    """Return the problem a plan is proven on: light beside the plan, cases that tell at first."""
    built = question.answer("proof").built
    nothing = evaluate(built.problem, np.zeros(built.base.size, dtype=np.bool_))
    return for_cases(built, telling_cases(built, nothing.utilisation)).problem


def whole_s(question: Question) -> tuple[float, float, list[float]]:
    """Return the times of the whole answer with its light: proof, fast, and fast asked again.

    The last once for each limb of the plan, at most `ASKED`, which is then to be kept.
    """
    taken = []
    for engine in ("proof", "fast"):
        begun = clock()
        lit = question.answer(engine)
        taken.append(clock() - begun)
    kept = []
    problem = question.built.problem
    for node in np.flatnonzero(lit.solved.now.cuts & ~problem.forced)[:ASKED]:
        forbidden = problem.forbidden.copy()
        forbidden[node] = True
        built = replace(question.built, problem=replace(problem, forbidden=forbidden))
        begun = clock()
        with suppress(PlanError):  # to find that it cannot be is an answer too
            replace(question, built=built).answer("fast")
        kept.append(clock() - begun)
    return taken[0], taken[1], kept


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


def report_whole(questions: list[Question]) -> None:
    """Print the times of whole answers, light included."""
    for question in questions:
        question.answer("fast")  # the ways of rays through each grid are kept
    proof, fast, kept = zip(*(whole_s(q) for q in questions), strict=True)
    again = [t for one in kept for t in one]
    for name, values, target in (
        ("with light: proof", list(proof), TARGET_PROOF_S),
        ("with light: fast", list(fast), TARGET_FAST_S),
        ("with light: what if", again, TARGET_WHAT_IF_S),
    ):
        middle, most = np.quantile(values, [0.5, 0.9])
        met = "met" if middle <= target else "missed"
        print(
            f"  {name:<20} median {1e3 * middle:7.1f} ms  90 % {1e3 * most:7.1f} ms  worst "
            f"{1e3 * max(values):7.1f} ms  target {1e3 * target:5.0f} ms ({met})"
        )


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 8
    wall, cpu = time.perf_counter(), time.process_time()
    for title, questions in (
        ("Surveyed trees of the invented holding", surveyed()),
        ("Scaffolds of a published survey", scaffolds()),
    ):
        if questions:
            report(title, [timed(solved_last(q)) for q in questions], TARGET_PROOF_S)
            report_whole(questions)
        else:
            print(f"{title}: not here, set LIMBWRIGHT_DATA.")
    drawn = [timed(p) for p in random_problems(count)]
    report("Random problems", drawn, TARGET_PROOF_300_S)
    idle = 1.0 - (time.process_time() - cpu) / (time.perf_counter() - wall)
    print(f"The machine did something else for {max(0.0, idle):.0%} of the time.")


if __name__ == "__main__":
    main()

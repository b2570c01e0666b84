"""Time of staging one tree over several seasons, and what rolling years lose.

Run: ``python benchmarks/stages.py [large random] [small random] [surveyed] [seconds for a proof]``,
the first three being numbers of trees.

1. Random trees of 200 candidates over 5 seasons (those of ``benchmarks/optimiser.py``, grown):
   time of the whole answer, its bound over all choices of rest seasons included.
2. The loss against the joint optimum: random trees of 40 candidates and surveyed trees of the
   invented holding, over 3 seasons, each also proven with all seasons at once. Where a proof is
   not closed in its time the loss is told against its bound too.

Times are of the processor, one thread; where the machine does something else as well they are
longer than on an idle one, by a third to two thirds when both cores are taken. Shares are of what
the best sequence gains on leaving the tree alone.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.stages.grown import no_light, random_years

from limbwright.cuts.question import ask
from limbwright.cuts.weights import Settings
from limbwright.demo import make_holding
from limbwright.errors import PlanError
from limbwright.growth.rates import rates
from limbwright.stages.best import Best, best_of_years, best_sequence
from limbwright.stages.build import Asked, ask_years
from limbwright.stages.rhythm import rhythm
from limbwright.stages.years import Years
from limbwright.statics.assess import assess
from limbwright.survey.build import build_skeleton

TARGET_S, TARGET_LOSS = 1.0, 0.01
PROOF_GAP = 0.002
clock = time.process_time


@dataclass(frozen=True)
class Timed:
    """One tree: time [s], the share not proven, and what the joint optimum gains more."""

    seconds: float
    within: float
    loss: float = 0.0
    most_loss: float = 0.0
    closed: bool = True


def random_trees(count: int, nodes: int, seasons: int) -> list[Years]:
    """Return random trees that can be planned at all, with room for as many cuts as pay."""
    out: list[Years] = []
    seed = 0
    while len(out) < count:
        seed += 1
        years = random_years(seed, nodes, seasons, cases=6)
        years = replace(years, seasons=tuple(replace(p, max_cuts=None) for p in years.seasons))
        try:
            rolled(years)
        except PlanError:
            continue
        out.append(years)
    return out


def rolled(years: Years, *, proof: bool = False, limit_s: float = 30.0) -> Best:
    """Return the answer for a tree given as arrays."""
    rule = rhythm(Settings(), frail=False)
    return best_of_years(
        years, no_light(years), rule, proof=proof, gap=PROOF_GAP, time_limit_s=limit_s
    )


def surveyed(count: int, seasons: int) -> list[Asked]:
    """Return what is asked of surveyed trees of the invented holding."""
    holding = make_holding(1)
    out = []
    for one in holding.surveys()[:count]:
        question = ask(assess(build_skeleton(one)[0], holding.site), one.station, year=2026)
        growth = rates(question.kind, one.station, year=2026, state=question.bounds.state.key)
        out.append(ask_years(question, growth, seasons, year=2026))
    return out


def loss_of(found: Best, best: Best, seconds: float) -> Timed:
    """Return what an answer loses against the joint optimum, and at most against its bound."""
    gained = max(best.nothing_h - best.objective_h, 1e-9)
    return Timed(
        seconds,
        found.within,
        max(found.objective_h - best.objective_h, 0.0) / gained,
        max(found.objective_h - best.bound_h, 0.0) / max(best.nothing_h - best.bound_h, 1e-9),
        best.within <= 2.0 * PROOF_GAP,
    )


def told(name: str, all_timed: list[Timed], *, losses: bool) -> None:
    """Print one line of times, certificates and losses."""
    taken = [one.seconds for one in all_timed]
    within = [one.within for one in all_timed]
    line = (
        f"{name}: {len(all_timed)} trees, median {np.median(taken):.2f} s, 90 % "
        f"{np.quantile(taken, 0.9):.2f} s, most {max(taken):.2f} s; proven within: median "
        f"{np.median(within):.1%}, most {max(within):.1%}"
    )
    if losses:
        loss = [one.loss for one in all_timed]
        many = sum(one.closed for one in all_timed)
        met = "met" if max(loss) <= TARGET_LOSS else "missed"
        line += (
            f"; loss against the joint optimum: median {np.median(loss):.2%}, mean "
            f"{np.mean(loss):.2%}, most {max(loss):.2%} (target {TARGET_LOSS:.0%} for every tree "
            f"{met}; {many} proofs closed; against the proof's bound at most "
            f"{max(one.most_loss for one in all_timed):.1%})"
        )
    else:
        met = "met" if float(np.median(taken)) <= TARGET_S else "missed"
        line += f"; target {TARGET_S:.0f} s ({met})"
    print(line, flush=True)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 8
    small = int(sys.argv[2]) if len(sys.argv) > 2 else 40
    trees = int(sys.argv[3]) if len(sys.argv) > 3 else 12
    proof_s = float(sys.argv[4]) if len(sys.argv) > 4 else 60.0
    wall, cpu = time.perf_counter(), clock()
    timed = []
    for years in random_trees(count, 200, 5):
        begun = clock()
        found = rolled(years)
        timed.append(Timed(clock() - begun, found.within))
    told("200 candidates, 5 seasons", timed, losses=False)
    timed = []
    for years in random_trees(small, 40, 3):
        begun = clock()
        found = rolled(years)
        taken = clock() - begun
        timed.append(loss_of(found, rolled(years, proof=True, limit_s=proof_s), taken))
    told("40 candidates, 3 seasons", timed, losses=True)
    timed = []
    for asked in surveyed(trees, 3):
        begun = clock()
        found = best_sequence(asked)
        taken = clock() - begun
        best = best_sequence(asked, proof=True, gap=PROOF_GAP, time_limit_s=proof_s)
        timed.append(loss_of(found, best, taken))
    told("surveyed trees with light, 3 seasons", timed, losses=True)
    idle = 1.0 - (clock() - cpu) / (time.perf_counter() - wall)
    print(f"The machine did something else for {max(0.0, idle):.0%} of the time.")


if __name__ == "__main__":
    main()

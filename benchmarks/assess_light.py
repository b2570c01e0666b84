"""What light and air add to the assessment of a survey, on one process and on two.

Run: ``python benchmarks/assess_light.py [holdings]``. Each holding is an invented one of 24
trees. The floor is the season's and the winter's light alone: two passes of `crown_light`.
Processor time on one process does not depend on what else the machine does; the clock's does.

Measured on two cores, 120 trees, machine load 3: floor 7.0 s of processor; one process 1.7 s,
with light and air 8.5 s (+6.8 s of processor, 0.97 x floor); two processes 1.9 s, with light and
air 5.2 s. With the outline in leaf looked at for the bare crown too, at a load of 11: floor 11.1 s,
+12.1 s of processor (1.09 x floor).
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from limbwright.demo import make_holding, write_holding
from limbwright.job import Order, open_trees, work_all
from limbwright.job.opened import Tree
from limbwright.job.work import build
from limbwright.light.summary import Standing


def trees_of(holdings: int) -> list[Tree]:
    """Return the surveyed trees of some invented holdings."""
    found: list[Tree] = []
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(1, holdings + 1):
            stations, limbs = write_holding(make_holding(seed), Path(folder) / str(seed))
            found += open_trees(limbs, stations=stations).trees
    return found


def taken_s(trees: list[Tree], *, light: bool, workers: int) -> tuple[float, float]:
    """Return clock and processor time [s]; the latter of this process alone."""
    clock, used = time.perf_counter(), time.process_time()
    for _ in work_all(trees, Order(light=light), with_plan=False, workers=workers):
        pass
    return time.perf_counter() - clock, time.process_time() - used


def main() -> None:
    trees = trees_of(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
    skeletons = [build(tree)[0] for tree in trees]
    begun = time.process_time()
    for skeleton in skeletons:
        stands = Standing(skeleton, Order().site)
        assert stands.summer.mean <= 1.0
        assert stands.winter.ground <= 1.0
    floor = time.process_time() - begun
    print(f"{len(trees)} trees; floor, the two lights alone: {floor:.1f} s of processor")
    for workers in (1, 2):
        plain, lit = (taken_s(trees, light=on, workers=workers) for on in (False, True))
        print(f"{workers} process(es): {plain[0]:.1f} s, with light and air {lit[0]:.1f} s", end="")
        if workers == 1:
            added = lit[1] - plain[1]
            print(f"; processor +{added:.1f} s, {added / floor:.2f} x floor", end="")
        print()


if __name__ == "__main__":
    main()

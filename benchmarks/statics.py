"""Time of the statics against the memory floor and against a frame analysis.

Run: ``python benchmarks/statics.py [segments]``. The floor is one copy of the forces and
moments in all cases (read once, written once), measured in the same run: into memory that is
ready, and into memory the system has to hand out first. Each is set against its like.
"""

from __future__ import annotations

import logging
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from Pynite import FEModel3D

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tests.trees import random_skeleton

from limbwright.model.site import Site
from limbwright.model.skeleton import Skeleton
from limbwright.statics.assess import assess
from limbwright.statics.loads import Loads, loads
from limbwright.statics.resultants import resultants


def best_s(work: Callable[[], object], repeats: int = 15) -> tuple[float, float]:
    """Return the least and the median time of ``work`` [s]."""
    taken = []
    for _ in range(repeats):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return min(taken), float(np.median(taken))


def frame(skeleton: Skeleton, load: Loads) -> FEModel3D:
    """Return the tree as a frame model with every segment's own weight at its two nodes."""
    model = FEModel3D()
    model.add_material("green wood", 7e9, 3e9, 0.3, 0.0)
    model.add_section("round", 0.01, 1e-5, 1e-5, 2e-5)
    model.add_node("foot", *map(float, skeleton.start_m[0]))
    for i in range(skeleton.n):
        model.add_node(f"n{i}", *map(float, skeleton.end_m[i]))
    for i, p in enumerate(skeleton.parent.tolist()):
        near = "foot" if p < 0 else f"n{p}"
        model.add_member(f"m{i}", near, f"n{i}", "green wood", "round")
        model.add_node_load(f"n{i}", "FZ", float(load.force_n[0, i, 2]))
    model.def_support("foot", True, True, True, True, True, True)
    return model


def main() -> None:
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    tree = random_skeleton(1, n)
    site = Site()
    load = loads(tree, site)
    force, moment = np.ascontiguousarray(load.force_n), np.ascontiguousarray(load.moment_n_m)
    to_force, to_moment = np.empty_like(force), np.empty_like(moment)
    size_mb = (force.nbytes + moment.nbytes) / 1e6

    def copy() -> None:
        np.copyto(to_force, force)
        np.copyto(to_moment, moment)

    def fresh_copy() -> tuple[object, object]:
        return force.copy(), moment.copy()

    kept = np.ones(n, dtype=np.bool_)
    kept[tree.in_subtree(n // 2)] = False
    floor, floor_median = best_s(copy)
    fresh, _ = best_s(fresh_copy)
    ready_result = resultants(tree, load)
    ready, ready_median = best_s(lambda: resultants(tree, load, over=ready_result))
    ours, ours_median = best_s(lambda: resultants(tree, load))
    masked, _ = best_s(lambda: resultants(tree, load, kept, over=ready_result))
    ends, _ = best_s(lambda: resultants(tree, load).end_moment_n_m, 5)
    making, _ = best_s(lambda: loads(tree, site), 5)
    whole, _ = best_s(lambda: assess(tree, site), 3)

    def line(name: str, least: float, median: float | None = None) -> None:
        tail = "" if median is None else f"  (median {1e3 * median:.2f})"
        print(f"{name:<40}{1e3 * least:8.2f} ms{tail}")

    print(f"{n} segments x {len(load.cases)} cases, {size_mb:.1f} MB of loads (least of 15 runs)")
    line("floor: copy into ready memory", floor, floor_median)
    line("resultants into ready memory", ready, ready_median)
    print(f"{'  over that floor':<40}{ready / floor:8.2f} x")
    line("floor: copy into fresh memory", fresh)
    line("resultants into fresh memory", ours, ours_median)
    print(f"{'  over that floor':<40}{ours / fresh:8.2f} x")
    line("resultants without one subtree, ready", masked)
    line("resultants and ends, fresh", ends)
    line("loads", making)
    line("whole assessment", whole)

    logging.disable(logging.CRITICAL)
    small = random_skeleton(2, 1000)
    weight = loads(small, site, only=["own-weight"])
    model = frame(small, weight)
    begun = time.perf_counter()
    model.analyze_linear(check_stability=False)
    theirs = time.perf_counter() - begun
    here, _ = best_s(lambda: resultants(small, weight))
    print(f"1000 members, one case: frame analysis {theirs:.3f} s, here {1e6 * here:.0f} us,")
    print(f"  ratio {theirs / here:.0f} x (both exact here: a tree is statically determinate)")


if __name__ == "__main__":
    main()

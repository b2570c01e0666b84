"""Time the whole job on the real scaffold survey: 120 trees from table to cut cards.

Target: at most 30 s on two cores; memory flat in the number of trees.
Floor: reading the table plus one assessment and one LP a tree, estimated here as the time of the
assessments alone on one core divided by the cores used.
Run: python benchmarks/survey_to_cards.py [folder of the open data]
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

from limbwright.job import Order, open_trees, work_all, work_one
from limbwright.job.outputs import write_plans

ROOT = Path(__file__).resolve().parents[1]
DATA = Path(os.environ.get("LIMBWRIGHT_DATA", ROOT.parent / "shared" / "data"))


def main() -> None:
    """Print the times and the memory of the run."""
    data = Path(sys.argv[1]) if len(sys.argv) > 1 else DATA
    table = data / "limb-surveys" / "scaffolds.csv"
    if not table.exists():
        print("The open scaffold survey is not here; nothing timed.")
        return
    cores = os.cpu_count() or 1
    started = time.perf_counter()
    opened = open_trees(table, columns=ROOT / "examples" / "scaffolds.toml")
    read_s = time.perf_counter() - started
    order = Order(today=date(2027, 1, 15))
    done = list(work_all(opened.trees, order, workers=cores))
    planned_s = time.perf_counter() - started
    with tempfile.TemporaryDirectory() as folder:
        write_plans(done, Path(folder))
        total_s = time.perf_counter() - started
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    child_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    at = time.perf_counter()
    for item in opened.trees[:30]:
        work_one(item, order, with_plan=False)
    floor_s = read_s + (time.perf_counter() - at) / 30 * len(opened.trees) / cores
    cuts = [len(d.plan.cuts) for d in done if d.plan is not None]
    print(f"trees {len(done)}, planned {len(cuts)}, cuts {sum(cuts)}, cores {cores}")
    print(
        f"read {read_s:.2f} s, planned {planned_s:.1f} s, cards written {total_s:.1f} s (limit 30)"
    )
    print(f"floor {floor_s:.1f} s, ratio {total_s / floor_s:.1f}")
    print(f"peak memory {peak_mb:.0f} MB, of the largest worker {child_mb:.0f} MB")


if __name__ == "__main__":
    main()

"""Draw invented orchards and trees over the years, and time it.

Run: ``python benchmarks/draw_years.py [folder]``. Writes ``orchard-map.svg`` (an invented orchard
of 60 stations) and ``tree-years.svg`` (one tree of the invented holding over three seasons of cuts
chosen at random, not by a plan); prints how long maps of 50 to 1,000 stations and the strip take.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from statistics import median
from time import perf_counter

import numpy as np

from limbwright.demo import make_holding
from limbwright.growth.rates import rates
from limbwright.growth.season import GrownTree, dose_of, season_on
from limbwright.model.holding import Holding
from limbwright.model.records import StationRecord
from limbwright.report.map import holding_map
from limbwright.report.whole import write_whole
from limbwright.report.years_drawing import Stand, tree_years
from limbwright.survey.build import build_skeleton

PICTURES = Path(__file__).resolve().parents[1] / "docs" / "pictures"
GROWN = ("maintain", "restore", "restore", "retrench", "leave for wildlife", "replace")
STATUSES = ("living",) * 12 + ("gap", "dead", "stump", "new")
SPACING_M = 9.0
RUNS = 5


def orchard(many: int, seed: int = 2) -> tuple[list[StationRecord], dict[str, str], list[str]]:
    """Return stations in rows, the kind of need of each grown tree, and a tenth as planned."""
    rng = np.random.default_rng(seed)
    across = max(1, round(many**0.5))
    stations, kinds = [], {}
    for k in range(many):
        status = STATUSES[int(rng.integers(len(STATUSES)))]
        low, high = (0.8, 1.6) if status == "new" else (4.5, 9.0)
        spread_ns, spread_ew = rng.uniform(low, high, 2).tolist()
        x, y = (SPACING_M * np.array([k % across, -(k // across)]) + rng.normal(0, 0.4, 2)).tolist()
        one = StationRecord(
            str(k + 1),
            "Invented Piece",
            "apple",
            x=x,
            y=y,
            status=status,
            spread_ns_m=spread_ns,
            spread_ew_m=spread_ew,
        )
        stations.append(one)
        if status == "living":
            kinds[one.tree] = GROWN[int(rng.integers(len(GROWN)))]
    planned = [one.tree for one in stations if one.tree in kinds][::9]
    return stations, kinds, planned


def stands(seasons: int = 3, seed: int = 2) -> list[Stand]:
    """Return a tree of the invented holding, cut at random within 15 % a season, and grown."""
    rng = np.random.default_rng(seed)
    growth = rates("apple", extension_cm=20.0)
    tree, out = GrownTree.standing(build_skeleton(make_holding(1).surveys()[2])[0]), []
    for y in range(seasons):
        now = tree.skeleton
        gone = np.zeros(now.n, dtype=np.bool_)
        for k in rng.permutation(np.flatnonzero(now.surveyed)[4:]).tolist():
            tried = gone.copy()
            tried[k] = True
            if dose_of(now, tried) <= 0.15:
                gone = tried
            if dose_of(now, gone) > 0.12:
                break
        out.append(Stand(f"winter {2026 + y}-{27 + y}", now, gone))
        tree = season_on(tree, gone, growth)
    return [*out, Stand("a year after the last", tree.skeleton)]


def seconds(make: Callable[[], object]) -> float:
    """Return the median time of a call."""
    found = []
    for _ in range(RUNS):
        start = perf_counter()
        make()
        found.append(perf_counter() - start)
    return median(found)


def main() -> None:
    """Write the pictures and print the times."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else PICTURES
    holding = Holding("An invented holding", marked="invented example")
    stations, kinds, planned = orchard(60)
    drawn = holding_map(holding, stations, kinds=kinds, planned=planned)
    write_whole(folder / "orchard-map.svg", drawn.encode())
    strip = stands()
    write_whole(folder / "tree-years.svg", tree_years(strip).encode())
    for many in (50, 150, 500, 1000):
        some, needs, chosen = orchard(many)
        took = seconds(lambda: holding_map(holding, some, kinds=needs, planned=chosen))  # noqa: B023
        print(f"map of {many} stations: {took:.2f} s")
    print(f"strip of {len(strip)} trees: {seconds(lambda: tree_years(strip)):.2f} s")


if __name__ == "__main__":
    main()

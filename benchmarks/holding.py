"""Plan a holding of 1,000 stations, 100 of them surveyed, over five seasons, and import 10,000.

Run: python benchmarks/holding.py [workers]

The target is 5 minutes on two cores. The floor is the statics alone: ten years of four ways for a
hundred trees, at what `assess` takes for one tree of some 300 segments, shared by the cores.
"""

from __future__ import annotations

import sys
import tempfile
import time
from dataclasses import replace
from datetime import date
from pathlib import Path

from limbwright.demo import make_holding
from limbwright.job.holding_plan import plan_forms, plan_holding, prepare
from limbwright.job.tree_years import YearsOrder
from limbwright.job.work import build
from limbwright.model import Holding, StationRecord, TreeSurvey
from limbwright.needs.need import needs
from limbwright.needs.order import rank
from limbwright.needs.tape import tape_value
from limbwright.project.put import Counts
from limbwright.project.records import save_stations, stations
from limbwright.project.store import Project
from limbwright.project.surveys import save_limbs
from limbwright.statics.assess import assess

STATIONS, SURVEYED, SEASONS = 1000, 100, 5
TODAY = date(2026, 11, 27)


def make(path: Path) -> Counts:
    """Write a holding of many stations, from invented ones of several seeds."""
    places: list[StationRecord] = []
    trees: list[TreeSurvey] = []
    seed = 0
    while len(places) < STATIONS:
        seed += 1
        one = make_holding(seed)
        for station in one.stations[: STATIONS - len(places)]:
            places.append(replace(station, orchard=f"{seed} {station.orchard}"))
        for tree in one.surveys():
            if len(trees) < SURVEYED:
                orchard = f"{seed} {tree.station.orchard}"
                trees.append(replace(tree, station=replace(tree.station, orchard=orchard)))
    with Project.create(path, Holding("Many (invented)")) as project, project.change("fill"):
        told = save_stations(project, places)
        project.put("surveys", [{"survey": 1, "kind": "limbs", "taken_on": TODAY.isoformat()}])
        return told + save_limbs(project, 1, trees)


def main() -> None:
    """Print what each step takes."""
    workers = int(sys.argv[1]) if len(sys.argv) > 1 else 2
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "many.gpkg"
        began = time.perf_counter()
        told = make(path)
        print(f"made {told.added} rows in {time.perf_counter() - began:.1f} s")
        with Project.open(path) as project:
            order = YearsOrder(today=TODAY, years=SEASONS)
            places = stations(project)
            began = time.perf_counter()
            rank(needs(places, year=TODAY.year))
            print(f"needs of {len(places)} in order: {time.perf_counter() - began:.2f} s")
            began = time.perf_counter()
            tape_value(places, order.site, year=TODAY.year)
            print(f"worth of the tape: {time.perf_counter() - began:.2f} s")
            began = time.perf_counter()
            asked = prepare(project, order).asked
            print(f"prepared {len(asked)} trees: {time.perf_counter() - began:.2f} s")
            skeleton = build(asked[0].item)[0]
            began = time.perf_counter()
            assess(skeleton, order.site)
            one = time.perf_counter() - began
            floor = one * 4 * 10 * len(asked) / workers
            began = time.perf_counter()
            done = list(plan_holding(project, asked, order, workers=workers))
            plan_forms(project, order)
            took = time.perf_counter() - began
            failed = [d.tree for d in done if d.failed]
            print(
                f"planned {len(done)} trees over {SEASONS} seasons, with other ways, on {workers} "
                f"processes: {took:.0f} s, {took / len(done):.2f} s a tree; target 300 s; floor "
                f"{floor:.0f} s; failed: {failed or 'none'}"
            )
            began = time.perf_counter()
            again = prepare(project, order)
            print(
                f"going on: {len(again.asked)} left, {len(again.kept)} kept, "
                f"{time.perf_counter() - began:.2f} s"
            )


if __name__ == "__main__":
    main()

"""Write, read, undo and copy the stations of a project file, against the floor of the database.

The floor of a write is one ``executemany`` of ready rows into the same table with its triggers,
and the end of its transaction on the same disk; that of a read is fetching all rows.

    python -m benchmarks.project_file [stations]
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median

from limbwright.model import Holding, StationRecord
from limbwright.project.records import save_stations, stations
from limbwright.project.store import Project

STATIONS = 10_000
REPEATS = 3


def invented(count: int) -> list[StationRecord]:
    return [
        StationRecord(
            station=str(n),
            orchard=f"Invented {n % 12}",
            species="apple",
            cultivar="Invented Russet",
            x=380_000.0 + 9.5 * (n % 100),
            y=240_000.0 + 9.5 * (n // 100),
            planted=1925,
            girth_cm=90.0 + n % 70,
            height_m=7.5,
            spread_ns_m=8.0,
            spread_ew_m=7.5,
            condition="fair",
            features="holes",
            extra={"row": str(n // 100)},
            file="invented.csv",
            row=n + 2,
        )
        for n in range(count)
    ]


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Return seconds on the clock and on the processor."""
    clock, processor = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - clock, time.process_time() - processor


def floors(path: Path) -> dict[str, tuple[float, float]]:
    """Time the database alone: the rows of one file put into an empty one, and fetched."""
    with sqlite3.connect(path) as full:
        rows = full.execute("SELECT * FROM stations").fetchall()
    empty = path.with_name("floor.gpkg")
    Project.create(empty, Holding("Invented")).close()
    bare = sqlite3.connect(empty, isolation_level=None)
    bare.execute("PRAGMA synchronous = FULL")
    marks = ", ".join("?" * len(rows[0]))

    def write() -> None:
        bare.execute("BEGIN IMMEDIATE")
        bare.executemany(f"INSERT INTO stations VALUES ({marks})", rows)
        bare.execute("COMMIT")

    told = {"floor: write": timed(write)}
    told["floor: fetch"] = timed(lambda: bare.execute("SELECT * FROM stations").fetchall())
    bare.close()
    empty.unlink()
    return told


def once(folder: Path, count: int) -> dict[str, tuple[float, float]]:
    path = folder / "invented.gpkg"
    told = {}
    new = invented(count)
    other = [replace(s, girth_cm=140.0, x=s.x and s.x + 1.0) for s in new]
    with Project.create(path, Holding("Invented", crs="EPSG:27700")) as project:
        told["add all"] = timed(lambda: save_stations(project, new))
        told.update(floors(path))
        told["the same again"] = timed(lambda: save_stations(project, new))
        told["change all"] = timed(lambda: save_stations(project, other))
        told["read all"] = timed(lambda: stations(project))
        told["undo"] = timed(project.undo)
        told["redo"] = timed(project.redo)
        told["copy"] = timed(lambda: project.copy_to(folder / "copy.gpkg"))
    told["open"] = timed(lambda: Project.open(path).close())
    for file in folder.iterdir():
        file.unlink()
    return told


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else STATIONS
    with tempfile.TemporaryDirectory() as folder:
        runs = [once(Path(folder), count) for _ in range(REPEATS)]
    print(f"{count} stations, median of {REPEATS} runs")
    print(f"{'':16}{'clock s':>10}{'processor s':>14}")
    for name in runs[0]:
        clock, processor = (median(r[name][i] for r in runs) for i in (0, 1))
        print(f"{name:16}{clock:10.3f}{processor:14.3f}")


if __name__ == "__main__":
    main()

"""Time the adding of 10,000 stations from each format, against the floor.

Each figure is the time by the clock and, after the stroke, that of the processor alone, which is
what a machine with nothing else to do would come near. The floor is the reading of the file's
bytes and one ``executemany`` of as many rows into an empty database: no reader of tables can be
quicker. The workbook holds its text as spreadsheets save it, in one list for the whole book; the
one that Limbwright writes holds it cell by cell, which reads more slowly.

Run: python benchmarks/import_stations.py
"""

from __future__ import annotations

import re
import sqlite3
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable
from contextlib import closing
from datetime import date
from functools import partial
from pathlib import Path

import numpy as np

from limbwright.model import Holding
from limbwright.project.add import add_to_project
from limbwright.project.export import export_project
from limbwright.project.store import Project

STATIONS = 10_000
TARGET_S = 5.0
DAY = date(2026, 9, 1)
SPECIES = ("apple", "pear", "perry-pear", "plum", "damson", "cherry")


def rows() -> list[dict[str, object]]:
    """Return invented stations on a grid of 9 m, in twenty orchards."""
    rng = np.random.default_rng(4)
    girth = np.round(rng.uniform(20.0, 260.0, STATIONS), 1)
    height = np.round(rng.uniform(2.0, 14.0, STATIONS), 1)
    return [
        {
            "orchard": f"Orchard {k // 500 + 1}",
            "station": str(k % 500 + 1),
            "species": SPECIES[k % len(SPECIES)],
            "cultivar": f"Invented {k % 37}",
            "x": 365_000.0 + 9.0 * (k % 25) + 400.0 * (k // 500),
            "y": 233_000.0 + 9.0 * (k % 500 // 25),
            "status": "gap" if k % 11 == 0 else "living",
            "planted": 1900 + k % 100,
            "girth_cm": None if k % 11 == 0 else float(girth[k]),
            "height_m": None if k % 11 == 0 else float(height[k]),
            "spread_ns_m": None if k % 11 == 0 else float(height[k]),
            "condition": ("good", "fair", "poor")[k % 3],
            "note": "invented",
        }
        for k in range(STATIONS)
    ]


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Return the seconds a piece of work takes by the clock and of the processor."""
    begin, busy = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - begin, time.process_time() - busy


def floor(path: Path, folder: Path) -> tuple[float, float]:
    """Return the seconds for the bytes and one ``executemany``, the rows at hand."""
    made = [tuple(row.values()) for row in rows()]
    marks = ", ".join("?" * len(made[0]))

    def work() -> None:
        path.read_bytes()
        with closing(sqlite3.connect(folder / f"floor{path.suffix}.db")) as db:
            db.execute(f"CREATE TABLE s ({', '.join(rows()[0])})")
            db.executemany(f"INSERT INTO s VALUES ({marks})", made)
            db.commit()

    return timed(work)


def as_saved(path: Path) -> Path:
    """Return a copy of a workbook with its text in one list, as spreadsheets save it."""
    texts: dict[str, int] = {}

    def numbered(cell: re.Match[str]) -> str:
        return f'<c r="{cell[1]}" t="s"><v>{texts.setdefault(cell[2], len(texts))}</v></c>'

    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"
    part = f'<Override PartName="/xl/sharedStrings.xml" ContentType="{kind}"/></Types>'
    link = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings"
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    copy = path.with_name("saved.xlsx")
    with zipfile.ZipFile(path) as held, zipfile.ZipFile(copy, "w", zipfile.ZIP_DEFLATED) as out:
        for item in held.infolist():
            text = held.read(item).decode()
            text = re.sub(
                r'<c r="([A-Z]+\d+)" t="inlineStr"><is><t[^>]*>(.*?)</t></is></c>', numbered, text
            )
            text = text.replace("<sheetData>", '<dimension ref="A1:AZ10001"/><sheetData>')
            text = text.replace("</Types>", part)
            if item.filename == "xl/_rels/workbook.xml.rels":
                told = f'<Relationship Id="rId99" Type="{link}" Target="sharedStrings.xml"/>'
                text = text.replace("</Relationships>", f"{told}</Relationships>")
            out.writestr(item.filename, text)
        listed = "".join(f"<si><t>{text}</t></si>" for text in texts)
        out.writestr("xl/sharedStrings.xml", f'<sst xmlns="{main}">{listed}</sst>')
    return copy


def main() -> int:
    """Print a line a format; return 1 where one misses the target."""
    slow = 0
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        source = Project.create(folder / "source.gpkg", Holding("Invented", crs="EPSG:27700"))
        with source:
            source.put("stations", rows())
            print(f"{STATIONS} stations, seconds by the clock / of the processor")
            print(
                "          " + "".join(f"{h:>15}" for h in ("floor", "first", "again", "changed"))
            )
            for suffix in (".csv", ".xlsx", ".geojson", ".gpkg"):
                path = export_project(source, folder / f"s{suffix}", what="stations").path
                path = as_saved(path) if suffix == ".xlsx" else path
                with Project.create(
                    folder / f"to{suffix[1:]}.gpkg", Holding("Invented", crs="EPSG:27700")
                ) as target:
                    work = partial(add_to_project, target, path, taken_on=DAY)
                    first, again = timed(work), timed(work)
                    target.put("stations", [rows()[0] | {"girth_cm": 1.5}])
                    target.put("surveys", [{"survey": 1, "content_sha256": ""}])
                    more = timed(work)
                    held = len(target.rows("stations"))
                assert held == STATIONS
                least = floor(path, folder)
                told = (f"{a:8.2f} / {b:4.2f}" for a, b in (least, first, again, more))
                print(f"{suffix:<10}" + "".join(told))
                slow += max(first[0], again[0], more[0]) > TARGET_S
    return 1 if slow else 0


if __name__ == "__main__":
    sys.exit(main())

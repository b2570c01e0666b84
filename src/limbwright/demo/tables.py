"""Write an invented holding as the tables a person would fill in."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from limbwright.demo.holding import InventedHolding
from limbwright.demo.sketches import draw_sketches
from limbwright.model import Orchard
from limbwright.survey.project_columns import ORCHARD_COLUMNS
from limbwright.survey.record_tables import RECORD_COLUMNS
from limbwright.survey.shoots import SHOOT_COLUMNS

__all__ = ["EARLIER", "write_holding"]

# fmt: off
STATION_COLUMNS = (
    "orchard", "station", "species", "cultivar", "x", "y", "status", "planted", "form", "stock",
    "girth_cm", "girth_at_m", "height_m", "spread_ns_m", "spread_ew_m", "clear_stem_m", "lean_deg",
    "lean_bearing_deg", "condition", "extension_cm", "dead_pct", "features", "faults", "note",
)
LIMB_COLUMNS = (
    "station", "limb", "parent", "at_m", "diameter_mm", "end_diameter_mm", "length_m",
    "bearing_deg", "rise_deg", "end_rise_deg", "crown", "state", "union", "cavity_wall_mm",
    "cavity_far_wall_mm", "cavity_open_deg", "keep", "rubs", "note",
)
# fmt: on
CUT_COLUMNS = ("order", "limb", "cut", "done", "at_m", "diameter_mm", "note")
EARLIER = "earlier"


def write_holding(holding: InventedHolding, folder: Path) -> tuple[Path, Path]:
    """Write a holding as CSV tables; return the paths of stations and limbs.

    Beside these two: ``shoots.csv``, ``orchards.csv`` (boundaries as WKT, since a local grid has
    no longitude and latitude), ``visits.csv``, ``cuts.csv``, ``responses.csv``, ``photos.csv``; in
    the folder ``earlier`` the stations as the walk two autumns before found them, in ``photos``
    drawings in place of photos.

    Raises
    ------
    OSError
        The folder cannot be written.
    """
    before = folder / EARLIER
    before.mkdir(parents=True, exist_ok=True)
    stations, limbs = folder / "stations.csv", folder / "limbs.csv"
    _write(stations, STATION_COLUMNS, (_row(one, STATION_COLUMNS) for one in holding.stations))
    _write(limbs, LIMB_COLUMNS, (_row(one, LIMB_COLUMNS) for one in holding.limbs))
    own = tuple(c for c in SHOOT_COLUMNS if c != "orchard")
    shoots = (
        {"orchard": tree.station.orchard} | _row(one, own)
        for tree in holding.young_trees()
        for one in tree.shoots
    )
    _write(folder / "shoots.csv", SHOOT_COLUMNS, shoots)
    orchards = (_orchard(one) for one in holding.place.orchards)
    _write(folder / "orchards.csv", ORCHARD_COLUMNS, orchards)
    past = holding.past
    then = (_row(one, STATION_COLUMNS) for one in past.stations)
    _write(before / "stations.csv", STATION_COLUMNS, then)
    columns = {kind: _columns(kind) for kind in ("visits", "cuts", "responses", "photos")}
    visits = (_row(one, columns["visits"]) for one in past.visits)
    _write(folder / "visits.csv", columns["visits"], visits)
    cuts = (
        _row(visit, ("tree", "season", "done_on")) | _row(cut, CUT_COLUMNS)
        for visit in past.visits
        for cut in visit.cuts
    )
    _write(folder / "cuts.csv", columns["cuts"], cuts)
    answers = (_row(one, columns["responses"]) for one in past.responses)
    _write(folder / "responses.csv", columns["responses"], answers)
    photos = (_row(one, columns["photos"]) for one in past.photos)
    _write(folder / "photos.csv", columns["photos"], photos)
    for file, picture in draw_sketches(past.photos).items():
        (folder / file).parent.mkdir(exist_ok=True)
        (folder / file).write_bytes(picture)
    return stations, limbs


def _columns(kind: str) -> tuple[str, ...]:
    """Return the columns of a table of records that names its trees whole."""
    return tuple(c for c in RECORD_COLUMNS[kind] if c not in ("orchard", "station"))


def _orchard(one: Orchard) -> dict[str, str]:
    return _row(one, ORCHARD_COLUMNS[1:-1]) | {
        "orchard": one.name,
        "people_below": "yes" if one.people_below else "no",
        "boundary": _wkt(one.boundary),
    }


def _wkt(ring: Sequence[tuple[float, float]]) -> str:
    return f"POLYGON (({', '.join(f'{x:g} {y:g}' for x, y in (*ring, ring[0]))}))"


def _row(record: object, columns: Sequence[str]) -> dict[str, str]:
    return {name: _cell(getattr(record, name)) for name in columns}


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, tuple):
        return ", ".join(str(one) for one in value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _write(path: Path, columns: Sequence[str], rows: Iterable[Mapping[str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, columns)
        writer.writeheader()
        writer.writerows(rows)

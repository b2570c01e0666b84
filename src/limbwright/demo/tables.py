"""Write an invented holding as the tables a person would fill in."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from limbwright.demo.holding import InventedHolding
from limbwright.survey.shoots import SHOOT_COLUMNS

__all__ = ["write_holding"]

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
ORCHARD_COLUMNS = ("orchard", "grazed_by", "access", "people_below", "note", "boundary")


def write_holding(holding: InventedHolding, folder: Path) -> tuple[Path, Path]:
    """Write a holding as CSV: stations, limbs, shoots, orchards; return the paths of the first two.

    Boundaries of orchards are written as WKT, since a local grid has no longitude and latitude.

    Raises
    ------
    OSError
        The folder cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
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
    orchards = [
        {
            "orchard": one.name,
            "grazed_by": one.grazed_by,
            "access": one.access,
            "people_below": "yes" if one.people_below else "no",
            "note": one.note,
            "boundary": _wkt(one.boundary),
        }
        for one in holding.place.orchards
    ]
    _write(folder / "orchards.csv", ORCHARD_COLUMNS, orchards)
    return stations, limbs


def _wkt(ring: Sequence[tuple[float, float]]) -> str:
    return f"POLYGON (({', '.join(f'{x:g} {y:g}' for x, y in (*ring, ring[0]))}))"


def _row(record: object, columns: Sequence[str]) -> dict[str, str]:
    values = {name: getattr(record, name) for name in columns}
    return {
        k: "" if v is None else f"{v:g}" if isinstance(v, float) else str(v)
        for k, v in values.items()
    }


def _write(path: Path, columns: Sequence[str], rows: Iterable[Mapping[str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, columns)
        writer.writeheader()
        writer.writerows(rows)

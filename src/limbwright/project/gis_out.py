"""Write tables as the layers of a GeoPackage that any GIS opens (OGC 12-128r18)."""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterable, Sequence
from contextlib import closing
from pathlib import Path

import shapely
from pyproj.exceptions import CRSError
from shapely.geometry.base import BaseGeometry

from limbwright.project.connect import connect, quoted
from limbwright.project.crs import named_crs
from limbwright.project.geometry import pack_point, pack_rings
from limbwright.project.schema import GEOPACKAGE, GEOPACKAGE_VERSION, STANDARD_TABLES
from limbwright.project.srs import LOCAL, STANDARD_SYSTEMS, System, add_system
from limbwright.project.tables_out import OutTable

__all__ = ["geopackage_bytes"]

_GEOM = "geom"
_KINDS = {"orchards": "POLYGON", "stations": "POINT"}
_DAYS = frozenset(("taken_on", "done_on", "seen_on"))


def geopackage_bytes(tables: Sequence[OutTable], folder: Path) -> bytes:
    """Return a GeoPackage of the tables; those with shapes are layers.

    Parameters
    ----------
    tables
        The tables.
    folder
        Where the file may be built before it is read back.
    """
    with tempfile.TemporaryDirectory(prefix=".", dir=folder) as place:
        path = Path(place) / "tables.gpkg"
        with closing(connect(path, write=True, new=True)) as connection:
            connection.execute(f"PRAGMA application_id = {GEOPACKAGE}")
            connection.execute(f"PRAGMA user_version = {GEOPACKAGE_VERSION}")
            connection.execute("BEGIN")
            for sql in STANDARD_TABLES:
                connection.execute(sql)
            for system in STANDARD_SYSTEMS:
                add_system(connection, system)
            for table in tables:
                _write(connection, table)
            connection.execute("COMMIT")
        return path.read_bytes()


def _write(connection: sqlite3.Connection, table: OutTable) -> None:
    """Write one table, its entry in the tables of the standard, and its rows."""
    layered = table.shapes is not None
    srs = _system(connection, table.crs) if layered else 0
    names = _names(table.header)
    body = table.body()
    kinds = [_kind(name, [row[k] for row in body]) for k, name in enumerate(names)]
    parts = ["fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL"]
    if layered:
        parts.append(f"{_GEOM} {_KINDS[table.name]}")
    parts += [f"{quoted(name)} {kind}" for name, kind in zip(names, kinds, strict=True)]
    connection.execute(f"CREATE TABLE {quoted(table.name)} ({', '.join(parts)})")
    shapes = [s for s in table.shapes or () if s is not None]
    bounds = list(shapely.total_bounds(shapes)) if shapes else [None] * 4
    connection.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, min_x, min_y, max_x, max_y, "
        "srs_id) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            table.name,
            "features" if layered else "attributes",
            table.name,
            *(None if b is None else float(b) for b in bounds),
            srs if layered else None,
        ),
    )
    if layered:
        connection.execute(
            "INSERT INTO gpkg_geometry_columns VALUES (?, ?, ?, ?, 0, 0)",
            (table.name, _GEOM, _KINDS[table.name], srs),
        )
    columns = [*([_GEOM] if layered else []), *names]
    blobs = (
        [[_blob(s, srs)] for s in table.shapes] if table.shapes is not None else [[]] * len(body)
    )
    connection.executemany(
        f"INSERT INTO {quoted(table.name)} ({', '.join(map(quoted, columns))}) "
        f"VALUES ({', '.join('?' * len(columns))})",
        [
            [*blob, *(None if v == "" else v for v in row)]
            for blob, row in zip(blobs, body, strict=True)
        ],
    )


def _system(connection: sqlite3.Connection, crs: str) -> int:
    """Return the number in the file of a CRS; empty: a local grid."""
    if not crs:
        return LOCAL
    found = named_crs(crs)
    try:
        definition = found.to_wkt("WKT1_GDAL")
    except CRSError:
        definition = found.to_wkt()
    authority, _, number = crs.partition(":")
    known = number.isdigit()
    organization, code = (authority, int(number)) if known else ("NONE", 0)
    own = code if organization == "EPSG" else 100_000
    system = System(own, found.name, organization, code or own, definition)
    return add_system(connection, system)


def _names(header: Iterable[str]) -> list[str]:
    """Return the names of columns so that none is there twice, capitals or not."""
    taken = {"fid", _GEOM}
    names = []
    for name in header:
        while name.lower() in taken:
            name += "_again"
        taken.add(name.lower())
        names.append(name)
    return names


def _kind(name: str, values: Iterable[object]) -> str:
    """Return the column type that holds all values as they are (OGC 12-128r18, table 1)."""
    kinds = {type(v) for v in values if v is not None and v != ""}
    if kinds == {int}:
        return "INTEGER"
    if kinds and kinds <= {int, float}:
        return "REAL"
    return "DATE" if name in _DAYS else "TEXT"


def _blob(shape: BaseGeometry | None, srs: int) -> bytes | None:
    if shape is None or shape.is_empty:
        return None
    if shape.geom_type == "Point":
        return pack_point(shape.x, shape.y, srs)
    return pack_rings([list(r.coords) for r in (shape.exterior, *shape.interiors)], srs)

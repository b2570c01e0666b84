"""The layers of a GeoPackage that any GIS made (OGC 12-128r18)."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from contextlib import closing
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from limbwright.errors import InputError
from limbwright.model import Fault
from limbwright.project.connect import quoted
from limbwright.project.crs import crs_label
from limbwright.project.layers import Layer, LayerKind, layer, sort_shapes
from limbwright.project.schema import LAYOUT
from limbwright.project.srs import system_names
from limbwright.survey.tables import MAX_COLUMNS, MAX_ROWS

__all__ = ["is_database", "is_project", "read_geopackage"]

_MAGIC = b"SQLite format 3\x00"
_HEADER_BYTES = 8
_BOX_BYTES = (0, 32, 48, 48, 64)
"""Bytes of the envelope by its kind in the flags; source: OGC 12-128r18, 2.1.3."""
_HELD_TYPES = ("features", "attributes")
_SAVE_AGAIN = "Save the layer again as a GeoPackage."


def is_database(path: Path) -> bool:
    """Return whether a file begins as an SQLite database does, whatever its name."""
    try:
        with Path(path).open("rb") as file:
            return file.read(len(_MAGIC)) == _MAGIC
    except OSError:
        return False


def is_project(path: Path) -> bool:
    """Return whether a database is a project file."""
    try:
        with closing(_open(path)) as connection:
            asked = "SELECT count(*) FROM sqlite_master WHERE name = ?"
            return bool(connection.execute(asked, (LAYOUT,)).fetchone()[0])
    except sqlite3.Error:
        return False


def _open(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
    connection.execute("PRAGMA trusted_schema = OFF")  # views of unknown origin
    return connection


def read_geopackage(path: Path) -> tuple[Layer, ...]:
    """Return the layers and plain tables of a GeoPackage, each with its shapes.

    A feature's row number is its place in the layer, from 1. A layer of several kinds of shape
    comes as several.

    Parameters
    ----------
    path
        The file; it is opened for reading alone.

    Raises
    ------
    InputError
        The file cannot be read, or is no GeoPackage with a layer.
    """
    path = Path(path)
    if not path.is_file():
        raise InputError(f"There is no file {path.name}.", "Check its name and folder.")
    if not is_database(path):
        raise InputError(f"{path.name} is no GeoPackage, whatever its name says.", _SAVE_AGAIN)
    try:
        with closing(_open(path)) as connection:
            connection.text_factory = lambda raw: raw.decode("utf-8", errors="replace")
            return _layers(path.name, connection)
    except sqlite3.Error as error:
        said = str(error).partition("\n")[0]
        remedy = "Close it in other programs, or save the layer again."
        raise InputError(f"{path.name} cannot be read as a GeoPackage: {said}.", remedy) from None


def _layers(file: str, connection: sqlite3.Connection) -> tuple[Layer, ...]:
    tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
    if "gpkg_contents" not in tables:
        raise InputError(f"{file} is a database, but no GeoPackage.", _SAVE_AGAIN)
    shaped: dict[str, tuple[str, int]] = {}
    if "gpkg_geometry_columns" in tables:
        asked = "SELECT table_name, column_name, srs_id FROM gpkg_geometry_columns"
        shaped = {name: (column, srs) for name, column, srs in connection.execute(asked)}
    contents = connection.execute("SELECT table_name, data_type FROM gpkg_contents").fetchall()
    names = [n for n, kind in contents if kind in _HELD_TYPES and n in tables]
    if not names:
        raise InputError(f"{file} has no layer of points, polygons or rows.", _SAVE_AGAIN)
    found: list[Layer] = []
    for name in sorted(names):
        column, srs = shaped.get(name, ("", 0))
        found += _layer(f"{file} ({name})", name, connection, column, _crs(connection, srs))
    return tuple(found)


def _crs(connection: sqlite3.Connection, srs: int) -> str:
    """Return the short name of a system of the file; empty where nothing knows it."""
    for name in system_names(connection, srs):
        try:
            return crs_label(name)
        except InputError:
            continue
    return ""


def _layer(
    file: str, name: str, connection: sqlite3.Connection, geometry: str, crs: str
) -> list[Layer]:
    told = connection.execute(f"PRAGMA table_info({quoted(name)})").fetchall()
    keys = [column for _, column, kind, _, _, at in told if at and kind.upper() == "INTEGER"]
    blobs = {column for _, column, kind, *_ in told if kind.upper() == "BLOB"}
    serial = keys[0] if len(keys) == 1 else ""
    kept = [c for _, c, *_ in told if c not in blobs and c not in (geometry, serial)]
    if len(kept) > MAX_COLUMNS:
        raise InputError(f"{file} has over {MAX_COLUMNS} columns.", "Take some out.")
    listed = ", ".join(quoted(c) for c in [*kept, *([geometry] if geometry else [])]) or "1"
    order = f" ORDER BY {quoted(serial)}" if serial else ""
    limit = f" LIMIT {MAX_ROWS + 1}"
    asked = f"SELECT {listed} FROM {quoted(name)}{order}{limit}"
    held = connection.execute(asked).fetchall()
    if len(held) > MAX_ROWS:
        raise InputError(f"{file} has over {MAX_ROWS} rows.", "Split it by orchard.")
    rows = {n: row[: len(kept)] for n, row in enumerate(held, start=1)}
    faults: list[Fault] = []
    if not geometry:
        return [layer(file, name, "rows", kept, rows.items(), {}, "")] if held else []
    shapes = _shapes(file, {n: row[len(kept)] for n, row in enumerate(held, start=1)}, faults)
    points, polygons, odd, said = sort_shapes(file, shapes)
    faults += said
    broken = {f.row for f in faults if f.severity == "error"} - odd
    rest = [n for n in rows if not (n in points or n in polygons or n in odd or n in broken)]
    parts: tuple[tuple[LayerKind, Iterable[int], Mapping[int, BaseGeometry]], ...] = (
        ("points", points, points),
        ("polygons", polygons, polygons),
        ("rows", rest, {}),
    )
    found = []
    for kind, numbers, of_kind in parts:
        listed_rows = [(n, rows[n]) for n in numbers]
        if listed_rows:
            found.append(layer(file, name, kind, kept, listed_rows, of_kind, crs, faults))
            faults = []
    if faults:  # no row could be used, and still it should be told
        found.append(layer(file, name, "rows", kept, [], {}, crs, faults))
    return found


def _shapes(
    file: str, blobs: Mapping[int, object], faults: list[Fault]
) -> list[tuple[int, BaseGeometry | None]]:
    """Return the shapes of the blobs, all read at once; broken ones are told."""
    wkb: list[bytes | None] = []
    for blob in blobs.values():
        box = (blob[3] >> 1) & 0x07 if isinstance(blob, bytes) and len(blob) > 3 else 7
        sound = isinstance(blob, bytes) and blob[:2] == b"GP" and box < len(_BOX_BYTES)
        cut = _HEADER_BYTES + (_BOX_BYTES[box] if sound else 0)
        wkb.append(blob[cut:] if sound and isinstance(blob, bytes) else None)
    read = shapely.from_wkb(np.array(wkb, dtype=object), on_invalid="ignore")
    found: list[tuple[int, BaseGeometry | None]] = []
    for (number, blob), shape in zip(blobs.items(), read, strict=True):
        if shape is None and blob is not None:
            fault = "a geometry that cannot be read; the row is left out"
            faults.append(Fault(file, number, "", "", fault, _SAVE_AGAIN))
        found.append((number, shape))
    return found

"""Lay a project file out as a GeoPackage (OGC 12-128r18), and bring older ones up to date."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime

from limbwright.errors import InputError
from limbwright.project.connect import quoted
from limbwright.project.journal import JOURNAL_TABLES, reset, unwatched, watch
from limbwright.project.srs import STANDARD_SYSTEMS, System, add_system
from limbwright.project.tables import TABLES, TableSpec
from limbwright.project.values import GEOM, stored_names

__all__ = [
    "LAYOUT",
    "STANDARD_TABLES",
    "STEPS",
    "VERSION",
    "Step",
    "check_file",
    "lay_out",
    "mend",
    "set_system",
    "update",
    "whole",
]

GEOPACKAGE = 0x47504B47
"""``GPKG``, the application id of a GeoPackage (OGC 12-128r18, requirement 2)."""
GEOPACKAGE_VERSION = 10300
"""Version 1.3 (OGC 12-128r18, requirement 2)."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step from the layout before to layout ``version``, made in a transaction of its own."""

    version: int
    what: str
    make: Callable[[sqlite3.Connection], None]


STEPS: tuple[Step, ...] = ()
"""Steps from version 1 on, in order. Whoever changes the tables of a layout that has gone out
to users adds a step here."""
VERSION = 1 + len(STEPS)

STANDARD_TABLES = (
    """CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL PRIMARY KEY,
  organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL,
  definition TEXT NOT NULL,
  description TEXT)""",
    """CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY,
  data_type TEXT NOT NULL,
  identifier TEXT UNIQUE,
  description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE,
  min_y DOUBLE,
  max_x DOUBLE,
  max_y DOUBLE,
  srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id))""",
    """CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL,
  column_name TEXT NOT NULL,
  geometry_type_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL,
  z TINYINT NOT NULL,
  m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id))""",
)
"""The tables of the standard (OGC 12-128r18, annex C)."""

LAYOUT = "limbwright_layout"
"""The table by which a project file is known among GeoPackages."""
_OWN_TABLES = (
    f"""CREATE TABLE {LAYOUT} (
  version INTEGER NOT NULL PRIMARY KEY,
  what TEXT NOT NULL,
  made_at TEXT NOT NULL)""",
    *JOURNAL_TABLES,
)


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


def _table_sql(spec: TableSpec) -> str:
    parts = ["fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL"]
    if spec.geometry:
        parts.append(f"{GEOM} {spec.geometry}")
    for column in spec.columns:
        sql_type = "TEXT" if column.type == "JSON" else column.type
        part = f"{quoted(column.name)} {sql_type}"
        if column.name in spec.key:
            part += " NOT NULL"
            part += " DEFAULT ''" if column.type == "TEXT" else ""
        parts.append(part)
    return f"CREATE TABLE {quoted(spec.name)} (\n  " + ",\n  ".join(parts) + ")"


def key_index(spec: TableSpec) -> str:
    """Return the SQL of the index that keeps each key once."""
    columns = ", ".join(quoted(c) for c in spec.key)
    return (
        f"CREATE UNIQUE INDEX IF NOT EXISTS {quoted('limbwright_key_' + spec.name)} "
        f"ON {quoted(spec.name)} ({columns})"
    )


def add_table(connection: sqlite3.Connection, spec: TableSpec, srs: int) -> None:
    """Add one table, its entries in the tables of the standard, and the watch for its changes."""
    connection.execute(_table_sql(spec))
    connection.execute(key_index(spec))
    kind = "features" if spec.geometry else "attributes"
    connection.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) "
        "VALUES (?, ?, ?, ?, ?)",
        (spec.name, kind, spec.name, spec.about, srs if spec.geometry else None),
    )
    if spec.geometry:
        connection.execute(
            "INSERT INTO gpkg_geometry_columns VALUES (?, ?, ?, ?, 0, 0)",
            (spec.name, GEOM, spec.geometry, srs),
        )
    watch(connection, spec.name)


def lay_out(connection: sqlite3.Connection, system: System) -> None:
    """Make all tables in an empty file."""
    connection.execute(f"PRAGMA application_id = {GEOPACKAGE}")
    connection.execute(f"PRAGMA user_version = {GEOPACKAGE_VERSION}")
    with whole(connection):
        for sql in (*STANDARD_TABLES, *_OWN_TABLES):
            connection.execute(sql)
        for standard in STANDARD_SYSTEMS:
            add_system(connection, standard)
        srs = add_system(connection, system)
        for spec in TABLES:
            add_table(connection, spec, srs)
        _record(connection, VERSION, "made")


def _record(connection: sqlite3.Connection, version: int, what: str) -> None:
    connection.execute(f"INSERT INTO {LAYOUT} VALUES (?, ?, ?)", (version, what, _now()))


def set_system(connection: sqlite3.Connection, system: System) -> int:
    """Name the system of all layers, within a transaction, and return its number in the file."""
    srs = add_system(connection, system)
    layers = [s.name for s in TABLES if s.geometry]
    for table in ("gpkg_contents", "gpkg_geometry_columns"):
        connection.executemany(
            f"UPDATE {table} SET srs_id = ? WHERE table_name = ?", [(srs, n) for n in layers]
        )
    return srs


def _names(connection: sqlite3.Connection, kind: str) -> set[str]:
    found = connection.execute("SELECT name FROM sqlite_master WHERE type = ?", (kind,))
    return {row[0] for row in found}


def file_version(connection: sqlite3.Connection, name: str) -> int:
    """Return the version of a file's layout.

    Raises
    ------
    InputError
        It is no project file.
    """
    tables = _names(connection, "table")
    if LAYOUT in tables:
        found = connection.execute(f"SELECT max(version) FROM {LAYOUT}").fetchone()[0]
        if found is not None:
            return int(found)
    what = "a GeoPackage, but not a project file" if "gpkg_contents" in tables else ""
    raise InputError(
        f"{name} is {what or 'not a project file'}.",
        "Make a new project and add this file to it." if what else "Give the .gpkg of a holding.",
    )


def update(connection: sqlite3.Connection, name: str) -> None:
    """Bring an older file up to date, each step whole or not at all.

    Raises
    ------
    InputError
        The file is no project file, or a newer version of Limbwright made it.
    """
    _check_newer(file_version(connection, name), name)
    for step in STEPS:
        if step.version <= file_version(connection, name):
            continue
        with whole(connection):
            if step.version > file_version(connection, name):  # another program may have been here
                step.make(connection)
                _record(connection, step.version, step.what)


def _check_newer(version: int, name: str) -> None:
    if version > VERSION:
        raise InputError(
            f"{name} was made by a newer version of Limbwright (layout {version}; this one knows "
            f"{VERSION}).",
            "Install the newer version to open it.",
        )


def check_file(connection: sqlite3.Connection, name: str) -> None:
    """See that a file can be used as it stands.

    Raises
    ------
    InputError
        It is no project file, is newer or older than this version, or lacks tables or columns.
    """
    version = file_version(connection, name)
    _check_newer(version, name)
    if version < VERSION:
        raise InputError(
            f"{name} has an older layout ({version}; this version of Limbwright knows {VERSION}).",
            "Open it once for writing, which brings it up to date.",
        )
    tables = _names(connection, "table")
    for spec in TABLES:
        lost = {"fid", *stored_names(spec)}
        if spec.name in tables:
            lost -= {r[1] for r in connection.execute(f"PRAGMA table_info({quoted(spec.name)})")}
        if lost:
            what = f"columns {', '.join(sorted(lost))}" if spec.name in tables else "all of it"
            raise InputError(
                f"In {name} another program took away or replaced the table {spec.name}: "
                f"{what} is gone.",
                "Go back to a copy. In a GIS edit the layers and add to them; do not overwrite "
                "or rename them.",
            )


def mend(connection: sqlite3.Connection, name: str) -> bool:
    """Watch again the tables that another program gave new columns or made anew.

    Returns whether a table was made anew: then nothing before can be undone.

    Raises
    ------
    InputError
        A table made anew has two rows of one key.
    """
    odd = [s for s in TABLES if unwatched(connection, s.name) or not _keyed(connection, s)]
    if not odd:
        return False
    with whole(connection):
        anew = [s for s in odd if not _keyed(connection, s)]
        for spec in anew:
            _make_keyed(connection, spec, name)
        for spec in odd:
            watch(connection, spec.name)
        if anew:
            reset(connection)
    return bool(anew)


@contextmanager
def whole(connection: sqlite3.Connection) -> Iterator[None]:
    """Make a transaction of what is done within."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:  # a broken file may have taken it back by itself
            connection.execute("ROLLBACK")
        raise


def _keyed(connection: sqlite3.Connection, spec: TableSpec) -> bool:
    found = connection.execute(
        "SELECT 1 FROM sqlite_master WHERE type = 'index' AND name = ? AND tbl_name = ?",
        (f"limbwright_key_{spec.name}", spec.name),
    )
    return found.fetchone() is not None


def _make_keyed(connection: sqlite3.Connection, spec: TableSpec, name: str) -> None:
    for column in (c for c in spec.columns if c.name in spec.key and c.type == "TEXT"):
        own = quoted(column.name)
        connection.execute(f"UPDATE {quoted(spec.name)} SET {own} = '' WHERE {own} IS NULL")
    try:
        connection.execute(key_index(spec))
    except sqlite3.IntegrityError as error:
        raise InputError(
            f"In {name} another program made the table {spec.name} anew, and two of its rows have "
            f"the same {' and '.join(spec.key)}.",
            "Give each its own there, or go back to a copy.",
        ) from error

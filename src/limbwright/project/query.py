"""Ask the database for rows."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping

from limbwright.project.connect import quoted
from limbwright.project.tables import TableSpec
from limbwright.project.values import encode, readers_of, stored_names

__all__ = ["further_columns", "odd_values", "where_sql"]


def where_sql(spec: TableSpec, where: Mapping[str, object]) -> tuple[str, list[object]]:
    """Return the condition that columns have values, or any of several, and what fills it.

    Raises
    ------
    KeyError
        There is no such column.
    """
    parts: list[str] = []
    given: list[object] = []
    for name, value in where.items():
        if name not in spec.names:
            raise KeyError(f"{spec.name} has no column {name!r}")
        column = spec.column(name)
        many = isinstance(value, list | tuple | set | frozenset)
        wanted = [encode(spec, column, v) for v in (value if many else [value])]  # type: ignore[attr-defined]
        stored = quoted(name)
        if column.type == "TEXT" and name not in spec.key:
            stored = f"nullif({stored}, '')"
        parts.append("(" + " OR ".join([f"{stored} IS ?"] * len(wanted) or ["0"]) + ")")
        given.extend(wanted)
    return (" WHERE " + " AND ".join(parts) if parts else ""), given


def further_columns(connection: sqlite3.Connection, spec: TableSpec) -> tuple[str, ...]:
    """Return the columns of a table that another program added."""
    known = {"fid", *stored_names(spec)}
    found = connection.execute(f"PRAGMA table_info({quoted(spec.name)})")
    return tuple(row[1] for row in found if row[1] not in known)


def odd_values(connection: sqlite3.Connection, spec: TableSpec) -> list[tuple[int, str, object]]:
    """Return row number, column and value of each value that is not of its column's type."""
    readers = readers_of(spec)
    listed = ", ".join(quoted(n) for n in ("fid", *readers))
    found = connection.execute(f"SELECT {listed} FROM {quoted(spec.name)} ORDER BY fid")
    return [
        (row[0], name, value)
        for row in found
        for (name, read), value in zip(readers.items(), row[1:], strict=True)
        if value not in (None, "") and read(value) in (None, "")
    ]

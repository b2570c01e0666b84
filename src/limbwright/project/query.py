"""Ask the database for rows."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping

from limbwright.project.connect import quoted
from limbwright.project.tables import ColumnType, TableSpec
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


_NULL = "'null'"
_FITTING: dict[ColumnType, str] = {
    "TEXT": "'null', 'text', 'integer', 'real'",
    "INTEGER": "'null', 'integer'",
    "REAL": "'null', 'real', 'integer'",
    "BOOLEAN": "'null', 'integer'",
    "BLOB": "'null', 'blob'",
}
"""Types by which the database alone tells that a value fits its column, without fetching it."""


def odd_values(connection: sqlite3.Connection, spec: TableSpec) -> list[tuple[int, str, object]]:
    """Return row number, column and value of each value that is not of its column's type."""
    readers = readers_of(spec)
    told = {c.name: _FITTING[c.type] for c in spec.columns if c.type in _FITTING}
    unfit = {n: f"(typeof({quoted(n)}) NOT IN ({told.get(n, _NULL)}))" for n in readers}
    # one pass for all columns that the database tells, one for each of the others
    passes = [tuple(told), *((n,) for n in readers if n not in told)]
    found: list[tuple[int, str, object]] = []
    for names in filter(None, passes):
        listed = ", ".join(quoted(n) for n in names)
        rows = connection.execute(
            f"SELECT fid, {listed} FROM {quoted(spec.name)} "
            f"WHERE {' OR '.join(unfit[n] for n in names)}"
        )
        for fid, *values in rows:
            for name, value in zip(names, values, strict=True):
                if value not in (None, "") and readers[name](value) in (None, ""):
                    found.append((fid, name, value))
    return sorted(found, key=lambda odd: odd[0])

"""Add and change many rows at once, touching only those that say something new."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from limbwright.project.connect import quoted
from limbwright.project.tables import TableSpec
from limbwright.project.values import Stored, readers_of, stored_names, writer_of

__all__ = ["Counts", "put_rows"]

_ONE_BY_ONE = 0.05
"""Judgement: looking up a row by its key costs some 20 times reading it with all the others."""

Key = tuple[Stored, ...]


@dataclass(frozen=True, slots=True)
class Counts:
    """How many rows of a table were added, changed, and the same already."""

    added: int = 0
    changed: int = 0
    same: int = 0

    def __add__(self, other: Counts) -> Counts:
        """Return the sum."""
        return Counts(
            self.added + other.added, self.changed + other.changed, self.same + other.same
        )


def put_rows(
    connection: sqlite3.Connection, spec: TableSpec, rows: Iterable[Mapping[str, object]], srs: int
) -> Counts:
    """Add rows, or change those whose key is there, within a transaction.

    Of two rows of the same key the later one counts, for the columns it gives.

    Parameters
    ----------
    srs
        Number of the coordinate reference system for the shapes of a layer.

    Raises
    ------
    KeyError
        A row lacks its key or has a column that the table does not.
    ValueError
        A value does not fit its column.
    """
    wanted: dict[Key, dict[str, Stored]] = {}
    write = writer_of(spec, srs)
    for row in rows:
        stored = write(row)
        key = tuple(stored[n] for n in spec.key)
        wanted.setdefault(key, {}).update(stored)
    present = _present(connection, spec, wanted)
    new: dict[tuple[str, ...], list[list[Stored]]] = {}
    other: dict[tuple[str, ...], list[list[Stored]]] = {}
    same = 0
    differ = _Difference(spec)
    for key, stored in wanted.items():
        names = tuple(stored)
        if key not in present:
            new.setdefault(names, []).append(list(stored.values()))
        elif differ(present[key], stored):
            other.setdefault(names, []).append([*stored.values(), present[key][0]])
        else:
            same += 1
    table = quoted(spec.name)
    for names, values in new.items():
        listed = ", ".join(map(quoted, names))
        marks = ", ".join("?" * len(names))
        connection.executemany(f"INSERT INTO {table} ({listed}) VALUES ({marks})", values)
    for names, values in other.items():
        listed = ", ".join(f"{quoted(n)} = ?" for n in names)
        connection.executemany(f"UPDATE {table} SET {listed} WHERE fid = ?", values)
    added, changed = (sum(map(len, part.values())) for part in (new, other))
    return Counts(added, changed, same)


def _present(
    connection: sqlite3.Connection, spec: TableSpec, wanted: Mapping[Key, object]
) -> dict[Key, Sequence[Stored]]:
    """Return the rows that are there by key, each with its row number first."""
    names = ("fid", *stored_names(spec))
    select = f"SELECT {', '.join(map(quoted, names))} FROM {quoted(spec.name)}"
    where = [names.index(n) for n in spec.key]
    total = connection.execute(f"SELECT count(*) FROM {quoted(spec.name)}").fetchone()[0]
    found: list[Sequence[Stored]] = []
    if len(wanted) < _ONE_BY_ONE * total:
        condition = " AND ".join(f"{quoted(n)} = ?" for n in spec.key)
        for key in wanted:
            found += connection.execute(f"{select} WHERE {condition}", key).fetchall()
    elif total:
        found = connection.execute(select).fetchall()
    return {tuple(row[i] for i in where): row for row in found}


class _Difference:
    """Whether values say anything that a row of the table does not say already."""

    def __init__(self, spec: TableSpec) -> None:
        self._place = {n: i for i, n in enumerate(stored_names(spec), 1)}  # after the row number
        self._silent = set(spec.silent)
        self._read = readers_of(spec)

    def __call__(self, present: Sequence[Stored], stored: Mapping[str, Stored]) -> bool:
        """Compare as stored first; where that differs, by what is read of it."""
        place = self._place
        unlike = [n for n, v in stored.items() if present[place[n]] != v and n not in self._silent]
        if not unlike:
            return False
        read = self._read
        return any(read[n](present[place[n]]) != read[n](stored[n]) for n in unlike)

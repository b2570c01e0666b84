"""Add and change many rows at once, touching only those that say something new."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from limbwright.project.blocks import Block, Values, picker, stored_blocks
from limbwright.project.connect import quoted
from limbwright.project.tables import TableSpec
from limbwright.project.values import Stored, readers_of, stored_names

__all__ = ["Counts", "put_rows"]

_ONE_BY_ONE = 0.05
"""Judgement: looking up a row by its key costs some 20 times reading it with all the others."""


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
    blocks = _each_key_once(spec, stored_blocks(spec, rows, srs))
    told = Counts()
    for names, wanted in blocks.items():
        told += _put_block(connection, spec, names, wanted)
    return told


def _each_key_once(
    spec: TableSpec, blocks: list[Block]
) -> dict[tuple[str, ...], dict[Values, Values]]:
    """Return rows by their columns and key, rows of the same key made one."""
    found: dict[tuple[str, ...], dict[Values, Values]] = {}
    for block in blocks:
        key = picker([block.names.index(n) for n in spec.key])
        found[block.names] = dict(zip(map(key, block.rows), block.rows, strict=True))
    keys = set[Values]().union(*found.values())
    if len(keys) == sum(len(b.rows) for b in blocks):
        return found
    in_order = sorted(
        (
            (place, b.names, row)
            for b in blocks
            for place, row in zip(b.places, b.rows, strict=True)
        ),
        key=lambda r: r[0],
    )
    made_one: dict[Values, dict[str, Stored]] = {}
    for _, names, row in in_order:
        given = dict(zip(names, row, strict=True))
        made_one.setdefault(tuple(given[n] for n in spec.key), {}).update(given)
    found = {}
    for key_values, given in made_one.items():
        found.setdefault(tuple(given), {})[key_values] = tuple(given.values())
    return found


def _put_block(
    connection: sqlite3.Connection,
    spec: TableSpec,
    names: tuple[str, ...],
    wanted: Mapping[Values, Values],
) -> Counts:
    """Add or change rows that give the same columns."""
    present = _present(connection, spec, wanted)
    place = {n: i for i, n in enumerate(stored_names(spec), 1)}  # after the row number
    pick = picker([place[n] for n in names])
    read = readers_of(spec)
    heard = [(i, read[n]) for i, n in enumerate(names) if n not in spec.silent]
    new: list[Values] = []
    other: list[Values] = []
    for key, values in wanted.items():
        held = present.get(key)
        if held is None:
            new.append(values)
            continue
        before = pick(held)
        if before != values and any(
            before[i] != values[i] and f(before[i]) != f(values[i]) for i, f in heard
        ):
            other.append((*values, held[0]))
    table = quoted(spec.name)
    listed = ", ".join(map(quoted, names))
    marks = ", ".join("?" * len(names))
    connection.executemany(f"INSERT INTO {table} ({listed}) VALUES ({marks})", new)
    listed = ", ".join(f"{quoted(n)} = ?" for n in names)
    connection.executemany(f"UPDATE {table} SET {listed} WHERE fid = ?", other)
    return Counts(len(new), len(other), len(wanted) - len(new) - len(other))


def _present(
    connection: sqlite3.Connection, spec: TableSpec, wanted: Mapping[Values, object]
) -> dict[Values, Values]:
    """Return the rows that are there by key, each with its row number first."""
    names = ("fid", *stored_names(spec))
    select = f"SELECT {', '.join(map(quoted, names))} FROM {quoted(spec.name)}"
    total = connection.execute(f"SELECT count(*) FROM {quoted(spec.name)}").fetchone()[0]
    found: list[Values] = []
    if len(wanted) < _ONE_BY_ONE * total:
        condition = " AND ".join(f"{quoted(n)} = ?" for n in spec.key)
        for key in wanted:
            found += connection.execute(f"{select} WHERE {condition}", key).fetchall()
    elif total:
        found = connection.execute(select).fetchall()
    key_of = picker([names.index(n) for n in spec.key])
    return dict(zip(map(key_of, found), found, strict=True))

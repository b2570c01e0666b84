"""Many rows at once between plain values and what the database holds, column by column.

Most columns hold nothing but what goes over as it stands; one look at the types of a whole column
tells so, at a tenth of the cost of looking at each value.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import cast

from limbwright.project.tables import SHAPE_VALUES, Column, ColumnType, TableSpec
from limbwright.project.values import GEOM, Stored, encode, readers_of, shape_of, stored_names

__all__ = ["Block", "Values", "picker", "plain_rows", "stored_blocks"]

Values = tuple[Stored, ...]
Row = Mapping[str, object]

_NONE = type(None)
_GOES_OVER: dict[ColumnType, frozenset[type]] = {
    "TEXT": frozenset({str}),
    "INTEGER": frozenset({int, _NONE}),
    "REAL": frozenset({float, _NONE}),
    "BLOB": frozenset({bytes, _NONE}),
}
"""Types of values that are the same on both sides; empty text is looked at besides."""


@dataclass(frozen=True, slots=True)
class Block:
    """Rows that give the same columns: their places among all rows, names and values."""

    places: tuple[int, ...]
    names: tuple[str, ...]
    rows: tuple[Values, ...]


def picker(places: Sequence[int]) -> Callable[[Values], Values]:
    """Return what takes the values at some places of a row."""
    if len(places) == 1:
        only = places[0]
        return lambda row: (row[only],)
    return cast("Callable[[Values], Values]", itemgetter(*places))


def stored_blocks(spec: TableSpec, rows: Iterable[Row], srs: int) -> list[Block]:
    """Return rows as the database holds them, in blocks, the columns in the table's order.

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
    groups: dict[frozenset[str], tuple[list[int], list[Row]]] = {}
    for place, row in enumerate(rows):
        places, members = groups.setdefault(frozenset(row), ([], []))
        places.append(place)
        members.append(row)
    return [
        _block(spec, given, tuple(places), members, srs)
        for given, (places, members) in groups.items()
    ]


def _block(
    spec: TableSpec, given: frozenset[str], places: tuple[int, ...], rows: list[Row], srs: int
) -> Block:
    if unknown := given - set(spec.values):
        raise KeyError(f"{spec.name} has no column {sorted(unknown)}")
    if lacking := set(spec.key) - given:
        raise KeyError(f"a row of {spec.name} lacks its key {sorted(lacking)}")
    columns = [c for c in spec.columns if c.name in given]
    names = [c.name for c in columns]
    values = [_stored_column(spec, c, [row[c.name] for row in rows]) for c in columns]
    if given.intersection(SHAPE_VALUES[spec.geometry]):
        names.append(GEOM)
        values.append([shape_of(spec, row, srs) for row in rows])
    return Block(places, tuple(names), tuple(zip(*values, strict=True)))


def _stored_column(spec: TableSpec, column: Column, values: list[object]) -> Sequence[Stored]:
    types = frozenset(map(type, values))
    if types <= _GOES_OVER.get(column.type, frozenset()):
        same = cast("list[Stored]", values)
        if column.name in spec.key:
            if _NONE not in types:
                return same
        elif column.type == "TEXT":
            return [v or None for v in same]
        elif column.type != "REAL" or all(
            v is None or v - v == 0.0 for v in cast("list[float]", values)
        ):
            return same
    return [encode(spec, column, v) for v in values]


def plain_rows(
    spec: TableSpec, fetched: Sequence[Values], further: Sequence[str] = ()
) -> list[dict[str, object]]:
    """Return rows of `stored_names` and further columns as plain values.

    A value that is not of its column's type, as another program may leave it, reads as none.
    """
    if not fetched:
        return []
    names: list[str] = []
    columns: list[Sequence[object]] = []
    readers = readers_of(spec)
    stored = dict(zip((*stored_names(spec), *further), zip(*fetched, strict=True), strict=True))
    for name, values in stored.items():
        if name == GEOM and spec.geometry == "POINT":
            points = [readers[GEOM](v) or (None, None) for v in values]
            names += SHAPE_VALUES[spec.geometry]
            columns += zip(*cast("list[tuple[object, object]]", points), strict=True)
        else:
            names.append("rings" if name == GEOM and spec.geometry else name)
            read = readers.get(name)
            columns.append(values if read is None else _plain_column(spec, name, values, read))
    return [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]


def _plain_column(
    spec: TableSpec, name: str, values: Values, read: Callable[[Stored], object]
) -> Sequence[object]:
    if name != GEOM:
        kind = spec.column(name).type
        types = frozenset(map(type, values))
        if types <= _GOES_OVER.get(kind, frozenset()):
            return values
        if kind == "TEXT" and types <= {str, _NONE}:
            return [v or "" for v in values]
    return list(map(read, values))

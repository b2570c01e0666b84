"""Plain values to what the database holds, and back, column by column."""

from __future__ import annotations

import json
import math
import operator
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from typing import cast

from limbwright.project.geometry import pack_point, pack_rings, point_of, rings_of
from limbwright.project.tables import Column, ColumnType, TableSpec

__all__ = [
    "Stored",
    "encode",
    "readers_of",
    "shape_of",
    "stored_names",
    "to_json",
]

Stored = str | int | float | bytes | None
GEOM = "geom"
"""The column of a layer's shape, named as most makers of GeoPackages name it."""


_JSON = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


def to_json(value: object) -> str:
    """Return plain values as JSON text, the same text for the same values."""
    return _JSON.encode(value)


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError("wants text")
    return value


def _real(value: object) -> float:
    if type(value) is float and value - value == 0.0:  # finite, the common case
        return value
    if isinstance(value, str | bytes | bool):
        raise TypeError("wants a number")
    number = float(cast(float, value))
    if not math.isfinite(number):
        raise ValueError("wants a finite number")
    return number


def _day(value: object) -> str:
    if isinstance(value, datetime):
        raise TypeError("wants a day, not a time")
    return (value if isinstance(value, date) else date.fromisoformat(_text(value))).isoformat()


def _time(value: object) -> str:
    return (
        value if isinstance(value, datetime) else datetime.fromisoformat(_text(value))
    ).isoformat()


def _blob(value: object) -> bytes:
    if not isinstance(value, bytes | bytearray | memoryview):
        raise TypeError("wants bytes")
    return bytes(value)


def _integer(value: object) -> int:
    return operator.index(cast(int, value))


def _truth(value: object) -> int:
    return int(bool(value))


_ENCODE: dict[ColumnType, Callable[[object], Stored]] = {
    "TEXT": _text,
    "INTEGER": _integer,
    "REAL": _real,
    "BOOLEAN": _truth,
    "DATE": _day,
    "DATETIME": _time,
    "BLOB": _blob,
    "JSON": to_json,
}


def encode(spec: TableSpec, column: Column, value: object) -> Stored:
    """Return a plain value as the database holds it; empty text and JSON are NULL, keys are not.

    Raises
    ------
    ValueError
        The value does not fit the column; a fault of the caller, told with table and column.
    """
    if value is None or (column.type in ("TEXT", "JSON") and value in ("", {}, [], ())):
        if column.name not in spec.key:
            return None
        if column.type != "TEXT":
            raise ValueError(f"{spec.name}.{column.name}: a key cannot be empty")
        return ""
    try:
        return _ENCODE[column.type](value)
    except (TypeError, ValueError) as error:
        raise ValueError(f"{spec.name}.{column.name}: {value!r}: {error}") from error


def _read_text(value: Stored) -> object:
    return "" if value is None or isinstance(value, bytes) else str(value)


def _read_integer(value: Stored) -> object:
    return value if isinstance(value, int) else None


def _read_real(value: Stored) -> object:
    return value if isinstance(value, float) else float(value) if isinstance(value, int) else None


def _read_truth(value: Stored) -> object:
    return bool(value) if isinstance(value, int) else None


def _read_day(value: Stored) -> object:
    try:
        return date.fromisoformat(cast(str, value)).isoformat()
    except (TypeError, ValueError):
        return None


def _read_time(value: Stored) -> object:
    try:
        return datetime.fromisoformat(cast(str, value)).isoformat()
    except (TypeError, ValueError):
        return None


def _read_blob(value: Stored) -> object:
    return value if isinstance(value, bytes) else None


def _read_json(value: Stored) -> object:
    try:
        return json.loads(cast(str, value))
    except (TypeError, ValueError):
        return None


_READ: dict[ColumnType, Callable[[Stored], object]] = {
    "TEXT": _read_text,
    "INTEGER": _read_integer,
    "REAL": _read_real,
    "BOOLEAN": _read_truth,
    "DATE": _read_day,
    "DATETIME": _read_time,
    "BLOB": _read_blob,
    "JSON": _read_json,
}


def shape_of(spec: TableSpec, row: Mapping[str, object], srs: int) -> bytes | None:
    """Return the shape of a row of plain values as the database holds it.

    Raises
    ------
    ValueError
        The values are no shape; a fault of the caller, told with the table.
    """
    try:
        if spec.geometry == "POINT":
            x, y = row.get("x"), row.get("y")
            if x is None or y is None:
                return None
            return pack_point(_real(x), _real(y), srs)
        rings = cast("Sequence[Sequence[Sequence[float]]] | None", row.get("rings"))
        return pack_rings(rings, srs) if rings else None
    except (TypeError, ValueError) as error:
        raise ValueError(f"{spec.name}: {error}") from error


def stored_names(spec: TableSpec) -> tuple[str, ...]:
    """Return the names of the columns as the database has them, the shape last."""
    return (*spec.names, GEOM) if spec.geometry else spec.names


def readers_of(spec: TableSpec) -> dict[str, Callable[[Stored], object]]:
    """Return what reads each stored column by name; a value of the wrong type reads as none."""
    readers = {c.name: _READ[c.type] for c in spec.columns}
    if spec.geometry:
        readers[GEOM] = point_of if spec.geometry == "POINT" else rings_of
    return readers

"""Points and polygons as a GeoPackage keeps them (OGC 12-128r18, 2.1.3)."""

from __future__ import annotations

import math
import sqlite3
import struct
from collections.abc import Callable, Sequence

import shapely

__all__ = ["Ring", "Rings", "add_functions", "pack_point", "pack_rings", "point_of", "rings_of"]

Ring = tuple[tuple[float, float], ...]
Rings = tuple[Ring, ...]

_HEADER = struct.Struct("<2sBBi")  # magic, version, flags, spatial reference system
_POINT = struct.Struct("<BIdd")  # byte order, kind, x, y
_PLAIN_POINT = struct.Struct("<2sBBiBIdd")
_BOX = struct.Struct("<4d")
_LITTLE, _WITH_BOX, _EMPTY = 0x01, 0x02, 0x10
_BOX_BYTES = (0, 32, 48, 48, 64)  # by the kind of envelope in the flags
_POINT_KIND = 1
_SHORTEST_RING = 3


def pack_point(x: float, y: float, srs: int) -> bytes:
    """Return a point as the bytes of a GeoPackage.

    Raises
    ------
    ValueError
        A coordinate is not finite.
    """
    if not (math.isfinite(x) and math.isfinite(y)):
        raise ValueError(f"a point at {x}, {y}")
    return _PLAIN_POINT.pack(b"GP", 0, _LITTLE, srs, 1, _POINT_KIND, x, y)


def pack_rings(rings: Sequence[Sequence[Sequence[float]]], srs: int) -> bytes:
    """Return a polygon as the bytes of a GeoPackage; the outer ring comes first.

    Raises
    ------
    ValueError
        A ring has fewer than three points, or a coordinate is not finite.
    """
    for ring in rings:
        if len({tuple(p) for p in ring}) < _SHORTEST_RING:
            raise ValueError("a boundary of fewer than three points")
        if not all(math.isfinite(v) for p in ring for v in p):
            raise ValueError("a boundary with a point that is not finite")
    shape = shapely.Polygon(rings[0], rings[1:])
    x0, y0, x1, y1 = shape.bounds
    head = _HEADER.pack(b"GP", 0, _LITTLE | _WITH_BOX, srs)
    wkb: bytes = shapely.to_wkb(shape, byte_order=1)
    return head + _BOX.pack(x0, x1, y0, y1) + wkb


def _shape(blob: object) -> shapely.Geometry | None:
    """Return the shape of any blob, None for none, an empty one, or one that is broken."""
    if not isinstance(blob, bytes) or len(blob) <= _HEADER.size or blob[:2] != b"GP":
        return None
    kind = (blob[3] >> 1) & 0x07
    if blob[3] & _EMPTY or kind >= len(_BOX_BYTES):
        return None
    try:
        shape = shapely.from_wkb(blob[_HEADER.size + _BOX_BYTES[kind] :])
    except shapely.errors.GEOSException:
        return None
    return None if shape is None or shape.is_empty else shape


def point_of(blob: object) -> tuple[float, float] | None:
    """Return x and y of a point; of any other shape, a point on it. None where there is none."""
    if isinstance(blob, bytes) and len(blob) == _PLAIN_POINT.size:
        magic, _, flags, _, order, kind, x, y = _PLAIN_POINT.unpack(blob)
        if (magic, flags, order, kind) == (b"GP", _LITTLE, 1, _POINT_KIND):
            return (x, y) if math.isfinite(x) and math.isfinite(y) else None
    shape = _shape(blob)
    if shape is None:
        return None
    point = shape if shape.geom_type == "Point" else shape.representative_point()
    return float(point.x), float(point.y)


def rings_of(blob: object) -> Rings | None:
    """Return the rings of a polygon, of the largest one where there are several."""
    shape = _shape(blob)
    if shape is None:
        return None
    parts = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon"]
    if not parts:
        return None
    largest = max(parts, key=lambda p: float(p.area))
    return tuple(
        tuple((float(x), float(y)) for x, y, *_ in ring.coords)
        for ring in (largest.exterior, *largest.interiors)
    )


def _bound(which: int) -> Callable[[object], float | None]:
    def bound(blob: object) -> float | None:
        shape = _shape(blob)
        return None if shape is None else float(shape.bounds[which])

    return bound


def add_functions(connection: sqlite3.Connection) -> None:
    """Give a connection the functions that the spatial index of a GIS calls in its triggers.

    The index (OGC 12-128r18, F.3) is kept by triggers on the layer; without these functions
    nothing could be written to a layer for which a GIS has made one.
    """

    def is_empty(blob: object) -> int | None:
        return None if blob is None else int(_shape(blob) is None)

    connection.create_function("ST_IsEmpty", 1, is_empty, deterministic=True)
    for which, name in enumerate(("ST_MinX", "ST_MinY", "ST_MaxX", "ST_MaxY")):
        connection.create_function(name, 1, _bound(which), deterministic=True)

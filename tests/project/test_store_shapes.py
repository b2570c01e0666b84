"""Shapes as any program may write them: byte orders, heights, boxes, several parts, none."""

from __future__ import annotations

import struct

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from limbwright.project.geometry import pack_point, pack_rings, point_of, rings_of

HERE = st.floats(-1e7, 1e7)


def blob(shape: shapely.Geometry, *, big: bool = False, box: int = 0, empty: bool = False) -> bytes:
    """Return a shape as the standard has it (OGC 12-128r18, 2.1.3), in any of its ways."""
    order = ">" if big else "<"
    flags = (0 if big else 1) | box << 1 | (0x10 if empty else 0)
    head = struct.pack(order + "2sBBi", b"GP", 0, flags, 27700)
    head += struct.pack(f"{order}{(0, 4, 6, 6, 8)[box]}d", *[0.0] * (0, 4, 6, 6, 8)[box])
    wkb: bytes = shapely.to_wkb(shape, byte_order=0 if big else 1)
    return head + wkb


@given(HERE, HERE)
def test_a_point_is_read_as_it_was_written(x: float, y: float) -> None:
    assert point_of(pack_point(x, y, 27700)) == (x, y)
    assert pack_point(x, y, 27700) == blob(shapely.Point(x, y))


@pytest.mark.parametrize("big", [False, True])
@pytest.mark.parametrize("box", range(5))
def test_a_point_is_read_however_it_is_written(big: bool, box: int) -> None:
    for shape in (shapely.Point(1.5, -2.5), shapely.Point(1.5, -2.5, 99.0)):
        assert point_of(blob(shape, big=big, box=box)) == (1.5, -2.5)
    assert point_of(blob(shapely.MultiPoint([(1.5, -2.5)]), big=big, box=box)) == (1.5, -2.5)


@pytest.mark.parametrize(
    "broken",
    [
        None,
        b"",
        b"GP",
        b"PK" + bytes(27),
        "GP",
        7,
        b"GP" + bytes(40),
        pack_point(1, 2, 0)[:-1],
        pack_point(1, 2, 0)[:-8] + struct.pack("<d", float("nan")),
        blob(shapely.Point(), empty=True),
        blob(shapely.Point(1, 2), box=4)[:20],
        b"GP\x00\x0f" + bytes(60),
    ],
)
def test_what_is_no_shape_reads_as_none(broken: object) -> None:
    assert point_of(broken) is None
    assert rings_of(broken) is None


@given(st.binary(max_size=80))
def test_no_bytes_at_all_make_the_reader_fall(data: bytes) -> None:
    for start in (b"", b"GP\x00\x01\x00\x00\x00\x00", b"GP\x00\x03\x00\x00\x00\x00"):
        point_of(start + data)
        rings_of(start + data)


def test_the_largest_part_of_several_is_the_boundary() -> None:
    small, large = shapely.box(0, 0, 1, 1), shapely.box(10, 10, 30, 20)
    read = rings_of(blob(shapely.MultiPolygon([small, large])))
    assert read is not None
    assert shapely.Polygon(read[0]).equals(large)


def test_holes_are_kept_and_the_box_is_right() -> None:
    outer = ((0.0, 0.0), (9.0, 0.0), (9.0, 7.0), (0.0, 7.0), (0.0, 0.0))
    hole = ((1.0, 1.0), (2.0, 1.0), (2.0, 2.0), (1.0, 1.0))
    data = pack_rings([outer[:-1], hole], 27700)
    assert rings_of(data) == (outer, hole)
    assert struct.unpack("<4d", data[8:40]) == (0.0, 9.0, 0.0, 7.0)


@pytest.mark.parametrize(
    "ring",
    [
        ((0.0, 0.0), (1.0, 1.0)),
        ((0.0, 0.0), (1.0, 1.0), (0.0, 0.0)),
        ((0.0, 0.0), (1.0, float("nan")), (0.0, 3.0)),
    ],
)
def test_a_boundary_that_is_none_is_refused(ring: tuple[tuple[float, float], ...]) -> None:
    with pytest.raises(ValueError, match="boundary"):
        pack_rings([ring], 0)

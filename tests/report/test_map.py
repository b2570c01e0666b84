"""The map of a holding: to scale, nothing covered, nothing lost, read in black print."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from tests.report.drawn import SVG, of_class, read, said, size_of

from limbwright.demo import make_holding
from limbwright.errors import InputError
from limbwright.model.holding import Holding, Orchard
from limbwright.model.records import StationRecord
from limbwright.needs.kinds import KINDS
from limbwright.report.labels import Box, overlaps
from limbwright.report.map import holding_map, map_pages, orchard_map
from limbwright.report.map_marks import MARKS, Crown, crown_svg, mark_of
from limbwright.report.strokes import PLUM

DEMO = make_holding(1)
LEAST_MM = 7 / 72 * 25.4


def station(
    number: int, x: float, y: float, spread_m: float = 8.0, **more: object
) -> StationRecord:
    found = StationRecord(str(number), "Kiln Piece", "apple", x=x, y=y)
    return replace(found, **{"spread_ns_m": spread_m, "spread_ew_m": spread_m, **more})


def rows(many: int, across: int, step: float = 9.0) -> list[StationRecord]:
    return [station(k + 1, step * (k % across), -step * (k // across)) for k in range(many)]


def number_boxes(svg: str) -> list[Box]:
    out = []
    for one in of_class(svg, "rect", "number"):
        x, y, wide, high = (float(one.get(k, "0")) for k in ("x", "y", "width", "height"))
        out.append((x, y, x + wide, y + high))
    return out


def inside(svg: str) -> bool:
    width, height = size_of(svg)
    words = all(
        one.left >= 0 and one.right <= width and one.box[1] >= 0 and one.box[3] <= height
        for one in said(svg)
    )
    crowns = all(
        float(e.get("rx", "0")) <= float(e.get("cx", "0")) <= width - float(e.get("rx", "0"))
        and float(e.get("ry", "0")) <= float(e.get("cy", "0"))
        for e in read(svg).findall(f"{SVG}ellipse")
    )
    return words and crowns


def one_in(svg: str) -> int:
    (scale,) = (one.text for one in said(svg) if one.text.startswith("1 : "))
    return int(scale[4:].replace(" ", ""))


@pytest.mark.parametrize(("many", "across"), [(1, 1), (6, 6), (52, 8), (150, 12), (500, 25)])
def test_every_station_has_its_number_and_none_covers_another(many: int, across: int) -> None:
    svg = holding_map(Holding("Invented"), rows(many, across))
    boxes = number_boxes(svg)
    assert len(boxes) == many
    assert overlaps(boxes) == 0
    found = Counter(one.text for one in said(svg))
    assert all(found[str(k + 1)] >= 1 for k in range(many))
    assert inside(svg)


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    for spread in (9.0, 50.0, 900.0):
        svg = holding_map(Holding("Invented"), rows(12, 4, spread), width_mm=120.0)
        if any("overview" in one.text for one in said(svg)):
            continue
        bar_mm = sum(float(r.get("width", "0")) for r in of_class(svg, "rect", "bar"))
        (told,) = (m for one in said(svg) if (m := re.fullmatch(r"([\d.]+) (m|km)", one.text)))
        metres = float(told[1]) * (1000.0 if told[2] == "km" else 1.0)
        assert bar_mm == pytest.approx(metres * 1000.0 / one_in(svg), rel=1e-3)
        assert f"{metres:e}"[0] in "125"
        assert float(f"{metres:e}".split("e")[0]) in (1.0, 2.0, 5.0)


def test_crowns_are_to_scale_with_north_up_and_east_right() -> None:
    trees = [
        station(1, 1000.0, 2000.0, spread_ew_m=6.0, spread_ns_m=9.0),
        station(2, 1020.0, 2000.0),
        station(3, 1000.0, 2030.0),
    ]
    svg = holding_map(Holding("Invented"), trees)
    mm_per_m = 1000.0 / one_in(svg)
    found = read(svg).findall(f"{SVG}ellipse")
    first, east, north = (
        {k: float(e.get(k, "0")) for k in ("cx", "cy", "rx", "ry")} for e in found[:3]
    )
    assert first["rx"] == pytest.approx(3.0 * mm_per_m, abs=0.01)
    assert first["ry"] == pytest.approx(4.5 * mm_per_m, abs=0.01)
    assert east["cx"] - first["cx"] == pytest.approx(20.0 * mm_per_m, abs=0.02)
    assert first["cy"] - north["cy"] == pytest.approx(30.0 * mm_per_m, abs=0.02)


def test_each_kind_of_need_has_a_shape_of_its_own() -> None:
    assert {mark_of(kind, "living") for kind in KINDS} == set(KINDS)
    assert set(KINDS) <= set(MARKS)
    shapes = {mark: str(crown_svg(Crown(5.0, 5.0, 3.0, 3.0, mark))) for mark in MARKS}
    assert len(set(shapes.values())) == len(MARKS)
    assert not any(PLUM in shape for shape in shapes.values())
    assert mark_of("", "gap") == "restock"
    assert mark_of("restock", "stump") == "restock, stump"
    assert mark_of("", "dead") == "leave standing"
    assert mark_of("", "new") == "form"
    assert mark_of("something else", "living") == ""


def test_the_key_counts_what_is_on_the_map() -> None:
    trees = [
        *rows(9, 3),
        station(10, 40.0, 0.0, status="gap"),
        station(11, 40.0, 9.0, status="stump"),
    ]
    kinds = {t.tree: ("restore" if k % 3 else "retrench") for k, t in enumerate(trees[:9])}
    planned = [trees[1].tree, trees[9].tree, "elsewhere/1"]
    svg = holding_map(Holding("Invented"), trees, kinds=kinds, planned=planned)
    told = {one.text for one in said(svg)}
    assert {"restore: 6", "retrench: 3", "restock: 1", "restock, a stump there: 1"} <= told
    assert "planned for the seasons that come next: 2" in told
    rings = [e for e in read(svg).findall(f"{SVG}ellipse") if e.get("stroke") == PLUM]
    assert len(rings) == 2


def test_boundaries_are_drawn_and_unsurveyed_ones_said_to_be_so() -> None:
    ring = ((-8.0, 8.0), (80.0, 8.0), (80.0, -70.0), (-8.0, -70.0))
    known = Holding("Invented", orchards=(Orchard("Kiln Piece", ring),))
    with_ring, without = (holding_map(h, rows(20, 5)) for h in (known, Holding("Invented")))
    dashed = [p for p in read(without).findall(f"{SVG}path") if p.get("stroke-dasharray")]
    assert any("not surveyed" in one.text for one in said(without))
    assert len(dashed) == 1
    assert not any("not surveyed" in one.text for one in said(with_ring))
    mm_per_m = 1000.0 / one_in(with_ring)
    paths = [p.get("d", "") for p in read(with_ring).findall(f"{SVG}path")]
    corners = np.array(
        next([float(v) for v in re.findall(r"[-\d.]+", p)] for p in paths if p.endswith("z"))
    )
    assert np.ptp(corners[::2]) == pytest.approx(88.0 * mm_per_m, abs=0.02)
    assert np.ptp(corners[1::2]) == pytest.approx(78.0 * mm_per_m, abs=0.02)
    only = Holding("Invented", orchards=(Orchard("Far Leys", ring),))
    assert any(one.text == "Far Leys, 0 stations" for one in said(holding_map(only, [])))


def test_stations_without_coordinates_stand_in_a_list_that_says_so() -> None:
    nowhere = [replace(s, x=None, y=None) for s in rows(30, 6)]
    svg = holding_map(Holding("Invented"), nowhere)
    told = [one.text for one in said(svg)]
    assert any("No coordinates were taken" in text for text in told)
    assert not any(text.startswith("1 : ") for text in told)
    assert "N" not in told
    assert [text for text in told if text.isdigit()] == [str(k + 1) for k in range(30)]
    both = holding_map(Holding("Invented"), [*rows(5, 5), *nowhere[5:]])
    assert any("Without coordinates" in one.text for one in said(both))
    assert len(number_boxes(both)) == 5
    assert inside(both)
    many = [replace(s, x=None, y=None) for s in rows(900, 6)]
    told = [one.text for one in said(holding_map(Holding("Invented"), many))]
    shown = sum(text.isdigit() for text in told)
    assert f"And {900 - shown} more: see the list of stations." in told


def test_no_stations_give_a_drawing_that_says_so() -> None:
    assert any("No stations" in one.text for one in said(holding_map(Holding("Invented"), [])))
    assert any(
        "No stations" in one.text for one in said(orchard_map(Holding("x"), "y", rows(3, 3)))
    )


def test_degrees_lie_as_far_apart_as_the_ground() -> None:
    """A degree at 52 north: 111.27 km of latitude, 68.68 km of longitude (WGS 84)."""
    trees = [
        station(1, 0.0, 52.0),
        station(2, 0.001, 52.0),
        station(3, 0.0, 52.001),
    ]
    for crs, there in (
        ("EPSG:4326", trees),
        ("", [replace(t, x=None, y=None, lon_deg=t.x, lat_deg=t.y) for t in trees]),
    ):
        svg = holding_map(Holding("Invented", crs=crs), there)
        mm_per_m = 1000.0 / one_in(svg)
        first, east, north = (
            np.array([float(e.get(k, "0")) for k in ("cx", "cy")])
            for e in read(svg).findall(f"{SVG}ellipse")[:3]
        )
        assert east[0] - first[0] == pytest.approx(68.68 * mm_per_m, rel=2e-3)
        assert first[1] - north[1] == pytest.approx(111.27 * mm_per_m, rel=2e-3)


def test_longitude_and_latitude_come_into_a_named_map() -> None:
    """Zone 30 of UTM puts 3 west on its middle, 500 000 m east."""
    here = station(1, 500_000.0, 5_761_038.2)
    there = replace(station(2, 0.0, 0.0), x=None, y=None, lon_deg=-3.0, lat_deg=52.0)
    svg = holding_map(Holding("Invented", crs="EPSG:32630"), [here, there])
    first, second = (
        np.array([float(e.get(k, "0")) for k in ("cx", "cy")])
        for e in read(svg).findall(f"{SVG}ellipse")[:2]
    )
    assert np.abs(first - second).max() < 0.1


def test_feet_are_made_metres_and_an_unknown_system_is_told() -> None:
    trees = [station(1, 0.0, 0.0), station(2, 100.0, 0.0)]
    svg = holding_map(Holding("Invented", crs="EPSG:2263"), trees)
    a, b = (float(e.get("cx", "0")) for e in read(svg).findall(f"{SVG}ellipse")[:2])
    assert b - a == pytest.approx(30.48 * 1000.0 / one_in(svg), abs=0.02)
    with pytest.raises(InputError, match="no coordinate reference system"):
        holding_map(Holding("Invented", crs="EPSG:nonsense"), trees)


def test_a_wide_holding_is_an_overview_with_a_map_of_each_orchard() -> None:
    far = [replace(s, orchard="Long Furlong", x=(s.x or 0.0) + 9000.0) for s in rows(20, 5)]
    pages = map_pages(Holding("Invented"), [*rows(30, 6), *far], planned=[far[0].tree])
    assert [page.orchard for page in pages] == ["", "Kiln Piece", "Long Furlong"]
    assert [len(number_boxes(page.svg)) for page in pages] == [0, 30, 20]
    assert any("An overview" in one.text for one in said(pages[0].svg))
    assert all(inside(page.svg) for page in pages)
    assert len(map_pages(Holding("Invented"), rows(30, 6))) == 1


def test_a_map_of_the_whole_bears_no_numbers_where_those_of_the_orchards_follow() -> None:
    near = [replace(s, orchard="Long Furlong", x=(s.x or 0.0) + 300.0) for s in rows(20, 5)]
    pages = map_pages(Holding("Invented"), [*rows(30, 6), *near])
    assert [page.orchard for page in pages] == ["", "Kiln Piece", "Long Furlong"]
    assert [len(number_boxes(page.svg)) for page in pages] == [0, 30, 20]
    told = [one.text for one in said(pages[0].svg)]
    assert "Numbers stand on the maps of the orchards that follow." in told
    assert any(text.startswith("Kiln Piece, 30 stations") for text in told)
    assert not any("An overview" in text for text in told)
    marks = read(pages[0].svg).findall(f"{SVG}ellipse")
    assert len(marks) >= 50
    # a lone map of the whole keeps them
    assert len(number_boxes(holding_map(Holding("Invented"), [*rows(30, 6), *near]))) > 0


def test_nothing_is_smaller_than_seven_points_and_the_height_is_kept() -> None:
    kinds = {s.tree: KINDS[k % len(KINDS)] for k, s in enumerate(DEMO.stations)}
    svg = holding_map(Holding("Invented"), DEMO.stations, kinds=kinds, planned=list(kinds)[:4])
    assert min(one.size for one in said(svg)) >= LEAST_MM
    assert size_of(svg)[0] == 180.0
    assert size_of(svg)[1] <= 250.0
    assert inside(svg)
    with pytest.raises(ValueError, match="at least 80 mm"):
        holding_map(Holding("Invented"), DEMO.stations, width_mm=60.0)


names = st.text(st.characters(codec="utf-8"), max_size=15)
reals = st.floats(-500.0, 500.0)
records = st.builds(
    StationRecord,
    station=names,
    orchard=st.sampled_from(["Kiln Piece", "Bell Acre", ""]),
    x=st.none() | reals,
    y=st.none() | reals,
    status=st.sampled_from(["living", "dead", "stump", "gap", "new"]),
    spread_ns_m=st.none() | st.floats(0.0, 25.0),
    spread_ew_m=st.none() | st.floats(0.0, 25.0),
)


FAR_APART = [
    StationRecord(station="1", orchard="Kiln Piece", x=x, y=0.0) for x in (None, 333.0, -350.0)
]


@settings(max_examples=60, deadline=None)
@given(st.lists(records, max_size=25), st.sampled_from(["", *KINDS]), st.floats(80.0, 300.0))
@example(FAR_APART, "", 80.0)
def test_any_holding_gives_a_whole_drawing(
    stations: list[StationRecord], kind: str, width_mm: float
) -> None:
    kinds = {s.tree: kind for s in stations[::2]}
    svg = holding_map(
        Holding("Invented"), stations, kinds=kinds, planned=list(kinds), width_mm=width_mm
    )
    boxes = number_boxes(svg)
    assert overlaps(boxes) == 0
    assert inside(svg)
    placed = sum(s.x is not None and s.y is not None for s in stations)
    overview = any("An overview" in one.text for one in said(svg))
    assert overview or len(boxes) == placed


@pytest.mark.parametrize("surveyed", [True, False])
def test_a_large_orchard_is_shown_in_sheets_that_hold_every_station_once(surveyed: bool) -> None:
    ring = ((-8.0, 8.0), (225.0, 8.0), (225.0, -180.0), (-8.0, -180.0))
    boundary = (Orchard("Kiln Piece", ring),) if surveyed else ()
    trees = rows(400, 22, 10.0)
    pages = map_pages(Holding("Invented", orchards=boundary), trees, planned=[trees[0].tree])
    assert [page.orchard for page in pages] == ["", *["Kiln Piece"] * (len(pages) - 1)]
    count = len(pages) - 1
    assert [page.sheet for page in pages[1:]] == [f"sheet {k + 1} of {count}" for k in range(count)]
    assert count > 1
    numbers = Counter(one.text for page in pages[1:] for one in said(page.svg) if one.size == 2.5)
    assert numbers == Counter(s.station for s in trees)
    assert all(inside(page.svg) and overlaps(number_boxes(page.svg)) == 0 for page in pages)
    assert max(one_in(page.svg) for page in pages[1:]) < one_in(pages[0].svg)

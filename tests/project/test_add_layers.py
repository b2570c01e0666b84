"""Points and polygons from any GIS: made by GDAL, or by hand and broken."""

import json
import sqlite3
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.project.holdings import TABLES, add_text, cleared, full, new, told

from limbwright.errors import InputError
from limbwright.model import Orchard, StationRecord
from limbwright.project.add import add_to_project
from limbwright.project.export import export_project
from limbwright.project.outline import outline
from limbwright.project.put import Counts
from limbwright.project.records import orchards
from limbwright.project.store import Project

SQUARE = [[0.0, 0.0], [40.0, 0.0], [40.0, 30.0], [0.0, 30.0], [0.0, 0.0]]
AT = np.array([365770.0, 233620.0])


def layer(
    path: Path, name: str, crs: str | None, shapes: list[Any], /, **fields: list[Any]
) -> None:
    """Write a layer as GDAL does."""
    kinds = {s.geom_type for s in shapes if s is not None}
    columns = [
        np.array(v, dtype=object if isinstance(v[0], str) else None) for v in fields.values()
    ]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of a layer without a CRS
        pyogrio.raw.write(
            path,
            geometry=np.array([None if s is None else s.wkb for s in shapes], dtype=object),
            field_data=columns,
            fields=list(fields),
            layer=name,
            crs=crs,
            geometry_type=kinds.pop() if len(kinds) == 1 else "Unknown",
            driver="GPKG",
            append=path.exists(),
        )


def test_layers_that_a_gis_made_come_in(tmp_path: Path) -> None:
    path = tmp_path / "walk.gpkg"
    points = [shapely.Point(*(AT + np.array([10.0 * k, 5.0]))) for k in range(3)]
    layer(
        path, "veteran trees", "EPSG:27700", points,
        Station=["1", "2", "3"], orchard=["Kiln Piece"] * 3, girth_cm=[140.5, np.nan, 90.0],
        status=["living", "gap", "living"], Planted=[1921, 1930, 1940], tag=["a", "b", "c"],
    )  # fmt: skip
    ring = shapely.Polygon(AT + np.array(SQUARE))
    layer(path, "grounds", "EPSG:27700", [shapely.MultiPolygon([ring])], name=["Kiln Piece"],
          grazed_by=["sheep"])  # fmt: skip
    with new(tmp_path) as project:
        added = add_to_project(project, path)
        assert list(added.faults) == []
        assert added.counts == {"orchards": Counts(1), "stations": Counts(3)}
        first, second, _ = project.rows("stations")
        assert (first["x"], first["y"], first["girth_cm"]) == (365770.0, 233625.0, 140.5)
        assert (first["planted"], first["extra"]) == (1921, {"tag": "a"})
        assert (second["girth_cm"], second["status"]) == (None, "gap")
        (ground,) = orchards(project)
        assert ground.grazed_by == "sheep"
        assert shapely.Polygon(ground.boundary).equals(ring)
        assert add_to_project(project, path).changes_nothing


def test_a_layer_in_another_crs_lands_in_the_same_place(tmp_path: Path) -> None:
    degrees = tmp_path / "degrees.gpkg"
    layer(degrees, "points", "EPSG:4326", [shapely.Point(-2.5, 52.0, 81.5)], station=["1"])
    with new(tmp_path) as project:
        add_to_project(project, degrees)
        row = project.rows("stations")[0]
        assert (row["x"], row["y"]) == pytest.approx((365770.652, 233624.625), abs=0.01)


def test_a_layer_of_no_named_crs_takes_the_one_given(tmp_path: Path) -> None:
    path = tmp_path / "bare.gpkg"
    layer(path, "points", None, [shapely.Point(-2.5, 52.0)], station=["1"])
    with new(tmp_path) as project:
        add_to_project(project, path, crs="EPSG:4326")
        assert project.rows("stations")[0]["x"] == pytest.approx(365770.652, abs=0.01)


def test_shapes_that_are_neither_are_told_and_the_rest_comes_in(tmp_path: Path) -> None:
    path = tmp_path / "mixed.gpkg"
    line = shapely.LineString([AT, AT + 10.0])
    shapes = [shapely.Point(*AT), line, None, shapely.MultiPoint([AT + 3.0])]
    layer(path, "all", "EPSG:27700", shapes, station=["1", "2", "3", "4"])
    with new(tmp_path) as project:
        added = add_to_project(project, path)
        assert [r["station"] for r in project.rows("stations")] == ["1", "3", "4"]
        assert [r["x"] is None for r in project.rows("stations")] == [False, True, False]
        (fault,) = [f for f in added.faults if f.severity == "error"]
        assert (fault.row, fault.value) == (2, "LineString")


def test_points_without_any_attribute_are_told(tmp_path: Path) -> None:
    path = tmp_path / "bare.gpkg"
    layer(path, "gates", "EPSG:27700", [shapely.Point(*AT)])
    layer(path, "trees", "EPSG:27700", [shapely.Point(*AT)], station=["1"])
    with new(tmp_path) as project:
        added = add_to_project(project, path)
        assert len(project.rows("stations")) == 1
        (fault,) = added.faults
        assert (fault.file, fault.column) == ("bare.gpkg (gates)", "station")


def test_a_kind_takes_that_alone(tmp_path: Path) -> None:
    with full(tmp_path) as source:
        path = export_project(source, tmp_path / "out.gpkg").path
    for kind, tables in {
        "limbs": {"limbs", "orchards", "stations"},
        "orchards": {"orchards"},
    }.items():
        with new(tmp_path, kind) as project:
            add_to_project(project, path, kind=kind, species="apple")
            held = {t for t in TABLES if project.rows(t)}
            assert held == tables


def test_a_broken_geometry_is_told(tmp_path: Path) -> None:
    path = tmp_path / "broken.gpkg"
    points = [shapely.Point(*AT), shapely.Point(*(AT + 1))]
    layer(path, "points", "EPSG:27700", points, station=["1", "2"])
    with sqlite3.connect(path) as db:
        for trigger in [
            r[0] for r in db.execute("SELECT name FROM sqlite_master WHERE type='trigger'")
        ]:
            db.execute(f'DROP TRIGGER "{trigger}"')
        db.execute("UPDATE points SET geom = x'4750000100000000ffff' WHERE fid = 2")
    db.close()
    with new(tmp_path) as project:
        added = add_to_project(project, path)
        assert len(project.rows("stations")) == 1
        assert any("geometry that cannot be read" in f.fault for f in added.faults)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda p: p.write_bytes(b"SQLite format 3\x00" + b"x" * 500), "cannot be read as a Geo"),
        (lambda p: sqlite3.connect(p).execute("CREATE TABLE t (a)").connection.close(),
         "a database, but no GeoPackage"),
        (lambda p: p.write_bytes(b""), "no GeoPackage"),
    ],
)  # fmt: skip
def test_what_is_no_geopackage_is_said(tmp_path: Path, make: Any, said: str) -> None:
    path = tmp_path / "in.gpkg"
    make(path)
    with new(tmp_path) as project, pytest.raises(InputError, match=said):
        add_to_project(project, path)


def collection(*features: Any, **more: Any) -> dict[str, Any]:
    return {"type": "FeatureCollection", "features": list(features), **more}


def point(x: Any, y: Any, **properties: Any) -> dict[str, Any]:
    place = {"type": "Point", "coordinates": [x, y]}
    return {"type": "Feature", "geometry": place, "properties": properties}


def put(tmp_path: Path, document: Any) -> Path:
    path = tmp_path / "in.geojson"
    path.write_text(json.dumps(document), "utf-8")
    return path


def test_points_and_polygons_of_geojson(tmp_path: Path) -> None:
    ring = [[-2.5, 52.0], [-2.499, 52.0], [-2.499, 52.0005], [-2.5, 52.0005], [-2.5, 52.0]]
    ground = {"type": "Polygon", "coordinates": [ring]}
    document = collection(
        point(-2.4999, 52.0001, orchard="Kiln Piece", station=1, girth_cm=142.5, owl=True),
        {"type": "Feature", "geometry": ground, "properties": {"name": "Kiln Piece", "note": "=1"}},
        {"type": "Feature", "geometry": None, "properties": {"station": "2", "species": "pear"}},
    )
    with new(tmp_path, crs="") as project:
        added = add_to_project(project, put(tmp_path, document))
        assert list(added.faults) == []
        assert project.crs == "EPSG:32630"
        assert [r["station"] for r in project.rows("stations")] == ["2", "1"]
        assert project.rows("stations")[1]["extra"] == {"owl": "yes"}
        (ground_row,) = orchards(project)
        assert ground_row.note == "=1"
        # 0.001 deg of longitude at 52 N is 68.7 m, 0.0005 deg of latitude 55.6 m (WGS 84)
        assert shapely.Polygon(ground_row.boundary).area == pytest.approx(68.7 * 55.6, rel=0.01)
        assert add_to_project(project, tmp_path / "in.geojson").changes_nothing


def test_a_named_crs_is_taken_with_a_warning(tmp_path: Path) -> None:
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::27700"}}
    document = collection(point(365770.652, 233624.625, station="1"), crs=crs)
    with new(tmp_path, crs="EPSG:32630") as project:
        added = add_to_project(project, put(tmp_path, document))
        assert [f.severity for f in added.faults] == ["warning"]
        with new(tmp_path, "other", "EPSG:32630") as other:
            add_to_project(other, put(tmp_path, collection(point(-2.5, 52.0, station="1"))))
            there = other.rows("stations")[0]
        here = project.rows("stations")[0]
        assert (here["x"], here["y"]) == pytest.approx((there["x"], there["y"]), abs=0.01)


@pytest.mark.parametrize(
    ("document", "said"),
    [
        ([1, 2], "no GeoJSON"),
        ({"type": "Point", "coordinates": [1, 2]}, "bare geometries lack"),
        (collection(), "has no features"),
        (collection(1, "x"), "no feature that can be used"),
        (collection(point(365770, 233624, station="1")), "No position is a longitude"),
        (collection(point(1, 2, station="1"), crs={"type": "name", "properties": {"name": "?"}}),
         "no coordinate system"),
    ],
)  # fmt: skip
def test_what_is_no_geojson_of_places_is_said(tmp_path: Path, document: Any, said: str) -> None:
    with new(tmp_path) as project:
        with pytest.raises(InputError, match=said):
            add_to_project(project, put(tmp_path, document))
        assert project.rows("stations") == []


@pytest.mark.parametrize(("x", "y"), [(365770.652, 233624.625), (-2.5, 52.0)])
def test_a_crs_given_beside_counts_where_positions_are_no_degrees(
    tmp_path: Path, x: float, y: float
) -> None:
    with new(tmp_path) as project:
        path = put(tmp_path, collection(point(x, y, station="1")))
        add_to_project(project, path, crs="EPSG:27700")
        row = project.rows("stations")[0]
        assert (row["x"], row["y"]) == pytest.approx((365770.652, 233624.625), abs=0.01)


RING = "(365760 233610, 365800 233610, 365800 233640, 365760 233640, 365760 233610)"


def test_boundaries_as_text_are_read_and_compared(tmp_path: Path) -> None:
    head = "orchard,grazed_by,people_below,boundary\n"
    with new(tmp_path) as project:
        add_text(project, "o.csv", head + f'Kiln Piece,sheep,yes,"POLYGON ({RING})"\n')
        (row,) = project.rows("orchards")
        assert (row["grazed_by"], row["people_below"]) == ("sheep", True)
        turned = "(365800 233640, 365800 233610, 365760 233610, 365760 233640, 365800 233640)"
        same = add_text(project, "o.csv", head + f'Kiln Piece,,,"POLYGON ({turned})"\n')
        assert same.changes_nothing
        wider = turned.replace("233610", "233600")
        added = add_text(project, "o.csv", head + f'Kiln Piece,cattle,,"POLYGON ({wider})"\n')
        assert [str(a) for a in added.altered] == [
            "Kiln Piece: grazed_by sheep, now cattle",
            "Kiln Piece: boundary of 0.12 ha, now of 0.16 ha",
        ]


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ('Kiln Piece,"POLYGON (1 2"', "not a boundary"),
        ('Kiln Piece,"POINT (1 2)"', "not one polygon"),
        ('Kiln Piece,"POLYGON ((0 0, 9 9, 9 0, 0 9, 0 0))"', "crosses itself"),
        ('Kiln Piece,\nKiln Piece,"POLYGON ((0 0, 9 9, 9 0, 0 0))"', "there already"),
        (',"POLYGON ((0 0, 9 9, 9 0, 0 0))"', "blank, but needed"),
    ],
)
def test_a_boundary_that_is_none_is_told(tmp_path: Path, row: str, said: str) -> None:
    with new(tmp_path) as project:
        added = add_text(project, "o.csv", f"orchard,boundary\n{row}\n")
        assert any(said in f.fault for f in added.faults)
        assert len(project.rows("orchards")) == (0 if "blank" in said else 1)


def test_an_orchard_spelt_another_way_is_asked_about(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        add_text(project, "s.csv", "orchard,station\nKiln Piece,1\n")
        added = add_text(project, "s.csv", "orchard,station\nkiln  piece,2\n")
        assert any("Is it the same?" in line for line in added.lines())


def test_bad_features_are_told_and_the_rest_comes_in(tmp_path: Path) -> None:
    bad = {"type": "Feature", "geometry": {"type": "Point"}, "properties": {"station": "9"}}
    document = collection(
        point(-2.5, 52.0, station="1"),
        bad,
        point("a", 1, station="8"),
        point(-2.5, 52.0),
        point(10**400, 1, station="7"),
    )
    with new(tmp_path) as project:
        added = add_to_project(project, put(tmp_path, document))
        assert [r["station"] for r in project.rows("stations")] == ["1"]
        assert {f.row for f in added.faults if f.severity == "error"} == {2, 3, 4, 5}


JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-200, 200) | st.text(max_size=4),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(
        st.sampled_from(["type", "features", "geometry", "coordinates", "properties", "crs",
                         "station", "orchard"]),
        inner | st.sampled_from(["Feature", "FeatureCollection", "Point", "Polygon"]),
        max_size=4,
    ),
    max_leaves=12,
)  # fmt: skip


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Project:
    return new(tmp_path_factory.mktemp("shared"))


@settings(max_examples=60, deadline=None)
@given(JSON, st.booleans())
def test_no_json_whatever_makes_a_traceback(shared: Project, value: Any, inside: bool) -> None:
    project = cleared(shared)
    document = collection(point(-2.5, 52, station="1"), value) if inside else value
    path = put(project.path.parent, document)
    try:
        add_to_project(project, path)
    except InputError:
        assert told(project)["stations"] == []


def test_the_ground_of_an_orchard_is_drawn_or_derived() -> None:
    places = tuple(
        StationRecord(str(k), "Kiln Piece", x=x, y=y)
        for k, (x, y) in enumerate(
            [(0.0, 0.0), (40.0, 0.0), (40.0, 30.0), (0.0, 30.0), (20.0, 9.0)]
        )
    )
    elsewhere = StationRecord("9", "Long Bit", x=1000.0, y=0.0)
    derived = outline(Orchard("Kiln Piece"), (*places, elsewhere))
    assert derived is not None
    assert derived.derived
    # a rectangle, a strip of 5 m around it, a quarter circle at each corner
    assert derived.area_ha * 1e4 == pytest.approx(40 * 30 + 2 * 5 * 70 + np.pi * 25, rel=0.01)
    drawn = outline(Orchard("Kiln Piece", ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0))), places)
    assert drawn is not None
    assert (drawn.derived, drawn.area_ha) == (False, 0.005)
    assert outline(Orchard("Empty"), places) is None
    assert outline(Orchard("Long Bit"), [elsewhere]) is not None

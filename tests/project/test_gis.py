"""A GIS opens the project file, edits it, and Limbwright reads what it left. GDAL stands for it."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
import pyogrio
import pytest
import shapely

from limbwright.errors import InputError
from limbwright.model import Holding, Orchard
from limbwright.project.look import look_over
from limbwright.project.records import orchards, save_orchards, stations
from limbwright.project.store import Project
from limbwright.project.tables import TABLES

CORNERS = ((380000.0, 240000.0), (380120.0, 240000.0), (380120.0, 240080.0), (380000.0, 240080.0))
STATIONS = [
    {
        "orchard": "Kiln Piece",
        "station": str(n),
        "species": "apple",
        "girth_cm": 100.0 + n,
        "x": 380000.0 + 9.5 * n,
        "y": 240010.25,
        "status": "gap" if n == 3 else "living",
        "planted": 1920,
        "extra": {"row": "3"},
    }
    for n in range(1, 6)
]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    holding = Holding(
        "Hollin Bank", crs="EPSG:27700", orchards=(Orchard("Kiln Piece", CORNERS, "sheep"),)
    )
    with Project.create(tmp_path / "a.gpkg", holding) as project:
        project.put("stations", [*STATIONS, {"orchard": "Kiln Piece", "station": "lost"}])
        project.put("visits", [{"tree": "Kiln Piece/1", "done_on": "2026-01-31", "hours": 1.5}])
        project.put("surveys", [{"survey": 1, "kind": "limbs", "taken_on": "2026-01-30"}])
    return tmp_path / "a.gpkg"


def test_a_gis_lists_every_table_and_no_inner_one(path: Path) -> None:
    listed = {str(name): kind for name, kind in pyogrio.list_layers(path)}
    kinds = {"": None, "POINT": "Point", "POLYGON": "Polygon"}
    assert listed == {spec.name: kinds[spec.geometry] for spec in TABLES}


def test_a_gis_reads_places_values_types_and_crs(path: Path) -> None:
    meta, fids, shapes, fields = pyogrio.raw.read(path, layer="stations", return_fids=True)
    assert meta["crs"] == "EPSG:27700"
    assert meta["geometry_type"] == "Point"
    assert len(set(fids)) == 6
    column = dict(zip(meta["fields"], fields, strict=True))
    assert column["station"].tolist() == ["1", "2", "3", "4", "5", "lost"]
    assert column["girth_cm"].tolist()[:5] == [101.0, 102.0, 103.0, 104.0, 105.0]
    points = [shapely.from_wkb(s) for s in shapes[:5]]
    assert [(p.x, p.y) for p in points] == [(s["x"], s["y"]) for s in STATIONS]
    assert shapes[5] is None
    meta, _, shapes, fields = pyogrio.raw.read(path, layer="orchards")
    (drawn,) = (shapely.from_wkb(s) for s in shapes)
    assert drawn.equals(shapely.Polygon(CORNERS))
    meta, _, _, fields = pyogrio.raw.read(path, layer="visits")
    column = dict(zip(meta["fields"], fields, strict=True))
    assert column["done_on"][0] == np.datetime64("2026-01-31")
    assert column["hours"].tolist() == [1.5]
    told = pyogrio.read_info(path, layer="orchards")
    assert dict(zip(told["fields"], told["ogr_subtypes"], strict=True))["people_below"] == (
        "OFSTBoolean"
    )


def test_a_gis_finds_stations_by_place(path: Path) -> None:
    box = (380000.0, 240000.0, 380020.0, 240020.0)
    assert len(pyogrio.raw.read(path, layer="stations", bbox=box)[2]) == 2


def test_a_local_grid_has_no_place_on_the_globe(tmp_path: Path) -> None:
    with Project.create(tmp_path / "a.gpkg", Holding("Hollin Bank")) as project:
        project.put("stations", [{"orchard": "", "station": "1", "x": 3.0, "y": 4.0}])
    crs = pyogrio.read_info(tmp_path / "a.gpkg", layer="stations")["crs"]
    assert crs is None or "Undefined Cartesian" in crs


def test_the_layout_is_that_of_a_geopackage_gdal_makes(path: Path, tmp_path: Path) -> None:
    other = tmp_path / "gdal.gpkg"
    pyogrio.raw.write(
        other,
        shapely.to_wkb([shapely.Point(1, 2)]),
        [np.array(["1"], dtype=object)],
        ["station"],
        layer="stations",
        driver="GPKG",
        geometry_type="Point",
        crs="EPSG:27700",
    )
    names = ("gpkg_spatial_ref_sys", "gpkg_contents", "gpkg_geometry_columns")
    layout = []
    for file in (other, path):
        with closing(sqlite3.connect(file)) as opened:
            columns = {n: opened.execute(f"PRAGMA table_info({n})").fetchall() for n in names}
            # name, type, key; GDAL writes the default of one column in capitals
            layout.append({n: [(c[1], c[2], c[3], c[5]) for c in columns[n]] for n in names})
            ids = opened.execute("SELECT srs_id FROM gpkg_spatial_ref_sys").fetchall()
            assert {(-1,), (0,), (4326,), (27700,)} <= set(ids)
            assert opened.execute("PRAGMA application_id").fetchone() == (0x47504B47,)
            assert opened.execute("PRAGMA user_version").fetchone()[0] >= 10200
            assert opened.execute("PRAGMA foreign_key_check").fetchall() == []
    assert layout[0] == layout[1]


def append(path: Path, layer: str, shapes: list[shapely.Geometry], **columns: list[object]) -> None:
    """Append to a layer by GDAL's own writer."""
    pyogrio.raw.write(
        path,
        shapely.to_wkb(shapes),
        [np.array(c, dtype=object if isinstance(c[0], str) else None) for c in columns.values()],
        list(columns),
        layer=layer,
        driver="GPKG",
        geometry_type="Point",
        crs="EPSG:27700",
        append=True,
    )


def test_stations_appended_by_a_gis_are_stations(path: Path) -> None:
    with Project.open(path) as project:
        before = stations(project)
    append(
        path,
        "stations",
        [shapely.Point(380055.5, 240044.25), shapely.Point(380060.0, 240044.0)],
        orchard=["Kiln Piece", "Kiln Piece"],
        station=["11", "12"],
        species=["pear", ""],
        girth_cm=[88.5, 0.5],
    )
    with Project.open(path) as project:
        new = {s.station: s for s in stations(project)}
        assert (new["11"].x, new["11"].y) == (380055.5, 240044.25)
        assert (new["11"].species, new["11"].girth_cm, new["11"].status) == ("pear", 88.5, "living")
        assert project.put("stations", [{"orchard": "Kiln Piece", "station": "11"}]).same == 1
        assert project.undo().elsewhere  # type: ignore[union-attr]
        assert stations(project) == before
        project.redo()
    assert pyogrio.read_info(path, layer="stations", force_feature_count=True)["features"] == 8


def test_columns_that_a_gis_adds_are_kept_and_journaled(path: Path) -> None:
    with closing(sqlite3.connect(path)) as other:
        other.execute('ALTER TABLE stations ADD COLUMN "tag no." TEXT')
        other.execute("UPDATE stations SET \"tag no.\" = 'B7' WHERE station = '1'")
        other.commit()
    with Project.open(path) as project:
        assert stations(project)[0].extra == {"row": "3", "tag no.": "B7"}
        project.remove("stations", [("Kiln Piece", "1")])
        project.undo()
        assert stations(project)[0].extra["tag no."] == "B7"
        assert not project.mended


def test_a_layer_written_over_by_a_gis_is_taken_up_again(path: Path) -> None:
    meta, _, shapes, fields = pyogrio.raw.read(path, layer="stations")
    pyogrio.raw.write(
        path,
        shapes,
        fields,
        list(meta["fields"]),
        layer="stations",
        driver="GPKG",
        geometry_type="Point",
        crs="EPSG:27700",
        append=False,
        layer_options={"FID": "fid"},
    )
    with Project.open(path) as project:
        assert project.mended
        assert [s.station for s in stations(project)] == ["1", "2", "3", "4", "5", "lost"]
        assert project.undo() is None
        assert project.put("stations", [{**STATIONS[0], "girth_cm": 1.5}]).changed == 1
        assert project.undo() is not None


def test_a_layer_that_lost_columns_is_told(path: Path) -> None:
    shapes = shapely.to_wkb([shapely.Point(1, 2)])
    pyogrio.raw.write(
        path,
        shapes,
        [np.array(["1"], dtype=object)],
        ["station"],
        layer="stations",
        driver="GPKG",
        geometry_type="Point",
        crs="EPSG:27700",
        append=False,
    )
    for write in (True, False):
        with pytest.raises(InputError, match=r"table stations: columns .*girth_cm"):
            Project.open(path, write=write)


def test_what_a_gis_leaves_amiss_is_told_and_sinks_nothing(path: Path) -> None:
    with closing(sqlite3.connect(path)) as other:
        other.execute("UPDATE stations SET girth_cm = 'wide' WHERE station = '1'")
        other.execute("UPDATE stations SET status = 'upright', geom = X'00' WHERE station = '2'")
        other.execute("UPDATE stations SET species = 'oak' WHERE station = '4'")
        other.execute("INSERT INTO stations (orchard, station) VALUES ('Kiln Piece', '')")
        other.execute("UPDATE visits SET done_on = 'spring'")
        other.execute("DELETE FROM stations WHERE station = '5'")
        other.execute("INSERT INTO limbs (survey, tree, limb) VALUES (1, 'Kiln Piece/5', 'stem')")
        other.commit()
    with Project.open(path) as project:
        found = {s.station: s for s in stations(project)}
        assert found["1"].girth_cm is None
        assert (found["2"].status, found["2"].x) == ("living", None)
        assert len(found) == 5
        told = [str(f) for f in look_over(project)]
    for piece in (
        "girth_cm is 'wide': not what the column holds (a number)",
        "geom: not what the column holds (a point)",
        "status is 'upright'",
        "species is 'oak': not a species known here",
        "a point without a number",
        "done_on is 'spring': not what the column holds (a date as 2026-01-31)",
        "tree is 'Kiln Piece/5': no station bears this name, yet there are rows of it in limbs",
    ):
        assert any(piece in line for line in told), (piece, told)
    assert len(told) == 7


def test_text_in_another_encoding_sinks_nothing(path: Path) -> None:
    with closing(sqlite3.connect(path)) as other:
        other.execute("UPDATE stations SET note = CAST(X'4BE47365' AS TEXT) WHERE station = '1'")
        other.commit()
    with Project.open(path) as project:
        assert stations(project)[0].note == "K\ufffdse"
        assert project.put("stations", [{**STATIONS[1], "girth_cm": 1.5}]).changed == 1
    with Project.open(path) as project:
        rows = [{"orchard": "Kiln Piece", "station": "1", "note": "Käse"}]
        assert project.put("stations", rows).changed == 1
        assert stations(project)[0].note == "Käse"
        project.undo()
        assert stations(project)[0].note == "K\ufffdse"


def test_an_untouched_project_has_nothing_amiss(path: Path) -> None:
    with Project.open(path) as project:
        assert look_over(project) == ()


def test_a_hole_drawn_in_a_boundary_stays(path: Path) -> None:
    hole = ((380010.0, 240010.0), (380020.0, 240010.0), (380020.0, 240020.0), (380010.0, 240010.0))
    with Project.open(path) as project:
        project.put("orchards", [{"orchard": "Kiln Piece", "rings": (CORNERS, hole)}])
        (held,) = orchards(project)
        save_orchards(project, [Orchard("Kiln Piece", CORNERS, "cattle")])
        assert len(project.rows("orchards")[0]["rings"]) == 2  # type: ignore[arg-type]
        assert orchards(project)[0].boundary == held.boundary
    _, _, shapes, _ = pyogrio.raw.read(path, layer="orchards")
    assert len(shapely.from_wkb(shapes[0]).interiors) == 1


def test_a_file_that_a_gis_keeps_open_is_read_and_written(path: Path, tmp_path: Path) -> None:
    """Some GIS switch to write-ahead logging as long as they have a file open."""
    with closing(sqlite3.connect(path, isolation_level=None)) as gis:
        assert gis.execute("PRAGMA journal_mode = WAL").fetchone() == ("wal",)
        gis.execute("SELECT count(*) FROM stations").fetchone()
        with Project.open(path) as project:
            project.put("stations", [{"orchard": "Kiln Piece", "station": "31"}])
            copy = project.copy_to(tmp_path / "copy.gpkg")
        with Project.open(path, write=False) as project:
            assert len(stations(project)) == 7
        assert gis.execute("SELECT count(*) FROM stations").fetchone() == (7,)
    with Project.open(copy) as project:
        assert len(stations(project)) == 7
    with Project.open(path) as project:
        project.put("stations", [{"orchard": "Kiln Piece", "station": "32"}])
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.gpkg", "copy.gpkg"]
    assert pyogrio.read_info(path, layer="stations", force_feature_count=True)["features"] == 8


def test_a_copy_by_gdal_is_a_project_no_more_and_is_told(path: Path, tmp_path: Path) -> None:
    meta, _, shapes, fields = pyogrio.raw.read(path, layer="stations")
    pyogrio.raw.write(
        tmp_path / "b.gpkg",
        shapes,
        fields,
        list(meta["fields"]),
        layer="stations",
        driver="GPKG",
        geometry_type="Point",
        crs="EPSG:27700",
    )
    with pytest.raises(InputError, match="a GeoPackage, but not a project file"):
        Project.open(tmp_path / "b.gpkg")

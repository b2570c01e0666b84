"""Edits by GDAL's own hand in the file itself: moved, changed, added, removed, indexed, undone."""

from __future__ import annotations

import ctypes
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pyogrio
import pytest

from limbwright.model import Holding
from limbwright.project.records import stations
from limbwright.project.store import Project

UPDATE_VECTOR = 0x01 | 0x04  # GDAL_OF_UPDATE | GDAL_OF_VECTOR of gdal.h
POINT = 1  # wkbPoint of ogr_core.h


@pytest.fixture(scope="module")
def gdal() -> Any:
    """Return the GDAL that pyogrio brings, by its C interface: pyogrio itself edits nothing."""
    folder = Path(pyogrio.__file__).parents[1] / "pyogrio.libs"
    found = sorted(folder.glob("*gdal*"))
    if not found:
        pytest.skip("the library of GDAL is not where pyogrio's wheels for Linux keep it")
    library = ctypes.CDLL(str(found[0]))
    handle, text, number = ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int
    signatures: dict[str, tuple[Any, list[Any]]] = {
        "GDALOpenEx": (handle, [text, ctypes.c_uint, handle, handle, handle]),
        "GDALClose": (number, [handle]),
        "GDALDatasetGetLayerByName": (handle, [handle, text]),
        "GDALDatasetExecuteSQL": (handle, [handle, text, handle, text]),
        "GDALDatasetReleaseResultSet": (None, [handle, handle]),
        "OGR_L_GetFeature": (handle, [handle, ctypes.c_longlong]),
        "OGR_L_SetFeature": (number, [handle, handle]),
        "OGR_L_DeleteFeature": (number, [handle, ctypes.c_longlong]),
        "OGR_L_DeleteField": (number, [handle, number]),
        "OGR_F_GetFieldIndex": (number, [handle, text]),
        "OGR_F_SetFieldString": (None, [handle, number, text]),
        "OGR_F_SetGeometryDirectly": (number, [handle, handle]),
        "OGR_F_Destroy": (None, [handle]),
        "OGR_G_CreateGeometry": (handle, [number]),
        "OGR_G_SetPoint_2D": (None, [handle, number, ctypes.c_double, ctypes.c_double]),
    }
    for name, (result, arguments) in signatures.items():
        function = getattr(library, name)
        function.restype, function.argtypes = result, arguments
    return library


@pytest.fixture
def path(tmp_path: Path) -> Path:
    with Project.create(tmp_path / "a.gpkg", Holding("Hollin Bank", crs="EPSG:27700")) as project:
        rows = [
            {"orchard": "A", "station": str(n), "x": 380000.0 + n, "y": 240000.0, "girth_cm": 1 / n}
            for n in range(1, 4)
        ]
        project.put("stations", rows)
    return tmp_path / "a.gpkg"


@contextmanager
def layer(gdal: Any, path: Path) -> Iterator[Any]:
    """Open the stations for editing."""
    opened = gdal.GDALOpenEx(str(path).encode(), UPDATE_VECTOR, None, None, None)
    assert opened
    try:
        yield gdal.GDALDatasetGetLayerByName(opened, b"stations")
    finally:
        gdal.GDALClose(opened)


def sql(gdal: Any, path: Path, statement: str) -> None:
    opened = gdal.GDALOpenEx(str(path).encode(), UPDATE_VECTOR, None, None, None)
    result = gdal.GDALDatasetExecuteSQL(opened, statement.encode(), None, None)
    if result:
        gdal.GDALDatasetReleaseResultSet(opened, result)
    gdal.GDALClose(opened)


def bounds(path: Path) -> tuple[float, ...]:
    told = pyogrio.read_info(path, layer="stations", force_total_bounds=True)["total_bounds"]
    return tuple(map(float, told))


def fid(path: Path, station: str) -> int:
    with closing(sqlite3.connect(path)) as opened:
        sql = "SELECT fid FROM stations WHERE station = ?"
        return int(opened.execute(sql, (station,)).fetchone()[0])


def move(gdal: Any, path: Path) -> None:
    with layer(gdal, path) as edited:
        feature = gdal.OGR_L_GetFeature(edited, fid(path, "1"))
        point = gdal.OGR_G_CreateGeometry(POINT)
        gdal.OGR_G_SetPoint_2D(point, 0, 380077.5, 240033.25)
        gdal.OGR_F_SetGeometryDirectly(feature, point)
        assert gdal.OGR_L_SetFeature(edited, feature) == 0
        gdal.OGR_F_Destroy(feature)


def rename(gdal: Any, path: Path) -> None:
    with layer(gdal, path) as edited:
        feature = gdal.OGR_L_GetFeature(edited, fid(path, "2"))
        column = gdal.OGR_F_GetFieldIndex(feature, b"cultivar")
        gdal.OGR_F_SetFieldString(feature, column, "Büttners Rote".encode())
        assert gdal.OGR_L_SetFeature(edited, feature) == 0
        gdal.OGR_F_Destroy(feature)


def delete(gdal: Any, path: Path) -> None:
    with layer(gdal, path) as edited:
        assert gdal.OGR_L_DeleteFeature(edited, fid(path, "3")) == 0


def change_by_sql(gdal: Any, path: Path) -> None:
    sql(gdal, path, "UPDATE stations SET girth_cm = girth_cm * 100 WHERE girth_cm IS NOT NULL")


@pytest.mark.parametrize(
    ("edit", "touched"),
    [(move, "1 row"), (rename, "1 row"), (delete, "1 row"), (change_by_sql, "3 rows")],
)
@pytest.mark.parametrize("indexed", [False, True])
def test_an_edit_by_gdal_is_read_told_undone_and_made_again(
    gdal: Any, path: Path, edit: Callable[[Any, Path], None], touched: str, indexed: bool
) -> None:
    if indexed:
        sql(gdal, path, "SELECT CreateSpatialIndex('stations', 'geom')")
    with Project.open(path) as project:
        before = stations(project)
    edit(gdal, path)
    with Project.open(path) as project:
        after = stations(project)
        assert after != before
        undone = project.undo()
        assert undone is not None
        assert undone.elsewhere
        assert undone.what == f"edited in another program: {touched} of stations"
        assert stations(project) == before
        project.redo()
        assert stations(project) == after
        project.undo()
    assert bounds(path) == (380001.0, 240000.0, 380003.0, 240000.0)
    with Project.open(path) as project:
        project.redo()
    assert pyogrio.read_info(path, layer="stations", force_feature_count=True)["features"] == len(
        after
    )


def test_what_gdal_wrote_is_what_is_read(gdal: Any, path: Path) -> None:
    move(gdal, path)
    rename(gdal, path)
    delete(gdal, path)
    with Project.open(path) as project:
        first, second = stations(project)
        assert (first.x, first.y, first.girth_cm) == (380077.5, 240033.25, 1.0)
        assert (second.cultivar, second.x) == ("Büttners Rote", 380002.0)
        same = {"orchard": "A", "station": "1", "x": 380077.5, "y": 240033.25, "note": ""}
        assert project.put("stations", [same]).same == 1


def test_a_layer_with_a_spatial_index_of_gdal_can_be_written(gdal: Any, path: Path) -> None:
    sql(gdal, path, "SELECT CreateSpatialIndex('stations', 'geom')")
    far = {"orchard": "A", "station": "21", "x": 381000.0, "y": 241000.0}
    with Project.open(path) as project:
        project.put("stations", [far, {**far, "station": "1"}])
        project.put("stations", [{"orchard": "A", "station": "2", "x": None, "y": None}])
    box = (380990.0, 240990.0, 381010.0, 241010.0)
    assert len(pyogrio.raw.read(path, layer="stations", bbox=box)[2]) == 2
    assert bounds(path) == (380003.0, 240000.0, 381000.0, 241000.0)
    with Project.open(path) as project:
        project.undo()
        project.undo()
    assert len(pyogrio.raw.read(path, layer="stations", bbox=box)[2]) == 0
    with closing(sqlite3.connect(path)) as opened:
        assert opened.execute("SELECT count(*) FROM rtree_stations_geom").fetchone() == (3,)
        assert opened.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_a_column_of_the_layout_cannot_be_deleted_in_a_gis(gdal: Any, path: Path) -> None:
    with layer(gdal, path) as edited:
        feature = gdal.OGR_L_GetFeature(edited, fid(path, "1"))
        column = gdal.OGR_F_GetFieldIndex(feature, b"cultivar")
        gdal.OGR_F_Destroy(feature)
        gdal.OGR_L_DeleteField(edited, column)
    with Project.open(path) as project:
        assert "cultivar" in project.rows("stations")[0]

"""What goes out comes in again the same, whichever way it goes."""

import csv
import io
import json
import os
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pyogrio
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from tests.project.holdings import TABLES, add_text, cleared, full, new, told

from limbwright.errors import InputError
from limbwright.model import Holding, Orchard
from limbwright.project.add import add_to_project
from limbwright.project.export import export_project
from limbwright.project.records import orchards, stations
from limbwright.project.store import Project
from limbwright.project.surveys import surveys
from limbwright.project.tables_out import OUT
from limbwright.trade.species import all_species

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize("name", ["out", "out.xlsx", "out.gpkg"])
def test_everything_comes_in_again(tmp_path: Path, name: str) -> None:
    with full(tmp_path) as project, new(tmp_path, "other") as other:
        done = export_project(project, tmp_path / name)
        added = add_to_project(other, done.path)
        assert [str(f) for f in added.faults if f.severity == "error"] == []
        before, after = told(project), told(other)
        for table in TABLES:
            assert after[table] == before[table], table
        assert add_to_project(other, done.path).changes_nothing
        assert add_to_project(project, done.path).changes_nothing


def test_another_project_comes_in_as_it_is(tmp_path: Path) -> None:
    with full(tmp_path) as project, new(tmp_path, "other") as other:
        added = add_to_project(other, project.path)
        assert [str(f) for f in added.faults if f.severity == "error"] == []
        assert told(other) == told(project)
        assert add_to_project(other, project.path).changes_nothing


def test_a_real_survey_comes_in_again(tmp_path: Path) -> None:
    data = Path(os.environ.get("LIMBWRIGHT_DATA", ROOT.parent / "shared" / "data"))
    path = data / "limb-surveys" / "scaffolds.csv"
    if not path.is_file():
        pytest.skip("the measured scaffolds are not here: set LIMBWRIGHT_DATA")
    with new(tmp_path, crs="") as project, new(tmp_path, "other", "") as other:
        add_to_project(project, path, columns=ROOT / "examples" / "scaffolds.toml")
        add_to_project(other, export_project(project, tmp_path / "out.gpkg").path)
        assert len(surveys(project)) == 120
        assert told(other) == told(project)


def test_geojson_brings_stations_and_boundaries_to_a_millimetre(tmp_path: Path) -> None:
    with full(tmp_path) as project, new(tmp_path, "other") as other:
        done = export_project(project, tmp_path / "out.geojson")
        assert done.rows == {"orchards": 2, "stations": 4}
        add_to_project(other, done.path)
        before, after = told(project), told(other)
        for one, two in zip(before["stations"], after["stations"], strict=True):
            assert [two.pop(c) for c in "xy"] == pytest.approx([one.pop(c) for c in "xy"], abs=2e-3)
            assert one == two
        for one, two in zip(before["orchards"], after["orchards"], strict=True):
            rings, again = one.pop("rings", ()), two.pop("rings", ())
            assert one == two
            for a, b in zip(rings, again, strict=True):  # type: ignore[call-overload]
                # turned as RFC 7946 asks: the same corners, another way round
                assert sorted(np.round(b, 2).tolist()) == sorted(np.round(a, 2).tolist())
        assert add_to_project(project, done.path).changes_nothing


WORDS = st.text(st.sampled_from("aé-=+@'\"0,;|\n/Ü ż"), max_size=12).map(str.strip)
NAMES = st.text(st.sampled_from("abc123-"), min_size=1, max_size=4)
NUMBERS = st.none() | st.floats(1.0, 30.0).map(lambda v: float(f"{v:.9g}"))
MAP_M = st.integers(100_000_000, 600_000_000).map(lambda mm: mm / 1000.0)
ROWS = st.dictionaries(
    st.tuples(st.sampled_from(["Kiln Piece", "Long Bit", ""]), NAMES),
    st.fixed_dictionaries(
        {
            "species": st.sampled_from(["", *(s.key for s in all_species())]),
            "status": st.sampled_from(["living", "dead", "stump", "gap", "new"]),
            "planted": st.none() | st.integers(1500, 2200),
            "height_m": NUMBERS,
            "spread_ns_m": NUMBERS,
            "dead_pct": NUMBERS,
            "cultivar": WORDS,
            "note": WORDS,
            "extra": st.dictionaries(st.sampled_from(["owl", "tag_2"]), WORDS.filter(bool)),
            "place": st.none() | st.tuples(MAP_M, MAP_M),
        }
    ),
    min_size=1,
    max_size=6,
)


@pytest.fixture(scope="module")
def pairs(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, tuple[Project, Project]]]:
    folder = tmp_path_factory.mktemp("pairs")
    made = {
        crs: (new(folder, f"one{crs[5:]}", crs), new(folder, f"two{crs[5:]}", crs))
        for crs in ("", "EPSG:27700")
    }
    yield made
    for pair in made.values():
        for project in pair:
            project.close()


APOSTROPHE: dict[str, Any] = {"note": "'=1", "extra": {}, "status": "living", "place": None}


@settings(max_examples=15, deadline=None)
@example({("", "1"): APOSTROPHE}, ".xlsx")
@example({("", "1"): APOSTROPHE}, ".csv")
@given(ROWS, st.sampled_from([".csv", ".xlsx", ".gpkg", ".geojson"]))
def test_any_stations_come_in_again(
    pairs: dict[str, tuple[Project, Project]], rows: dict[tuple[str, str], Any], suffix: str
) -> None:
    one, two = map(cleared, pairs["" if suffix == ".geojson" else "EPSG:27700"])
    put = []
    for (orchard, station), values in rows.items():
        x, y = values["place"] or (None, None)
        row = {k: v for k, v in values.items() if k != "place"}
        put.append(row | {"orchard": orchard, "station": station, "x": x, "y": y})
    one.put("stations", put)
    done = export_project(one, one.path.parent / f"out{suffix}", what="stations")
    added = add_to_project(two, done.path)
    assert [str(f) for f in added.faults if f.severity == "error"] == []
    assert told(two, ["stations"]) == told(one, ["stations"])


def test_another_program_reads_the_layers(tmp_path: Path) -> None:
    with full(tmp_path) as project:
        path = export_project(project, tmp_path / "out.gpkg", crs="EPSG:4326").path
    layers = dict(pyogrio.list_layers(path))
    assert layers["stations"] == "Point"
    assert layers["orchards"] == "Polygon"
    assert {"limbs", "shoots", "segments", "visits", "cuts", "responses", "photos"} <= set(layers)
    told_of = pyogrio.read_info(path, layer="stations")
    assert told_of["crs"] == "EPSG:4326"
    assert told_of["features"] == 4
    # place by pyproj's own way there is a check of the axis order alone: about 2.5 W, 52 N
    lon, lat, *_ = pyogrio.read_bounds(path, layer="stations")[1][:, 0]
    assert (lon, lat) == pytest.approx((-2.5, 52.0), abs=0.01)
    meta, _, _, fields = pyogrio.raw.read(path, layer="limbs", read_geometry=False)
    diameters = dict(zip(meta["fields"], fields, strict=True))["diameter_mm"]
    assert sorted(diameters) == [80.0, 170.0, 170.0, 180.0, 186.0, 420.0, 420.0]


def test_geojson_is_as_another_program_reads_it(tmp_path: Path) -> None:
    with full(tmp_path) as project:
        path = export_project(project, tmp_path / "out.geojson").path
        other = export_project(project, tmp_path / "grid.geojson", crs="EPSG:27700")
    document = json.loads(path.read_text("utf-8"))
    assert "crs" not in document
    (ring, hole) = next(f for f in document["features"] if f["geometry"]["type"] == "Polygon")[
        "geometry"
    ]["coordinates"]

    def turn(points: list[list[float]]) -> float:
        x, y = np.array(points).T - np.array(points[0])[:, None]
        return float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))

    assert turn(ring) > 0.0 > turn(hole)  # RFC 7946, 3.1.6
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        assert pyogrio.read_info(path)["features"] == 6
    grid = json.loads(other.path.read_text("utf-8"))
    assert grid["crs"]["properties"]["name"] == "urn:ogc:def:crs:EPSG::27700"
    assert any("longitude and latitude" in note for note in other.notes)


def test_text_a_spreadsheet_would_run_stays_text(tmp_path: Path) -> None:
    with full(tmp_path) as project:
        path = export_project(project, tmp_path / "out.csv", what="stations").path
        book = export_project(project, tmp_path / "out.xlsx").path
    notes = [row["note"] for row in csv.DictReader(io.StringIO(path.read_text("utf-8")))]
    assert "'=SUM(1)" in notes
    sheet = openpyxl.load_workbook(book)["stations"]
    (cell,) = [c for row in sheet.iter_rows() for c in row if c.value == "=SUM(1)"]
    assert (cell.data_type, cell.quotePrefix) == ("s", True)


def test_one_orchard_alone(tmp_path: Path) -> None:
    with full(tmp_path) as project:
        done = export_project(project, tmp_path / "out.xlsx", orchard="Long Bit")
        with pytest.raises(InputError, match="There are: Kiln Piece, Long Bit"):
            export_project(project, tmp_path / "no.xlsx", orchard="Nowhere")
    assert done.rows == {"orchards": 1, "walks": 1, "stations": 1, "shoots": 2}


def test_on_a_local_grid_nothing_is_given_a_place_on_earth(tmp_path: Path) -> None:
    with new(tmp_path, crs="") as project:
        add_text(project, "s.csv", "station,x,y\n1,3.5,4\n2,13.5,4\n")
        done = export_project(project, tmp_path / "out.geojson")
        document = json.loads(done.path.read_text("utf-8"))
        assert [f["geometry"] for f in document["features"]] == [None, None]
        assert document["features"][0]["properties"]["x"] == 3.5
        with pytest.raises(InputError, match="local grid"):
            export_project(project, tmp_path / "out.csv", what="stations", crs="EPSG:4326")


@pytest.mark.parametrize(
    ("name", "more", "said"),
    [
        ("out.csv", {}, "A CSV file holds one table"),
        ("out.shp", {}, ".shp is no format"),
        ("out.csv", {"what": "trees"}, "trees is no table"),
        ("out.geojson", {"what": "limbs"}, "GeoJSON holds stations and orchards"),
        ("out.gpkg", {"crs": "EPSG:1"}, "no coordinate system"),
        ("full.gpkg", {}, "the project itself"),
        ("full.gpkg/out.csv", {"what": "limbs"}, "cannot be written"),
        ("folder", {}, "is there already"),
    ],
)
def test_what_cannot_be_done_is_said_and_nothing_written(
    tmp_path: Path, name: str, more: dict[str, Any], said: str
) -> None:
    (tmp_path / "folder").mkdir()
    with full(tmp_path) as project:
        before = sorted(p.name for p in tmp_path.iterdir())
        with pytest.raises(InputError, match=said):
            export_project(project, tmp_path / name, **more)
        assert sorted(p.name for p in tmp_path.iterdir()) == before


def test_a_place_that_the_crs_cannot_hold_is_not_lost_silently(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        project.put("stations", [{"station": "1", "orchard": "", "x": 1e9, "y": 1e9}])
        with pytest.raises(InputError, match="1 of 1 positions have no place"):
            export_project(project, tmp_path / "out.gpkg", crs="EPSG:4326")
        assert not (tmp_path / "out.gpkg").exists()


def test_an_empty_project_has_nothing_to_write(tmp_path: Path) -> None:
    with Project.create(tmp_path / "h.gpkg", Holding("Invented")) as project:
        for name in OUT:
            with pytest.raises(InputError, match="has nothing of"):
                export_project(project, tmp_path / "out.csv", what=name)


def test_orchards_of_a_local_grid_come_back_from_geojson(tmp_path: Path) -> None:
    ring = ((0.0, 0.0), (50.0, 0.0), (50.0, 40.0), (0.0, 40.0), (0.0, 0.0))
    orchard = Orchard("Kiln Piece", ring, grazed_by="sheep", access="by the ford")
    with Project.create(tmp_path / "a.gpkg", Holding("Invented", orchards=(orchard,))) as project:
        row = {"orchard": "Kiln Piece", "station": "1", "species": "apple", "x": 2.0, "y": 3.0}
        project.put("stations", [row])
        export_project(project, tmp_path / "a.geojson")
    with Project.create(tmp_path / "b.gpkg", Holding("Invented")) as project:
        added = add_to_project(project, tmp_path / "a.geojson")
        assert added.faults == ()
        assert orchards(project) == (orchard,)
        assert [s.tree for s in stations(project)] == ["Kiln Piece/1"]
        assert add_to_project(project, tmp_path / "a.geojson").changes_nothing

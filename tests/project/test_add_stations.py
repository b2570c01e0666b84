"""Stations come in once, changes are told, and places land where they belong."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.project.holdings import STATIONS, add_text, cleared, full, new, told

from limbwright.errors import InputError
from limbwright.project.add import add_to_project
from limbwright.project.changes_shown import Added
from limbwright.project.put import Counts
from limbwright.project.records import stations
from limbwright.project.store import Project
from limbwright.project.surveys import surveys_taken


def station(project: Project, tree: str) -> dict[str, Any]:
    return next(s for s in project.rows("stations") if f"{s['orchard']}/{s['station']}" == tree)


def test_a_table_becomes_stations_and_their_orchards(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        added = add_text(project, "s.csv", STATIONS)
        assert added.counts == {"orchards": Counts(2), "stations": Counts(4)}
        found = {s.tree: s for s in stations(project)}
        assert found["Kiln Piece/1"].girth_cm is None
        assert (found["Kiln Piece/1"].x, found["Kiln Piece/1"].y) == (365770.5, 233624.25)
        assert dict(found["Kiln Piece/1"].extra) == {"owl": "box 3"}
        assert found["Kiln Piece/3"].status == "gap"


def test_the_same_content_again_changes_nothing_whatever_the_file(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        add_text(project, "s.csv", STATIONS)
        before, history = told(project), project.history()
        added = add_text(project, "other name.csv", STATIONS.replace(",", ";"))
        assert added.counts == {"stations": Counts(same=4)}
        assert added.changes_nothing
        assert told(project) == before
        assert project.history() == history


def test_a_changed_row_shows_what_was_and_what_is(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        add_text(project, "s.csv", STATIONS)
        added = add_text(project, "s.csv", STATIONS.replace("7.5,8,hollow", "7.75,8,hollow"))
        assert added.counts["stations"] == Counts(changed=1, same=3)
        (line,) = [str(a) for a in added.altered]
        assert line == "Kiln Piece/1: height_m 7.5, now 7.75"
        assert line in added.lines()


def test_a_blank_says_nothing_and_a_column_may_be_missing(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        add_text(project, "s.csv", STATIONS)
        head = "orchard,station,height_m,status,condition\n"
        added = add_text(project, "t.csv", head + "Kiln Piece,1,,,good\nKiln Piece,3,,,\n")
        assert added.counts["stations"] == Counts(changed=1, same=1)
        one = station(project, "Kiln Piece/1")
        assert (one["height_m"], one["condition"], one["species"]) == (7.5, "good", "apple")
        assert station(project, "Kiln Piece/3")["status"] == "gap"


def test_a_new_tree_takes_nothing_over_from_the_old_one(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        add_text(project, "s.csv", STATIONS)
        add_text(project, "t.csv", "orchard,station,species,status\nKiln Piece,1,damson,new\n")
        one = station(project, "Kiln Piece/1")
        assert (one["species"], one["status"], one["height_m"]) == ("damson", "new", None)
        assert one["x"] == 365770.5


def test_walks_are_kept_by_day_and_an_old_one_does_not_undo_a_new_one(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        head = "station,x,y,girth_cm,cultivar\n"
        add_text(project, "b.csv", head + "1,1000,2000,130,\n", taken_on=date(2026, 5, 1))
        added = add_text(
            project, "a.csv", head + "1,1000,2000,120,Old Invented\n", taken_on=date(2021, 5, 1)
        )
        assert [str(a) for a in added.altered] == ["1: cultivar not taken, now Old Invented"]
        assert project.rows("stations")[0]["girth_cm"] == 130.0
        assert [w["girth_cm"] for w in project.rows("walks")] == [130.0, 120.0]
        assert [str(s.taken_on) for s in surveys_taken(project, "walk")] == [
            "2021-05-01",
            "2026-05-01",
        ]


def test_the_row_of_the_same_day_is_put_right(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        for girth in (120, 125):
            text = f"station,girth_cm\n1,{girth}\n2,90\n"
            add_text(project, "a.csv", text, taken_on=date(2026, 5, 1))
        assert [w["girth_cm"] for w in project.rows("walks")] == [125.0, 90.0]
        assert len(surveys_taken(project)) == 1


def test_a_row_tells_its_own_day(tmp_path: Path) -> None:
    text = "station,girth_cm,taken_on,who\n1,120,1.5.2021,Ada\n2,90,,\n3,80,soon,\n"
    with new(tmp_path) as project:
        added = add_text(project, "a.csv", text, taken_on=date(2026, 5, 1))
        assert [(str(s.taken_on), s.who) for s in surveys_taken(project)] == [
            ("2021-05-01", "Ada"),
            ("2026-05-01", ""),
        ]
        assert any("row 4, taken_on is 'soon': not a date" in str(f) for f in added.faults)
        assert len(project.rows("stations")) == 2


def test_bad_rows_are_told_and_the_others_come_in(tmp_path: Path) -> None:
    text = "station,species,x,y\n1,apple,10,20\n,apple,1,1\n1,pear,1,1\n2,oak,20,20\n3,plum,5,\n"
    with new(tmp_path, crs="") as project:
        added = add_text(project, "s.csv", text)
        assert added.counts["stations"] == Counts(3)
        said = [str(f) for f in added.faults if f.severity == "error"]
        assert len(said) == 4
        assert added.left_out == 4
        assert any("row 6, station is '3': half a position" in s for s in said)
        assert added.lines()[-1] == "4 faults on 4 rows, left out or mended."


def test_longitude_and_latitude_choose_the_map_of_a_new_project(tmp_path: Path) -> None:
    with new(tmp_path, crs="") as project:
        added = add_text(project, "s.csv", "station,lon,lat\n1,-2.5,52.0\n2,-2.4999,52.0\n")
        assert project.crs == "EPSG:32630"
        assert any("its map is now EPSG:32630" in line for line in added.lines())
        row = project.rows("stations")[0]
        # central meridian 3 W: 34.3 km east of it on a scale of 0.9996
        assert row["x"] == pytest.approx(534_322.0, abs=10.0)
        assert project.undo() is not None
        assert project.crs == ""


def test_a_local_grid_has_no_place_for_longitudes(tmp_path: Path) -> None:
    with new(tmp_path, crs="") as project:
        add_text(project, "s.csv", "station,x,y\n1,0,0\n2,10,0\n")
        with pytest.raises(InputError, match="metres of a local grid"):
            add_text(project, "t.csv", "station,lon,lat\n3,-2.5,52.0\n")
        assert len(project.rows("stations")) == 2
        assert project.crs == ""


def test_another_crs_is_moved_and_feet_choose_a_map_in_metres(tmp_path: Path) -> None:
    with new(tmp_path, crs="EPSG:32630") as project:
        added = add_text(
            project, "s.csv", "station,x,y\n1,365770.652,233624.625\n", crs="EPSG:27700"
        )
        row = project.rows("stations")[0]
        with new(tmp_path, "geo", "EPSG:32630") as other:
            add_text(other, "t.csv", "station,lon,lat\n1,-2.5,52.0\n")
            there = other.rows("stations")[0]
        assert (row["x"], row["y"]) == pytest.approx((there["x"], there["y"]), abs=0.01)
        assert any("moved from EPSG:27700" in line for line in added.lines())
    with new(tmp_path, "feet", "") as project:
        add_text(project, "f.csv", "station,x,y\n1,987654,200000\n", crs="EPSG:2263")
        assert project.crs == "EPSG:32618"  # New York


@pytest.mark.parametrize("crs", ["EPSG:99999", "metres"])
def test_a_crs_that_is_none_is_refused(tmp_path: Path, crs: str) -> None:
    with new(tmp_path) as project, pytest.raises(InputError, match="no coordinate system"):
        add_text(project, "s.csv", STATIONS, crs=crs)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("1,52.0,-2.5\n2,52.0,-2.4999\n", "outside the area"),
        ("1,-2.5,52\n2,-2.5,52.0001\n3,-2.5,52.0002\n4,-2.4,52.0001\n", "7 km from the middle"),
        ("1,-2.5,52\n2,-2.5,52\n3,-2.500001,52\n", "all 3 stations of the orchard stand within"),
    ],
)
def test_places_that_can_hardly_be_right_are_told(tmp_path: Path, rows: str, said: str) -> None:
    with new(tmp_path) as project:
        added = add_text(project, "s.csv", "station,lon,lat\n" + rows)
        warnings = [f.fault for f in added.faults if f.severity == "warning"]
        assert len(warnings) == 1
        assert said in warnings[0]


def test_metres_named_as_degrees_are_refused(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        added = add_text(project, "s.csv", "station,lon,lat\n1,365770,233624\n")
        assert any("outside -180 to 180" in f.fault for f in added.faults)
        assert project.rows("stations")[0]["x"] is None


def test_an_orchard_given_serves_rows_that_name_none(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        text = "station,orchard\n1,\n2,Long Bit\n"
        add_text(project, "s.csv", text, orchard="Kiln Piece")
        assert [s.tree for s in stations(project)] == ["Kiln Piece/1", "Long Bit/2"]


def test_a_column_mapping_serves_as_for_a_survey(tmp_path: Path) -> None:
    mapping = tmp_path / "map.toml"
    mapping.write_text(
        '[stations.columns]\nstation = "no"\ngirth_cm = {column = "dbh", unit = "in",'
        ' sense = "diameter"}\n',
        "utf-8",
    )
    with new(tmp_path) as project:
        add_text(project, "s.csv", "no,dbh\n7,10\n", columns=mapping)
        assert project.rows("stations")[0]["girth_cm"] == pytest.approx(79.8, abs=0.01)


def test_a_fault_half_way_leaves_the_project_as_it_was(tmp_path: Path) -> None:
    with full(tmp_path) as project:
        before = told(project)
        good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
        good.write_text("station,x,y\n99,365770,233624\n", "utf-8")
        bad.write_bytes(b"\x89PNG....")
        with pytest.raises(InputError, match="picture"):
            add_to_project(project, [good, bad])
        assert told(project) == before


def test_one_adding_is_one_change_and_can_be_undone(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        empty, history = told(project), len(project.history())
        add_text(project, "s.csv", STATIONS)
        assert len(project.history()) == history + 1
        assert project.undo() is not None
        assert told(project) == empty
        assert project.redo() is not None
        assert len(project.rows("stations")) == 4


@pytest.mark.parametrize(
    ("name", "text", "more", "said"),
    [
        ("s.csv", STATIONS, {"kind": "trees"}, "nothing that can be added"),
        ("none.csv", "", {}, "is empty"),
        ("empty", None, {}, "holds no table"),
        ("s.gpkg", "station\n1\n", {}, "no GeoPackage, whatever its name says"),
        ("s.geojson", "station\n1\n", {}, "not JSON that can be read"),
    ],
)
def test_what_is_no_table_is_refused_in_a_sentence(
    tmp_path: Path, name: str, text: str | None, more: dict[str, Any], said: str
) -> None:
    with new(tmp_path) as project:
        if text is None:
            (tmp_path / name).mkdir()
        else:
            (tmp_path / name).write_text(text, "utf-8")
        with pytest.raises(InputError, match=said):
            add_to_project(project, tmp_path / name, **more)
        with pytest.raises(InputError, match=r"There is no file nowhere\.csv"):
            add_to_project(project, tmp_path / "nowhere.csv")
        with pytest.raises(InputError, match="the project itself"):
            add_to_project(project, project.path)


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Project:
    return new(tmp_path_factory.mktemp("shared"))


CELLS = st.sampled_from(["", "1", "2.5", "apple", "gap", "-", "x/y", "=1+1", "52", "1e9", "ä"])
COLUMNS = ("orchard", "station", "species", "x", "y", "lon", "lat", "status", "girth_cm", "owl")


@settings(max_examples=25, deadline=None)
@given(st.lists(st.lists(CELLS, min_size=10, max_size=10), min_size=1, max_size=5))
def test_whatever_a_table_holds_adding_it_twice_is_adding_it_once(
    shared: Project, rows: list[list[str]]
) -> None:
    project = cleared(shared)
    text = "\n".join([",".join(COLUMNS), *(",".join(row) for row in rows)]) + "\n"
    first = add_text(project, "s.csv", text)
    once = told(project)
    again = add_text(project, "s.csv", text)
    assert told(project) == once
    assert again.changes_nothing
    total = sum(_all(first, table) for table in ("stations",))
    assert total == len(project.rows("stations"))


def _all(added: Added, table: str) -> int:
    counts = added.counts.get(table, Counts())
    return counts.added + counts.changed + counts.same

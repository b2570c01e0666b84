"""A station renamed in a GIS: what hangs on its old name goes with it, where that is certain."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from limbwright.model import Holding, LimbRecord, StationRecord, TreeSurvey, Visit
from limbwright.project.look import look_over
from limbwright.project.plans import plans, save_plan
from limbwright.project.records import save_stations, save_visits, stations, visits
from limbwright.project.store import Project
from limbwright.project.surveys import save_limbs, save_walk, surveys, walk

DAY = date(2026, 11, 20)


def tree(number: str, diameter_mm: float) -> TreeSurvey:
    place = StationRecord(number, "Kiln Piece", "apple")
    limbs = (
        LimbRecord(number, "stem", "", diameter_mm, 1.9, rise_deg=90.0),
        LimbRecord(number, "1", "stem", diameter_mm / 2, 4.0, at_m=1.8),
    )
    return TreeSurvey(place, limbs)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A project of two stations, each with its walk, limbs, plan and visit."""
    file = tmp_path / "holding.gpkg"
    with Project.create(file, Holding("Larkmoor (invented)")) as project:
        trees = (tree("1", 400.0), tree("2", 300.0))
        with project.change("two trees"):
            save_stations(project, [t.station for t in trees])
            project.put("surveys", [{"survey": 1, "kind": "walk"}, {"survey": 2, "kind": "limbs"}])
            save_walk(project, 1, [t.station for t in trees])
            save_limbs(project, 2, trees)
            for one in trees:
                name = one.station.tree
                document = {"tree": name, "seasons": [{"season": "winter 2026-27", "tree": name}]}
                save_plan(
                    project, name, "winter 2026-27", "years", document, made_on=DAY, version="1"
                )
                save_visits(project, [Visit(name, "winter 2026-27", DAY)])
    return file


def edit(path: Path, *statements: str) -> None:
    with closing(sqlite3.connect(path)) as other:
        for sql in statements:
            other.execute(sql)
        other.commit()


def rename(old: str, new: str) -> str:
    return f"UPDATE stations SET station = '{new}' WHERE station = '{old}'"


def held(project: Project) -> dict[str, Sequence[object]]:
    """Return what each tree has, by its name."""
    thick = {t.station.tree: t.limbs[0].diameter_mm for t in surveys(project)}
    planned = {p.tree: p.document for p in plans(project)}
    visited = {v.tree for v in visits(project)}
    walked = {s.tree for s in walk(project, 1)}
    return {
        s.tree: (thick[s.tree], planned[s.tree], s.tree in visited, s.tree in walked)
        for s in stations(project)
    }


def document(name: str) -> dict[str, object]:
    return {"tree": name, "seasons": [{"season": "winter 2026-27", "tree": name}]}


def test_limbs_plans_and_records_go_with_a_renamed_station(path: Path) -> None:
    edit(path, rename("1", "1a"))
    with Project.open(path) as project:
        assert [(r.before, r.now) for r in project.renamed] == [("Kiln Piece/1", "Kiln Piece/1a")]
        assert held(project) == {
            "Kiln Piece/1a": (400.0, document("Kiln Piece/1a"), True, True),
            "Kiln Piece/2": (300.0, document("Kiln Piece/2"), True, True),
        }
        assert look_over(project) == ()
        told = project.history()[-1]
        assert told.elsewhere
        assert "Kiln Piece/1 now Kiln Piece/1a" in told.what


def test_undo_takes_the_new_name_and_all_with_it_back(path: Path) -> None:
    with Project.open(path) as project:
        before = held(project)
    edit(path, rename("1", "1a"))
    with Project.open(path) as project:
        after = held(project)
        assert project.undo() is not None
        assert held(project) == before
        project.redo()
        assert held(project) == after
    with Project.open(path) as project:
        assert project.renamed == ()


def test_two_stations_that_change_names_change_all_that_is_theirs(path: Path) -> None:
    edit(path, rename("1", "x"), rename("2", "1"), rename("x", "2"))
    with Project.open(path) as project:
        assert len(project.renamed) == 2
        assert held(project) == {
            "Kiln Piece/1": (300.0, document("Kiln Piece/1"), True, True),
            "Kiln Piece/2": (400.0, document("Kiln Piece/2"), True, True),
        }


def test_another_orchard_is_another_name_too(path: Path) -> None:
    edit(path, "UPDATE stations SET orchard = 'Long Sallow' WHERE station = '2'")
    with Project.open(path) as project:
        assert set(held(project)) == {"Kiln Piece/1", "Long Sallow/2"}


def test_reading_tells_and_writes_nothing(path: Path) -> None:
    edit(path, rename("1", "1a"))
    data = path.read_bytes()
    with Project.open(path, write=False) as project:
        (fault,) = look_over(project)
    assert "is now Kiln Piece/1a" in fault.fault
    assert "limbwright check" in fault.remedy
    assert path.read_bytes() == data


@pytest.mark.parametrize(
    "statements",
    [
        pytest.param(
            [
                "DELETE FROM stations WHERE station = '1'",
                "INSERT INTO stations (orchard, station) VALUES ('Kiln Piece', '1a')",
            ],
            id="another row",
        ),
        pytest.param(
            [rename("1", "1a"), "UPDATE visits SET tree = 'Kiln Piece/1a' WHERE rowid = 2"],
            id="rows of the new name are there",
        ),
        pytest.param(
            [
                rename("1", "1a"),
                "INSERT INTO stations (orchard, station) VALUES ('Kiln Piece', '1')",
            ],
            id="the old name is given anew",
        ),
    ],
)
def test_where_it_is_not_certain_nothing_is_carried_over(
    path: Path, statements: Sequence[str]
) -> None:
    edit(path, *statements)
    with Project.open(path) as project:
        assert project.renamed == ()
        assert {str(r["tree"]) for r in project.rows("limbs")} == {"Kiln Piece/1", "Kiln Piece/2"}

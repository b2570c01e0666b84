"""Undo and redo: they survive reopening, go over edits made elsewhere, and are exact."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from limbwright.model import Holding
from limbwright.project import journal
from limbwright.project.store import Project
from limbwright.project.tables import TABLES

State = dict[str, list[dict[str, object]]]


def state(project: Project) -> State:
    return {spec.name: project.rows(spec.name) for spec in TABLES}


def station(number: int, **values: object) -> dict[str, object]:
    return {"orchard": "Kiln Piece", "station": str(number), **values}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    with Project.create(tmp_path / "a.gpkg", Holding("Hollin Bank")) as project:
        project.put("stations", [station(1, x=1.25, y=0.1 + 0.2, girth_cm=1 / 3)])
    return tmp_path / "a.gpkg"


def test_undo_and_redo_survive_reopening(path: Path) -> None:
    with Project.open(path) as project:
        before = state(project)
        with project.change("walk Kiln Piece"):
            project.put("stations", [station(1, girth_cm=90.5, x=2.0, y=3.0), station(2)])
            project.put("settings", [{"name": "a", "value": {"b": [1, 2.5]}}])
            project.remove("stations", [("Kiln Piece", "2")])
        after = state(project)
    with Project.open(path) as project:
        undone = project.undo()
        assert undone is not None
        assert (undone.what, undone.undone) == ("walk Kiln Piece", True)
        assert state(project) == before
    with Project.open(path) as project:
        assert project.history()[-1].undone
        redone = project.redo()
        assert redone is not None
        assert state(project) == after
        assert project.redo() is None


def test_undo_goes_back_to_the_project_as_it_was_made_and_no_further(path: Path) -> None:
    with Project.open(path) as project:
        after = state(project)
        assert [c.what for c in iter(project.undo, None)] == ["change stations"]
        assert project.undo() is None
        assert len(project.rows("holding")) == 1
        assert not project.rows("stations")
        while project.redo():
            pass
        assert state(project) == after


def test_a_new_change_ends_what_could_be_made_again(path: Path) -> None:
    with Project.open(path) as project:
        project.put("stations", [station(2)])
        project.undo()
        project.put("stations", [station(3)])
        assert project.redo() is None
        assert [r["station"] for r in project.rows("stations")] == ["1", "3"]
        assert not any(c.undone for c in project.history())


def test_looking_at_nothing_new_keeps_what_can_be_made_again(path: Path) -> None:
    with Project.open(path) as project:
        project.put("stations", [station(2)])
        project.undo()
        project.put("stations", [station(1)])
        assert project.redo() is not None


def test_edits_of_another_program_are_told_and_undone(path: Path) -> None:
    with Project.open(path) as project:
        before = state(project)
    with sqlite3.connect(path) as other:
        other.execute("UPDATE stations SET girth_cm = 99 WHERE station = '1'")
        other.execute("INSERT INTO stations (orchard, station) VALUES ('Kiln Piece', '7')")
    other.close()
    with Project.open(path) as project:
        told = project.history()[-1]
        assert told.elsewhere
        assert told.what == "edited in another program: 2 rows of stations"
        project.put("stations", [station(8)])
        assert [c.elsewhere for c in project.history()[-2:]] == [True, False]
        project.undo()
        undone = project.undo()
        assert undone is not None
        assert undone.elsewhere
        assert state(project) == before


def test_an_edit_elsewhere_after_an_undo_ends_what_could_be_made_again(path: Path) -> None:
    with Project.open(path) as project:
        project.put("stations", [station(2, note="planned")])
        project.undo()
    with sqlite3.connect(path) as other:
        other.execute("INSERT INTO stations (orchard, station) VALUES ('Kiln Piece', '2')")
    other.close()
    with Project.open(path) as project:
        assert project.redo() is None
        assert project.rows("stations", station="2")[0]["note"] == ""


def test_only_so_many_changes_can_be_undone(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(journal, "KEPT", 3)
    with Project.open(path) as project:
        for number in range(10, 20):
            project.put("stations", [station(number)])
        assert len(list(iter(project.undo, None))) == 3
        assert len(project.rows("stations")) == 8
        assert sum(c.past for c in project.history()) == 9


def test_undo_has_no_place_within_a_change(path: Path) -> None:
    with Project.open(path) as project, project.change("a"), pytest.raises(RuntimeError):
        project.undo()


def test_the_crs_goes_back_with_the_change_that_set_it(path: Path) -> None:
    with Project.open(path) as project:
        project.undo()
        with project.change("add the first stations"):
            project.set_crs("EPSG:32630")
            project.put("stations", [station(1, x=500000.0, y=5700000.0)])
        project.undo()
        assert project.crs == ""
        project.redo()
        assert project.crs == "EPSG:32630"


class Undoing(RuleBasedStateMachine):
    """Any run of changes, undos, redos and edits elsewhere, against a plain list of states."""

    folder: Path

    @initialize()
    def begin(self) -> None:
        self.path = self.folder / f"{id(self)}.gpkg"
        self.path.unlink(missing_ok=True)
        self.project = Project.create(self.path, Holding("Hollin Bank"))
        self.states = [state(self.project)]  # the making of the project cannot be taken back
        self.at = 0
        self.unclaimed = False  # edits elsewhere in a row are one change

    def _came_to_be(self, *, elsewhere: bool = False) -> None:
        now = state(self.project)
        if elsewhere and self.unclaimed:
            self.states[self.at] = now
        elif elsewhere or now != self.states[self.at]:
            self.states = [*self.states[: self.at + 1], now]
            self.at += 1
        self.unclaimed = elsewhere

    @rule(
        numbers=st.lists(st.integers(1, 5), min_size=1, max_size=4),
        girth=st.none() | st.floats(1.0, 500.0),
        place=st.none() | st.floats(-1e6, 1e6),
    )
    def put(self, numbers: list[int], girth: float | None, place: float | None) -> None:
        rows = [station(n, girth_cm=girth, x=place, y=place) for n in numbers]
        self.project.put("stations", rows)
        self._came_to_be()

    @rule(number=st.integers(1, 5))
    def remove(self, number: int) -> None:
        self.project.remove("stations", [("Kiln Piece", str(number))])
        self._came_to_be()

    @rule(a=st.integers(1, 5), b=st.integers(1, 5))
    def swap_elsewhere(self, a: int, b: int) -> None:
        with sqlite3.connect(self.path) as other:
            touched = 0
            for old, new in ((a, "x"), (b, a), ("x", b)) if a != b else ():
                sql = "UPDATE stations SET station = ? WHERE station = ?"
                touched += other.execute(sql, (str(new), str(old))).rowcount
        other.close()
        if touched:
            self._came_to_be(elsewhere=True)

    @rule()
    def undo(self) -> None:
        assert (self.project.undo() is None) == (self.at == 0)
        self.at = max(self.at - 1, 0)
        self.unclaimed = False

    @rule()
    def redo(self) -> None:
        last = len(self.states) - 1
        assert (self.project.redo() is None) == (self.at == last)
        self.at = min(self.at + 1, last)
        self.unclaimed = False

    @rule()
    def reopen(self) -> None:
        self.project.close()
        self.project = Project.open(self.path)

    @invariant()
    def as_foreseen(self) -> None:
        assert state(self.project) == self.states[self.at]

    def teardown(self) -> None:
        self.project.close()


def test_any_run_of_changes_goes_back_and_forth(tmp_path: Path) -> None:
    Undoing.folder = tmp_path
    run_state_machine_as_test(
        Undoing, settings=settings(max_examples=10, stateful_step_count=12, deadline=None)
    )

"""What a project file of the demo holds: all of the invented holding, dated, and undoable."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TypeVar

import pytest

from limbwright.demo import InventedHolding, fill_project, make_holding, write_holding
from limbwright.demo.names import MARK
from limbwright.model import LimbRecord, ShootRecord, StationRecord
from limbwright.project.add import add_to_project
from limbwright.project.plans import plans
from limbwright.project.records import holding as place_of
from limbwright.project.records import photos, picture, responses, stations, visits
from limbwright.project.store import Project
from limbwright.project.surveys import surveys, surveys_taken, walk, young_trees

Record = TypeVar("Record", StationRecord, LimbRecord, ShootRecord)


@pytest.fixture(scope="module")
def made() -> InventedHolding:
    return make_holding(1)


@pytest.fixture(scope="module")
def project(made: InventedHolding, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Project]:
    path = tmp_path_factory.mktemp("project") / "demo.gpkg"
    with Project.create(path, replace(made.place, orchards=())) as opened:
        fill_project(opened, made)
        yield opened


def bare(record: Record) -> Record:
    """A record without where it was read."""
    return replace(record, file="", row=0)


def test_it_holds_the_whole_holding_as_it_is_today(project: Project, made: InventedHolding) -> None:
    kept = place_of(project)
    assert replace(kept, orchards=()) == replace(made.place, orchards=())
    assert {o.name: o.grazed_by for o in kept.orchards} == {
        o.name: o.grazed_by for o in made.place.orchards
    }
    assert all(len(o.boundary) >= 4 for o in kept.orchards)
    found = {s.tree: bare(s) for s in stations(project)}
    assert found == {s.tree: s for s in made.stations}
    limbs = {(t.station.tree, x.limb): bare(x) for t in surveys(project) for x in t.limbs}
    assert limbs == {(t.station.tree, x.limb): x for t in made.surveys() for x in t.limbs}
    shoots = {(t.station.tree, x.shoot): bare(x) for t in young_trees(project) for x in t.shoots}
    assert shoots == {(t.station.tree, x.shoot): x for t in made.young_trees() for x in t.shoots}


def test_surveys_are_kept_by_their_day(project: Project, made: InventedHolding) -> None:
    taken = surveys_taken(project)
    walks = [one for one in taken if one.kind == "walk"]
    assert [one.taken_on for one in walks] == [date(2024, 10, 12), date(2026, 10, 17)]
    assert {one.who for one in taken} == {made.past.walker}
    then = {s.tree: s.girth_cm for s in walk(project, walks[0].number)}
    assert then == {s.tree: s.girth_cm for s in made.past.stations}


def test_records_plans_and_pictures_are_there(project: Project, made: InventedHolding) -> None:
    past = made.past
    assert {(v.tree, v.done_on): v for v in visits(project)} == {
        (v.tree, v.done_on): v for v in past.visits
    }
    assert set(responses(project)) == set(past.responses)
    kept = plans(project)
    assert {(p.tree, p.season) for p in kept} == {(p.tree, p.season) for p in past.plans}
    assert all(p.status == "done" and p.note == MARK for p in kept)
    assert set(photos(project)) == set(past.photos)
    assert all((picture(project, p) or b"").startswith(b"\x89PNG") for p in photos(project))


def test_adding_the_written_tables_again_changes_nothing(
    project: Project, made: InventedHolding, tmp_path: Path
) -> None:
    tables = tmp_path / "survey"
    write_holding(made, tables)
    with Project.open(project.copy_to(tmp_path / "copy.gpkg")) as copy:
        added = add_to_project(copy, [tables], taken_on=date(2026, 10, 17), who=made.past.walker)
    assert [str(f) for f in added.faults] == []
    assert added.changes_nothing


def test_each_step_has_its_name_and_can_be_undone(project: Project, tmp_path: Path) -> None:
    with Project.open(project.copy_to(tmp_path / "copy.gpkg")) as copy:
        told = [one.what for one in copy.history()]
        assert told[2:] == [
            "walk of October 2024",
            *(f"work of {s}" for s in ("winter 2024-25", "summer 2025", "winter 2025-26")),
            "work of summer 2026",
            "walk and tape of October 2026",
        ]
        copy.undo()
        assert surveys(copy) == ()
        copy.undo()
        assert "summer 2026" not in {v.season for v in visits(copy)}

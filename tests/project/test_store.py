"""The project file: what is put in comes out again, whole or not at all."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.errors import InputError
from limbwright.model import Holding, Orchard
from limbwright.project.store import Counts, Project
from limbwright.project.tables import TABLES, TableSpec

CORNERS = ((0.0, 0.0), (120.0, 0.0), (120.0, 80.0), (0.0, 80.0))
INVENTED = Holding(
    "Hollin Bank",
    crs="EPSG:27700",
    aims=("keep the old trees standing", "fruit for juice"),
    marked="invented example",
    orchards=(Orchard("Kiln Piece", CORNERS, "sheep", people_below=True), Orchard("Long Acre")),
)


@pytest.fixture
def project(tmp_path: Path) -> Iterator[Project]:
    with Project.create(tmp_path / "hollin.gpkg", INVENTED) as made:
        yield made


def row(station: str = "1", **values: object) -> dict[str, object]:
    return {"orchard": "Kiln Piece", "station": station, **values}


def test_equal_rows_are_not_touched_and_others_counted(project: Project) -> None:
    assert project.put("stations", [row("1", girth_cm=120.0), row("2")]) == Counts(2, 0, 0)
    assert project.put("stations", [row("1", girth_cm=120), row("3")]) == Counts(1, 0, 1)
    assert project.put("stations", [row("1", girth_cm=125.0), row("2")]) == Counts(0, 1, 1)
    told = [c.what for c in project.history()]
    assert project.put("stations", [row("1", girth_cm=125.0)]) == Counts(0, 0, 1)
    assert [c.what for c in project.history()] == told


def test_columns_not_given_stay(project: Project) -> None:
    project.put("stations", [row(cultivar="Catshead", x=1.5, y=2.5)])
    project.put("stations", [row(girth_cm=90.0)])
    (found,) = project.rows("stations")
    assert (found["cultivar"], found["girth_cm"], found["x"]) == ("Catshead", 90.0, 1.5)


def test_where_a_row_came_from_is_no_change(project: Project) -> None:
    project.put("stations", [row(girth_cm=90.0, file="a.csv", row=2)])
    assert project.put("stations", [row(girth_cm=90.0, file="b.csv", row=9)]).same == 1
    assert project.rows("stations")[0]["file"] == "a.csv"
    project.put("stations", [row(girth_cm=91.0, file="b.csv", row=9)])
    assert project.rows("stations")[0]["file"] == "b.csv"


def test_of_two_rows_of_one_key_the_later_counts(project: Project) -> None:
    told = project.put("stations", [row(girth_cm=90.0, note="a"), row(girth_cm=95.0)])
    assert told == Counts(1, 0, 0)
    assert project.rows("stations")[0]["girth_cm"] == 95.0
    assert project.rows("stations")[0]["note"] == "a"


def test_rows_are_asked_for_by_value(project: Project) -> None:
    project.put("stations", [row("1", stock=""), row("2", stock="M25"), row("3", planted=1920)])
    names = [r["station"] for r in project.rows("stations", station=["1", "3"])]
    assert names == ["1", "3"]
    assert [r["station"] for r in project.rows("stations", stock="")] == ["1", "3"]
    assert [r["station"] for r in project.rows("stations", planted=None)] == ["1", "2"]
    assert project.rows("stations", station=[]) == []
    with pytest.raises(KeyError):
        project.rows("stations", girth_mm=3)
    with pytest.raises(KeyError):
        project.rows("trees")


def test_rows_go_by_key_and_are_counted(project: Project) -> None:
    project.put("stations", [row("1"), row("2")])
    project.put("settings", [{"name": "dose_weak", "value": 0.1}])
    assert project.remove("stations", [("Kiln Piece", "1"), ("Kiln Piece", "9")]) == 1
    assert project.remove("settings", ["dose_weak"]) == 1
    assert [r["station"] for r in project.rows("stations")] == ["2"]


@pytest.mark.parametrize(
    ("table", "values"),
    [
        ("stations", {"orchard": "", "station": "1", "girth_cm": float("nan")}),
        ("stations", {"orchard": "", "station": "1", "girth_cm": "wide"}),
        ("stations", {"orchard": "", "station": "1", "planted": 1920.5}),
        ("stations", {"orchard": "", "station": "1", "x": float("inf"), "y": 0.0}),
        ("orchards", {"orchard": "A", "rings": (((0.0, 0.0), (1.0, 1.0)),)}),
        ("surveys", {"survey": None, "kind": "walk"}),
        ("visits", {"tree": "A/1", "done_on": "last week"}),
    ],
)
def test_a_value_that_does_not_fit_is_refused(
    project: Project, table: str, values: dict[str, object]
) -> None:
    before = project.rows(table)
    with pytest.raises(ValueError, match=table):
        project.put(table, [values])
    assert project.rows(table) == before


def test_unknown_columns_and_lacking_keys_are_refused(project: Project) -> None:
    with pytest.raises(KeyError, match="girth_mm"):
        project.put("stations", [row(girth_mm=3)])
    with pytest.raises(KeyError, match="station"):
        project.put("stations", [{"orchard": "Kiln Piece"}])


TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=8)
PLAIN = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
    max_leaves=6,
)
NUMBER = st.floats(allow_nan=False, allow_infinity=False)
KEYS: dict[str, st.SearchStrategy[object]] = {
    "TEXT": TEXT,
    "INTEGER": st.integers(-(2**63), 2**63 - 1),
    "DATE": st.dates().map(date.isoformat),
}
VALUES: dict[str, st.SearchStrategy[object]] = {
    "TEXT": TEXT,
    "INTEGER": st.none() | KEYS["INTEGER"],
    "REAL": st.none() | NUMBER,
    "BOOLEAN": st.none() | st.booleans(),
    "DATE": st.none() | KEYS["DATE"],
    "BLOB": st.none() | st.binary(max_size=8),
    "JSON": PLAIN.map(lambda v: v if v not in ("", [], {}) else None),
}


def keyed(spec: TableSpec) -> st.SearchStrategy[dict[str, object]]:
    chosen = {c.name: VALUES[c.type] for c in spec.columns}
    for name in spec.key:
        chosen[name] = KEYS[spec.column(name).type]
    if spec.geometry == "POINT":
        chosen["x"], chosen["y"] = NUMBER, NUMBER
    return st.fixed_dictionaries(chosen)


@pytest.mark.parametrize("spec", TABLES, ids=lambda s: s.name)
def test_every_table_gives_back_what_was_put(tmp_path: Path, spec: TableSpec) -> None:
    with Project.create(tmp_path / "a.gpkg", Holding("Hollin Bank")) as project:
        if spec.name == "holding":
            project.remove("holding", [1])

        @settings(max_examples=6, deadline=None)
        @given(st.lists(keyed(spec), max_size=4, unique_by=lambda r: str([r[n] for n in spec.key])))
        def check(rows: list[dict[str, object]]) -> None:
            project.put(spec.name, rows)
            found = project.rows(spec.name)
            assert len(found) == len(rows)
            wanted = {tuple(r[n] for n in spec.key): r for r in rows}
            for one in found:
                asked = wanted[tuple(one[n] for n in spec.key)]
                assert {n: one[n] for n in asked} == asked
            assert project.put(spec.name, found).same == len(rows)
            project.remove(spec.name, [tuple(r[n] for n in spec.key) for r in found])
            assert project.rows(spec.name) == []

        check()


def test_a_change_that_fails_leaves_nothing(project: Project) -> None:
    def half() -> None:
        with project.change("two things"):
            project.put("stations", [row("1")])
            project.put("settings", [{"name": "a", "value": 1}])
            raise RuntimeError

    with pytest.raises(RuntimeError):
        half()
    assert project.rows("stations") == []
    assert project.rows("settings") == []
    assert len(project.history()) == 1


def test_a_part_that_fails_leaves_the_rest_of_the_change(project: Project) -> None:
    def part() -> None:
        with project.change("inner"):
            project.put("stations", [row("2")])
            raise RuntimeError

    with project.change("outer"):
        project.put("stations", [row("1")])
        with pytest.raises(RuntimeError):
            part()
        project.put("stations", [row("3")])
    assert [r["station"] for r in project.rows("stations")] == ["1", "3"]
    assert [c.what for c in project.history()] == ["make the project", "outer"]


def test_what_is_not_finished_is_gone_with_the_program(tmp_path: Path) -> None:
    project = Project.create(tmp_path / "a.gpkg", INVENTED)
    change = project.change("half")
    change.__enter__()
    project.put("stations", [row("1")])
    project.close()
    with Project.open(tmp_path / "a.gpkg") as again:
        assert again.rows("stations") == []


def test_a_copy_is_the_project_as_of_now(project: Project, tmp_path: Path) -> None:
    project.put("stations", [row("1", x=1.0, y=2.0)])
    copy = project.copy_to(tmp_path / "copy.gpkg")
    project.put("stations", [row("2")])
    with Project.open(copy) as opened:
        assert [r["station"] for r in opened.rows("stations")] == ["1"]
        assert opened.history() == project.history()[:-1]
        assert opened.undo() is not None
    with pytest.raises(InputError, match="is there already"):
        project.copy_to(copy)
    with pytest.raises(InputError, match="the project file itself"):
        project.copy_to(project.path, replace=True)
    clean = project.copy_to(copy, replace=True, history=False)
    with Project.open(clean) as opened:
        assert len(opened.rows("stations")) == 2
        assert opened.undo() is None
    assert sorted(p.name for p in tmp_path.iterdir()) == ["copy.gpkg", "hollin.gpkg"]


def test_a_clean_copy_holds_nothing_of_what_was_removed(project: Project, tmp_path: Path) -> None:
    project.put("stations", [row("1", note="a private matter")])
    project.put("stations", [row("1", note="")])
    copy = project.copy_to(tmp_path / "copy.gpkg", history=False)
    assert b"a private matter" in project.path.read_bytes()
    assert b"a private matter" not in copy.read_bytes()

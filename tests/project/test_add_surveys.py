"""Limbs, shoots, segments and records: kept by day, compared with the day before."""

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from tests.project.holdings import LIMBS, RECORDS, SEGMENTS, SHOOTS, STATIONS, add_text, full, new

from limbwright.project.add import add_to_project
from limbwright.project.changes_shown import Gone
from limbwright.project.put import Counts
from limbwright.project.records import responses, visits
from limbwright.project.surveys import surveys, surveys_taken, young_trees
from limbwright.survey import read_segments

FIRST, LATER = date(2024, 9, 2), date(2026, 9, 2)


def without(text: str, start: str) -> str:
    return "".join(line for line in text.splitlines(True) if not line.startswith(start))


def test_a_tree_comes_back_as_it_was_taped(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        add_text(project, "s.csv", STATIONS)
        added = add_text(project, "l.csv", LIMBS, taken_on=FIRST)
        assert added.counts == {"limbs": Counts(4)}
        (tree,) = surveys(project)
        assert tree.station.tree == "Kiln Piece/1"
        assert tree.station.height_m == 7.5
        assert [(one.limb, one.parent, one.diameter_mm) for one in tree.limbs] == [
            ("stem", "", 420.0),
            ("1", "stem", 180.0),
            ("2", "stem", 170.0),
            ("3", "1", 80.0),
        ]
        assert dict(tree.limbs[1].extra) == {"taken_at_m": "0.2"}


def test_a_later_survey_stands_beside_the_earlier_and_tells_what_is_gone(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        add_text(project, "s.csv", STATIONS)
        add_text(project, "l.csv", LIMBS, taken_on=FIRST)
        text = without(LIMBS, "Kiln Piece,1,3").replace("180,4.5", "186,4.5")
        added = add_text(project, "l.csv", text, taken_on=LATER, who="Wyn")
        assert added.counts == {"limbs": Counts(changed=1, same=2)}
        assert [str(a) for a in added.altered] == ["Kiln Piece/1, limb 1: diameter_mm 180, now 186"]
        (gone,) = added.gone
        assert gone == Gone("limbs", "Kiln Piece/1", "3", "2024-09-02")
        assert str(gone) in added.lines()
        assert "cut or lost since?" in str(gone)
        assert [len(t.limbs) for t in surveys(project)] == [3]
        assert [len(t.limbs) for t in surveys(project, as_of=date(2025, 1, 1))] == [4]


def test_the_same_survey_again_changes_nothing_whenever_it_is_added(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        add_text(project, "l.csv", LIMBS, taken_on=FIRST, species="apple")
        later = LIMBS.replace("180,4.5", "186,4.5")
        add_text(project, "l.csv", later, taken_on=LATER)
        for text in (LIMBS, later):
            for day in (None, FIRST if text == LIMBS else LATER):
                added = add_text(project, "again.csv", text, taken_on=day)
                assert added.counts == {"limbs": Counts(same=4)}
                assert added.changes_nothing
        assert len(surveys_taken(project, "limbs")) == 2


def test_the_survey_of_the_same_day_is_put_right(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        add_text(project, "l.csv", LIMBS, taken_on=FIRST, species="apple")
        text = without(LIMBS, "Kiln Piece,1,3").replace("170,4.25", "172,4.25")
        added = add_text(project, "l.csv", text, taken_on=FIRST)
        assert added.counts == {"limbs": Counts(changed=1, same=2)}
        assert [g.corrected for g in added.gone] == [True]
        assert not added.changes_nothing
        assert len(surveys_taken(project, "limbs")) == 1
        assert len(project.rows("limbs")) == 3


def test_a_limb_whose_row_has_a_fault_is_not_told_as_gone(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        add_text(project, "l.csv", LIMBS, taken_on=FIRST, species="apple")
        added = add_text(project, "l.csv", LIMBS.replace("80,2,60", "8000,2,60"), taken_on=LATER)
        assert any("outside 3 to 2500 mm" in f.fault for f in added.faults)
        assert added.gone == ()


def test_trees_without_a_station_get_one(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        added = add_text(project, "l.csv", LIMBS, species="perry pear")
        assert added.counts["stations"] == Counts(1)
        (row,) = project.rows("stations")
        assert (row["orchard"], row["station"], row["species"]) == ("Kiln Piece", "1", "perry-pear")


def test_limbs_find_their_tree_however_it_is_named(tmp_path: Path) -> None:
    rows = "{},stem,,300,2\n{},1,stem,100,3\n"
    for k, name in enumerate(("Kiln Piece/1", "1")):
        with new(tmp_path, f"h{k}") as project:
            add_text(project, "s.csv", without(STATIONS, "Long Bit"))
            text = "station,limb,parent,diameter_mm,length_m\n" + rows.format(name, name)
            add_text(project, "l.csv", text)
            assert [t.station.tree for t in surveys(project)] == ["Kiln Piece/1"]
            assert len(project.rows("stations")) == 3


def test_shoots_segments_and_records_find_their_tree_by_its_number(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        add_text(project, "s.csv", STATIONS.replace("Long Bit,1", "Long Bit,9"))
        add_text(project, "k.csv", SHOOTS.replace("Long Bit/1", "9"))
        add_text(project, "g.csv", SEGMENTS.replace("Kiln Piece/2", "2"))
        add_text(project, "v.csv", RECORDS["visits"].replace("Kiln Piece/1", "1"))
        assert {r["tree"] for r in project.rows("shoots")} == {"Long Bit/9"}
        assert {r["tree"] for r in project.rows("segments")} == {"Kiln Piece/2"}
        assert {r["tree"] for r in project.rows("visits")} == {"Kiln Piece/1"}
        assert len(project.rows("stations")) == 4


def test_a_station_of_several_orchards_is_told_and_left_out(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        add_text(project, "s.csv", "orchard,station,species\nA,1,apple\nB,1,apple\n")
        text = "station,limb,diameter_mm,length_m\n1,stem,300,2\n"
        added = add_text(project, "l.csv", text)
        assert any("several orchards have a station" in f.fault for f in added.faults)
        assert surveys(project) == ()


def test_young_trees_come_back_with_their_shoots(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        add_text(project, "s.csv", STATIONS)
        add_text(project, "k.csv", SHOOTS, taken_on=FIRST)
        text = without(SHOOTS, "Long Bit/1,1") + "Long Bit/1,2,L,1.8,0.25,25,6,200,45,,\n"
        added = add_text(project, "k.csv", text, taken_on=LATER)
        assert added.counts == {"shoots": Counts(added=1, same=1)}
        assert [g.name for g in added.gone] == ["1"]
        (tree,) = young_trees(project)
        assert (tree.station.species, [s.shoot for s in tree.shoots]) == ("plum", ["L", "2"])


def test_segments_are_kept_as_they_were_given(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        add_text(project, "s.csv", STATIONS)
        bad = SEGMENTS + "Kiln Piece/2,9,77,0,0,0,0,0,1,10,5,0,\n"
        added = add_text(project, "g.csv", bad, taken_on=FIRST)
        assert added.counts == {"segments": Counts(3)}
        assert any("no such segment" in f.fault for f in added.faults)
        rows = project.rows("segments")
        assert [(r["segment"], r["parent"], r["leaf_area_m2"]) for r in rows] == [
            (0, -1, 0.0),
            (1, 0, 20.25),
            (2, 0, 18.0),
        ]
        assert len(read_segments(tmp_path / "g.csv").skeletons) == 1
        assert add_text(project, "g.csv", SEGMENTS).changes_nothing


def test_records_come_in_beside_the_surveys(tmp_path: Path) -> None:
    with full(tmp_path) as project:
        (visit,) = visits(project)
        assert [(c.order, c.limb, c.done) for c in visit.cuts] == [
            (1, "3", "yes"),
            (0, "2", "other"),
        ]
        assert responses(project)[0].limbs_lost == ("2", "5")
        for kind, text in RECORDS.items():
            assert add_text(project, f"{kind}.csv", text).changes_nothing
        more = RECORDS["visits"].replace(",2.5,1,a nest box", ",3,,")
        added = add_text(project, "v.csv", more)
        assert [str(a) for a in added.altered] == ["Kiln Piece/1 2025-12-03: hours 2.5, now 3"]
        assert visits(project)[0].brash_hours == 1.0
        assert len(visits(project)[0].cuts) == 2


def test_records_of_a_tree_nobody_knows_are_kept_and_told(tmp_path: Path) -> None:
    with new(tmp_path) as project:
        added = add_text(project, "v.csv", RECORDS["visits"])
        assert any("No station is known for Kiln Piece/1" in line for line in added.lines())
        assert len(visits(project)) == 1


def test_a_folder_brings_places_before_what_stands_on_them(tmp_path: Path) -> None:
    folder = tmp_path / "day"
    folder.mkdir()
    for name, text in {"a limbs": LIMBS, "b stations": STATIONS, "c shoots": SHOOTS}.items():
        (folder / f"{name}.csv").write_text(text, "utf-8")
    with new(tmp_path) as project:
        added = add_to_project(project, folder, taken_on=FIRST)
        assert list(added.counts) == ["orchards", "stations", "limbs", "shoots"]
        assert [f for f in added.faults if f.severity == "error"] == []
        assert len(project.rows("stations")) == 4
        assert len(project.history()) == 2


@pytest.mark.parametrize("table", ["limbs", "shoots"])
def test_plain_values_tell_all_of_it(tmp_path: Path, table: str) -> None:
    text, more = (LIMBS, "180,4.5") if table == "limbs" else (SHOOTS, "0.5,50")
    with new(tmp_path) as project:
        add_text(project, "s.csv", STATIONS)
        add_text(project, "t.csv", text, taken_on=FIRST)
        changed = more.replace(".5", ".75")
        added = add_text(project, "t.csv", text.replace(more, changed), taken_on=LATER)
        told: dict[str, Any] = added.to_dict()
        assert [change["field"] for change in told["changes"]] == ["length_m"]
        assert told["counts"][table]["changed"] == 1

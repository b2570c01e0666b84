"""Tables of shoots, orchards, records and rules from elsewhere come in through a column mapping."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from tests.project.holdings import add_text, new

from limbwright.errors import InputError
from limbwright.form.read import read_young_trees
from limbwright.project import records
from limbwright.project.add import add_to_project
from limbwright.project.plans import rules
from limbwright.project.surveys import young_trees
from limbwright.survey.columns import read_columns
from limbwright.survey.record_tables import read_records
from limbwright.survey.tables import read_book

MAPPING = """
[stations.columns]
orchard = "field"
station = "no"
species = "kind"
status = { column = "is", words = { young = "new" } }

[shoots.station]
join = ["field", "no"]
separator = "/"

[shoots.columns]
shoot = "twig"
parent = { column = "grows on", words = { ground = "" } }
at_m = { column = "up", unit = "cm" }
length_m = { column = "long", unit = "ft" }
grown_cm = { column = "new", unit = "in" }
diameter_mm = { column = "round cm", unit = "cm", sense = "girth" }
rise_deg = { column = "from upright", sense = "angle from vertical" }
taken_on = "seen"

[orchards.columns]
orchard = "field"
grazed_by = "stock"
people_below = { column = "path", words = { ja = "yes", nein = "no" } }

[visits.tree]
join = ["field", "no"]
separator = "/"

[visits.columns]
done_on = "day"
who = "crew"
hours = "time"

[cuts.columns]
tree = "whole name"
done_on = "day"
order = "no on card"
limb = "branch"
cut = { column = "what", words = { off = "remove", back = "shorten" } }
done = { column = "tick", words = { "+" = "yes" } }
diameter_mm = { column = "wound in", unit = "in" }

[responses.columns]
tree = "whole name"
seen_on = "looked"
shoots = "suckers"
shoot_length_cm = { column = "long in", unit = "in" }

[photos.columns]
tree = "whole name"
file = "picture"
taken_on = "day"
shows = { constant = "after" }

[rules.columns]
scheme = "title"
first_day = "from"
last_day = "to"
"""
FILES = {
    "a-trees.csv": "field,no,kind,is\nKiln Piece,1,apple,young\nKiln Piece,2,pear,living\n",
    "b-twigs.csv": "field,no,twig,grows on,up,long,new,round cm,from upright,seen\n"
    "Kiln Piece,1,L,ground,,6.5,20,9.42477796,2,2026-01-09\n"
    "Kiln Piece,1,1,L,170,2,12,3.14159265,50,2026-01-09\n",
    "c-fields.csv": "field,stock,path\nKiln Piece,sheep,ja\n",
    "d-days.csv": "field,no,day,crew,time\nKiln Piece,2,2025-12-03,Ada,2.5\n",
    "e-cuts.csv": "whole name,day,no on card,branch,what,tick,wound in\n"
    "Kiln Piece/2,2025-12-03,1,A,off,+,\nKiln Piece/2,2025-12-03,0,B,back,other,2\n",
    "f-after.csv": "whole name,looked,suckers,long in\nKiln Piece/2,2026-08-01,14,20\n",
    "g-pictures.csv": "whole name,picture,day\nKiln Piece/2,a.jpg,2025-12-03\n",
}


def _write(folder: Path) -> tuple[Path, Path]:
    tables = folder / "tables"
    tables.mkdir()
    for name, text in FILES.items():
        (tables / name).write_text(text, "utf-8")
    mapping = folder / "map.toml"
    mapping.write_text(MAPPING, "utf-8")
    return tables, mapping


def test_a_folder_of_tables_from_elsewhere_comes_in_whole(tmp_path: Path) -> None:
    tables, mapping = _write(tmp_path)
    with new(tmp_path) as project:
        told = add_to_project(project, tables, columns=mapping)
        assert told.faults == ()
        (orchard,) = records.orchards(project)
        assert (orchard.name, orchard.grazed_by, orchard.people_below) == (
            "Kiln Piece",
            "sheep",
            True,
        )
        (young,) = young_trees(project)
        leader, shoot = young.shoots
        assert (young.station.tree, young.station.species) == ("Kiln Piece/1", "apple")
        assert (leader.parent, shoot.parent) == ("", "L")
        assert (leader.rise_deg, shoot.at_m) == (88.0, 1.7)
        assert leader.length_m == pytest.approx(1.9812)
        assert leader.grown_cm == pytest.approx(50.8)
        assert leader.diameter_mm == pytest.approx(30.0)
        assert shoot.diameter_mm == pytest.approx(10.0)
        (survey,) = [s for s in project.rows("surveys") if s["kind"] == "shoots"]
        assert survey["taken_on"] == "2026-01-09"
        (visit,) = records.visits(project)
        assert (visit.tree, visit.done_on, visit.who, visit.hours) == (
            "Kiln Piece/2",
            date(2025, 12, 3),
            "Ada",
            2.5,
        )
        first, second = visit.cuts
        assert (first.limb, first.cut, first.done) == ("A", "remove", "yes")
        assert (second.limb, second.cut) == ("B", "shorten")
        assert second.diameter_mm == pytest.approx(50.8)
        (seen,) = records.responses(project)
        assert seen.shoots == 14
        assert seen.shoot_length_cm == pytest.approx(50.8)
        (photo,) = records.photos(project)
        assert (photo.file, photo.shows) == ("a.jpg", "after")
        again = add_to_project(project, tables, columns=mapping)
        assert again.changes_nothing


def test_rules_of_the_place_come_in_by_other_names(tmp_path: Path) -> None:
    (tmp_path / "map.toml").write_text(MAPPING, "utf-8")
    text = "title,job,species,strength,from,to\nhedge law,structural,all,forbid,03-01,08-31\n"
    with new(tmp_path) as project:
        told = add_text(project, "rules.csv", text, columns=tmp_path / "map.toml")
        assert told.faults == ()
        (rule,) = rules(project)
        assert (rule.scheme, rule.strength) == ("hedge law", "forbid")


def test_shoots_are_read_for_forming_by_the_same_mapping(tmp_path: Path) -> None:
    tables, mapping = _write(tmp_path)
    found = read_young_trees(tables / "b-twigs.csv", tables / "a-trees.csv", columns=mapping)
    assert found.faults == ()
    assert [(t.station.tree, len(t.shoots)) for t in found.trees] == [("Kiln Piece/1", 2)]


def test_the_table_for_which_most_is_named_is_taken(tmp_path: Path) -> None:
    tables, mapping = _write(tmp_path)
    columns = read_columns(mapping)
    header = read_book(tables / "e-cuts.csv").header("cuts")
    assert columns.kind_of(header, ("photos", "responses", "cuts")) == "cuts"
    assert columns.kind_of(("field",), ("stations", "shoots")) == ""
    (visit,) = read_records([tables / "d-days.csv", tables / "e-cuts.csv"], columns=columns).visits
    assert len(visit.cuts) == 2


def test_a_column_no_table_of_records_has_is_named(tmp_path: Path) -> None:
    (tmp_path / "map.toml").write_text('[visits.columns]\nweight_kg = "load"\n', "utf-8")
    with pytest.raises(InputError, match=r"visits\.columns\.weight_kg is not a column of visits"):
        read_columns(tmp_path / "map.toml")

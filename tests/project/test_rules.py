"""Rules of one's own place in a project: added once, changed and told, written out again."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer
from openpyxl import Workbook
from tests.project.holdings import add_text, new
from typer.testing import CliRunner

from limbwright.cli.windows import windows
from limbwright.model import Faults, Site
from limbwright.project.add import add_to_project
from limbwright.project.export import export_project
from limbwright.project.plans import rules
from limbwright.project.records import holding, save_holding
from limbwright.project.store import Project
from limbwright.survey.local_rules import RULE_COLUMNS

HEAD = ",".join(RULE_COLUMNS)
MEADOW = "structural,stone,07-15,09-30,only,Invented Meadow Scheme,Elsewhere,2027,its leaflet,\n"
BY_LAW = "all,all,03-01,08-15,look first,Invented by-law,Elsewhere,2026,,ask the ranger\n"
TABLE = f"{HEAD}\n{MEADOW}{BY_LAW}"
app = typer.Typer()
app.command()(windows)


def said(*arguments: str | Path) -> str:
    done = CliRunner().invoke(app, [str(a) for a in arguments], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return " ".join(done.output.split())


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return new(tmp_path)


def test_rules_are_taken_with_scheme_place_and_date(project: Project) -> None:
    added = add_text(project, "rules.csv", TABLE)
    assert added.lines() == [
        "2 local rules: 2 added.",
        "Invented Meadow Scheme, Elsewhere, 2027: in these days alone, 15 July to 30 September.",
        "Invented by-law, Elsewhere, 2026: in these days only after looking, 1 March to 15 August. "
        "ask the ranger",
    ]
    assert {(r.scheme, r.place, r.dated) for r in rules(project)} == {
        ("Invented Meadow Scheme", "Elsewhere", "2027"),
        ("Invented by-law", "Elsewhere", "2026"),
    }


def test_the_same_rules_again_change_nothing(project: Project) -> None:
    add_text(project, "rules.csv", TABLE)
    before = len(project.history())
    again = add_text(project, "rules.csv", TABLE)
    assert again.changes_nothing
    assert again.lines() == ["2 local rules: 2 the same."]
    assert len(project.history()) == before


def test_a_changed_row_shows_and_a_blank_says_nothing(project: Project) -> None:
    add_text(project, "rules.csv", TABLE)
    stricter = TABLE.replace("look first", "forbid").replace("2027,its leaflet", "2028,")
    told = [str(a) for a in add_text(project, "rules.csv", stricter).altered]
    assert told == [
        "Invented Meadow Scheme, Elsewhere: structural, stone: dated 2027, now 2028",
        "Invented by-law, Elsewhere: all jobs, all species: strength look first, now forbid",
    ]
    assert {r.source for r in rules(project)} == {"its leaflet", ""}
    project.undo()
    assert {r.strength for r in rules(project)} == {"only", "look first"}


def test_moved_days_take_the_place_of_those_before(project: Project) -> None:
    add_text(project, "rules.csv", TABLE)
    added = add_text(project, "rules.csv", TABLE.replace("03-01,08-15", "02-15,08-31"))
    assert [(a.field, a.before, a.after) for a in added.altered] == [
        ("first_day", "03-01", "02-15"),
        ("last_day", "08-15", "08-31"),
    ]
    assert len(rules(project)) == 2


def test_a_further_rule_of_a_scheme_stands_beside_the_first(project: Project) -> None:
    add_text(project, "rules.csv", TABLE)
    winter = BY_LAW.replace("03-01,08-15", "12-15,01-10")
    added = add_text(project, "more.csv", f"{HEAD}\n{winter}")
    assert added.counts["rules"].added == 1
    assert len(rules(project)) == 3
    # and one that shares days with a rule which the same table has too
    both = f"{TABLE}{winter}{BY_LAW.replace('03-01,08-15', '08-01,10-01')}"
    assert add_text(project, "both.csv", both).counts["rules"].added == 1
    assert len(rules(project)) == 4


def test_a_row_with_a_fault_is_told_and_the_others_hold(project: Project) -> None:
    added = add_text(project, "rules.csv", TABLE.replace("07-15", "15 July?"))
    assert len(rules(project)) == 1
    assert [(f.row, f.column) for f in added.faults if f.severity == "error"] == [(2, "first_day")]
    lacking = add_text(project, "few.csv", "job,first_day,last_day\nall,01-01,02-01\n")
    assert {f.column for f in lacking.faults} == {"species", "strength", "scheme"}
    assert len(rules(project)) == 1


def test_unknown_columns_are_kept_in_the_note(project: Project) -> None:
    add_text(project, "rules.csv", f"{HEAD},ward\n{BY_LAW.strip()},Wyn\n")
    assert rules(project)[0].note == "ask the ranger; ward: Wyn"


@pytest.mark.parametrize("name", ["out.csv", "out.xlsx", "out.gpkg", "out"])
def test_what_is_written_out_can_be_added_elsewhere(
    project: Project, tmp_path: Path, name: str
) -> None:
    add_text(project, "rules.csv", TABLE)
    done = export_project(project, tmp_path / name, what="rules")
    assert done.rows == {"rules": 2}
    with new(tmp_path, "other") as other:
        add_to_project(other, done.path)
        assert rules(other) == rules(project)
        assert add_to_project(other, project.path).changes_nothing


def test_a_sheet_of_a_workbook_is_known_by_its_name(project: Project, tmp_path: Path) -> None:
    book = Workbook()
    book.active.title = "rules"  # type: ignore[union-attr]
    for line in TABLE.splitlines():
        book.active.append(line.split(","))  # type: ignore[union-attr]
    book.save(tmp_path / "ours.xlsx")
    assert add_to_project(project, tmp_path / "ours.xlsx").counts["rules"].added == 2


def test_windows_take_place_and_rules_of_the_project(project: Project) -> None:
    add_text(project, "rules.csv", TABLE)
    one = said("plum", "--year", "2027", "--project", project.path)
    assert "structural 15 Jul 2027 to 30 Sep 2027" in one
    assert "Rules of the place Invented by-law, Elsewhere, 2026: in these days only after" in one
    assert "Invented Meadow Scheme, Elsewhere, 2027: in these days alone" in one
    assert "For structural, stone." in one
    apples = said("apple", "--year", "2027", "--project", project.path)
    assert "Meadow" not in apples
    place = holding(project)
    save_holding(project, type(place)(place.name, site=Site(southern=True, latitude_deg=-41.0)))
    south = said("cherry", "--year", "2027", "--project", project.path)
    assert "turned half a year round" in south


def test_a_rule_that_another_program_spoilt_is_told(project: Project) -> None:
    add_text(project, "rules.csv", TABLE)
    row = project.rows("rules")[0]
    project.put("rules", [{**row, "scheme": "Spoilt (invented)", "last_day": "02-31"}])
    faults = Faults()
    assert len(rules(project, faults)) == 2
    told = said("plum", "--project", project.path)
    assert "last_day" in told
    assert "Spoilt" not in told.partition("Rules of the place")[2]

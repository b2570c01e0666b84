"""Taking records in and looking back, from tables to settings, by the two commands."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import jsonschema
import pytest
import typer
from openpyxl import Workbook
from tests.learn.records import document
from tests.project.holdings import add_text, new
from typer.testing import CliRunner, Result

from limbwright.cli.record import lookback, record
from limbwright.errors import InputError
from limbwright.learn.factors import Factors
from limbwright.learn.look_back import lookback_schema
from limbwright.project.plans import Setting, plans, save_plan, save_setting, settings
from limbwright.project.records import responses, visits
from limbwright.project.store import Project

APP = typer.Typer()
for command in (record, lookback):
    APP.command()(command)

SEASON = "winter 2026-27"
HEAD = "orchard,station,species,girth_cm,condition,extension_cm,planted\n"


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(APP, [str(a) for a in arguments])


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """A holding of a dozen apples, each with a plan of three cuts."""
    with new(tmp_path) as opened:
        rows = [f"Sloe Bank,{k},apple,126,fair,22,1930\n" for k in range(1, 13)]
        add_text(opened, "stations.csv", HEAD + "".join(rows), taken_on=date(2026, 9, 1))
        for k in range(1, 13):
            tree = f"Sloe Bank/{k}"
            plan = document(tree=tree)
            made = date(2026, 10, 5)
            save_plan(opened, tree, SEASON, "season", plan, made_on=made, version="test")
        return opened.path


def tables(folder: Path, times: float = 1.3) -> list[Path]:
    """Visits whose hours are so many times those reckoned, and how the trees answered."""
    base = 3 * (0.08 + 0.10 * 3.14159 / 4)
    seen = [f"Sloe Bank/{k}" for k in range(1, 13)]
    text = "tree,season,done_on,who,hours,brash_hours\n"
    text += "".join(
        f"{tree},{SEASON},2027-01-{10 + k},Ada,{times * base * (0.85 + 0.025 * k):.4f},0.3\n"
        for k, tree in enumerate(seen)
    )
    cuts = "tree,done_on,order,limb,cut,done\n"
    cuts += "".join(
        f"{tree},2027-01-{10 + k},{n},{limb},remove,yes\n"
        for k, tree in enumerate(seen)
        for n, limb in enumerate("abc", 1)
    )
    answers = "tree,seen_on,shoots,extension_cm,girth_cm,condition,limbs_lost\n"
    answers += "".join(f"{t},2027-08-{10 + k},40,24,127,good,\n" for k, t in enumerate(seen))
    found = []
    for name, one in (("visits", text), ("cuts", cuts), ("responses", answers)):
        path = folder / f"{name}.csv"
        path.write_text(one, "utf-8")
        found.append(path)
    return found


def test_records_are_one_change_and_the_same_again_changes_nothing(
    project: Path, tmp_path: Path
) -> None:
    files = tables(tmp_path)
    first = run("record", project, *files)
    assert first.exit_code == 0, first.output
    assert "12 visits: 12 added." in first.output
    assert "36 cuts: 36 added." in first.output
    assert "12 plans kept as worked on" in first.output
    again = run("record", project, *files)
    assert "nothing is changed" in again.output
    with Project.open(project) as opened:
        assert opened.history()[-1].what.startswith("record visits.csv")
        assert len(visits(opened)) == 12
        assert {p.status for p in plans(opened)} == {"done"}
        opened.undo()
        assert not (*visits(opened), *responses(opened))
        assert {p.status for p in plans(opened)} == {"proposed"}


def test_what_says_otherwise_is_shown_and_can_be_taken_back(project: Path, tmp_path: Path) -> None:
    files = tables(tmp_path)
    run("record", project, *files)
    files[0].write_text(files[0].read_text("utf-8").replace(",Ada,", ",Wyn,"), "utf-8")
    told = run("record", project, files[0])
    assert "who Ada, now Wyn" in told.output
    with Project.open(project) as opened:
        assert {v.who for v in visits(opened)} == {"Wyn"}
        assert all(len(v.cuts) == 3 for v in visits(opened))
        opened.undo()
        assert {v.who for v in visits(opened)} == {"Ada"}


def test_one_workbook_holds_all_tables(project: Path, tmp_path: Path) -> None:
    book = Workbook()
    book.remove(book[book.sheetnames[0]])
    for path in tables(tmp_path):
        sheet = book.create_sheet(path.stem)
        for line in path.read_text("utf-8").splitlines():
            sheet.append(line.split(","))
    book.save(tmp_path / "season.xlsx")
    told = run("record", project, tmp_path / "season.xlsx", "--json")
    counts = json.loads(told.stdout)["counts"]
    assert counts["visits"]["added"] == 12
    assert counts["cuts_done"]["added"] == 36


def test_a_table_of_anything_else_is_refused_and_nothing_is_written(
    project: Path, tmp_path: Path
) -> None:
    files = tables(tmp_path)
    told = run("record", project, *files, tmp_path / "stations.csv")
    assert isinstance(told.exception, InputError)
    assert "stations.csv holds stations, not records" in str(told.exception)
    missing = run("record", project, tmp_path / "none.csv")
    assert isinstance(missing.exception, InputError)
    with Project.open(project) as opened:
        assert visits(opened) == ()


def test_one_bad_row_is_told_and_sinks_nothing(project: Path, tmp_path: Path) -> None:
    files = tables(tmp_path)
    text = files[0].read_text("utf-8").splitlines(keepends=True)
    text[3] = "Sloe Bank/3,winter 2026-27,some day,Ada,2.0,1.0\n"
    files[0].write_text("".join(text), "utf-8")
    told = run("record", project, files[0])
    assert told.exit_code == 1
    assert "11 visits: 11 added." in told.output
    assert "row 4" in told.stderr
    assert "not a date" in told.stderr


def test_looking_back_changes_nothing_until_told_to(project: Path, tmp_path: Path) -> None:
    run("record", project, *tables(tmp_path))
    told = run("lookback", project)
    assert told.exit_code == 0, told.output
    assert "Nothing is changed." in told.output
    assert "The work took 1.3 times the hours foreseen in 12 records" in told.output
    assert "Sloe Bank/1: fair, then good" in told.output
    assert "limbs lost: 0" in told.output.replace("Limbs", "limbs")
    with Project.open(project) as opened:
        assert settings(opened) == {}
        before = len(opened.history())
    written = run("lookback", project, "--apply", "--on", "2027-09-01")
    assert "hours_factor = 1." in written.output
    with Project.open(project) as opened:
        assert len(opened.history()) == before + 1
        kept = settings(opened)["hours_factor"]
        assert kept.source == "learned from 12 records up to 2027-01-21"
        assert kept.since == date(2027, 9, 1)
        assert 1.1 < float(str(kept.value)) < 1.3
    again = run("lookback", project, "--apply")
    assert "Nothing would change." in again.output
    with Project.open(project) as opened:
        assert len(opened.history()) == before + 1
        opened.undo()
        assert settings(opened) == {}


def test_json_tells_the_same(project: Path, tmp_path: Path) -> None:
    run("record", project, *tables(tmp_path))
    told = json.loads(run("lookback", project, "--json").stdout)
    jsonschema.Draft202012Validator(lookback_schema()).validate(told)
    assert len(told["work"]) == 12
    assert {one["what"] for one in told["compared"]} >= {"hours in the tree", "watershoots"}
    assert told["applied"] == []
    by_name = {one["setting"]: one for one in told["lessons"]}
    assert by_name["hours_factor"]["records"] == 12
    written = json.loads(run("lookback", project, "--apply", "--json").stdout)
    jsonschema.Draft202012Validator(lookback_schema()).validate(written)
    applied = written["applied"]
    assert {one["name"]: one["value"] for one in applied} == {
        name: one["value"] for name, one in by_name.items() if one["moves"]
    }
    with Project.open(project) as opened:
        force = Factors.of({name: s.value for name, s in settings(opened).items()})
    assert force.factor("hours") == by_name["hours_factor"]["value"]


def test_the_station_before_the_work_makes_the_forecast(project: Path, tmp_path: Path) -> None:
    run("record", project, *tables(tmp_path))
    before = json.loads(run("lookback", project, "--json").stdout)
    with Project.open(project) as opened:  # a walk after the work finds them stronger
        rows = [f"Sloe Bank,{k},apple,127,good,55,1930\n" for k in range(1, 13)]
        add_text(opened, "again.csv", HEAD + "".join(rows), taken_on=date(2027, 9, 1))
    assert json.loads(run("lookback", project, "--json").stdout) == before


def test_settings_of_ones_own_are_the_base(project: Path, tmp_path: Path) -> None:
    run("record", project, *tables(tmp_path))
    with Project.open(project) as opened:
        for name in ("work_setup", "work_saw"):
            value = 1.3 * {"work_setup": 0.08, "work_saw": 0.10}[name]
            save_setting(opened, Setting(name, value, "our own crew"))
        save_setting(opened, Setting("colour", "plum"))
    told = json.loads(run("lookback", project, "--json").stdout)
    (hours,) = [one for one in told["lessons"] if one["setting"] == "hours_factor"]
    assert hours["seen"] == pytest.approx(1.0, abs=0.02)


def test_an_empty_project_has_nothing_to_look_back_on(tmp_path: Path) -> None:
    with new(tmp_path) as opened:
        path = opened.path
    told = run("lookback", path)
    assert told.exit_code == 0
    assert "nothing to look back on" in told.output
    assert "Nothing would change." in told.output

"""The two commands: plain words, JSON, faults, and nothing that promises safety."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
import typer
from typer.testing import CliRunner

from limbwright.cli.needs import needs, tape
from limbwright.errors import InputError
from limbwright.model import Holding, Orchard, Site
from limbwright.needs.need import needs_schema
from limbwright.needs.tape import tape_schema
from limbwright.project.add import add_to_project
from limbwright.project.store import Project

HEAD = "orchard,station,species,status,girth_cm,height_m,spread_m,condition,dead_pct,faults,x,y\n"
ROWS = (
    "Ash Ground,1,apple,living,110,7,8,fair,10,crack in a main union,0,0\n"
    "Ash Ground,2,plum,living,70,5,6,good,60,,10,0\n"
    "Ash Ground,3,,gap,,,,,,,20,0\n"
    "Ash Ground,4,pear,living,150,9,8,fair,5,congested,30,0\n"
)


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "stations.csv"
    path.write_text(HEAD + ROWS, encoding="utf-8")
    return path


def run(*arguments: str | Path) -> tuple[int, str]:
    app = typer.Typer()
    app.command()(needs)
    app.command()(tape)
    result = CliRunner().invoke(app, [str(a) for a in arguments])
    if isinstance(result.exception, InputError):
        raise result.exception
    return result.exit_code, " ".join(result.stdout.split())


def test_needs_in_words(table: Path) -> None:
    code, out = run("needs", table, "--on", "2026-12-01")
    assert code == 0
    assert out.startswith("4 stations: ")
    assert out.index("Ash Ground/1") < out.index("Ash Ground/4")
    assert "condition good, yet 60 % of the crown is dead".capitalize() in out
    assert "not an inspection" in out
    assert "safe" not in out.lower()


def test_needs_as_json(table: Path) -> None:
    code, out = run("needs", table, "--on", "2026-12-01", "--json")
    told = json.loads(out)
    assert code == 0
    assert told["schema"] == "limbwright.needs/1"
    jsonschema.Draft202012Validator(needs_schema()).validate(told)
    assert [one["place"] for one in told["trees"]] == [1, 2, 3, 4]


def test_tape_in_words_and_json(table: Path) -> None:
    code, out = run("tape", table, "--minutes", "30", "--on", "2026-12-01")
    assert code == 0
    assert "In 30 minutes, in walking order" in out
    told = json.loads(run("tape", table, "--json", "--on", "2026-12-01", "--most", "1")[1])
    jsonschema.Draft202012Validator(tape_schema()).validate(told)
    assert len(told["day"]["trees"]) == 1
    assert {one["tree"] for one in told["trees"]} <= {
        "Ash Ground/1",
        "Ash Ground/2",
        "Ash Ground/4",
    }


def test_a_project_file_tells_its_place_and_what_is_taped(tmp_path: Path, table: Path) -> None:
    holding = Holding(
        "Marl End (invented)", site=Site(southern=True),
        orchards=(Orchard("Ash Ground", grazed_by="sheep"),),
    )  # fmt: skip
    path = tmp_path / "holding.gpkg"
    limbs = tmp_path / "limbs.csv"
    limbs.write_text(
        "station,limb,parent,at_m,diameter_mm,length_m,bearing_deg,rise_deg\n"
        "Ash Ground/4,stem,,,450,2.5,,\nAsh Ground/4,A,stem,2.4,200,4,90,45\n",
        encoding="utf-8",
    )
    with Project.create(path, holding) as project:
        add_to_project(project, [table, limbs])
    told = json.loads(run("needs", path, "--json", "--on", "2026-12-01")[1])
    assert len(told["trees"]) == 4
    months = {tuple(one["months"]) for one in told["trees"] if "Ground/1" in one["tree"]}
    assert all(m[0] in (5, 6) for m in months)
    assert "Move stock" in json.dumps(told)
    trees = json.loads(run("tape", path, "--json", "--on", "2026-12-01")[1])["trees"]
    assert "Ash Ground/4" not in {one["tree"] for one in trees}
    with Project.create(tmp_path / "bare.gpkg", Holding("Bare")):
        pass
    with pytest.raises(InputError, match="no stations yet"):
        run("needs", tmp_path / "bare.gpkg")


def test_what_is_wrong_is_told(tmp_path: Path, table: Path) -> None:
    empty = tmp_path / "empty.csv"
    empty.write_text("station,species\n,apple\n", encoding="utf-8")
    with pytest.raises(InputError, match="no station that can be used"):
        run("needs", empty)
    with pytest.raises(InputError, match="not a date"):
        run("tape", table, "--on", "next week")

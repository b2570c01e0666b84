"""What the command for windows prints, as words and as JSON, and how it says what is wrong."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from pathlib import Path

import jsonschema
import pytest
import typer
from typer.testing import CliRunner

from limbwright.cli.windows import windows
from limbwright.errors import InputError
from limbwright.trade.seasons.plain import windows_schema, windows_to_dict

ROOT = Path(__file__).resolve().parents[2]
RECORD = ROOT / "examples/weather.csv"
app = typer.Typer()
app.command()(windows)


def run(*arguments: str | Path) -> str:
    """Return what is printed, blanks joined."""
    done = CliRunner().invoke(app, [str(a) for a in arguments], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return " ".join(done.stdout.split())


def refused(*arguments: str | Path) -> str:
    with pytest.raises(InputError) as told:
        CliRunner().invoke(app, [str(a) for a in arguments], catch_exceptions=False)
    return str(told.value)


def plain(*arguments: str | Path) -> dict[str, object]:
    done = CliRunner().invoke(app, [*map(str, arguments), "--json"], catch_exceptions=False)
    told: dict[str, object] = json.loads(done.stdout)
    jsonschema.Draft202012Validator(windows_schema()).validate(told)
    return told


def test_all_jobs_of_a_species_in_a_line_each() -> None:
    said = run("plum", "--year", "2027", "--latitude", "52")
    assert (
        "structural 1 May 2027 to 30 Sep 2027 1 May to 30 Sep 1 Sep to 30 Sep birds nesting" in said
    )
    assert "planting 1 Nov 2027 to 31 Mar 2028 1 Oct to 31 Mar 1 Nov to 31 Mar" in said
    assert "qualified arborist" in said
    assert "Local law comes first" in said
    assert "summer" not in said  # a job of pome fruit


def test_one_job_in_full_with_conflicts_weeks_and_sources() -> None:
    said = run("plum", "--job", "structural", "--year", "2027", "--latitude", "52")
    assert "1 Sep 2027 to 30 Sep 2027 open stone fruit in growth" in said
    assert "Birds nesting: on 123 of 153 days" in said
    assert "week 36, 6 Sep 2027 to 12 Sep 2027 7 open" in said
    assert "[English council guidance" in said


def test_south_of_the_equator_the_year_is_turned() -> None:
    for option in (["--southern"], ["--latitude", "-40"]):
        said = run("plum", "--year", "2027", *option)
        assert "structural 1 Nov 2027 to 31 Mar 2028 1 Nov to 31 Mar 1 Mar to 31 Mar" in said
        assert "turned half a year round" in said
    assert "collide" in refused("plum", "--southern", "--latitude", "40")


def test_near_the_equator_it_says_that_it_cannot_tell() -> None:
    said = run("apple", "--year", "2027", "--latitude", "3")
    assert "no plain calendar holds" in said
    assert "structural not known here: ask growers of the place" in said


def test_months_of_a_climate_move_the_days(tmp_path: Path) -> None:
    means = (-3.1, -3.8, -0.7, 4.5, 10.4, 14.9, 18.1, 16.9, 12.3, 6.6, 2.4, -0.7)
    path = tmp_path / "months.csv"
    path.write_text("month,mean_c\n" + "".join(f"{m},{t}\n" for m, t in enumerate(means, 1)))
    told = plain("plum", "--year", "2027", "--latitude", "60", "--weather", path)
    assert told["basis"] == "climate"
    said = run("plum", "--year", "2027", "--latitude", "60", "--weather", path)
    assert "leaf falls about" in said
    assert "but the latitude is -60" in refused("plum", "--latitude", "-60", "--weather", path)


def test_days_of_a_record_are_counted_by_their_weather() -> None:
    said = run("apple", "--job", "watershoots", "--year", "2026", "--weather", RECORD)
    assert "month days go look stay home May 2026 17" in said
    assert "Wind is not in the table" in said
    told = plain("apple", "--job", "watershoots", "--year", "2026", "--weather", RECORD)
    jobs = told["jobs"]
    assert isinstance(jobs, list)
    for month in jobs[0]["fit_days"]:
        assert month["days"] == month["go"] + month["look"] + month["stay_home"]


def test_a_local_rule_decides_and_is_named(tmp_path: Path) -> None:
    rules = tmp_path / "rules.csv"
    rules.write_text(
        "job,species,first_day,last_day,strength,scheme,place,dated\n"
        "structural,stone,07-15,09-30,only,Invented Scheme,Elsewhere,2027\n"
    )
    said = run("plum", "--job", "structural", "--year", "2027", "--rules", rules)
    assert "15 Jul 2027" in said
    assert "1 May 2027 to" not in said
    assert "local rule: Invented Scheme" in said
    assert "Elsewhere, 2027: in these days alone, 15 July to 30 September" in said


def test_the_ribbon_is_drawn_into_a_file(tmp_path: Path) -> None:
    path = tmp_path / "year.svg"
    run("apple", "--year", "2027", "--ribbon", path)
    assert ET.fromstring(path.read_text("utf-8")).tag.endswith("svg")
    months = tmp_path / "months.svg"
    months.write_text("month,mean_c\n" + "".join(f"{m},{m}\n" for m in range(1, 13)))
    assert "written over" in refused("apple", "--weather", months, "--ribbon", months)


def test_words_that_are_not_known_are_told() -> None:
    assert "'oak' is not known" in refused("oak")
    assert "There is no summer pruning of plum" in refused("plum", "--job", "summer")
    assert "'frogs' is not known" in refused("plum", "--has", "frogs")
    assert "year 99 is out of range" in refused("plum", "--year", "99")


def test_json_of_every_species_holds_to_its_schema() -> None:
    for name in ("apple", "damson", "tart cherry"):
        told = plain(name, "--year", "2028", "--has", "roost", "--has", "silver leaf")
        assert told["species"] == name.replace(" ", "-")
    with pytest.raises(ValueError, match="no window"):
        windows_to_dict([])

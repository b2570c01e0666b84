"""Young trees from tables and the command that forms them: the example, and what may be wrong."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner, Result

from limbwright.cli.form import form
from limbwright.errors import InputError
from limbwright.form.read import read_young_trees
from limbwright.form.settings import FormSettings, read_form_settings

ROOT = Path(__file__).resolve().parents[2]
SHOOTS = ROOT / "examples" / "shoots.csv"
STATIONS = ROOT / "examples" / "young-stations.csv"


def run(*arguments: str | Path) -> Result:
    app = typer.Typer(pretty_exceptions_enable=False)
    app.command()(form)
    return CliRunner().invoke(app, [str(a) for a in arguments])


def test_the_example_reads_without_fault() -> None:
    read = read_young_trees(SHOOTS, STATIONS)
    assert not read.faults
    assert [t.station.station for t in read.trees] == [str(n) for n in range(21, 28)]
    assert all(t.station.species for t in read.trees)


def test_the_example_is_marked_as_invented() -> None:
    for path in (SHOOTS, STATIONS):
        with path.open(encoding="utf-8", newline="") as file:
            assert all("invented" in row["note"] for row in csv.DictReader(file))


def test_a_tree_without_species_is_left_out_with_a_fault_and_the_rest_live(tmp_path: Path) -> None:
    path = tmp_path / "shoots.csv"
    path.write_text(
        "orchard,station,shoot,parent,at_m,length_m,rise_deg\n"
        "Example Close,21,leader,,,2.0,90\nExample Close,99,leader,,,two,90\n",
        "utf-8",
    )
    read = read_young_trees(path, STATIONS)
    assert [t.station.station for t in read.trees] == ["21"]
    assert any("no species" in str(f) and "row 3" in str(f) for f in read.faults)
    assert any("two" in str(f) for f in read.faults)
    assert len(read_young_trees(path, STATIONS, species="apple").trees) == 2
    with pytest.raises(InputError, match="oak"):
        read_young_trees(path, species="oak")


def test_the_command_writes_cards_list_and_json(tmp_path: Path) -> None:
    some = tmp_path / "some.csv"
    lines = SHOOTS.read_text("utf-8").splitlines(keepends=True)
    some.write_text(
        "".join(one for one in lines if one.split(",")[1] in ("station", "24")), "utf-8"
    )
    out = tmp_path / "out"
    done = run(some, "--stations", STATIONS, "--grazed", "sheep", "--on", "2027-01-10", "-o", out)
    assert done.exit_code == 0, done.output
    assert "winter 2026-27" in done.output
    assert "No good scaffold yet" in done.output
    assert (out / "form-cards.pdf").read_bytes().startswith(b"%PDF")
    made = json.loads((out / "form.json").read_text("utf-8"))
    with (out / "form-list.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == sum(len(t["rows"]) for t in made["trees"]) == 6
    assert made["schema"] == "limbwright.form/1"


def test_the_command_prints_json_and_takes_settings(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('count = 3\n"clear_stem.sheep" = 1.9\n[weight]\nangle = 0.5\n', "utf-8")
    assert read_form_settings(own) == {
        "count": 3,
        "clear_stem.sheep": 1.9,
        "weight.angle": 0.5,
    }
    done = run(
        SHOOTS, "--stations", STATIONS, "--grazed", "sheep", "--settings", own, "--json",
        "--southern", "--on", "2026-06-01",
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    trees = json.loads(done.stdout)["trees"]
    assert {t["target"]["clear_stem_m"] for t in trees} == {1.9}
    assert {t["season"] for t in trees if t["species"] == "apple"} == {"winter 2026"}
    three = FormSettings(read_form_settings(own))
    assert three["count"] == 3


def test_the_clear_stem_can_be_asked_for() -> None:
    by_grant = run(SHOOTS, "--stations", STATIONS, "--stem-by", "grant", "--json")
    own = run(SHOOTS, "--stations", STATIONS, "--clear-stem", "1.6", "--json")
    stems = [
        {t["species"]: t["target"]["clear_stem_m"] for t in json.loads(d.stdout)["trees"]}
        for d in (by_grant, own)
    ]
    assert stems[0]["apple"] == 2.0
    assert stems[0]["plum"] == 1.5
    assert set(stems[1].values()) == {1.6}


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["nowhere.csv"], "There is no file"),
        ([SHOOTS], "no young tree that can be formed"),
        ([SHOOTS, "--stations", STATIONS, "--stem-by", "luck"], "luck"),
        ([SHOOTS, "--stations", STATIONS, "--clear-stem", "12"], "clear stem"),
        ([SHOOTS, "--stations", STATIONS, "--on", "soon"], "soon"),
        ([SHOOTS, "--stations", STATIONS, "--settings", "no.toml"], "cannot be read"),
        (["x.gpkg", "--stations", STATIONS], "project file"),
    ],
)
def test_what_cannot_be_done_is_told(arguments: list[str | Path], word: str) -> None:
    done = run(*arguments)
    assert done.exit_code != 0
    assert isinstance(done.exception, InputError)
    assert word in str(done.exception)


def test_one_bad_tree_does_not_sink_the_rest(tmp_path: Path) -> None:
    path = tmp_path / "shoots.csv"
    path.write_text(SHOOTS.read_text("utf-8") + "Example Close,30,leader,,,,,,,,,,\n", "utf-8")
    done = run(path, "--stations", STATIONS, "--species", "apple", "--json")
    assert done.exit_code == 1
    assert len(json.loads(done.stdout)["trees"]) == 7
    assert "how tall" in done.stderr

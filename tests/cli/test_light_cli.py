"""Light and air on the command line: in words, in JSON, left out, and for a place of one's own."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from limbwright.cli import main
from limbwright.demo import make_holding, write_holding
from limbwright.job import Order, open_trees, work_all
from limbwright.statics.results import assessment_schema

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = [str(ROOT / "examples/limbs.csv"), "--stations", str(ROOT / "examples/stations.csv")]


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    code = main([str(a) for a in arguments])
    said = capsys.readouterr()
    return code, said.out, said.err


def told(capsys: pytest.CaptureFixture[str], *options: str) -> list[dict[str, Any]]:
    code, out, _ = run(capsys, "assess", *EXAMPLE, "--json", *options)
    assert code == 0
    whole = json.loads(out)
    jsonschema.Draft202012Validator(assessment_schema()).validate(whole)
    trees: list[dict[str, Any]] = whole["trees"]
    return trees


def test_assess_tells_light_and_air_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "assess", *EXAMPLE)
    assert code == 0
    words = " ".join(out.split())
    for said in (
        "in the months that make next year's fruit buds",
        "has enough for flower buds",
        "for good fruit",
        "in summer",
        "in winter",
        "sees through",
        "A hat thrown at it passes",
        "of an equal space of the whole crown",
        "% sure",
        "is likely, and trials do not agree",
    ):
        assert said in words
    assert words.count("On average the leaf gets") == 3
    assert max(len(line) for line in out.split("Light and air")[1].splitlines()) <= 96


def test_words_and_numbers_say_the_same(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Of the invented holding's trees, which are more crowded than those of the example."""
    stations, limbs = write_holding(make_holding(1), tmp_path)
    survey = [str(limbs), "--stations", str(stations), "--workers", "1"]
    code, out, _ = run(capsys, "assess", *survey, "--json")
    assert code == 0
    trees = json.loads(out)["trees"]
    assert sum(len(t["light"]["close"]) for t in trees) > 10
    assert sum(len(t["light"]["inward"]) for t in trees) > 10
    _, out, _ = run(capsys, "assess", *survey)
    names = "|".join(re.escape(t["tree"]) for t in trees)
    told_of = out.split("Light and air")[1].replace("\n         ", " ")
    parts = re.split(rf"\n(?:{names})\n", told_of)[1:]
    for tree, part in zip(trees, parts, strict=True):
        light = tree["light"]
        assert f"gets {light['mean']:.0%} in" in part
        assert f"{light['hat'] * 100:.0f} times in 100" in part
        for one in light["close"][:4]:
            assert f"{one['limb']} and {one['other']}," in part
        for one in light["inward"][:4]:
            assert f"{one['limb']} by {one['inward_m']:.1f} m" in part
        assert ("No limb to speak of" in part) == (light["gap"] is not None)


def test_whether_neighbours_stand_round_it_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert "each by itself" in run(capsys, "assess", *EXAMPLE)[1]
    assert "others like it 9.5 m away" in run(capsys, "assess", *EXAMPLE, "--spacing", "9.5")[1]


def test_a_dead_tree_is_told_without_light(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    limbs = tmp_path / "limbs.csv"
    limbs.write_text(
        "station,limb,parent,at_m,diameter_mm,length_m,bearing_deg,rise_deg,state,species\n"
        "A1,stem,,,300,2,0,90,dead,apple\nA1,1,stem,2,150,4,0,50,dead,apple\n"
    )
    code, out, _ = run(capsys, "assess", limbs)
    assert code == 0
    assert "It bears no leaf. One sees through" in out
    assert "nan" not in out.lower()
    code, out, _ = run(capsys, "assess", limbs, "--json")
    whole = json.loads(out)
    jsonschema.Draft202012Validator(assessment_schema()).validate(whole)
    assert whole["trees"][0]["light"]["mean"] is None


def test_a_load_asked_for_alone_leaves_light_out(capsys: pytest.CaptureFixture[str]) -> None:
    assert all("light" not in tree for tree in told(capsys, "--loads", "own-weight"))
    _, out, _ = run(capsys, "assess", *EXAMPLE, "--loads", "own-weight")
    assert "Light and air" not in out


def test_the_place_changes_the_light_alone(capsys: pytest.CaptureFixture[str]) -> None:
    plain = told(capsys)[0]
    crowded = told(capsys, "--spacing", "6")[0]
    assert crowded["light"]["mean"] < plain["light"]["mean"]
    assert crowded["light"]["ground"] < plain["light"]["ground"]
    northern = told(capsys, "--latitude", "62")[0]
    assert northern["light"]["mean"] != plain["light"]["mean"]
    clear = told(capsys, "--clearness", "0.7")[0]
    assert clear["light"]["mean"] != plain["light"]["mean"]
    for other in (crowded, northern, clear):
        assert other["limbs"] == plain["limbs"]


def test_a_latitude_in_the_south_turns_the_seasons(capsys: pytest.CaptureFixture[str]) -> None:
    seasons = []
    for options in (["--latitude", "-42"], ["--southern"], []):
        code, out, _ = run(
            capsys, "plan", *EXAMPLE, "--json", "--engine", "fast", "--on", "2027-01-15", *options
        )
        assert code == 0
        seasons.append([tree["season"] for tree in json.loads(out)["trees"]])
    assert seasons[0] == seasons[1] != seasons[2]


@pytest.mark.parametrize("command", ["assess", "plan", "demo"])
@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--latitude", "80"], "--latitude"),
        (["--latitude", "north"], "--latitude"),
        (["--latitude", "nan"], "--latitude"),
        (["--clearness", "45"], "--clearness"),
        (["--clearness", "nan"], "--clearness"),
        (["--spacing", "0.5"], "--spacing"),
        (["--spacing", "nan"], "--spacing"),
    ],
)
def test_a_place_that_cannot_be_is_refused(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    command: str,
    options: list[str],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    survey = [] if command == "demo" else EXAMPLE
    code, out, err = run(capsys, command, *survey, *options)
    assert code in (1, 2)
    assert said in err
    assert "Traceback" not in err + out
    assert "fault in Limbwright itself" not in err
    assert not list(tmp_path.iterdir())


def test_south_and_a_northern_latitude_collide(capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, "assess", *EXAMPLE, "--southern", "--latitude", "42")
    assert code == 1
    assert "--latitude -42" in err


def test_processes_that_share_the_work_tell_the_same(tmp_path: Path) -> None:
    stations, limbs = write_holding(make_holding(1), tmp_path)
    trees = open_trees(limbs, stations=stations).trees[:8]
    order = Order(light=True)
    alone = [d.light for d in work_all(trees, order, with_plan=False, workers=1)]
    shared = [d.light for d in work_all(trees, order, with_plan=False, workers=2)]
    assert [one.to_dict() for one in alone if one] == [one.to_dict() for one in shared if one]
    assert all(one is not None for one in alone)

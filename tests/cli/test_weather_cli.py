"""The weather command: what it says of the example, of rules, of faults, and as JSON."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from limbwright.cli import main
from limbwright.demo import write_weather
from limbwright.light.infection import scab_schema

ROOT = Path(__file__).resolve().parents[2]
RECORD = ROOT / "examples/weather.csv"


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    code = main([str(a) for a in arguments])
    said = capsys.readouterr()
    return code, said.out, said.err


def rainy(folder: Path, hours: int, *, begin_h: int = 8, celsius: float = 10.0) -> Path:
    """A day whose first hours from ``begin_h`` are wet."""
    rows = [
        f"2026-05-{1 + (begin_h + k) // 24:02d} {(begin_h + k) % 24:02d}:00,{celsius},"
        f"{'yes' if k < hours else 'no'}\n"
        for k in range(hours + 10)
    ]
    path = folder / "day.csv"
    path.write_text("time,temperature_c,wet\n" + "".join(rows))
    return path


def test_the_example_is_the_invented_record_of_the_demo(tmp_path: Path) -> None:
    assert write_weather(tmp_path / "w.csv", 1).read_bytes() == RECORD.read_bytes()
    assert "invented" in RECORD.read_text("utf-8").splitlines()[1]


def test_the_example_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "weather", RECORD)
    assert code == 0
    assert err == ""
    words = " ".join(out.split())
    assert "not measured: leaves count as wet when rain fell or the air held 90 %" in words
    assert "not advice to spray: follow your local warning service" in words
    assert "less than 8 hours apart" in words
    assert "copper" in words
    assert "a night's rain counts from 07:00" in words


def test_words_and_json_name_the_same_spells(capsys: pytest.CaptureFixture[str]) -> None:
    _, words, _ = run(capsys, "weather", RECORD, "--every")
    code, out, _ = run(capsys, "weather", RECORD, "--json")
    assert code == 0
    told = json.loads(out)
    jsonschema.Draft202012Validator(scab_schema()).validate(told)
    for one in told["spells"]:
        (line,) = [x for x in words.splitlines() if x.startswith(one["begin"].replace("T", " "))]
        assert one["primary"] in line
        assert ("possible" in line) == one["secondary"]
    assert any(one["primary"] == "severe" for one in told["spells"])


@pytest.mark.parametrize(
    ("hours", "primary"), [(10, "none"), (11, "light"), (16, "moderate"), (26, "severe")]
)
def test_published_hours_at_ten_degrees(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, hours: int, primary: str
) -> None:
    """Table of the Ontario agriculture ministry after Stensvand et al. 1997."""
    _, out, _ = run(capsys, "weather", rainy(tmp_path, hours), "--json")
    (spell,) = json.loads(out)["spells"]
    assert (spell["wet_h"], spell["primary"]) == (hours, primary)


def test_rules_of_ones_own(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    night = rainy(tmp_path, 14, begin_h=20)
    assert "could infect in 1 of" in run(capsys, "weather", night)[1]  # conidia alone
    assert " none " in run(capsys, "weather", night)[1]
    code, out, _ = run(capsys, "weather", night, "--night-counts")
    assert code == 0
    assert " light " in out
    assert "the night counts in full" in " ".join(out.split())
    _, out, _ = run(capsys, "weather", night, "--day-from", "5.5", "--dry-gap", "4")
    assert "05:30" in out
    assert "less than 4 hours" in out


def test_nothing_wet_and_nothing_in_the_table_are_said(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    _, out, _ = run(capsys, "weather", rainy(tmp_path, 0))
    assert "0 wet spells" in out
    assert "could infect in none" in out
    _, out, _ = run(capsys, "weather", rainy(tmp_path, 9, celsius=29))
    assert "says nothing" in out


def test_faults_are_told_by_row_and_the_rest_is_used(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = rainy(tmp_path, 11)
    path.write_text(path.read_text().replace("2026-05-01 09:00,10.0", "2026-05-01 09:00,ten"))
    code, out, err = run(capsys, "weather", path)
    assert code == 0
    assert "day.csv, row 3, temperature_c is 'ten'" in err
    assert " light " in out
    path.write_text(path.read_text().replace(",yes", ",perhaps").replace(",no", ",maybe") + "x,,no")
    code, out, err = run(capsys, "weather", path)
    assert code == 1
    assert len(err.splitlines()) == 1


def test_many_faults_are_counted(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = rainy(tmp_path, 30)
    path.write_text(path.read_text().replace(",yes", ",soaked"))
    code, _, err = run(capsys, "weather", path)
    assert code == 0
    assert "row 2, wet is 'soaked': neither yes nor no" in err
    assert "more; mend these first" in err
    assert len(err.splitlines()) < 20


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("date,temperature_min_c,temperature_max_c\n2026-05-01,4,12\n", "wet_hours"),
        ("time,temperature_c\n2026-05-01 08:00,10\n", "wet"),
        ("station,limb\n1,2\n", "Hourly: time"),
        ("", "empty"),
    ],
)
def test_a_record_that_does_not_do_is_refused(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, text: str, said: str
) -> None:
    path = tmp_path / "w.csv"
    path.write_text(text)
    code, out, err = run(capsys, "weather", path)
    assert code == 1
    assert said in err
    assert "Traceback" not in err + out
    assert "fault in Limbwright itself" not in err


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--dry-gap", "-1"], "--dry-gap"),
        (["--dry-gap", "nan"], "--dry-gap"),
        (["--day-from", "14"], "--day-from"),
        (["--columns", "no.toml"], "no.toml"),
    ],
)
def test_rules_that_cannot_be_are_refused(
    capsys: pytest.CaptureFixture[str], options: list[str], said: str
) -> None:
    code, out, err = run(capsys, "weather", RECORD, *options)
    assert code in (1, 2)
    assert said in err
    assert "Traceback" not in err + out

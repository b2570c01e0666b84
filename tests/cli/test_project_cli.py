"""A holding from an empty file to its plans, cards and copies, as typed."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from pypdf import PdfReader

from limbwright.cli import main
from limbwright.cli.plan_years import print_seasons
from limbwright.demo import make_holding, write_holding

DAY = ("--on", "2026-11-27")


@pytest.fixture(scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two trees of the invented holding, as tables."""
    folder = tmp_path_factory.mktemp("tables")
    write_holding(make_holding(1), folder)
    for name in ("stations", "limbs"):
        path = folder / f"{name}.csv"
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.reader(file))
        at = rows[0].index("station")
        kept = [rows[0], *(row for row in rows[1:] if row[at] in ("7", "23"))]
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(kept)
    return folder


@pytest.fixture(scope="module")
def project(tables: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("holding") / "holding.gpkg"
    assert main(["new", str(path), "--name", "Larkmoor (invented)", "--terrain", "III"]) == 0
    given = [str(tables / "stations.csv"), str(tables / "limbs.csv")]
    assert main(["add", str(path), *given, "--taken-on", "2026-11-20"]) == 0
    assert main(["plan", str(path), "--years", "2", "--no-ways", "--workers", "1", *DAY]) == 0
    return path


def test_adding_the_same_again_changes_nothing(
    project: Path, tables: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given = [str(tables / "stations.csv"), str(tables / "limbs.csv")]
    assert main(["add", str(project), *given, "--taken-on", "2026-11-20"]) == 0
    told = capsys.readouterr().out
    assert "2 stations: 2 the same." in told
    assert "added" not in told


def test_planning_again_goes_on_from_what_is_there(
    project: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", str(project), "--years", "2", "--no-ways", *DAY]) == 0
    assert "0 trees planned, 2 as planned before." in capsys.readouterr().out


def test_another_dose_is_another_plan(
    project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "copy.gpkg"
    assert main(["export", str(project), "--copy", "-o", str(copy)]) == 0
    order = ["--years", "2", "--no-ways", "--dose", "0.05", "--workers", "1", "--json", *DAY]
    capsys.readouterr()
    assert main(["plan", str(copy), *order]) == 0
    trees = json.loads(capsys.readouterr().out)["trees"]
    assert len(trees) == 2
    for tree in trees:
        assert all(season["dose"] <= 0.05 + 1e-6 for season in tree["seasons"])
    assert any(season["dose"] > 0.0 for tree in trees for season in tree["seasons"])


def test_cards_are_those_of_the_plan_kept(
    project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", str(project), "--years", "2", "--no-ways", "--json", *DAY]) == 0
    trees = json.loads(capsys.readouterr().out)["trees"]
    cutting = [t["tree"] for t in trees if t["seasons"][0]["plan"]]
    assert cutting
    pdf = tmp_path / "cards.pdf"
    assert main(["cards", str(project), "-o", str(pdf), *DAY]) == 0
    words = "".join(page.extract_text() for page in PdfReader(pdf).pages)
    for tree in cutting:
        assert tree in words


def test_season_that_no_plan_has_is_told(
    project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given = ["cards", str(project), "--season", "winter 1911-12", "-o", str(tmp_path / "c.pdf")]
    assert main(given) == 1
    assert "no plan with cuts in winter 1911-12" in capsys.readouterr().err


def test_history_names_each_change_and_undo_takes_back_the_last(
    project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "copy.gpkg"
    assert main(["export", str(project), "--copy", "-o", str(copy)]) == 0
    capsys.readouterr()
    assert main(["history", str(copy), "--json"]) == 0
    changes = json.loads(capsys.readouterr().out)["changes"]
    assert any("add stations.csv" in one["what"] for one in changes)
    assert main(["undo", str(copy)]) == 0
    assert "Taken back" in capsys.readouterr().out
    assert main(["undo", str(copy), "--redo"]) == 0
    assert "Made again" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["--stations", "s.csv"], "--stations goes with a table"),
        (["--protect", "nowhere:1"], "there is no tree 'nowhere'"),
        (["--years", "9"], "--years"),
    ],
)
def test_options_that_do_not_fit_a_project_are_told(
    project: Path, given: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", str(project), *given]) != 0
    assert said in capsys.readouterr().err


def test_table_over_two_seasons(
    tables: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given = [str(tables / "limbs.csv"), "--stations", str(tables / "stations.csv")]
    order = ["--years", "2", "--no-ways", "--workers", "1", "-o", str(tmp_path / "out"), *DAY]
    assert main(["plan", *given, *order]) == 0
    document = json.loads((tmp_path / "out" / "years.json").read_text("utf-8"))
    assert document["schema"] == "limbwright.years/1"
    assert {len(tree["seasons"]) for tree in document["trees"]} == {2}
    assert (tmp_path / "out" / "cut-cards.pdf").exists()
    assert "season" in capsys.readouterr().out


def test_seasons_are_told_in_the_order_of_time(capsys: pytest.CaptureFixture[str]) -> None:
    names = ["winter 2027-28", "summer 2028", "winter 2026-27", "summer 2027"]
    season = {"plan": None, "hours": 1.0, "rest": False}
    print_seasons([{"seasons": [season | {"season": name}]} for name in names])
    told = [line[:14].strip() for line in capsys.readouterr().out.splitlines() if "20" in line]
    assert told == ["winter 2026-27", "summer 2027", "winter 2027-28", "summer 2028"]

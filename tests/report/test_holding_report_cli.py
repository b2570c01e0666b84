"""The command that writes the reports of a project file."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
import typer
from tests.report.invented_holding import a_photo, a_visit, invented_report
from tests.report.kept_plans import years_document
from tests.report.pdf_read import words_of

from limbwright.cli.report import report
from limbwright.errors import InputError
from limbwright.job.gather import gather
from limbwright.model import Holding
from limbwright.project.plans import save_plan
from limbwright.project.records import save_photos, save_picture, save_stations, save_visits
from limbwright.project.store import Project

Run = Callable[..., None]


@pytest.fixture
def run() -> Run:
    app = typer.Typer(pretty_exceptions_enable=False)
    app.command()(report)

    def call(*arguments: object) -> None:
        app([str(a) for a in arguments], standalone_mode=False)

    return call


@pytest.fixture
def project(tmp_path: Path) -> Path:
    path = tmp_path / "invented.gpkg"
    made = invented_report(12)
    tree = next(s.tree for s in made.stations if s.status == "living" and s.species == "apple")
    with Project.create(path, made.holding) as opened:
        save_stations(opened, made.stations)
        save_plan(
            opened, tree, "winter 2026-27", "years", years_document(tree),
            made_on=date(2026, 11, 1), version="0",
        )  # fmt: skip
        save_visits(opened, [a_visit(tree)])
        save_picture(opened, a_photo(tree, "in.png", "before"), b"kept in the project")
        save_photos(opened, [a_photo(tree, "beside.png", "after")])
        save_photos(opened, [a_photo(tree, "gone.png", "whole")])
    (tmp_path / "beside.png").write_bytes(b"kept beside it")
    return path


def test_all_reports_come_from_one_command(
    run: Run, project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    run(project, "--on", "2027-02-01", "-o", out, "--rate", 34, "--currency", "EUR", "--json")
    told = json.loads(capsys.readouterr().out)
    assert told["plan"]["stations"] == 12
    assert told["year"]["trees"] == 1
    assert told["year"]["cuts"] == {"made": 1, "otherwise": 0, "not made": 1, "besides": 0}
    assert told["tasks"]["trees"] > 0
    assert sorted(told["written"]) == sorted(p.name for p in out.iterdir())
    text = words_of(out / "management-plan.pdf")
    assert "at EUR 34 an hour" in text
    assert "cannot be read" in words_of(out / "yearly-report.pdf")


def test_one_report_alone_and_its_words(
    run: Run, project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    run(project, "tasks", "--on", "2026-11-28", "--page", "a5", "-o", out)
    assert sorted(p.name for p in out.iterdir()) == ["tasks.csv", "tasks.pdf", "tasks.xlsx"]
    assert "Tasks: " in capsys.readouterr().out


def test_a_calendar_year_can_be_asked_for(
    run: Run, project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(project, "year", "--year", 2026, "-o", tmp_path / "out", "--json")
    told = json.loads(capsys.readouterr().out)["year"]
    assert (told["first"], told["last"], told["trees"]) == ("2026-01-01", "2026-12-31", 0)


def test_pictures_are_found_in_the_project_or_beside_it(project: Path) -> None:
    gathered = gather(project, today=date(2027, 2, 1))
    tree = gathered.visits[0].tree
    assert gathered.pictures[tree, "in.png"] == b"kept in the project"
    assert gathered.pictures[tree, "beside.png"] == b"kept beside it"
    assert gathered.pictures.get((tree, "gone.png")) is None
    assert len(gathered.pictures) == 3


def test_an_empty_project_and_a_bad_place_are_told(run: Run, project: Path, tmp_path: Path) -> None:
    empty = tmp_path / "empty.gpkg"
    Project.create(empty, Holding(name="Nothing yet, an invented example")).close()
    with pytest.raises(InputError, match="no stations yet"):
        run(empty, "-o", tmp_path / "out")
    with pytest.raises(InputError, match="is a file"):
        run(project, "-o", tmp_path / "beside.png")
    with pytest.raises(InputError, match=r"no 'winter'"):
        run(project, "tasks", "--season", "winter", "-o", tmp_path / "out")

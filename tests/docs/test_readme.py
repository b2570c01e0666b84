"""The README typed word by word by someone who has only it: every command in it does its work."""

from __future__ import annotations

import csv
import re
import shlex
import shutil
from pathlib import Path

import pytest

from limbwright.cli import main

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text("utf-8")
OWN = README.split("## Your own survey")[1].split("\n## ")[0]
HOLDING = README.split("## A holding over the years")[1].split("\n## ")[0]


@pytest.fixture
def own_survey(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    table = re.search(r"^```\n(station,limb.*?)^```", OWN, re.DOTALL | re.MULTILINE)
    assert table is not None
    (tmp_path / "limbs.csv").write_text(table[1], "utf-8")
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def commands(section: str = OWN) -> list[list[str]]:
    lines = re.findall(r"^python3 start\.py (.+)$", section, re.MULTILINE)
    return [shlex.split(line, comments=True) for line in lines]


def test_the_example_survey_becomes_cards_that_can_be_believed(
    own_survey: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert len(commands()) >= 3
    for command in commands():
        assert main(command) == 0, command
    said = capsys.readouterr()
    assert "0 faults, 0 warnings" in said.out
    assert (own_survey / "out" / "cut-cards.pdf").read_bytes().startswith(b"%PDF")
    with (own_survey / "out" / "cut-list.csv").open(encoding="utf-8", newline="") as file:
        cuts = list(csv.DictReader(file))
    assert cuts
    assert all(cut["limb"] != "5" for cut in cuts)  # a reason to keep it stands in the table
    assert not re.search(r"\b[2-9]\d\d ?%", said.out)  # an old tree that stands is not at 200 %


def test_every_what_if_of_the_readme_can_be_asked(
    own_survey: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = re.findall(r"`(--(?:protect|force|forbid|dose) [^`]+)`", OWN)
    assert len(asked) == 4
    for what in asked:
        words = ["plan", "limbs.csv", "--species", "apple", "--json", *shlex.split(what)]
        assert main(words) == 0, what
        assert '"cuts"' in capsys.readouterr().out


def test_a_holding_goes_from_an_empty_file_to_its_reports(
    own_survey: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    typed = commands(HOLDING)
    assert [words[0] for words in typed[:2]] == ["new", "add"]
    assert len(typed) >= 10
    for words in typed:
        assert main(words) == 0, words
    assert "3 trees planned" in capsys.readouterr().out
    for name in ("cut-cards.pdf", "young/form-cards.pdf", "reports/management-plan.pdf"):
        assert (own_survey / name).read_bytes().startswith(b"%PDF"), name


def test_every_file_the_readme_points_to_is_there() -> None:
    links = [link for link in re.findall(r"\]\(([^)#]+)\)", README) if "://" not in link]
    assert len(links) > 10
    missing = [link for link in links if not (ROOT / link).exists()]
    assert not missing
    for name in re.findall(r"`((?:examples|src)/[^`]*)`", README):
        assert (ROOT / name).exists(), name


def test_the_job_the_commands_and_the_picture_come_first() -> None:
    order = [README.index(p) for p in ("python3 start.py ", "![", "## Your own", "## How it works")]
    assert order == sorted(order)
    assert "\n" not in README.split("\n\n")[1]  # the job in one paragraph

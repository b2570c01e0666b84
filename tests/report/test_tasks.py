"""The list of tasks: each tree once, in walking order, with its skills and cautions."""

from __future__ import annotations

import csv
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from tests.report.invented_holding import MARK, first_season, invented_report
from tests.report.kept_plans import season_document
from tests.report.pdf_read import pages_of, smallest_type_pt

from limbwright.errors import InputError
from limbwright.growth.ranges import Range
from limbwright.model.numbered import in_order
from limbwright.report.book_wild import own_cautions
from limbwright.report.book_words import CHANCES_RANK, hours_words
from limbwright.report.book_works import TreePlan, Work
from limbwright.report.tables_xlsx import task_sheets, write_csv
from limbwright.report.task_list import skills_of, task_list, task_pages

WORK = Work(
    tree="Tump Orchard/1",
    orchard="Tump Orchard",
    station="1",
    species="apple",
    season="winter 2026-27",
    kind="restore",
    basis="limb survey",
    hours=Range(1.0, 0.5, 2.0),
    what="1 cut: limb a.",
    why="It could split.",
)


@given(count=st.integers(5, 90))
@settings(max_examples=10, deadline=None)
def test_each_tree_of_the_seasons_is_on_one_page_in_walking_order(count: int) -> None:
    report = invented_report(count)
    pages = task_pages(report)
    told = Counter(w.tree for p in pages for w in p.works)
    due = Counter(w.tree for w in report.works if w.season in first_season.values() and not w.rest)
    assert told == due
    for page in pages:
        stations = [w.station for w in page.works]
        assert stations == sorted(stations, key=in_order)
        assert {w.orchard for w in page.works} == {page.orchard}
        assert page.hours.value == pytest.approx(sum(w.hours.value for w in page.works))


def test_a_page_says_what_when_and_for_how_long(tmp_path: Path) -> None:
    report = invented_report(45)
    tree = next(s.tree for s in report.stations if s.status == "living" and s.species == "apple")
    plan = TreePlan(tree, "season", "winter 2026-27", season_document(tree))
    report = replace(report, plans=(plan,))
    pages = task_pages(report)
    printed = pages_of(task_list(report, tmp_path / "tasks.pdf"))
    assert all(MARK.upper() in page for page in printed)
    text = " ".join(printed)
    for page in pages:
        assert f"{page.orchard}: {page.season}" in text
        assert hours_words(page.hours) in text
        for work in page.works:
            assert work.what[:40] in text
    assert "Open: 1 November 2026 to 7 March 2027." in text
    assert "Open: 1 May 2027 to 30 September 2027." in text
    assert "2 cuts: limb a, b." in text
    assert "Chainsaw, trained and licensed; trained climber or lift." in text
    assert "Keep away from the invented hedge." in text
    assert smallest_type_pt(tmp_path / "tasks.pdf") >= 8.99


@pytest.mark.parametrize("paper", ["a4", "a5"])
def test_every_page_says_whose_it_is_and_a_chance_how_to_read_it(
    tmp_path: Path, paper: str
) -> None:
    report = invented_report(150)
    tree = next(s.tree for s in report.stations if s.status == "living" and s.species == "apple")
    document = {**season_document(tree), "summary": "the chance of a break falls"}
    plan = TreePlan(tree, "season", "winter 2026-27", document)
    report = replace(report, plans=(plan,))
    path = task_list(report, tmp_path / "tasks.pdf", page=paper)  # type: ignore[arg-type]
    printed = pages_of(path)
    named = [p.orchard for p in task_pages(report)]
    assert len(printed) > len(named)  # some list runs over its page
    assert all(any(name in page for name in named) for page in printed)
    assert sum(page.count(CHANCES_RANK) for page in printed) == 1


def test_wounds_allowed_leave_out_what_is_none() -> None:
    report = invented_report(150)
    told = [w.what for w in report.works if "cuts of 5 cm" in w.what]
    assert told
    assert not any(" 0 of " in what for what in told)
    assert all("cuts of 5 cm" in what.split("at most")[-1] for what in told)


def test_the_pocket_list_is_a5_and_as_whole(tmp_path: Path) -> None:
    report = invented_report(20)
    path = task_list(report, tmp_path / "tasks.pdf", page="a5", season="winter 2026-27")
    box = PdfReader(path).pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == (420, 595)
    text = " ".join(pages_of(path))
    for page in task_pages(report, "winter 2026-27"):
        for work in page.works:
            assert work.what[:30] in text
    assert "summer 2027" not in text
    assert smallest_type_pt(path) >= 8.99


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"highest_m": 2.0}, "from the ground"),
        ({"highest_m": 4.0}, "three-legged ladder"),
        ({"highest_m": 7.0}, "trained climber or lift"),
        (
            {"highest_m": 4.0, "tools": ("chainsaw, three stages",)},
            "chainsaw, trained and licensed; three-legged ladder",
        ),
        ({"highest_m": None}, "height not known: look first"),
        (
            {"highest_m": 9.0, "basis": "walk"},
            "ladder; trained climber or lift for the top",
        ),
        ({"kind": "restock"}, "planting and guards"),
        ({"kind": "leave standing"}, "a look from the ground"),
        (
            {"highest_m": 2.0, "at_once": True},
            "a qualified arborist looks first; from the ground",
        ),
    ],
)
def test_skills_follow_from_tools_height_and_kind(changes: dict[str, object], said: str) -> None:
    assert skills_of(replace(WORK, **changes)) == said  # type: ignore[arg-type]


def test_what_holds_for_everybody_is_told_once() -> None:
    report = invented_report(60)
    for page in task_pages(report):
        shared = {c.text for c in page.shared}
        assert {"height", "chainsaw", "lines"} <= {c.key for c in page.shared} or not any(
            w.species for w in page.works
        )
        for work in page.works:
            own = own_cautions(work, page.shared)
            assert not shared & set(own)
            if work.kind in ("restock", "replace"):
                assert (
                    "Before posts or pits are dug ask for a plan of what lies underground." in own
                )


def test_a_season_or_page_that_is_not_there_is_refused(tmp_path: Path) -> None:
    report = invented_report(12)
    with pytest.raises(InputError, match=r"no 'winter 1999-00'.*winter 2026-27"):
        task_list(report, tmp_path / "tasks.pdf", season="winter 1999-00")
    with pytest.raises(InputError, match="a4 or a5"):
        task_list(report, tmp_path / "tasks.pdf", page="a3")  # type: ignore[arg-type]
    assert list(tmp_path.iterdir()) == []


def test_the_table_of_tasks_can_be_filled_in(tmp_path: Path) -> None:
    report = invented_report(45)
    pages = task_pages(report)
    path = write_csv(task_sheets(report, pages)[0], tmp_path / "tasks.csv")
    rows = list(csv.DictReader(path.read_text("utf-8").splitlines()))
    works = [w for p in pages for w in p.works]
    assert [(r["orchard"], r["station"]) for r in rows] == [(w.orchard, w.station) for w in works]
    assert [float(r["hours"]) for r in rows] == pytest.approx(
        [w.hours.value for w in works], abs=0.006
    )
    assert all(r["done_on"] == "" for r in rows)

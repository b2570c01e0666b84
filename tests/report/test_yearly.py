"""The report of a year: done against planned as looking back has it, with its photos."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
import typst
from openpyxl import load_workbook
from tests.report.invented_holding import MARK, a_photo, a_response, a_visit, invented_report
from tests.report.kept_plans import season_document, years_document
from tests.report.pdf_read import count_pictures, pages_of, smallest_type_pt, words_of

from limbwright.errors import InputError
from limbwright.learn.look_back import look_back
from limbwright.learn.season import Planned, seasons_of
from limbwright.model import CutDone, Photo, Response, Visit
from limbwright.report.book import photo_share, shown_photo
from limbwright.report.book_works import TreePlan
from limbwright.report.book_year import year_data
from limbwright.report.holding_report import HoldingReport
from limbwright.report.tables_xlsx import write_workbook, year_sheets
from limbwright.report.yearly_report import YearlyReport, yearly_report

FIRST, LAST = date(2026, 10, 1), date(2027, 9, 30)


def picture(tmp_path: Path, wide_mm: int = 60, high_mm: int = 40) -> bytes:
    page = tmp_path / "photo.typ"
    page.write_text(f"#set page(width: {wide_mm}mm, height: {high_mm}mm, fill: gray)\ninvented")
    made = typst.compile(page, format="png", ppi=72)
    assert isinstance(made, bytes)
    return made


def trees(report: HoldingReport) -> list[str]:
    return [s.tree for s in report.stations if s.status == "living" and s.species == "apple"]


def year_of(
    plans: Sequence[TreePlan],
    visits: Sequence[Visit],
    responses: Sequence[Response] = (),
    **more: object,
) -> YearlyReport:
    told = [Planned(p.tree, p.season, date(2026, 11, 1), p.document) for p in plans]
    report = replace(
        invented_report(40),
        plans=tuple(plans),
        visits=tuple(visits),
        responses=tuple(responses),
        looked_back=look_back(seasons_of(told, visits, responses)),
        first_season={"pome": "winter 2027-28", "stone": "summer 2028"},
        made_on=date(2027, 9, 30),
    )
    return YearlyReport(replace(report, **more), FIRST, LAST)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def year() -> YearlyReport:
    a, b, c, d, *_ = trees(invented_report(40))
    plans = [
        TreePlan(a, "years", "winter 2026-27", years_document(a)),
        TreePlan(b, "season", "winter 2026-27", season_document(b)),
        TreePlan(c, "season", "winter 2026-27", season_document(c)),
    ]
    visits = [
        a_visit(a, cuts=(CutDone(1, "a"), CutDone(2, "b", done="no", note="a nest in it"))),
        a_visit(b, hours=None, brash_hours=None, cuts=(CutDone(1, "a"), CutDone(2, "b"))),
        a_visit(d, done_on=date(2025, 1, 5), season="winter 2024-25"),
    ]
    answers = [
        a_response(a, limbs_lost=("e2",), note="in the March storm"),
        a_response(b, seen_on=date(2028, 6, 1)),
    ]
    return year_of(plans, visits, answers, rate=30.0, currency="EUR")


def test_only_work_of_the_period_counts(year: YearlyReport) -> None:
    a, b, c, d, *_ = trees(year.report)
    assert [t.work.tree for t in year.trees] == [a, b]
    assert year.missed == (c,)
    assert [r.tree for r in year.responses] == [a]
    assert d not in {t.work.tree for t in year.trees}


def test_done_against_planned_is_as_looked_back(year: YearlyReport) -> None:
    first, second = year.trees
    # each of the two cuts takes 5 % of the crown; of the first tree one was made
    assert (first.work.dose_planned, first.work.dose_taken) == pytest.approx((0.10, 0.05))
    assert (second.work.dose_planned, second.work.dose_taken) == pytest.approx((0.10, 0.10))
    assert year.outcomes == {"made": 3, "otherwise": 0, "not made": 1, "besides": 0}
    assert first.hours_done == pytest.approx(4.5)
    assert second.hours_done is None
    planned, done, noted = year.hours
    assert done == pytest.approx(4.5)
    assert noted == 1
    assert planned == pytest.approx(0.5)


def test_the_crown_left_is_walked_and_foreseen(year: YearlyReport) -> None:
    first, second = year.trees
    station = next(s for s in year.report.stations if s.tree == first.work.tree)
    assert first.crown.height_m == station.height_m
    assert first.crown.foreseen_height_m == 7.0
    assert second.crown.foreseen_height_m is None


def test_the_report_tells_it_all(year: YearlyReport, tmp_path: Path) -> None:
    path = yearly_report(year, tmp_path / "year.pdf")
    a, b, *_ = trees(year.report)
    pages, text = pages_of(path), words_of(path)
    assert all(MARK.upper() in page for page in pages)
    assert "Work from 1 October 2026 to 30 September 2027" in text
    assert "4.5 person-hours noted on 1 tree, EUR 135 at EUR 30 an hour" in text
    assert "Cuts 4 3 made, 0 otherwise, 1 not made, 0 besides" in text
    assert "Made: 1 remove limb a." in text
    assert "Not made: 2 remove limb b (a nest in it)." in text
    assert "foreseen after the work planned 7.0 m high, 8.0 m wide" in text
    assert "Person-hours in the tree" in text
    assert "not noted" in text
    assert f"{a}: 1 limb lost (e2), seen on 1 September 2027. In the March storm." in text
    assert "No photos of this work are kept." in text
    assert "What comes next" in text
    for work in year.next_works:
        assert work.tree in text[text.rindex("What comes next") :]
    assert b in text
    assert smallest_type_pt(path) >= 6.99


def test_photos_stand_side_by_side_and_missing_ones_are_told(tmp_path: Path) -> None:
    a, b, c, *_ = trees(invented_report(40))
    plans = [TreePlan(t, "season", "winter 2026-27", season_document(t)) for t in (a, b, c)]
    photos: list[Photo] = [
        a_photo(a, "a1.png", "before"),
        a_photo(a, "a2.png", "after"),
        a_photo(a, "a3.png", "defect"),
        a_photo(b, "b1.png", "before"),
        a_photo(b, "b2.png", "after"),
        a_photo(c, "c2.png", "after"),
    ]
    good = picture(tmp_path)
    pictures = {
        (a, "a1.png"): good,
        (a, "a2.png"): picture(tmp_path, 50, 40),
        (b, "b1.png"): good[:60],
        (c, "c2.png"): b"no picture at all",
    }
    year = year_of(plans, [a_visit(t) for t in (a, b, c)], photos=tuple(photos), pictures=pictures)
    path = yearly_report(year, tmp_path / "year.pdf")
    text = words_of(path)
    assert count_pictures(path) == 2
    assert "The picture b1.png cannot be read." in text
    assert "The picture b2.png was not found." in text
    assert "The picture c2.png cannot be read." in text
    assert "Before: no photo." in text
    assert "1 more photo kept with the records." in text
    assert "Before, 20 January 2027, looking east (90°)." in text


@pytest.mark.parametrize(("wide", "high", "share"), [(60, 40, 1.0), (30, 60, 40 / 88)])
def test_a_photo_is_made_as_small_as_it_is_printed(
    tmp_path: Path, wide: int, high: int, share: float
) -> None:
    shown = shown_photo(picture(tmp_path, wide, high))
    assert shown is not None
    assert photo_share(shown) == pytest.approx(share, abs=0.01)
    assert shown_photo(b"") is None


def test_a_year_without_work_says_so(tmp_path: Path) -> None:
    path = yearly_report(year_of([], []), tmp_path / "year.pdf")
    assert "No work was recorded in this time." in words_of(path)


def test_the_sheets_hold_the_same(year: YearlyReport, tmp_path: Path) -> None:
    book = load_workbook(write_workbook(year_sheets(year), tmp_path / "year.xlsx"))
    sheet = book["trees"]
    head = [c.value for c in sheet[1]]
    rows = [
        dict(zip(head, row, strict=True)) for row in sheet.iter_rows(min_row=2, values_only=True)
    ]
    assert [r["tree"] for r in rows] == [t.work.tree for t in year.trees]
    assert rows[0]["dose_taken_pct"] == pytest.approx(5.0)
    assert rows[0]["hours"] == pytest.approx(3.0)
    assert rows[1]["hours"] is None
    assert rows[0]["foreseen_height_m"] == 7.0
    assert book["cuts"].max_row == 1 + sum(len(t.work.cuts) for t in year.trees)


def test_a_period_that_ends_before_it_begins_is_refused(year: YearlyReport) -> None:
    with pytest.raises(InputError, match="before it begins"):
        YearlyReport(year.report, LAST, FIRST)
    with pytest.raises(ValueError, match="looked back"):
        YearlyReport(replace(year.report, looked_back=None), FIRST, LAST)


def test_who_worked_alone_and_with_others_is_named_once() -> None:
    a, b, *_ = trees(invented_report(40))
    plans = [TreePlan(t, "season", "winter 2026-27", season_document(t)) for t in (a, b)]
    visits = [a_visit(a, who="Wen Hollis and Oda Brand"), a_visit(b, who="Oda Brand; Sandy Ash")]
    data, _ = year_data(year_of(plans, visits))
    facts = {fact[0]: fact[1] for fact in data["facts"]}
    assert facts["By"] == "Oda Brand, Sandy Ash and Wen Hollis"

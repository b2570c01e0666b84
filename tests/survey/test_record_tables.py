"""What a crew brings home in a table: visits, ticks, answers and photos."""

from datetime import date
from pathlib import Path

import openpyxl
import pytest

from limbwright.errors import InputError
from limbwright.model import CutDone, Photo, Response, Visit
from limbwright.survey.record_tables import Records, read_records

VISITS = """tree,season,done_on,who,hours,brash_hours,found,note
Home Piece/7,winter 2026-27,2026-12-03,Ada and Wyn,2.5,1,old nest box,
Home Piece/8,winter 2026-27,2026-12-04,Ada,1.25,,,frost
"""
CUTS = """tree,season,order,limb,cut,done,at_m,diameter_mm,note
Home Piece/7,winter 2026-27,1,3,remove,yes,,,
Home Piece/7,winter 2026-27,2,5,shorten,other,1.2,70,cut lower
Home Piece/7,winter 2026-27,,9,thin,x,,,watershoots
Home Piece/8,winter 2026-27,1,2,remove,,,,too wet
"""
RESPONSES = """orchard,station,seen_on,shoots,shoot_length_cm,girth_cm,condition,limbs_lost
Home Piece,7,14.08.2027,23,55,141,good,4; 6
"""
PHOTOS = """tree,file,taken_on,shows,bearing_deg
Home Piece/7,a.jpg,2026-12-03,after,NE
"""


def read(tmp_path: Path, *texts: str) -> Records:
    paths = []
    for k, text in enumerate(texts):
        paths.append(tmp_path / f"table_{k}.csv")
        paths[-1].write_text(text, "utf-8")
    return read_records(paths)


def test_four_tables_give_the_records(tmp_path: Path) -> None:
    found = read(tmp_path, CUTS, PHOTOS, VISITS, RESPONSES)
    assert [f.fault for f in found.faults if f.severity == "error"] == []
    seven, eight = found.visits
    assert seven == Visit(
        tree="Home Piece/7",
        season="winter 2026-27",
        done_on=date(2026, 12, 3),
        who="Ada and Wyn",
        hours=2.5,
        brash_hours=1.0,
        found="old nest box",
        cuts=(
            CutDone(1, "3"),
            CutDone(2, "5", "shorten", "other", 1.2, 70.0, "cut lower"),
            CutDone(0, "9", "thin", note="watershoots"),
        ),
    )
    assert eight.cuts == (CutDone(1, "2", done="no", note="too wet"),)
    assert found.responses == (
        Response(
            tree="Home Piece/7",
            seen_on=date(2027, 8, 14),
            shoots=23,
            shoot_length_cm=55.0,
            girth_cm=141.0,
            condition="good",
            limbs_lost=("4", "6"),
        ),
    )
    assert found.photos == (Photo("Home Piece/7", "a.jpg", date(2026, 12, 3), "after", 45.0),)


def test_the_sheets_of_a_workbook_are_read_with_their_dates(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    first = book.active
    assert first is not None
    first.title = "Visits"
    first.append(["tree", "season", "done_on", "hours"])
    first.append(["7", "winter 2026-27", date(2026, 12, 3), 2])
    cuts = book.create_sheet("cuts")
    cuts.append(["tree", "order", "limb", "cut"])
    cuts.append([7, 1, 3, "remove"])
    path = tmp_path / "day.xlsx"
    book.save(path)
    (visit,) = read_records(path).visits
    assert (visit.done_on, visit.hours, visit.cuts) == (date(2026, 12, 3), 2.0, (CutDone(1, "3"),))


def test_a_ticked_cut_list_keeps_the_figures_of_the_plan_out(tmp_path: Path) -> None:
    text = (
        "tree,season,order,cut,limb,at_m,diameter_mm,piece_kg,done,done_on\n"
        "7,winter 2026-27,1,remove,3,0,120,40,y,2026-12-03\n"
        "7,winter 2026-27,2,shorten,4,1.5,80,20,other,2026-12-03\n"
        "7,winter 2026-27,3,remove,5,0,90,20,,2026-12-03\n"
    )
    (visit,) = read(tmp_path, text).visits
    assert [(c.done, c.diameter_mm) for c in visit.cuts] == [
        ("yes", None),
        ("other", 80.0),
        ("no", None),
    ]


def test_cuts_find_the_visit_recorded_before_and_do_not_double(tmp_path: Path) -> None:
    known = Visit("7", "winter 2026-27", date(2026, 12, 3), hours=2.0, cuts=(CutDone(1, "3"),))
    other = Visit("8", "winter 2026-27", date(2026, 12, 3))
    path = tmp_path / "cuts.csv"
    path.write_text("tree,season,order,limb,cut\n7,winter 2026-27,1,3,remove\n", "utf-8")
    assert read_records(path, known=(known, other)).visits == (known,)


@pytest.mark.parametrize(
    ("table", "row", "said"),
    [
        (VISITS, "Home Piece/9,,3/4/2026,,,,,", "day and month could be either way round"),
        (VISITS, "Home Piece/9,,soon,,,,,", "row 4, done_on is 'soon': not a date"),
        (VISITS, "Home Piece/9,,,,,,,", "row 4, done_on: blank, but needed"),
        (VISITS, ",,2026-12-03,,,,,", "row 4, tree: blank, but needed"),
        (VISITS, "Home Piece/7,,2026-12-03,,,,,", "a visit of Home Piece/7 on 2026-12-03"),
        (RESPONSES, "Home Piece,9,31.02.2027,1,2,3,,", "seen_on is '31.02.2027': not a date"),
        (PHOTOS, "Home Piece/7,,2026-12-03,,", "row 3, file: blank, but needed"),
        (CUTS, "Home Piece/7,,1,,remove,,,,", "row 6, limb: blank, but needed"),
    ],
)
def test_a_row_that_cannot_be_used_is_left_out_and_told(
    tmp_path: Path, table: str, row: str, said: str
) -> None:
    good = read(tmp_path, VISITS, table) if table is CUTS else read(tmp_path, table)
    tables = (VISITS, table + row + "\n") if table is CUTS else (table + row + "\n",)
    found = read(tmp_path, *tables)
    assert (found.visits, found.responses, found.photos) == (
        good.visits,
        good.responses,
        good.photos,
    )
    assert any(said in str(f) for f in found.faults)


@pytest.mark.parametrize(
    ("cuts", "said"),
    [
        ("tree,order,limb,cut\n7,1,3,remove\n", "no visit says when"),
        ("tree,order,limb,cut\nHome Piece/7,1,3,remove\n", "visited on several days"),
    ],
)
def test_a_cut_of_no_certain_day_is_told(tmp_path: Path, cuts: str, said: str) -> None:
    twice = VISITS + "Home Piece/7,winter 2026-27,2026-12-09,Ada,1,,,\n"
    found = read(tmp_path, twice, cuts)
    assert all(not v.cuts for v in found.visits)
    assert any(said in f.fault for f in found.faults)


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        ("shoots", "2.5", "not a whole number"),
        ("shoots", "-1", "outside 0 to 5000"),
        ("shoot_length_cm", "5500", "outside 0 to 400 cm"),
        ("girth_cm", "14100", "outside 1 to 800 cm"),
        ("condition", "fine", "not a word known here"),
        ("wound_closed_mm", "90", "more than the whole wound (80 mm)"),
    ],
)
def test_a_bad_value_is_left_out_and_the_record_kept(
    tmp_path: Path, column: str, value: str, said: str
) -> None:
    head = "tree,seen_on,wound_mm"
    found = read(tmp_path, f"{head},{column}\n7,2027-08-14,80,{value}\n")
    (response,) = found.responses
    assert not getattr(response, column)
    assert any(said in f.fault for f in found.faults)


def test_a_table_of_something_else_is_refused_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no table of records: month, rain"):
        read(tmp_path, "month,rain\n1,80\n")


def test_dates_of_one_order_by_their_column_or_as_told(tmp_path: Path) -> None:
    rows = "7,3/4/2026\n8,13/4/2026\n"
    found = read(tmp_path, "tree,done_on\n" + rows)
    assert [v.done_on for v in found.visits] == [date(2026, 4, 3), date(2026, 4, 13)]
    path = tmp_path / "us.csv"
    path.write_text("tree,done_on\n7,3/4/2026\n", "utf-8")
    assert read_records(path, order="mdy").visits[0].done_on == date(2026, 3, 4)

"""What is written for a spreadsheet: text it must not run, numbers that stay numbers."""

import csv
import io

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.survey.spreadsheet import csv_bytes, guarded, unguarded, xlsx_bytes
from limbwright.survey.tables import read_table

SIGNS = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"
TEXT = st.text(
    st.one_of(st.sampled_from(SIGNS + "'\" 1.,e;"), st.characters(codec="utf-8")), max_size=8
)


@given(TEXT)
def test_text_comes_back_as_it_was(text):
    assert unguarded(guarded(text)) == text


@given(TEXT)
def test_nothing_written_can_start_a_formula(text):
    out = guarded(text)
    number = out.strip().lstrip("+-").replace(",", ".").replace(".", "0", 1)
    plain = number.replace("e+", "0").replace("e-", "0").replace("e", "0").replace("E", "0")
    assert not out.lstrip(" ").startswith(tuple(SIGNS)) or plain.replace("+", "").isdigit()


@pytest.mark.parametrize("number", ["-3.2", "+4", "-1,5", "-1e-07", "-0", "- 3"])
def test_negative_numbers_stay_numbers_and_words_do_not(number):
    assert guarded(number) == (number if number != "- 3" else "'- 3")


@pytest.mark.parametrize("text", ["=1+1", "+1+1", "-1+1", "@SUM(A1)", "\tx", "'=1", "-", "\uff1d1"])
def test_a_csv_holds_it_as_text_and_our_own_reading_gives_it_back(tmp_path, text):
    path = tmp_path / "t.csv"
    path.write_bytes(csv_bytes(["station", "note"], [["1", text], ["2", -3.25]]))
    first = next(iter(list(csv.reader(io.StringIO(path.read_text("utf-8"))))[1:]))[1]
    assert first == "'" + text
    table = read_table(path, "limbs")
    assert [r.cells["note"] for r in table.rows] == [text, "-3.25"]


@pytest.mark.parametrize("text", ["=1+1", "+1+1", "-1+1", "@SUM(A1)", "'=1", "#N/A", "007"])
def test_a_workbook_types_it_as_text_and_shows_no_apostrophe(tmp_path, text):
    path = tmp_path / "t.xlsx"
    path.write_bytes(xlsx_bytes("limbs", ["station", "note"], [["1", text], ["2", -3.25]]))
    sheet = openpyxl.load_workbook(path).active
    cell = sheet["B2"]
    assert (cell.data_type, cell.value) == ("s", text)
    assert cell.quotePrefix is (text[0] in "=+-@'" and text != "007")
    assert (sheet["B3"].data_type, sheet["B3"].value) == ("n", -3.25)


def test_control_characters_are_replaced_and_not_refused(tmp_path):
    path = tmp_path / "t.xlsx"
    path.write_bytes(xlsx_bytes("limbs", ["note"], [["a\x00b\x1f"], ["x" * 40_000], ["\ud800"]]))
    cells = [c.value for c in openpyxl.load_workbook(path).active["A"]]
    assert cells == ["note", "a\ufffdb\ufffd", "x" * 32_767, "?"]

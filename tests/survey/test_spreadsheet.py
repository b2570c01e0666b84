"""What is written for a spreadsheet: text it must not run, numbers that stay numbers."""

import csv
import io
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import openpyxl
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

from limbwright.survey.spreadsheet import csv_bytes, guarded, unguarded, with_plain_blanks
from limbwright.survey.tables import read_table
from limbwright.survey.workbook_out import workbook_bytes

SIGNS = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"
TEXT = st.text(
    st.one_of(st.sampled_from(SIGNS + "'\" 1.,e;"), st.characters(codec="utf-8")), max_size=8
)


@given(TEXT)
def test_text_comes_back_as_it_was(text: str) -> None:
    assert unguarded(guarded(text)) == text


@given(TEXT)
def test_nothing_written_can_start_a_formula(text: str) -> None:
    out = guarded(text)
    number = out.strip().lstrip("+-").replace(",", ".").replace(".", "0", 1)
    plain = number.replace("e+", "0").replace("e-", "0").replace("e", "0").replace("E", "0")
    assert not out.lstrip(" ").startswith(tuple(SIGNS)) or plain.replace("+", "").isdigit()


@pytest.mark.parametrize("number", ["-3.2", "+4", "-1,5", "-1e-07", "-0", "- 3"])
def test_negative_numbers_stay_numbers_and_words_do_not(number: str) -> None:
    assert guarded(number) == (number if number != "- 3" else "'- 3")


@pytest.mark.parametrize("text", ["=1+1", "+1+1", "-1+1", "@SUM(A1)", "\tx", "'=1", "-", "\uff1d1"])
def test_a_csv_holds_it_as_text_and_our_reading_gives_it_back(tmp_path: Path, text: str) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(csv_bytes(["station", "note"], [["1", text], ["2", -3.25]]))
    first = next(iter(list(csv.reader(io.StringIO(path.read_text("utf-8"))))[1:]))[1]
    assert first == "'" + text
    table = read_table(path, "limbs")
    assert [r.cells["note"] for r in table.rows] == [text, "-3.25"]


def _workbook(path: Path, texts: Sequence[object]) -> list[Any]:
    path.write_bytes(workbook_bytes({"limbs": (["note"], [[text] for text in texts])}))
    sheet: Any = openpyxl.load_workbook(path).active
    return list(sheet["A"])[1:]


@pytest.mark.parametrize("text", ["=1+1", "+1+1", "-1+1", "@SUM(A1)", "#N/A", "007"])
def test_a_workbook_types_it_as_text_and_shows_no_apostrophe(tmp_path: Path, text: str) -> None:
    first, second = _workbook(tmp_path / "t.xlsx", [text, -3.25])
    assert (first.data_type, first.value) == ("s", text)
    assert first.quotePrefix is (text[0] in "=+-@")
    assert (second.data_type, second.value) == ("n", -3.25)


@given(st.lists(TEXT, min_size=1, max_size=40))
@example(["'=x", "''=x", "'-3", "'", "'a", "' =1", " '=1", "\u200b'=1", "'\u00a0=1", "#N/A"])
@settings(max_examples=40, deadline=None)
def test_a_workbook_gives_text_back_as_it_was(texts: list[str]) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "t.xlsx"
        path.write_bytes(workbook_bytes({"limbs": (["n", "note"], [["a", t] for t in texts])}))
        found = [row.cells["note"] for row in read_table(path, "limbs").rows]
    lines = [t.replace("\r\n", "\n").replace("\r", "\n") for t in texts]  # as XML has line ends
    held = [ILLEGAL_CHARACTERS_RE.sub("\N{REPLACEMENT CHARACTER}", t) for t in lines]
    assert found == [with_plain_blanks(t).strip() for t in held]


def test_control_characters_are_replaced_and_not_refused(tmp_path: Path) -> None:
    cells = _workbook(tmp_path / "t.xlsx", ["a\x00b\x1f", "x" * 40_000, "\ud800"])
    assert [c.value for c in cells] == ["a\ufffdb\ufffd", "x" * 32_767, "?"]

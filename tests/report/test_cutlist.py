"""Cut lists read back: what a spreadsheet or another program gets."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from limbwright.report.cutlist import (
    COLUMNS,
    cut_list_rows,
    write_cut_list_csv,
    write_cut_list_xlsx,
)

TEXT = {"tree", "season", "cut", "limb", "to_lateral", "tool", "reason", "effect"}


@pytest.fixture(scope="module")
def plans(items):
    return [plan for _, plan, _ in items]


def with_words(plan, **words):
    return replace(plan, cuts=(replace(plan.cuts[0], **words), *plan.cuts[1:]))


def test_a_csv_read_back_holds_every_cut_and_column(plans, tmp_path: Path) -> None:
    path = write_cut_list_csv(plans, tmp_path / "cuts.csv")
    with path.open(encoding="utf-8", newline="") as text:
        rows = list(csv.DictReader(text))
    every = [(p, c) for p in plans for c in (*p.cuts, *p.lesser)]
    assert len(rows) == len(every)
    assert tuple(rows[0]) == COLUMNS
    for row, (plan, cut) in zip(rows, every, strict=True):
        assert row["tree"] == plan.tree
        assert row["season"] == plan.season
        for name in COLUMNS[2:]:
            value = getattr(cut, name)
            if name == "segment":
                value = int(plan.segment_ids[value])
            if name in TEXT:
                assert row[name] == value
            else:
                assert float(row[name]) == pytest.approx(value, abs=6e-5)


def test_commas_quotes_and_line_ends_in_words_survive(plans, tmp_path: Path) -> None:
    words = 'first "half", then\nthe rest; 苹果 🍎'
    path = write_cut_list_csv([with_words(plans[0], reason=words)], tmp_path / "cuts.csv")
    with path.open(encoding="utf-8", newline="") as text:
        assert next(csv.DictReader(text))["reason"] == words


def test_a_workbook_read_back_holds_the_same_rows(plans, tmp_path: Path) -> None:
    path = write_cut_list_xlsx(plans, tmp_path / "cuts.xlsx")
    sheet = openpyxl.load_workbook(path).active
    head, *rows = list(sheet.iter_rows(values_only=True))
    assert head == COLUMNS
    for row, wanted in zip(rows, cut_list_rows(plans), strict=True):
        for got, value in zip(row, wanted.values(), strict=True):
            assert got == value or value == ""


def test_an_empty_cell_of_a_workbook_stays_empty(plans, tmp_path: Path) -> None:
    path = write_cut_list_xlsx([with_words(plans[0], to_lateral="")], tmp_path / "cuts.xlsx")
    cell = openpyxl.load_workbook(path).active.cell(2, COLUMNS.index("to_lateral") + 1)
    assert cell.value in (None, "")


@pytest.mark.parametrize("sign", ["=1+1", "+1+1", "-1+1", "@SUM(A1)", '=HYPERLINK("x")'])
def test_words_that_look_like_a_formula_are_not_one(plans, tmp_path: Path, sign: str) -> None:
    odd = replace(with_words(plans[0], reason=sign), tree=sign)
    sheet = openpyxl.load_workbook(write_cut_list_xlsx([odd], tmp_path / "cuts.xlsx")).active
    for cell in (sheet["A2"], sheet.cell(2, COLUMNS.index("reason") + 1)):
        assert cell.data_type == "s"
        assert cell.value == sign  # and no apostrophe to be seen
        assert cell.quotePrefix
    with write_cut_list_csv([odd], tmp_path / "cuts.csv").open(
        encoding="utf-8", newline=""
    ) as text:
        row = next(csv.DictReader(text))
    assert (row["tree"], row["reason"]) == (f"'{sign}", f"'{sign}")


def test_negative_numbers_of_a_cut_list_stay_numbers(plans, tmp_path: Path) -> None:
    odd = with_words(plans[0], at_m=-0.25)
    with write_cut_list_csv([odd], tmp_path / "cuts.csv").open(
        encoding="utf-8", newline=""
    ) as text:
        assert next(csv.DictReader(text))["at_m"] == "-0.25"
    sheet = openpyxl.load_workbook(write_cut_list_xlsx([odd], tmp_path / "cuts.xlsx")).active
    assert sheet.cell(2, COLUMNS.index("at_m") + 1).value == -0.25


@pytest.mark.parametrize("write", [write_cut_list_csv, write_cut_list_xlsx])
def test_a_failure_leaves_the_old_list_and_no_half_one(plans, tmp_path, monkeypatch, write) -> None:
    path = tmp_path / "cuts.out"
    path.write_bytes(b"old")

    def refuse(*_: object) -> None:
        raise OSError("no room")

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(OSError, match="no room"):
        write(plans, path)
    assert [p.name for p in tmp_path.iterdir()] == ["cuts.out"]
    assert path.read_bytes() == b"old"

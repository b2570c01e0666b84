"""The pages on health and wildlife tell every row of the tables as it stands."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
DATA = ROOT / "src/limbwright/trade/data"


def rows(table: str) -> list[dict[str, str]]:
    with (DATA / f"{table}.csv").open(encoding="utf-8", newline="") as text:
        return list(csv.DictReader(text))


def page(name: str) -> str:
    return (ROOT / f"docs/method/{name}.md").read_text("utf-8")


def lines_with(text: str, *cells: str) -> bool:
    return any(all(cell in line for cell in cells) for line in text.splitlines())


def test_every_problem_is_on_its_page_with_its_signs_its_care_and_its_source() -> None:
    text = page("health")
    for row in rows("problems"):
        assert lines_with(text, row["name"], row["signs"], row["response"], row["season"])
        assert lines_with(text, row["name"], row["source"])
        if row["hygiene"] or row["disposal"]:
            assert lines_with(text, row["name"], row["hygiene"], row["disposal"])
        if row["disagree"]:
            assert lines_with(text, row["name"], row["disagree"])


def test_every_distance_is_told_with_its_range() -> None:
    text = page("health")
    for row in rows("diseases"):
        cm = [f"{100 * float(row[name]):.0f}" for name in ("value", "low", "high")]
        assert f"{cm[0]} cm ({cm[1]}–{cm[2]})" in text, row["name"]


NAMES = {"canker": "apple canker", "bacterial_canker": "bacterial canker of stone fruit",
         "unnamed": "not named"}  # fmt: skip
GRADES = ("judgement", "disagree", "from memory")


def test_the_page_on_cuts_has_each_distance_and_says_as_the_table_where_it_comes_from() -> None:
    lines = page("cuts").splitlines()
    start = lines.index("| disease | below the last sign | where it comes from |") + 2
    table = [line.strip("|").split("|") for line in lines[start : lines.index("", start)]]
    held = rows("diseases")
    assert len(table) == len(held)
    for (name, distance, origin), row in zip(table, held, strict=True):
        assert name.strip() == NAMES.get(row["name"], row["name"].replace("_", " "))
        value, low, high = (round(100 * float(row[k])) for k in ("value", "low", "high"))
        assert distance.strip().startswith(f"{value} cm ({low}–{high})")
        for grade in GRADES:
            assert (grade in origin) == (grade in row["source"]), (name, grade)
    brown = next(origin for name, _, origin in table if "brown rot" in name)
    assert "5 and 15 cm" in brown


def test_every_caution_is_on_the_page() -> None:
    text = page("health")
    for row in rows("cautions"):
        where = "yes" if row["text"] else "reports only"
        assert lines_with(text, f"| {row['key'].replace('_', ' ')} |", where), row["key"]


def test_every_feature_is_on_its_page() -> None:
    text = page("wildlife")
    for row in rows("habitat"):
        assert lines_with(text, row["name"], row["asks"])
        assert lines_with(text, row["name"], row["source"])


@pytest.mark.parametrize("table", ["deadwood", "mistletoe", "retrenchment"])
def test_every_number_is_on_its_page_with_its_range_and_source(table: str) -> None:
    text = page("wildlife")
    for row in rows(table):
        value, low, high = (f"{float(row[name]):.3g}" for name in ("value", "low", "high"))
        name = row["name"].replace("_", " ")
        assert lines_with(text, f"| {name} | {value} | {low}–{high} |", row["source"]), name

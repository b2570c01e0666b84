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

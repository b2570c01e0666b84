"""The page on the project file names every table, column and type there is, and no other."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from limbwright.project import connect, journal
from limbwright.project.tables import TABLES, TableSpec

PAGE = (Path(__file__).resolve().parents[2] / "docs/project.md").read_text("utf-8")


def test_the_page_has_a_part_for_each_table() -> None:
    assert re.findall(r"^### (\w+)$", PAGE, re.M) == [spec.name for spec in TABLES]


@pytest.mark.parametrize("spec", TABLES, ids=lambda s: s.name)
def test_the_page_tells_columns_types_and_key(spec: TableSpec) -> None:
    part = PAGE.split(f"### {spec.name}\n")[1].split("\n### ")[0]
    told = [
        (name, kind)
        for names, kind in re.findall(r"^\| (`.*?) \| ([A-Z]+) \|", part, re.M)
        for name in re.findall(r"`(\w+)`", names)
    ]
    assert told == [(c.name, c.type) for c in spec.columns]
    keys = re.search(r"Key: (.*)\.$", part, re.M)
    assert keys
    assert tuple(re.findall(r"`(\w+)`", keys.group(1))) == spec.key


def test_the_page_tells_the_figures_of_the_code() -> None:
    text = " ".join(PAGE.split())
    assert f"last {journal.KEPT} changes" in text
    assert f"waits {connect.WAIT_S:g} seconds" in text

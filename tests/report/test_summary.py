"""The summary of a survey: which trees come first, and that the sums are right."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from limbwright.report.summary import matter_most, summary_markdown


def riskier(item, share: float):
    """The same tree with every limb's chance multiplied."""
    assessment, plan, station = item
    limbs = tuple(replace(one, chance=one.chance * share) for one in assessment.limbs)
    return replace(assessment, limbs=limbs), plan, station


def loss(item) -> float:
    return sum(one.chance * max(one.leaf_area_m2, 0.1) for one in item[0].limbs)


def test_the_tree_with_most_crown_at_stake_comes_first(items) -> None:
    wanted = [i[0].skeleton.tree for i in sorted(items, key=loss, reverse=True)]
    told = matter_most(items, k=len(items))
    assert [line.split(" (")[0] for line in told] == wanted
    assert matter_most(items[::-1], k=len(items)) == told


def test_a_tree_made_ten_times_as_likely_to_fail_moves_to_the_front(items) -> None:
    last = min(items, key=loss)
    factor = 2.0 * max(loss(i) for i in items) / loss(last)
    moved = [riskier(i, factor) if i is last else i for i in items]
    assert matter_most(moved, k=1)[0].startswith(last[0].skeleton.tree)


def test_no_more_trees_are_told_than_asked_for(items) -> None:
    assert len(matter_most(items, k=2)) == 2
    assert len(matter_most(items, k=99)) == len(items)
    assert matter_most([], k=3) == []


def test_each_line_names_a_limb_and_a_load_of_its_tree(items) -> None:
    told = {line.split(" (")[0]: line for line in matter_most(items, k=len(items))}
    for assessment, _, _ in items:
        line = told[assessment.skeleton.tree]
        assert any(f"limb {one.label} " in line for one in assessment.limbs)
        assert any(case.label in line for case in assessment.loads.cases)


def test_the_page_has_a_row_a_tree_with_its_sums(items) -> None:
    page = summary_markdown(items, holding="Hollow Farm", marked="invented example")
    assert page.startswith("# Hollow Farm (invented example)\n")
    rows = [line for line in page.splitlines() if line.startswith("| ")][1:]
    assert len(rows) == len(items)
    for row, (_, plan, _) in zip(rows, items, strict=True):
        cells = [c.strip() for c in row.strip("|").split("|")]
        assert cells[0] == plan.tree
        assert int(cells[3]) == len(plan.cuts)
        assert cells[4] == f"{plan.dose:.0%} of {plan.dose_limit:.0%}"
        for cell, before, after in (
            (cells[8], plan.light_before.mean, plan.light_after.mean),
            (cells[9], plan.light_before.hat, plan.light_after.hat),
        ):
            told = [float(n) / 100 for n in re.findall(r"(\d+)%", cell)]
            assert told[0] == pytest.approx(before, abs=0.0051)
            assert told[-1] == pytest.approx(after, abs=0.0051)
    cuts = sum(len(plan.cuts) for _, plan, _ in items)
    assert f"{len(items)} trees planned, {cuts} cuts" in page
    for _, plan, _ in items:
        for caution in plan.cautions:
            assert page.count(f"- {caution}") == 1


def test_a_bar_in_a_name_does_not_break_the_table(items) -> None:
    assessment, plan, station = items[0]
    page = summary_markdown([(assessment, replace(plan, tree="a|b"), station)])
    rows = [line for line in page.splitlines() if line.startswith("|")]
    assert {line.count("|") for line in rows} == {rows[0].count("|")}


def test_the_page_never_calls_a_tree_safe(items) -> None:
    assert "safe" not in summary_markdown(items).lower()


def test_a_tree_without_leaf_has_no_light_to_tell_of(items) -> None:
    assessment, plan, station = items[0]
    bare = replace(plan, light_before=replace(plan.light_before, mean=0.0))
    page = summary_markdown([(assessment, bare, station)])
    assert "| – | – |" in page
    assert "0%, as before" not in page


def test_a_tree_left_without_leaf_has_no_light_after(items) -> None:
    assessment, plan, station = items[0]
    gone = replace(plan.light_after, mean=float("nan"), hat=float("nan"))
    page = summary_markdown([(assessment, replace(plan, light_after=gone), station)])
    assert page.count("%, after – |") == 2

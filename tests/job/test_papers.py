"""Cards and reports of a planned holding: the same however many processes set them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from pypdf import PdfReader

from limbwright.demo import fill_project, make_holding
from limbwright.form.results import FormPlan
from limbwright.job.holding_plan import plan_forms, plan_holding, prepare
from limbwright.job.papers import parts_of, write_papers
from limbwright.job.pool import spread
from limbwright.job.tree_years import YearsOrder
from limbwright.project.store import Project
from limbwright.stages.results import YearsPlan

TODAY = date(2026, 11, 27)
PERIOD = (date(2025, 11, 28), TODAY)
Planned = tuple[Path, list[YearsPlan], tuple[FormPlan, ...]]


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Planned:
    """Three trees of the invented holding, planned for one season, and its young trees."""
    whole = make_holding(1)
    few = {tree.station.station for tree in whole.surveys()[20:23]}
    small = replace(whole, limbs=tuple(x for x in whole.limbs if x.station in few))
    path = tmp_path_factory.mktemp("holding") / "holding.gpkg"
    with Project.create(path, small.place) as project:
        fill_project(project, small)
        order = YearsOrder(site=small.site, today=TODAY, years=1, compare=False)
        done = list(plan_holding(project, prepare(project, order).asked, order, workers=1))
        forms, _ = plan_forms(project, order)
    plans = [one.plan for one in done if one.plan is not None]
    assert len(plans) == 3
    return path, plans, forms[:2]


def written(
    planned: Planned, folder: Path, workers: int
) -> tuple[dict[str, Path], list[tuple[int, str]]]:
    path, plans, forms = planned
    told: list[tuple[int, str]] = []
    papers = write_papers(
        path,
        plans,
        forms,
        folder,
        today=TODAY,
        seasons=1,
        period=PERIOD,
        holding="Example Close",
        marked="invented example",
        workers=workers,
        on_progress=lambda count, part: told.append((count, part)),
    )
    return {one.name: one for one in (*papers.paths.values(), *papers.reports.values())}, told


def words(path: Path) -> list[str]:
    return [page.extract_text() for page in PdfReader(path).pages]


def test_papers_set_in_two_processes_are_those_set_in_one(
    planned: Planned, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("limbwright.report.batches.BATCH", 2)
    monkeypatch.setattr("limbwright.job.papers.ORDER", ("tasks",))  # each has tests of its own
    alone, told = written(planned, tmp_path / "alone", 1)
    shared, told_too = written(planned, tmp_path / "shared", 2)
    names = {"cut-cards.pdf", "form-cards.pdf", "cut-list.csv", "years.json", "summary.md"}
    names |= {"tasks.pdf", "tasks.xlsx", "tasks.csv"}
    assert names <= set(alone) == set(shared)
    assert all(one.is_file() for one in shared.values())
    for name, one in alone.items():
        if name.endswith((".csv", ".json", ".md")):
            assert shared[name].read_bytes() == one.read_bytes(), name
        elif name.endswith(".pdf"):
            assert words(shared[name]) == words(one), name
    assert told == told_too
    assert [count for count, _ in told] == list(range(1, len(told) + 1))
    assert tuple(part for _, part in told) == parts_of(*planned[1:])


def test_items_are_drawn_while_others_are_worked_at_and_results_keep_their_order() -> None:
    drawn = []

    def items():
        for k in range(12):
            drawn.append(k)
            yield -k

    results = spread(abs, items(), workers=1)
    assert next(results) == 0
    assert drawn == [0]
    results.close()
    drawn.clear()
    assert list(spread(abs, items(), workers=2)) == list(range(12))
    assert drawn == list(range(12))

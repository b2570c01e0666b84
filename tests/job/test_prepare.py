"""What a project asks of its trees: the orchard they stand in, and the rules of the place."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from tests.project.holdings import add_text, full

from limbwright.job.holding_plan import Prepared, prepare
from limbwright.job.tree_years import YearsOrder, plan_tree
from limbwright.learn.factors import Factors, setting_name
from limbwright.model import Orchard
from limbwright.project.records import save_orchards
from limbwright.project.store import Project
from limbwright.survey.local_rules import RULE_COLUMNS

RULES = (
    f"{','.join(RULE_COLUMNS)}\n"
    "structural,pome,12-01,02-15,only,Invented Scheme,Elsewhere,2027,,\n"
    "structural,stone,07-01,08-31,only,Invented Scheme,Elsewhere,2027,,\n"
    "ground,all,03-01,06-30,forbid,Invented by-law,Elsewhere,2026,,\n"
)
ORDER = YearsOrder(today=date(2026, 10, 1), years=1, compare=False)
TREE = "Kiln Piece/1"


@pytest.fixture
def project(tmp_path: Path) -> Project:
    return full(tmp_path)


def hashes(asked: Prepared) -> dict[str, str]:
    return {one.tree: one.inputs_sha256 for one in asked.asked}


def test_a_tree_is_asked_of_in_its_orchard_by_the_rules_that_speak_of_it(project: Project) -> None:
    add_text(project, "rules.csv", RULES)
    found = {one.tree: one for one in prepare(project, ORDER).asked}
    order = found[TREE].order
    assert list(order.orchards) == ["Kiln Piece"]
    assert order.orchards["Kiln Piece"].people_below
    assert order.orchards["Kiln Piece"].grazed_by == "sheep"
    assert [r.species for r in order.local_rules] == ["pome"]


def test_what_changes_the_plan_changes_what_is_asked(project: Project) -> None:
    first = hashes(prepare(project, ORDER))
    assert hashes(prepare(project, ORDER)) == first
    ring = ((365700.0, 233600.0), (365800.0, 233600.0), (365800.0, 233700.0))
    kiln = Orchard("Kiln Piece", ring, "sheep", "by the ford", people_below=True)
    save_orchards(project, [kiln])
    assert hashes(prepare(project, ORDER)) == first  # a boundary decides nothing
    save_orchards(project, [replace(kiln, people_below=False)])
    second = hashes(prepare(project, ORDER))
    assert second[TREE] != first[TREE]
    add_text(project, "rules.csv", RULES)
    assert hashes(prepare(project, ORDER))[TREE] != second[TREE]


def test_an_order_with_its_own_orchards_and_rules_keeps_them(project: Project) -> None:
    add_text(project, "rules.csv", RULES)
    mine = replace(ORDER, orchards={"Kiln Piece": Orchard("Kiln Piece", grazed_by="geese")})
    order = {one.tree: one for one in prepare(project, mine).asked}[TREE].order
    assert order.orchards["Kiln Piece"].grazed_by == "geese"


def test_the_plan_tells_of_people_and_of_the_window_of_the_place(project: Project) -> None:
    add_text(project, "rules.csv", RULES)
    asked = {one.tree: one for one in prepare(project, ORDER).asked}[TREE]
    done = plan_tree(asked)
    assert not done.failed
    assert done.plan is not None
    plan = done.plan.seasons[0].plan
    assert plan is not None
    assert plan.window.startswith("1 December to 15 February, while dormant")
    assert any("People are often below" in one for one in plan.cautions)


def test_a_rule_that_cannot_be_read_is_told(project: Project) -> None:
    add_text(project, "rules.csv", RULES)
    row = {**project.rows("rules")[0], "scheme": "Spoilt (invented)", "first_day": "31-31"}
    project.put("rules", [row])
    faults = [f for f in prepare(project, ORDER).faults if f.column == "first_day"]
    assert len(faults) == 1
    assert "rules" in faults[0].file


def test_needs_of_a_project_follow_its_rules_and_records(project: Project) -> None:
    add_text(project, "rules.csv", RULES)
    plain = {n.tree: n for n in prepare(project, ORDER).needs}[TREE]
    assert plain.window.value.startswith("1 December to 15 February")
    taught = replace(ORDER, factors=Factors({setting_name("hours"): 2.0}))
    slow = {n.tree: n for n in prepare(project, taught).needs}[TREE]
    assert slow.hours.value > plain.hours.value


def test_a_veteran_or_a_tree_to_retrench_is_asked_for_small_steps(project: Project) -> None:
    assert {one.tree: one.retrench for one in prepare(project, ORDER).asked}[TREE] is None
    add_text(project, "more.csv", "orchard,station,condition\nKiln Piece,1,poor\n")
    assert {one.tree: one.retrench for one in prepare(project, ORDER).asked}[TREE] is True

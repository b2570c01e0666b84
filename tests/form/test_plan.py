"""A whole plan of one young tree: for any shoots somebody may have measured, as JSON and CSV."""

from __future__ import annotations

import csv
import io
import json
import math
from importlib.resources import files

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from tests.form.young import GOOD, YEAR, leader, shoot, station, tree

from limbwright.errors import InputError
from limbwright.form.plan import form_plan
from limbwright.form.results import FormPlan, forms_to_dict
from limbwright.form.settings import FormSettings
from limbwright.form.table import FORM_COLUMNS, form_csv, form_rows
from limbwright.model.holding import Orchard
from limbwright.model.shoots import ShootRecord, YoungTree

SHEEP = Orchard("x", grazed_by="sheep")
SCHEMA = json.loads(files("limbwright.form").joinpath("form.schema.json").read_text("utf-8"))


def maybe(low: float, high: float) -> st.SearchStrategy[float | None]:
    return st.one_of(st.none(), st.floats(low, high))


@st.composite
def any_tree(draw: st.DrawFn) -> YoungTree:
    """A young tree as anybody might have measured it, with gaps and oddities."""
    records = [
        leader(
            draw(st.floats(0.3, 4.0)),
            draw(st.floats(0.0, 120.0)),
            diameter_mm=draw(maybe(5.0, 80.0)),
            state=draw(st.sampled_from(["live", "live", "live", "broken", "dead"])),
        )
    ]
    names = ["leader"]
    for k in range(draw(st.integers(0, 10))):
        parent = draw(st.sampled_from(names[:3]))
        records.append(
            ShootRecord(
                "1",
                str(k),
                parent,
                draw(maybe(0.0, 3.5)),
                draw(maybe(0.02, 2.0)),
                draw(maybe(0.0, 120.0)),
                draw(maybe(2.0, 40.0)),
                draw(maybe(0.0, 360.0)),
                draw(maybe(-30.0, 89.0)),
                draw(st.sampled_from(["live", "live", "live", "dead", "diseased"])),
                draw(st.sampled_from(["", "", "scaffold", "scaffold 2024", "mistletoe"])),
            )
        )
        names.append(str(k))
    return YoungTree(
        station(
            draw(st.sampled_from(["apple", "plum", "perry-pear"])),
            planted=draw(st.sampled_from([None, 2019, 2024, 2026])),
        ),
        tuple(records),
    )


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(any_tree(), st.sampled_from(["", "sheep", "cattle", "goats"]))
def test_any_tree_gets_a_plan_that_holds_together(young: YoungTree, grazed: str) -> None:
    plan = form_plan(young, Orchard("x", grazed_by=grazed), year=YEAR)
    placed = {s.name for s in plan.crown.every}
    assert [r.shoot for r in plan.rows] == [s.name for s in plan.crown.every]
    assert sorted(r.order for r in plan.work) == list(range(1, len(plan.work) + 1))
    assert len(placed) + len(plan.crown.lost) == len(young.shoots)
    whole = sum(r.dose for r in plan.rows)
    assert plan.dose == pytest.approx(whole, abs=1e-6)
    assert plan.dose <= 1.0 + 1e-9
    if plan.dose > plan.dose_limit + 1e-6:
        assert "made all the same" in plan.dose_words
        waiting = {"lateral", "spare", "stem shoot"}
        assert not [r for r in plan.rows if r.role in waiting and r.dose > 0.0]
    kept = {s.name for s in plan.crown.shoots if s.keep == "mistletoe"}
    for row in plan.rows:
        if row.shoot in kept:
            assert row.work == "leave"
            assert not row.what.startswith("Goes with ")
        assert row.why
        assert row.what
        assert (row.order > 0) == (row.work != "leave")
        if row.work in ("head", "shorten"):
            length = plan.crown.by_name[row.shoot].length_m
            assert (row.keep_cm or 0.0) + row.takes_cm == pytest.approx(100 * length)
        if row.role == "scaffold" and row.work == "head":
            assert row.share <= 2 / 3 + 1e-9
    for name in ("value", "low", "high"):
        assert math.isfinite(getattr(plan.hours, name))
    assert plan.hours.low <= plan.hours.value <= plan.hours.high
    Draft202012Validator(SCHEMA).validate(json.loads(json.dumps(forms_to_dict([plan]))))


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(any_tree())
def test_nothing_kept_grows_from_what_goes(young: YoungTree) -> None:
    plan = form_plan(young, SHEEP, year=YEAR)
    row_of = {r.shoot: r for r in plan.rows}
    for one in plan.crown.shoots:
        above, own = row_of[one.parent], row_of[one.name]
        gone = above.work == "remove" or above.what.startswith("Goes with ")
        beyond = above.cuts and one.at_m > (above.keep_cm or 0.0) / 100.0 + 1e-6
        if gone or beyond:
            assert own.what.startswith("Goes with ") or own.role == "failed", own


def test_the_same_tree_gets_the_same_plan() -> None:
    first, second = (form_plan(tree(*GOOD), SHEEP, year=YEAR) for _ in range(2))
    assert first.to_dict() == second.to_dict()


def test_the_order_of_the_rows_of_the_survey_is_no_matter() -> None:
    young = tree(*GOOD, shoot("side", 0.4, 60.0, 20.0, 0.3, parent="a"), shoot("low", 0.2))
    turned = YoungTree(young.station, tuple(reversed(young.shoots)))
    one, other = (form_plan(t, SHEEP, year=YEAR) for t in (young, turned))
    assert one.dose == pytest.approx(other.dose)
    assert {r.shoot: (r.work, r.what) for r in one.rows} == {
        r.shoot: (r.work, r.what) for r in other.rows
    }


def good_plan() -> FormPlan:
    return form_plan(tree(*GOOD, shoot("=x", 1.2)), SHEEP, year=YEAR)


def test_the_forming_list_has_a_row_a_shoot_and_is_safe_for_a_spreadsheet() -> None:
    plan = good_plan()
    rows = form_rows([plan])
    assert len(rows) == len(plan.rows)
    assert [r["order"] for r in rows[: len(plan.work)]] == list(range(1, len(plan.work) + 1))
    read = list(csv.DictReader(io.StringIO(form_csv([plan]).decode("utf-8"))))
    assert tuple(read[0]) == FORM_COLUMNS
    assert "'=x" in {r["shoot"] for r in read}
    assert all(r["reason"] for r in read)


def test_dose_makes_spare_shoots_wait_and_says_which() -> None:
    spare = [shoot(f"s{k}", 1.9 + 0.05 * k, 20.0 + 40 * k, length_m=0.6) for k in range(5)]
    plan = form_plan(tree(*GOOD, *spare), SHEEP, None, FormSettings({"dose_young": 0.4}), year=YEAR)
    waits = [r for r in plan.rows if r.what == "Leave until next year"]
    assert waits
    assert all("the dose is full" in r.why for r in waits)
    assert all(r.shoot in plan.dose_words for r in waits)
    assert not [r for r in waits if r.role in ("leader", "scaffold", "failed")]


def test_the_leader_stays_a_year_longer_where_its_loss_would_be_too_much() -> None:
    plum = form_plan(tree(leader(2.75, 60.0), *GOOD, species="plum"), SHEEP, year=YEAR)
    first = next(r for r in plum.rows if r.shoot == "leader")
    assert first.work in ("head", "leave")
    assert "stays a year" in first.why
    assert "leader stays a year longer" in plum.dose_words
    at_once = FormSettings({"dose_young_stone": 1.0})
    opened = form_plan(tree(leader(2.75, 60.0), *GOOD, species="plum"), SHEEP, None, at_once,
                       year=YEAR)  # fmt: skip
    assert plum.dose < opened.dose - 0.05
    grown = plum.ahead[0]
    assert grown.stage.key == "build"
    assert "leader" in grown.what


def test_dead_wood_counts_for_no_dose() -> None:
    plain = form_plan(tree(*GOOD), SHEEP, year=YEAR)
    dead = form_plan(tree(*GOOD, shoot("x", 1.2, state="dead", length_m=1.5)), SHEEP, year=YEAR)
    assert dead.dose == pytest.approx(plain.dose)


@pytest.mark.parametrize(
    ("young", "word"),
    [
        (YoungTree(station(), ()), "no shoots"),
        (YoungTree(station(), (shoot("a", 1.0),)), "is its leader"),
        (YoungTree(station(), (ShootRecord("1", "leader"),)), "how tall"),
        (tree(*GOOD, species=""), "No species"),
        (tree(*GOOD, species="oak"), "oak"),
        (tree(*GOOD, status="gap"), "gap"),
    ],
)
def test_what_cannot_be_formed_is_refused_with_a_remedy(young: YoungTree, word: str) -> None:
    with pytest.raises(InputError, match=word) as caught:
        form_plan(young, SHEEP, year=YEAR)
    assert caught.value.remedy

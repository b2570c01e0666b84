"""Plans as the planner writes them, looked back on: nothing is lost between the two."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from tests.cuts.old_tree import draw, old_apple

from limbwright.cuts.plan import plan
from limbwright.cuts.weights import Settings
from limbwright.learn.done import work_done
from limbwright.learn.factors import Factors, with_lessons
from limbwright.learn.look_back import LEAST_HOURS, look_back
from limbwright.learn.season import Planned, TreeSeason, seasons_of
from limbwright.model import CutDone, Response, StationRecord, Visit
from limbwright.statics.assess import Assessment, assess

TREE = "old apple"
SEASON = "winter 2026-27"
STATION = StationRecord("old apple", species="apple", girth_cm=140.0, condition="fair")


@pytest.fixture(scope="module")
def assessed() -> Assessment:
    return assess(draw(old_apple()))


def written(assessed: Assessment, settings: Settings | None = None) -> dict[str, Any]:
    made = plan(assessed, STATION, season=SEASON, settings=settings or Settings(), engine="fast")
    return made.to_dict()


@pytest.fixture(scope="module")
def usual(assessed: Assessment) -> dict[str, Any]:
    return written(assessed)


def season(document: dict[str, Any], cuts: tuple[CutDone, ...], **more: Any) -> TreeSeason:
    visit = Visit(TREE, SEASON, date(2027, 1, 12), "Ada", cuts=cuts, **more)
    answers = (Response(TREE, date(2027, 8, 20), shoots=40, limbs_lost=("3",)),)
    (one,) = seasons_of(
        [Planned(TREE, SEASON, date(2026, 11, 1), document)],
        [visit],
        answers,
        station_on=lambda tree, day: STATION,
    )
    return one


def ticked(document: dict[str, Any]) -> tuple[CutDone, ...]:
    rows = [*document["cuts"], *document["lesser"]]
    return tuple(CutDone(row["order"], row["limb"], row["cut"]) for row in rows)


def test_all_ticked_is_the_plans_own_dose_wounds_and_hours(usual: dict[str, Any]) -> None:
    document = usual
    assert document["cuts"]
    work = work_done(season(document, ticked(document)))
    assert work.notes == ()
    assert work.dose_taken == pytest.approx(document["dose"] + document["lesser_dose"], abs=2e-3)
    assert work.hours_base + work.brash_base == pytest.approx(document["hours"], abs=0.02)
    assert work.hours_planned + work.brash_planned == pytest.approx(document["hours"], abs=0.02)


def test_a_plan_made_with_what_was_learnt_has_the_same_base(assessed: Assessment) -> None:
    force = Factors.of({"hours_factor": 1.4, "brash_hours_factor": 1.2})
    document = written(assessed, with_lessons(Settings(), force))
    work = work_done(season(document, ticked(document)))
    assert work.hours_planned > 1.2 * work.hours_base
    plain = sum(row["hours"] for row in document["cuts"])
    assert work.hours_base + work.brash_base < 0.85 * plain


def test_every_forecast_of_the_plan_meets_its_find(usual: dict[str, Any]) -> None:
    document = usual
    told = look_back([season(document, ticked(document), hours=3.0, brash_hours=2.0)])
    whats = {row.what for row in told.compared}
    assert {"hours in the tree", "watershoots"} <= whats
    assert ("hours for the brash" in whats) == (told.works[0].brash_base >= LEAST_HOURS)
    (one,) = told.watched
    assert one.chance == document["chance_after"]
    assert one.lost == 1

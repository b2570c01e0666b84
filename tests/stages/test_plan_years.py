"""Plans of several seasons of invented trees: limits kept in the replay, figures true."""

from __future__ import annotations

import json
from dataclasses import replace
from importlib.resources import files

import jsonschema
import numpy as np
import pytest
from tests.cuts.old_tree import draw, old_apple
from tests.trees import random_skeleton

from limbwright.cuts.plan import plan, plans_to_dict
from limbwright.cuts.question import ask
from limbwright.cuts.results import Wishes
from limbwright.demo import make_holding
from limbwright.errors import InputError, PlanError
from limbwright.growth.rates import rates
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import State
from limbwright.stages.build import ask_years
from limbwright.stages.plan_years import plan_years
from limbwright.stages.results import YearsPlan, years_schema, years_to_dict
from limbwright.stages.seasons import following
from limbwright.statics.assess import Assessment, assess, reassess
from limbwright.survey.build import build_skeleton

SEASONS = following("winter 2026-27", 3)
Tree = tuple[Assessment, StationRecord]


@pytest.fixture(scope="module")
def trees() -> dict[str, Tree]:
    holding = make_holding(1)
    found = {}
    for one in holding.surveys()[2:3]:
        held = assess(build_skeleton(one)[0], holding.site)
        assert one.station is not None
        found[held.skeleton.tree] = (held, one.station)
    return found


@pytest.fixture(scope="module")
def planned(trees: dict[str, Tree]) -> list[tuple[Tree, YearsPlan]]:
    return [(one, plan_years(*one, seasons=SEASONS)) for one in trees.values()]


def test_no_season_takes_more_than_its_dose_of_the_crown_then_standing(
    planned: list[tuple[Tree, YearsPlan]],
) -> None:
    for _, made in planned:
        assert any(one.plan is not None for one in made.seasons)
        for one, year in zip(made.seasons, made.trajectory, strict=False):
            assert one.dose <= one.dose_limit + 1e-9
            assert one.dose == pytest.approx(year.dose, abs=1e-9)
            assert one.wound_share <= 1 / 3 + 1e-9
            if one.plan is not None:
                assert one.plan.season == one.season
                assert one.plan.dose_limit == pytest.approx(one.dose_limit)
                lesser = sum(cut.dose for cut in one.plan.lesser)
                assert one.plan.dose + lesser <= one.dose_limit + 1e-9


def test_first_season_is_told_of_the_tree_as_surveyed(
    planned: list[tuple[Tree, YearsPlan]],
) -> None:
    for (held, _), made in planned:
        first = made.seasons[0].plan
        assert first is not None
        after = reassess(held, ~first.gone)
        for told, one in zip(first.after, after.limbs, strict=True):
            assert told.chance == pytest.approx(one.chance, rel=1e-9)
        s = held.skeleton
        live = s.state != int(State.DEAD)
        taken = float(s.leaf_area_m2[first.gone & live].sum())
        assert first.dose == pytest.approx(taken / float(s.leaf_area_m2[live].sum()))


def test_later_seasons_cut_what_is_still_there(planned: list[tuple[Tree, YearsPlan]]) -> None:
    for _, made in planned:
        fallen: set[int] = set()
        for one in made.seasons:
            if one.plan is None or one.assessment is None:
                continue
            ids = one.assessment.skeleton.segment_ids
            assert not fallen & set(ids.tolist())
            for cut in one.plan.cuts:
                labels = [limb.label for limb in one.assessment.skeleton.limbs]
                assert cut.limb in labels
                assert bool(one.plan.gone[cut.segment])
            fallen |= set(ids[one.plan.gone].tolist())


def test_replay_is_near_what_the_cuts_were_chosen_by(
    planned: list[tuple[Tree, YearsPlan]],
) -> None:
    for _, made in planned:
        assert made.forecast.dose_most < 0.01
        assert made.forecast.use_median < 0.02


def test_staging_stands_between_cutting_at_once_and_leaving_alone(
    planned: list[tuple[Tree, YearsPlan]],
) -> None:
    for _, made in planned:
        ways = {one.name: one for one in made.ways}
        assert set(ways) == {"staged", "at once", "equal shares", "left alone"}
        assert ways["staged"].loss_h < ways["left alone"].loss_h
        assert ways["staged"].chance < ways["left alone"].chance
        assert not ways["staged"].over_dose
        assert ways["left alone"].hours == 0.0
        assert ways["left alone"].most_dose == 0.0
        assert ways["at once"].crown_kept <= ways["staged"].crown_kept + 1e-9
        for one in ways.values():
            product = float(np.prod([1.0 - year.chance for year in one.years]))
            assert one.chance == pytest.approx(1.0 - product)
            assert len(one.years) == 10


def test_certificate_bounds_the_plan(planned: list[tuple[Tree, YearsPlan]]) -> None:
    for _, made in planned:
        assert made.bound_h <= made.objective_h + 1e-9
        assert made.objective_h <= made.nothing_h + 1e-9
        assert 0.0 <= made.within < 0.3
        assert "Proven within" in made.certificate


def test_json_keeps_its_schema(planned: list[tuple[Tree, YearsPlan]]) -> None:
    told = json.loads(json.dumps(years_to_dict([one for _, one in planned]), allow_nan=False))
    jsonschema.validate(told, years_schema())
    text = files("limbwright.cuts").joinpath("plan.schema.json").read_text("utf-8")
    plans = [one.plan for _, made in planned for one in made.seasons if one.plan is not None]
    whole = json.loads(json.dumps(plans_to_dict(plans), allow_nan=False))
    jsonschema.validate(whole, json.loads(text))


def test_one_season_is_worth_what_the_season_plan_is(trees: dict[str, Tree]) -> None:
    held, station = next(iter(trees.values()))
    alone = plan(held, station, season=SEASONS[0], engine="proof")
    one = plan_years(held, station, seasons=SEASONS[:1], proof=True, compare=False)
    room = 0.011 * (one.nothing_h - min(alone.bound_h, one.bound_h))
    assert one.objective_h == pytest.approx(alone.objective_h, abs=room)
    assert one.ways == ()


def test_a_limb_to_be_kept_stays(planned: list[tuple[Tree, YearsPlan]]) -> None:
    (held, station), free = planned[0]
    first = free.seasons[0].plan
    assert first is not None
    kept = first.cuts[0].limb
    asked = plan_years(
        held, station, Wishes(protect=frozenset({kept})), seasons=SEASONS, compare=False
    )
    for one in asked.seasons:
        if one.plan is not None and one.assessment is not None:
            limbs = one.assessment.skeleton.limbs
            labels = {limbs[int(k)].label for k in one.assessment.skeleton.limb[one.plan.gone]}
            assert kept not in labels
    assert asked.objective_h >= free.bound_h - 0.05 * (free.nothing_h - free.bound_h)


def test_seasons_are_one_to_six(trees: dict[str, Tree]) -> None:
    held, station = next(iter(trees.values()))
    for many in (0, 7):
        with pytest.raises(InputError):
            plan_years(held, station, seasons=following("winter 2026-27", many))


def test_a_limb_too_large_for_one_dose_is_shortened_first_and_gone_in_time() -> None:
    drawn = draw(old_apple(), derived=False)
    held = assess(drawn)
    wish = Wishes(force=frozenset({"3"}))
    with pytest.raises(PlanError):
        plan(held, None, wish, engine="fast")
    made = plan_years(held, wishes=wish, seasons=SEASONS, compare=False)
    mine = {int(i) for i in drawn.segment_ids[drawn.limb == 3]}
    fallen = [
        mine & set(one.assessment.skeleton.segment_ids[one.plan.gone].tolist())
        for one in made.seasons
        if one.plan is not None and one.assessment is not None
    ]
    assert set().union(*fallen) == mine
    assert sum(bool(one) for one in fallen) > 1
    assert all(one.dose <= one.dose_limit + 1e-9 for one in made.seasons)


def test_a_tree_with_nothing_to_cut_is_left_and_told_so() -> None:
    made = plan_years(assess(random_skeleton(3, 1)), seasons=SEASONS)
    assert all(one.plan is None and not one.rest for one in made.seasons)
    assert made.cards() == []
    assert made.certificate.startswith("Proven: no sequence")


def test_a_hard_season_before_asks_for_a_light_one() -> None:
    held = assess(draw(old_apple(), derived=False))
    made = plan_years(held, seasons=SEASONS[:1], before=(0.25,), compare=False)
    assert made.seasons[0].dose_limit == pytest.approx(0.10)
    assert 0.0 < made.seasons[0].dose <= 0.10 + 1e-9


def test_what_is_one_risk_is_the_same_in_every_season() -> None:
    """Where a limb's worst place moves as it grows, its two places are still one risk."""
    named = {one.station.tree: one for one in make_holding(1).surveys() if one.station}
    survey = named["Bell Acre/4"]
    held = assess(build_skeleton(survey)[0])
    question = ask(held, survey.station, year=2026)
    years = ask_years(question, rates(question.kind, survey.station, year=2026), 5).years
    years.check()
    assert years.seasons[0].groups < years.seasons[0].sections
    other = replace(years.seasons[4], section_group=None)
    with pytest.raises(ValueError, match="not of one tree"):
        replace(years, seasons=(*years.seasons[:4], other)).check()
    made = plan_years(held, survey.station, seasons=following("winter 2026-27", 5), compare=False)
    assert made.objective_h <= made.nothing_h

"""Forecast against found: watershoots, growth, rings, wounds, hours and limbs lost."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from math import log, pi

import pytest
from tests.learn.records import SEASON, SEEN, TREE, WORKED, document, seen, station, visit

from limbwright.growth.rates import rates
from limbwright.growth.response import watershoots, wound_closing_years
from limbwright.learn.answer import growing_seasons
from limbwright.learn.compared import Compared
from limbwright.learn.factors import Factors
from limbwright.learn.failures import hazard
from limbwright.learn.look_back import LookBack, look_back
from limbwright.learn.season import Girth, TreeSeason
from limbwright.model import CutDone, Response, StationRecord
from limbwright.trade.parameters import parameters

ALL = tuple(CutDone(k, limb) for k, limb in enumerate("abc", 1))


def back(
    *answers: Response,
    at: StationRecord | None = None,
    girth: Girth | None = None,
    factors: Factors | None = None,
    **more: object,
) -> LookBack:
    one = TreeSeason(
        TREE,
        SEASON,
        document(**more),
        date(2026, 11, 2),
        (visit(*ALL),),
        answers,
        at or station(),
        girth,
    )
    return look_back([one], factors=factors)


def found(told: LookBack, what: str) -> Compared:
    (one,) = [row for row in told.compared if row.what == what]
    return one


def test_watershoots_are_foretold_from_the_dose_really_taken() -> None:
    leaf = 126.0**2 / (4.0 * pi) * parameters("allometry")["leaf_area_per_section"].value
    grows = rates("apple", station(), year=2027)
    count = watershoots(grows, 0.10, 0.10 * leaf).count
    row = found(back(seen(shoots=30)), "watershoots")
    assert row.value == pytest.approx(count.value)
    assert row.low <= count.low
    assert row.high >= count.high
    assert row.found == 30.0
    told = found(back(seen(shoots=30), leaf_m2=2.0 * leaf), "watershoots")
    assert told.value == pytest.approx(2.0 * count.value)


def test_what_was_learnt_moves_the_forecast_and_not_the_base() -> None:
    plain = found(back(seen(shoots=30)), "watershoots")
    force = Factors({"shoot_count_factor": 1.5})
    learnt = back(seen(shoots=30), factors=force)
    assert found(learnt, "watershoots").value == pytest.approx(1.5 * plain.value)
    (told,) = [o for o in learnt.observations if o.quantity == "shoot_count"]
    assert told.foretold == pytest.approx(plain.value)


def test_watershoots_of_a_later_year_are_not_compared() -> None:
    later = back(seen(shoots=30, extension_cm=22.0, seen_on=date(2028, 8, 1)))
    assert [row.what for row in later.compared if row.unit != "h"] == ["growth of outer shoots"]


def test_surprise_is_told_by_the_range() -> None:
    grows = rates("apple", station(), year=2027)
    for share, inside in ((1.0, True), (0.3, False), (4.0, False)):
        row = found(
            back(seen(extension_cm=share * grows.extension_cm.value)), "growth of outer shoots"
        )
        assert row.inside is inside
        assert (row.low <= row.found <= row.high) is inside
    assert row.z > 0.0
    assert "more than foretold" in row.sentence


def test_a_ring_needs_girths_far_enough_apart() -> None:
    ring = rates("apple", station(), year=2027).ring_mm.value
    near = back(seen(girth_cm=127.1), girth=Girth(126.0, date(2026, 9, 1)))
    assert not [r for r in near.compared if r.what == "ring of the stem"]
    early = Girth(126.0, date(2023, 9, 1))
    gain = 4 * 2.0 * pi * ring / 10.0
    told = back(seen(girth_cm=126.0 + gain), girth=early)
    row = found(told, "ring of the stem")
    assert row.found == pytest.approx(ring)
    assert abs(row.z) < 1e-6
    (one,) = [o for o in told.observations if o.quantity == "ring_width"]
    assert one.sd > parameters("learn")["scatter.ring_width"].value
    shrunk = back(seen(girth_cm=125.0), girth=early)  # a slip of the tape sinks nothing
    assert found(shrunk, "ring of the stem").z < -3.0


def test_a_wound_closes_as_the_wood_grows() -> None:
    grows = rates("apple", station(), year=2027)
    row = found(back(seen(wound_mm=100.0, wound_closed_mm=4.0)), "wound closed")
    assert row.value == pytest.approx(100.0 / wound_closing_years(100.0, grows).value)


def test_a_tree_that_stood_still_does_not_sink_the_holdings_mean() -> None:
    told = back(seen(extension_cm=0.0), seen(extension_cm=25.0, seen_on=date(2028, 8, 1)))
    (still,) = [r for r in told.compared if r.unit == "cm" and r.found == 0.0]
    assert still.z < -3.0
    (mean,) = [c for c in told.calibrations if c.unit == "cm"]
    assert mean.ratio is not None
    assert mean.ratio > 0.1


def test_hours_beside_the_plan() -> None:
    told = back()
    row = found(told, "hours in the tree")
    assert row.found == 0.7
    (one,) = [o for o in told.observations if o.quantity == "hours"]
    assert one.log_ratio == pytest.approx(log(0.7 / row.base))
    assert one.who == "Ada"
    assert one.species == "apple"
    (sums,) = [c for c in told.calibrations if c.what == "hours in the tree"]
    assert sums.ratio == pytest.approx(0.7 / row.value)


def test_limbs_lost_beside_the_chance_of_failure() -> None:
    told = back(seen(), seen(seen_on=date(2028, 8, 12), limbs_lost=("b", "d")))
    (one,) = told.watched
    years = (date(2028, 8, 12) - WORKED).days / 365.25
    assert one.expected == pytest.approx(hazard(0.04) * years)
    assert one.lost == 2
    (sums,) = [c for c in told.calibrations if c.what == "limbs lost"]
    assert sums.sentence.endswith("more than foretold.")
    left_alone = look_back([TreeSeason(TREE, SEASON, document(), WORKED, (), (seen(),), station())])
    assert left_alone.watched[0].chance == 0.1  # as before the cuts that nobody made


def test_condition_before_and_found() -> None:
    told = back(seen(condition="good"), seen(condition="poor", seen_on=date(2028, 8, 12)))
    assert [(c.before, c.found) for c in told.conditions] == [("fair", "good"), ("good", "poor")]


def test_what_cannot_be_compared_is_told() -> None:
    told = back(seen(shoots=12), at=replace(station(), girth_cm=None))
    assert any("Neither plan nor girth" in note for _, note in told.notes)
    bare = look_back([TreeSeason(TREE, SEASON, None, visits=(visit(),), station=station())])
    assert any("No plan is kept" in note for _, note in bare.notes)
    unknown = look_back(
        [TreeSeason(TREE, SEASON, document(species="oak"), None, (visit(*ALL),), (seen(shoots=3),))]
    )
    assert [row.unit for row in unknown.compared] == ["h", "h"]


def test_growing_seasons_north_and_south() -> None:
    assert growing_seasons(WORKED, SEEN) == 1
    assert growing_seasons(date(2026, 7, 20), date(2026, 9, 1)) == 0
    assert growing_seasons(date(2026, 7, 20), date(2027, 7, 20)) == 1
    assert growing_seasons(date(2026, 7, 20), date(2027, 2, 20), southern=True) == 1
    assert growing_seasons(WORKED, date(2030, 8, 1)) == 4


def test_nothing_recorded_is_nothing_to_look_back_on() -> None:
    told = look_back([])
    assert not (*told.compared, *told.works, *told.calibrations)
    assert told.to_dict()["work"] == []

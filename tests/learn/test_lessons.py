"""Lessons: proposals in words, what they would write, and how they enter the next forecast."""

from __future__ import annotations

from datetime import date
from math import exp, log
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.learn.records import holding, observation

from limbwright.cuts.build_problem import work_hours
from limbwright.cuts.weights import Settings
from limbwright.growth.rates import MULTIPLIERS, rates
from limbwright.learn.compared import Observation
from limbwright.learn.factors import Factors, setting_name, with_lessons
from limbwright.learn.failures import Watched
from limbwright.learn.lessons import Lesson, Lessons, learn
from limbwright.learn.quantities import QUANTITIES, priors, spread_of
from limbwright.trade.parameters import parameters

LATER = date(2027, 3, 2)
EVEN = np.linspace(-0.3, 0.3, 24).tolist()


def hours(factor: float, many: int = 24, **more: Any) -> list[Observation]:
    return [
        observation(log(factor) + e, k, species="apple", who="Ada", **more)
        for k, e in enumerate(EVEN[:many])
    ]


def lesson(told: Lessons, key: str, level: str = "holding", name: str = "") -> Lesson:
    (one,) = [x for x in told.lessons if (x.quantity, x.level, x.name) == (key, level, name)]
    return one


def test_no_record_no_lesson() -> None:
    told = learn([])
    assert told == Lessons((), (), ())
    assert told.settings(LATER) == ()


def test_every_quantity_has_a_prior_from_the_ranges_of_its_constants() -> None:
    known = priors()
    assert set(known) == {one.key for one in QUANTITIES}
    shoots = parameters("growth")["shoots.per_leaf"]
    assert known["shoot_count"].holding == pytest.approx(spread_of(shoots))
    assert exp(2 * 1.6449 * spread_of(shoots)) == pytest.approx(shoots.high / shoots.low)
    growth = {one.key for one in QUANTITIES if not one.scaled}
    assert growth <= set(MULTIPLIERS)
    for one in QUANTITIES:
        for name in one.scaled:
            Settings().parameter(name)


def test_a_lesson_says_what_was_seen_and_what_would_change() -> None:
    one = lesson(learn(hours(1.3)), "hours")
    assert one.records == 24
    assert one.seen == pytest.approx(1.3)
    assert 1.15 < one.value < 1.3  # drawn towards 1 by what was thought before
    assert one.after.low < one.value < one.after.high
    assert one.after.high / one.after.low < one.before.high / one.before.low
    percent = round(100 * (one.value - 1))
    assert one.sentence == (
        f"The work took 1.3 times the hours foreseen in 24 records; forecasts would be raised by "
        f"{percent} %."
    )
    assert one.changes == ("work_setup", "work_saw", "work_climb")


def test_order_does_not_matter() -> None:
    told, *_ = holding(np.random.default_rng(5), 30)
    shuffled = [told[k] for k in np.random.default_rng(6).permutation(len(told))]
    assert learn(told) == learn(shuffled)


def test_species_and_crews_get_a_figure_where_there_are_two_and_enough() -> None:
    ada = [observation(0.4 + e, k, species="apple", who="Ada") for k, e in enumerate(EVEN[::2])]
    wyn = [observation(-0.1 + e, k, species="plum", who="Wyn") for k, e in enumerate(EVEN[1::2])]
    few = [observation(0.0, 90, species="cherry", who="Ida")]
    told = learn([*ada, *wyn, *few])
    assert lesson(told, "hours", "crew", "Ada").value > lesson(told, "hours").value
    assert lesson(told, "hours", "crew", "Wyn").value < lesson(told, "hours").value
    assert not [x for x in told.lessons if x.name in {"cherry", "Ida"}]
    assert "Ada took" in lesson(told, "hours", "crew", "Ada").sentence
    alone = learn(ada)
    assert [x.level for x in alone.lessons] == ["holding"]


def test_a_wild_record_is_named_and_left_out() -> None:
    slip = observation(log(10.0), 99, species="apple", who="Ada")
    told = learn([*hours(1.3), slip])
    assert told.left_out == (slip,)
    assert lesson(told, "hours") == lesson(learn(hours(1.3)), "hours")
    assert "Sloe Bank/99" in told.notes[0]
    assert "10 times the forecast" in told.notes[0]


def test_records_that_contradict_each_other_are_told() -> None:
    told = learn([observation(e, k) for k, e in enumerate([1.0, -1.0] * 6)])
    assert any("contradict each other" in note for note in told.notes)


def test_limbs_lost_move_the_price_of_a_risk() -> None:
    seen = [Watched(f"Sloe Bank/{k}", date(2028, 8, 1), 1.5, 0.05, int(k < 6)) for k in range(20)]
    one = lesson(learn([], seen), "failure")
    assert one.seen == pytest.approx(6 / sum(w.expected for w in seen))
    assert 1.0 < one.value < one.seen
    assert one.changes == ("tree_value",)
    assert "6 limbs were lost in 30 tree-years" in one.sentence
    assert learn([], [Watched("Sloe Bank/1", LATER, 1.0, 0.0, 0)]).lessons == ()


def test_applying_writes_all_of_a_quantity_that_moves_and_then_nothing_more() -> None:
    told = learn(hours(1.3))
    written = told.settings(LATER)
    assert [s.name for s in written] == ["hours_factor"]
    assert written[0].source == "learned from 24 records up to 2027-01-20"
    assert written[0].since == LATER
    force = Factors.of({s.name: s.value for s in written})
    again = learn(hours(1.3), in_force=force)
    assert again.settings(LATER) == ()
    assert lesson(again, "hours").value == lesson(told, "hours").value
    assert "left as they are" in lesson(again, "hours").sentence


def test_a_crew_whose_own_figure_stands_still_is_written_when_the_holding_moves() -> None:
    ada = [observation(0.3 + e, k, species="apple", who="Ada") for k, e in enumerate(EVEN[::2])]
    wyn = [observation(-0.2 + e, k, species="apple", who="Wyn") for k, e in enumerate(EVEN[1::2])]
    first = learn([*ada, *wyn])
    wanted = lesson(first, "hours", "crew", "Ada").value
    half = Factors({"hours_factor": wanted})  # Ada would have her figure by chance
    written = {s.name: s.value for s in learn([*ada, *wyn], in_force=half).settings(LATER)}
    assert Factors(written).factor("hours", who="Ada") == pytest.approx(wanted)


def test_factors_of_species_and_crew_multiply_over_the_holdings() -> None:
    force = Factors.of(
        {
            "hours_factor": 1.2,
            "hours_factor of species plum": 1.5,
            "hours_factor of crew Ada": 0.9,
            "wound": 0.35,
            "brash_hours_factor": "much",
            "ring_width_factor": -1.0,
            "extension_factor": True,
        }
    )
    assert len(force.by_name) == 3
    assert force.factor("hours") == 1.2
    assert force.factor("hours", species="plum") == pytest.approx(1.5)
    assert force.factor("hours", species="plum", who="Ada") == pytest.approx(1.5 * 0.9 / 1.2)
    assert force.factor("hours", species="pear", who="Wyn") == 1.2
    assert setting_name("hours", "crew", "Ada") == "hours_factor of crew Ada"


def test_what_was_learnt_scales_the_hours_of_every_cut() -> None:
    base = Settings({"work_saw": 0.2})
    force = Factors.of({"hours_factor": 1.3, "brash_hours_factor": 0.5, "failure_factor": 1.4})
    learnt = with_lessons(base, force)
    for size, height in ((40.0, 1.0), (150.0, 4.0), (120.0, 9.0)):
        plain = work_hours(size, height, base)
        assert work_hours(size, height, learnt) == pytest.approx(1.3 * plain)
        brash = work_hours(size, height, base, piece_kg=50.0) - plain
        both = work_hours(size, height, learnt, piece_kg=50.0)
        assert both == pytest.approx(1.3 * plain + 0.5 * brash)
    assert learnt["tree_value"] == pytest.approx(1.4 * base["tree_value"])
    assert with_lessons(base, Factors()) is base


def test_growth_takes_only_the_names_it_knows() -> None:
    force = Factors.of(
        {
            "hours_factor": 1.3,
            "brash_hours_factor": 1.1,
            "failure_factor": 2.0,
            "shoot_count_factor": 1.5,
            "ring_width_factor": 0.8,
            "ring_width_factor of species plum": 0.7,
        }
    )
    assert force.growth() == {"shoot_count": 1.5, "ring_width": 0.8}
    assert force.growth("plum")["ring_width"] == pytest.approx(0.7)
    plain, learnt = rates("plum"), rates("plum", multipliers=force.growth("plum"))
    assert learnt.ring_mm.value == pytest.approx(0.7 * plain.ring_mm.value)
    assert learnt.shoots_per_m2.value == pytest.approx(1.5 * plain.shoots_per_m2.value)


def test_lessons_bring_the_next_forecasts_nearer() -> None:
    """Of simulated holdings, forecasts with what was learnt err less than those without."""
    rng = np.random.default_rng(11)
    before, after = [], []
    for _ in range(40):
        told, *_ = holding(rng, 32, priors()["hours"])
        past, future = told[:24], told[24:]
        written = learn(past).settings(LATER)
        force = Factors.of({s.name: s.value for s in written})
        for one in future:
            factor = force.factor("hours", species=one.species, who=one.who)
            before.append(one.log_ratio**2)
            after.append((one.log_ratio - log(factor)) ** 2)
    assert np.mean(after) < 0.6 * np.mean(before)


def test_the_page_says_what_is_thought_beforehand() -> None:
    page = (Path(__file__).resolve().parents[2] / "docs/method/learn.md").read_text("utf-8")
    rows = [line.split("|")[2:6] for line in page.splitlines() if line.count("|") == 7]
    table = [[c.split(",")[0].strip() for c in row] for row in rows if "." in row[0]]
    known = [priors()[one.key] for one in QUANTITIES]
    assert table[: len(known)] == [
        [
            f"{p.holding:.2f}",
            f"{p.species:.2f}",
            f"{p.crew:.2f}" if p.crew else "-",
            f"{p.scatter:.2f}",
        ]
        for p in known
    ]

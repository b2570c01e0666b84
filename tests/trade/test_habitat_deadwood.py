"""Dead trees kept by rule: how many, which, and never above people or where they spread disease."""

from __future__ import annotations

from dataclasses import replace

import pytest

from limbwright.model.holding import Orchard
from limbwright.model.records import StationRecord
from limbwright.trade.deadwood import DeadwoodAdvice, deadwood_rule

HALF_HECTARE = Orchard("Invented", boundary=((0, 0), (100, 0), (100, 50), (0, 50), (0, 0)))


def orchard(count: int, dead: dict[int, str] | None = None) -> list[StationRecord]:
    return [
        StationRecord(
            str(k),
            "Invented",
            species="plum",
            status="dead" if k in (dead or {}) else "living",
            girth_cm=100.0 + k,
            note=(dead or {}).get(k, ""),
        )
        for k in range(1, count + 1)
    ]


def kept(advice: DeadwoodAdvice) -> list[str]:
    return [one.tree for one in advice.standing]


def test_one_in_ten_stations_or_one_for_half_a_hectare_is_wanted() -> None:
    advice = deadwood_rule(orchard(40), HALF_HECTARE)
    assert advice.area_known
    assert advice.area_ha == pytest.approx(0.5)
    assert (advice.wanted_low, advice.wanted_high) == (1, 4)
    assert advice.shortfall == 1
    assert (advice.log_piles_low, advice.log_piles_high) == (1, 2)
    assert advice.brash_share == pytest.approx(1 / 3)


def test_the_area_is_given_drawn_or_reckoned_from_the_stations() -> None:
    assert deadwood_rule(orchard(40), area_ha=2.0).wanted_low == 4
    bare = deadwood_rule(orchard(40))
    assert (bare.area_known, bare.area_ha) == (False, pytest.approx(0.4))
    degrees = Orchard("x", boundary=((-2.1, 52.0), (-2.09, 52.0), (-2.09, 52.01)))
    assert not deadwood_rule(orchard(40), degrees).area_known


def test_all_dead_trees_stand_where_nothing_speaks_against_it() -> None:
    dead = {3: "", 7: "frass", 9: "by the footpath", 11: "silver leaf", 13: "no silver leaf"}
    advice = deadwood_rule(orchard(40, dead), HALF_HECTARE)
    # the one with habitat first, then the thicker
    assert kept(advice) == ["Invented/7", "Invented/13", "Invented/3"]
    why = {one.tree: one.why for one in advice.trees}
    assert "footpath" in why["Invented/9"]
    assert "silver leaf" in why["Invented/11"]
    assert "wood mould" in why["Invented/7"]
    assert advice.shortfall == 0


def test_where_people_are_below_none_is_kept_and_none_wanted() -> None:
    advice = deadwood_rule(orchard(40, {3: ""}), replace(HALF_HECTARE, people_below=True))
    assert kept(advice) == []
    assert (advice.wanted_low, advice.wanted_high, advice.shortfall) == (0, 0, 0)
    assert advice.next_to_stand == ()
    assert "People are often below" in advice.reasons[0]


def test_a_shortfall_names_failing_trees_to_be_left_and_kills_none() -> None:
    records = orchard(40)
    records[4] = replace(records[4], dead_pct=60.0)
    records[5] = replace(records[5], dead_pct=80.0)
    records[6] = replace(records[6], dead_pct=90.0, note="leans over the road")
    records[7] = replace(records[7], dead_pct=90.0, faults="honey fungus")
    advice = deadwood_rule(records, HALF_HECTARE)
    assert advice.shortfall == 1
    assert advice.next_to_stand == ("Invented/6", "Invented/5")
    assert any("none is killed" in one for one in advice.reasons)


def test_an_orchard_of_nothing_asks_for_nothing() -> None:
    advice = deadwood_rule([])
    assert (advice.wanted_high, advice.shortfall, advice.log_piles_high) == (0, 0, 0)


def test_every_number_has_its_source_and_no_tree_is_called_safe() -> None:
    advice = deadwood_rule(orchard(12, {1: ""}))
    assert all(advice.sources)
    assert "safe" not in " ".join(advice.reasons)
    assert any("qualified arborist" in one for one in advice.reasons)

"""What the rules of a place and the records of a crew change in what trees need."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import pytest

from limbwright.job.learnt_hours import hours_factors
from limbwright.learn.factors import Factors, setting_name
from limbwright.model import Site, StationRecord
from limbwright.needs.need import Need, need_of, needs
from limbwright.trade.seasons.days import YearDay
from limbwright.trade.seasons.local import LocalRule, LocalStrength

YEAR = 2026
OLD = StationRecord(
    "7", species="apple", planted=1930, girth_cm=130.0, height_m=7.0, note="neglected"
)


def rule(job: str, first: YearDay, last: YearDay, strength: LocalStrength) -> LocalRule:
    return LocalRule(job, "all", first, last, strength, "Invented Scheme", "Elsewhere", "2027")


def need(rules: list[LocalRule], **changes: object) -> Need:
    return need_of(replace(OLD, **changes), year=YEAR, local_rules=rules)  # type: ignore[arg-type]


def test_the_window_is_that_of_the_place() -> None:
    ours = [rule("structural", YearDay(12, 1), YearDay(1, 31), "only")]
    found = need(ours)
    assert found.window.value.startswith("1 December to 31 January, while dormant")
    assert "Invented Scheme, Elsewhere, 2027" in found.window.value
    assert found.months == (12, 1)
    assert not any("nesting" in one for one in found.cautions)  # March is out
    assert any("nesting" in one for one in need([]).cautions)
    assert need([]).window.value.startswith("November to early March")
    assert need(ours, species="").months == ()  # no kind, no window


def test_a_gap_follows_the_rules_for_planting() -> None:
    usual = need([], status="gap").window
    assert usual.value == "November to early March, while leafless and the ground is open."
    assert need(
        [rule("ground", YearDay(1, 1), YearDay(12, 31), "forbid")], status="gap"
    ).window == (usual)
    found = need([rule("planting", YearDay(11, 1), YearDay(12, 31), "only")], status="gap")
    assert found.window.value.startswith("1 November to 31 December, while leafless")
    assert found.months == (11, 12)


def test_near_the_equator_no_months_are_made_up() -> None:
    found = need_of(OLD, year=YEAR, site=Site(latitude_deg=2.0))
    assert "no plain calendar holds" in found.window.value
    assert found.months == tuple(range(1, 13))


def taught(**by_name: float) -> Factors:
    return Factors(MappingProxyType(dict(by_name)))


def test_hours_follow_the_records_of_the_holding_and_the_species() -> None:
    by_name = {
        setting_name("hours"): 1.5,
        setting_name("hours", "species", "apple"): 2.0,
        setting_name("brash_hours"): 0.5,
    }
    factors = hours_factors(Factors(MappingProxyType(by_name)))
    stations = [OLD, replace(OLD, species="pear"), replace(OLD, status="gap")]
    usual = needs(stations, year=YEAR)
    found = needs(stations, year=YEAR, hours_factors=factors)
    # the usual hours are as much again for the brash, so half of them are in the tree
    for k, in_tree in ((0, 2.0), (1, 1.5)):
        assert found[k].hours.value == pytest.approx(usual[k].hours.value / 2 * (in_tree + 0.5))
        low, high = found[k].hours.low, found[k].hours.high
        assert low is not None
        assert high is not None
        assert low < found[k].hours.value < high
        assert f"records make it {in_tree:.2g} times" in found[k].hours.because
    assert "records" not in usual[0].hours.because
    assert found[2].hours == usual[2].hours  # planting is not what was learnt


def test_without_records_nothing_changes() -> None:
    assert hours_factors(Factors()) == {}
    assert hours_factors(taught(regrowth_factor=2.0)) == {}
    assert needs([OLD], year=YEAR, hours_factors={}) == needs([OLD], year=YEAR)


def test_a_tree_of_no_known_species_takes_the_factor_of_the_holding() -> None:
    factors = hours_factors(taught(**{setting_name("hours"): 3.0}))
    station = replace(OLD, species="")
    usual, found = need_of(station, year=YEAR), need_of(station, year=YEAR, hours_factors=factors)
    assert found.hours.value == pytest.approx(2.0 * usual.hours.value)


def test_a_young_tree_is_told_the_days_of_forming_and_of_the_rules_on_it() -> None:
    young = StationRecord("9", species="plum", status="new")
    found = need_of(young, year=YEAR)
    assert found.kind.value == "form"
    assert found.window.value.startswith("1 April to 31 August, on a dry day.")
    ours = [rule("formative", YearDay(4, 1), YearDay(6, 30), "forbid")]
    barred = need_of(young, year=YEAR, local_rules=ours)
    assert barred.window.value.startswith("1 July to 31 August, on a dry day.")
    assert "Invented Scheme" in barred.window.value
    assert need_of(young, year=2999).window == found.window

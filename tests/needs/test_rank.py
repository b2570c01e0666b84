"""Which trees first, and why."""

from __future__ import annotations

from dataclasses import replace

from limbwright.model import StationRecord
from limbwright.needs.need import needs
from limbwright.needs.order import Ranked, rank, ranked_to_dict

YEAR = 2026
PLAIN = StationRecord(
    "1",
    orchard="Ash Ground",
    species="apple",
    cultivar="Rowan Sweet",
    planted=1990,
    girth_cm=100.0,
    height_m=6.0,
    spread_ns_m=7.0,
    condition="fair",
    extension_cm=15.0,
    dead_pct=5.0,
    lean_deg=0.0,
)


def ranked(*stations: StationRecord) -> tuple[Ranked, ...]:
    return rank(needs(stations, year=YEAR))


def order(*stations: StationRecord) -> list[str]:
    return [one.need.station.station for one in ranked(*stations)]


def test_instability_then_grafts_then_young_trees_then_the_rest() -> None:
    """Common practice (Natural England TIN018; graft the old and rare first; frames in time)."""
    old = replace(PLAIN, planted=1900)
    assert order(
        replace(PLAIN, station="rest"),
        replace(PLAIN, station="young", planted=2020, girth_cm=25.0),
        replace(old, station="rare", cultivar="Thornleaf", condition="poor"),
        replace(PLAIN, station="leaning", lean_deg=25.0),
        replace(PLAIN, station="other"),
    )[:3] == ["leaning", "rare", "young"]


def test_a_cultivar_two_trees_bear_is_no_rescue() -> None:
    poor = replace(PLAIN, condition="poor", cultivar="Thornleaf")
    alone = ranked(replace(poor, station="a"), replace(PLAIN, station="b"), PLAIN)
    assert alone[0].need.tier == "graft rescue"
    two = ranked(replace(poor, station="a"), replace(poor, station="b"), PLAIN)
    assert {one.need.tier for one in two} == {"the rest"}


def test_a_dead_namesake_does_not_count_and_an_empty_cell_is_no_name() -> None:
    poor = replace(PLAIN, condition="poor", cultivar="Thornleaf", station="a")
    dead = replace(poor, station="b", status="dead", condition="dead", extension_cm=None)
    assert ranked(poor, dead)[0].need.tier == "graft rescue"
    blank = replace(PLAIN, cultivar="", condition="poor", station="c")
    assert {one.need.tier for one in ranked(blank, replace(blank, station="d"))} == {"the rest"}


def test_an_unknown_cultivar_is_rescued_though_there_are_many() -> None:
    one = replace(PLAIN, cultivar="unknown", condition="poor")
    found = ranked(one, replace(one, station="2"))
    assert [r.need.tier for r in found] == ["graft rescue", "graft rescue"]
    assert "grafting wood" in " ".join(found[0].need.cautions)


def test_within_the_rest_the_dearer_wait_comes_first() -> None:
    ill = replace(PLAIN, station="ill", faults="canker; torn limb")
    found = ranked(PLAIN, ill, replace(PLAIN, station="2"))
    assert found[0].need.station.station == "ill"
    waits = [one.need.waiting_h_a_year.value for one in found]
    assert waits == sorted(waits, reverse=True)


def test_every_place_has_its_sentence() -> None:
    found = ranked(PLAIN, replace(PLAIN, station="2", faults="crack in the stem"))
    assert [one.place for one in found] == [1, 2]
    assert "'crack in the stem'" in found[0].sentence
    assert found[0].sentence.startswith("Ash Ground/2: ")
    assert [t["place"] for t in ranked_to_dict(found)["trees"]] == [1, 2]


def test_no_stations_no_order() -> None:
    assert ranked() == ()

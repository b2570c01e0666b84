"""Where the tape is worth taking: the ranking on trees it was not made from, and its sentences."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.tape_prior import A_DAY, first_dozen, kept_trees, regret
from benchmarks.tape_trees import Outcome, one_tree

from limbwright.cuts.weights import Settings
from limbwright.model import Site, StationRecord
from limbwright.model.skeleton import Floats
from limbwright.needs.features import FEATURES, MEASURED, features
from limbwright.needs.prior import completed, prior
from limbwright.needs.tape import tape_to_dict, tape_value
from limbwright.needs.walk import read_walk

YEAR = 2026
OLD = StationRecord(
    "3",
    orchard="Ash Ground",
    species="apple",
    girth_cm=110.0,
    height_m=7.0,
    spread_ns_m=8.0,
    lean_deg=0.0,
    condition="fair",
    extension_cm=15.0,
    dead_pct=10.0,
    note="neglected",
)


@pytest.fixture(scope="module")
def trees() -> list[Outcome]:
    return kept_trees()


@pytest.fixture(scope="module")
def worth(trees: list[Outcome]) -> tuple[Floats, Floats]:
    return regret(trees)


def test_the_trees_kept_are_those_the_generator_grows(trees: list[Outcome]) -> None:
    """One of them grown, walked, taped and planned again: nothing of the table is made up."""
    kept = trees[1]
    again = one_tree(2, int(kept.station.station))
    assert again is not None
    assert again.station.girth_cm == kept.station.girth_cm
    assert again.station.faults == kept.station.faults
    assert again.chance == pytest.approx(kept.chance, rel=0.1)
    assert again.tape == pytest.approx(kept.tape, rel=0.25, abs=0.5)
    assert again.eye == pytest.approx(kept.eye, rel=0.25, abs=0.5)


def test_the_first_dozen_beats_girth_height_faults_and_chance(
    trees: list[Outcome], worth: tuple[Floats, Floats]
) -> None:
    """Of what the best dozen of 60 trees could gain, this ranking's dozen gains two thirds or
    more; by girth, height or at random it is a third or less, by number of faults under half."""
    true, foretold = worth
    assert len(true) >= 400
    rng = np.random.default_rng(0)

    def share(score: Floats) -> float:
        return first_dozen(true, lambda drawn: score[drawn], rng)

    girth = np.array([t.station.girth_cm or 0.0 for t in trees])
    height = np.array([t.station.height_m or 0.0 for t in trees])
    faults = np.array([float(t.station.faults.count(";") + bool(t.station.faults)) for t in trees])
    ours = share(foretold)
    assert ours > 0.65
    assert max(share(girth), share(height)) < 0.35
    assert share(faults) < 0.5
    assert first_dozen(true, lambda drawn: rng.random(len(drawn)), rng) < 0.40
    assert A_DAY == 12


def test_the_forecast_is_right_on_average(worth: tuple[Floats, Floats]) -> None:
    true, foretold = worth
    assert foretold.mean() == pytest.approx(true.mean(), rel=0.2)
    assert np.corrcoef(true, foretold)[0, 1] > 0.4


def test_chances_lie_within_their_bounds_eight_times_in_ten(trees: list[Outcome]) -> None:
    inside = []
    for t in trees[::3]:
        found = prior([read_walk(t.station, YEAR)], t.site, Settings()).chance
        inside.append(found.low[0] <= t.chance <= found.high[0])
    assert 0.70 < np.mean(inside) < 0.92


def test_trees_no_tape_would_change_are_left_out() -> None:
    stations = [
        OLD,
        replace(OLD, station="gap", status="gap"),
        replace(OLD, station="dead", status="dead"),
        replace(OLD, station="new", status="new"),
        replace(OLD, station="young", planted=2020, girth_cm=22.0),
        replace(OLD, station="dying", faults="dying"),
        replace(OLD, station="known"),
    ]
    found = tape_value(stations, year=YEAR, taped=["Ash Ground/known"])
    assert [one.tree for one in found] == ["Ash Ground/3"]
    assert tape_value([], year=YEAR) == ()


def test_the_most_worth_comes_first_and_parts_add_up() -> None:
    stations = [
        replace(OLD, station=str(k), girth_cm=70.0 + 10.0 * k, faults=words)
        for k, words in enumerate(
            ["", "congested; rubbing limbs", "crack; long heavy limb", "lean"]
        )
    ]
    found = tape_value(stations, year=YEAR)
    nets = [one.net_h for one in found]
    assert nets == sorted(nets, reverse=True)
    for one in found:
        assert one.gain_h == pytest.approx(one.choosing_h + one.placing_h)
        assert one.with_h == pytest.approx(one.without_h + one.gain_h)
        assert min(one.choosing_h, one.placing_h, one.without_h) >= 0.0


def test_a_dearer_tree_is_more_worth_the_tape() -> None:
    found = [
        tape_value([OLD], year=YEAR, settings=Settings({"tree_value": hours}))[0].gain_h
        for hours in (20.0, 40.0, 80.0)
    ]
    assert found == sorted(found)


def test_more_wind_and_fewer_years_stood_mean_more_danger() -> None:
    def chance(site: Site) -> float:
        return tape_value([OLD], site, year=YEAR)[0].chance.value

    assert chance(Site(wind_speed_m_s=28.0)) > chance(Site(wind_speed_m_s=22.0))
    assert chance(Site(years_stood=5.0)) > chance(Site(years_stood=25.0))


def test_a_measure_not_taken_is_filled_in_from_the_others() -> None:
    """By the textbook for two measures: mean and variance given the other, and no more sure."""
    mean = np.array([1.0, 2.0])
    cov = np.array([[2.0, 0.6], [0.6, 0.5]])
    filled, left = completed(np.array([[2.0, np.nan], [np.nan, np.nan]]), mean, cov)
    assert filled[0] == pytest.approx([2.0, 2.0 + 0.6 / 2.0 * 1.0])
    assert left[0, 1, 1] == pytest.approx(0.5 - 0.6**2 / 2.0)
    assert left[0, 0, 0] == 0.0
    assert filled[1] == pytest.approx(mean)
    assert left[1] == pytest.approx(cov)


def test_features_are_what_the_walk_says() -> None:
    x = features([read_walk(replace(OLD, faults="crack; long heavy limb"), YEAR)], Site())[0]
    named = dict(zip(FEATURES, x, strict=True))
    assert named["cracked"] == named["heavy"] == named["weak and heavy"] == 1.0
    assert named["hollow"] == named["stone"] == 0.0
    assert named["dead"] == 1.0
    assert np.isnan(
        features([read_walk(StationRecord("1"), YEAR)], Site())[0][: len(MEASURED)]
    ).all()


def test_a_tree_unlike_all_others_is_less_sure() -> None:
    usual = tape_value([OLD], year=YEAR)[0]
    giant = tape_value([replace(OLD, girth_cm=420.0)], year=YEAR)[0]
    assert giant.sure < usual.sure
    assert giant.chance.value > 0.0


def test_the_sentence_and_the_document() -> None:
    one = tape_value([replace(OLD, faults="congested; rubbing limbs")], year=YEAR)[0]
    assert "of 100 trees like this about" in one.because
    assert "over" in one.because
    assert "\n" not in one.line()
    document = tape_to_dict([one])
    assert document["schema"] == "limbwright.tape/1"
    assert {"net_h", "gain_h", "cost_h", "minutes", "without", "because"} <= set(
        document["trees"][0]
    )
    json.dumps(document, allow_nan=False)

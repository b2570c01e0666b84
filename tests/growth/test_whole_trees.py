"""Old trees of the invented holding, grown and cut: loads, chance of failure and light go on."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from limbwright.demo import make_holding
from limbwright.growth.rates import Rates, rates, sample_rates
from limbwright.growth.season import GrownTree, after_season, dose_of, season_on
from limbwright.growth.thicken import thicken
from limbwright.light.tree import light_air
from limbwright.model.site import Site
from limbwright.model.skeleton import Bools, Skeleton
from limbwright.statics.assess import Assessment, assess
from limbwright.survey.build import build_skeleton

SITE = Site()
TREES = (0, 5, 6, 11)
"""Places of some surveyed trees in the invented holding."""


@cache
def old_tree(place: int) -> tuple[Skeleton, Rates]:
    survey = list(make_holding(7).surveys())[place]
    skeleton, _ = build_skeleton(survey)
    return skeleton, rates(skeleton.species, survey.station, year=2027)


def chance_of_any(found: Assessment) -> float:
    return float(1.0 - np.prod([1.0 - one.chance for one in found.limbs]))


def one_limb(skeleton: Skeleton) -> Bools:
    """Return the taped limb that carries most leaf of those under a quarter of the crown."""
    gone = np.zeros(skeleton.n, dtype=np.bool_)
    best = 0.0
    for limb in skeleton.limbs[1:]:
        here = np.zeros(skeleton.n, dtype=np.bool_)
        here[limb.first_segment] = True
        dose = dose_of(skeleton, here)
        if best < dose <= 0.25:
            best, gone = dose, here
    assert best > 0.02
    return gone


@pytest.mark.parametrize("place", TREES)
def test_the_chance_of_failure_of_a_tree_left_alone_does_not_leap(place: int) -> None:
    skeleton, one = old_tree(place)
    chances = [
        chance_of_any(assess(thicken(skeleton, one, float(y)), SITE)) for y in (0, 1, 2, 5, 10)
    ]
    yearly = np.diff(np.log(chances)) / np.diff([0, 1, 2, 5, 10])
    assert np.abs(yearly).max() < 0.05


@pytest.mark.parametrize("place", TREES[:2])
def test_a_cut_tree_is_assessed_and_lit_as_any_other(place: int) -> None:
    skeleton, one = old_tree(place)
    gone = one_limb(skeleton)
    found = after_season(skeleton, gone, one, years=1.0)
    again = assess(found, SITE)
    labels = [limb.label for limb in skeleton.limbs]
    assert {limb.label for limb in again.limbs} < set(labels)
    light = light_air(found, SITE).light
    assert 0.0 < light.mean < 1.0
    # the year after, the cut tree bears less than the same tree uncut
    uncut = assess(thicken(skeleton, one, 1.0), SITE)
    heavier = {limb.label: limb.wood_green_kg for limb in uncut.limbs}
    assert again.limbs[0].wood_green_kg < heavier[again.limbs[0].label]


def test_four_seasons_of_work_and_rest_in_a_row() -> None:
    skeleton, one = old_tree(TREES[0])
    tree = GrownTree.standing(skeleton)
    numbers = set(skeleton.segment_ids.tolist())
    crowns = [float(skeleton.leaf_area_m2.sum())]
    for working in (True, True, False, True):
        now = tree.skeleton
        gone = one_limb(now) if working else np.zeros(now.n, dtype=np.bool_)
        tree = season_on(tree, gone, one)
        crowns.append(float(tree.skeleton.leaf_area_m2.sum()))
        assert set(tree.skeleton.segment_ids.tolist()) <= numbers
        numbers = set(tree.skeleton.segment_ids.tolist())
        assert (tree.leaf_to_come_m2 >= 0.0).all()
    assert crowns[3] > crowns[2]  # the year of rest
    assert crowns[4] < crowns[0]


def test_bands_of_a_forecast_hold_the_middle() -> None:
    skeleton, one = old_tree(TREES[0])
    gone = one_limb(skeleton)
    middle = float(after_season(skeleton, gone, one, years=5.0).leaf_area_m2.sum())
    draws = [
        float(after_season(skeleton, gone, drawn, years=5.0).leaf_area_m2.sum())
        for drawn in sample_rates(one, np.random.default_rng(8), 60)
    ]
    low, high = np.quantile(draws, [0.05, 0.95])
    assert low < middle < high

"""What speaks for wood going: crowded leaf, counted over the ground."""

from __future__ import annotations

import numpy as np
import pytest
from tests.cuts.old_tree import Drawn, draw, old_apple

from limbwright.cuts.motives import Motives, crown, motives
from limbwright.cuts.plan import plan
from limbwright.cuts.weights import Settings
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Skeleton
from limbwright.statics.assess import assess


def speaks(tree: Skeleton, *, thinned: bool = True) -> Motives:
    settings, wood = Settings(), np.ones(tree.n)
    return motives(tree, wood, crown(tree, wood, settings), (), settings, thinned=thinned)


def upright(leaf_m2: float, rise_deg: float = 75.0) -> Skeleton:
    limbs = [
        Drawn("stem", "", 0.0, 300, 2.0, 0, 90),
        *(Drawn(str(k), "stem", 1.0, 90, 4.0, 72.0 * k, rise_deg) for k in range(5)),
    ]
    return draw(limbs, leaf_m2=leaf_m2)


def test_a_crown_of_less_than_two_layers_is_not_crowded() -> None:
    assert float(speaks(upright(4.0)).by_name["crowd"].sum()) == 0.0


def test_the_fuller_the_crown_the_more_speaks_for_thinning_it() -> None:
    gains = [float(speaks(upright(m)).by_name["crowd"].sum()) for m in (20.0, 60.0, 200.0)]
    assert gains == sorted(gains)
    assert 0.0 < gains[-1] < Settings()["crowd"]


def test_leaf_over_the_ground_is_the_leaf_counted_in_a_square_around_it() -> None:
    """One narrow column of known leaf: layers are leaf over the 2.25 m2 it is counted over."""
    tree = draw(
        [Drawn("stem", "", 0.0, 100, 2.0, 0, 90), Drawn("1", "stem", 1.0, 50, 1.0, 0, 90)],
        derived=False,
        leaf_m2=9.0,
    )
    layers = crown(tree, np.ones(tree.n), Settings()).layers
    assert layers[tree.leaf_area_m2 > 0.0] == pytest.approx(9.0 / 2.25)


def test_a_full_upright_crown_gets_a_dose_worth_the_ladder_and_an_open_one_little() -> None:
    full, open_ = plan(assess(upright(150.0))), plan(assess(upright(8.0, rise_deg=20.0)))
    assert full.dose >= 0.10
    assert any("crowd" in c.reason for c in full.cuts)
    assert not any("crowd" in c.reason for c in open_.cuts)


def test_weak_and_veteran_trees_are_not_thinned_for_light() -> None:
    assert float(speaks(upright(200.0), thinned=False).by_name["crowd"].sum()) == 0.0
    for word in ("poor", "veteran"):
        made = plan(assess(draw(old_apple(), leaf_m2=300.0)), StationRecord("1", condition=word))
        assert not any("crowd" in c.reason for c in made.cuts)

"""What the solver is told of a tree: a limb's union and its worst place are one risk."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.cuts.old_tree import draw, old_apple

from limbwright.cuts.build_problem import Built, build_problem
from limbwright.cuts.candidates import candidates
from limbwright.cuts.crossing import crossings
from limbwright.cuts.evaluate import evaluate
from limbwright.cuts.limits import limits
from limbwright.cuts.motives import crown, motives
from limbwright.cuts.results import Wishes
from limbwright.cuts.weights import Settings
from limbwright.statics.assess import Assessment, assess
from limbwright.trade.species import species


@pytest.fixture(scope="module")
def both() -> tuple[Assessment, Built]:
    """An apple with two limbs so long and thin that both their places are in danger."""
    held = assess(draw(old_apple(L1={"length_m": 7.5}, L3={"length_m": 8.0}), leaf_m2=110.0))
    s, settings, kind = held.skeleton, Settings(), species("apple")
    bounds = limits(s, held.loads.wood_kg, kind, None, Wishes(), settings)
    pairs = crossings(s, settings)
    speaks = motives(s, held.loads.wood_kg, crown(s, held.loads.wood_kg, settings), pairs, settings)
    offer = candidates(held, kind, pairs, Wishes(), settings, speaks.total)
    return held, build_problem(
        held, offer.candidates, offer.forbidden, pairs, speaks, bounds, kind, settings
    )


def test_the_risk_is_that_of_each_limbs_worse_place_now_and_after_any_cut(
    both: tuple[Assessment, Built],
) -> None:
    held, built = both
    limb = held.skeleton.limb[built.section_segment]
    nothing = np.zeros(built.base.size, dtype=np.bool_)
    for node in range(built.base.size):
        gone = nothing.copy()
        if node:
            gone[node : built.problem.end[node]] = True
        priced = evaluate(built.problem, gone)
        worst = np.zeros(len(held.skeleton.limbs))
        np.maximum.at(worst, limb, priced.section_cost)
        assert priced.terms["risk"] == pytest.approx(float(worst.sum()))


def test_counting_both_places_would_overstate_the_risk(both: tuple[Assessment, Built]) -> None:
    _, built = both
    nothing = np.zeros(built.base.size, dtype=np.bool_)
    twice = replace(built.problem, section_group=None)
    once = evaluate(built.problem, nothing).terms["risk"]
    assert evaluate(twice, nothing).terms["risk"] > 1.05 * once

"""A limb's union and its worst place count as one risk, near the greater of the two."""

from __future__ import annotations

import numpy as np
import pytest
from tests.cuts.old_tree import draw, old_apple

from limbwright.cuts import build_problem as building
from limbwright.cuts.build_problem import Built, build_problem
from limbwright.cuts.candidates import candidates
from limbwright.cuts.crossing import crossings
from limbwright.cuts.evaluate import evaluate
from limbwright.cuts.limits import limits
from limbwright.cuts.motives import crown, motives
from limbwright.cuts.results import Wishes
from limbwright.cuts.weights import Settings
from limbwright.model.skeleton import Floats
from limbwright.statics.assess import Assessment, assess
from limbwright.trade.species import species


def heavy() -> Assessment:
    """An apple with two limbs so long and thin that both their places are in danger."""
    return assess(draw(old_apple(L1={"length_m": 7.5}, L3={"length_m": 8.0}), leaf_m2=110.0))


def built_for(held: Assessment) -> Built:
    s, settings, kind = held.skeleton, Settings(), species("apple")
    bounds = limits(s, held.loads.wood_kg, kind, None, Wishes(), settings)
    pairs = crossings(s, settings)
    speaks = motives(s, held.loads.wood_kg, crown(s, held.loads.wood_kg, settings), pairs, settings)
    offer = candidates(held, kind, pairs, Wishes(), settings, speaks.total)
    return build_problem(
        held, offer.candidates, offer.forbidden, pairs, speaks, bounds, kind, settings
    )


@pytest.fixture
def both(monkeypatch: pytest.MonkeyPatch) -> tuple[Assessment, Built, Built]:
    """The problem as planned, and the same with both places of a limb counted in full."""
    held = heavy()
    one = built_for(held)
    monkeypatch.setattr(building, "one_place", lambda problem, pairs: np.ones(problem.sections))
    return held, one, built_for(held)


def greater(held: Assessment, built: Built, cost: Floats) -> float:
    """Return the sum over limbs of the greatest risk of any of their sections [h]."""
    worst = np.zeros(len(held.skeleton.limbs))
    np.maximum.at(worst, held.skeleton.limb[built.section_segment], cost)
    return float(worst.sum())


def test_the_risk_now_is_that_of_each_limbs_worse_place(
    both: tuple[Assessment, Built, Built],
) -> None:
    held, one, twice = both
    nothing = np.zeros(one.base.size, dtype=np.bool_)
    summed = evaluate(twice.problem, nothing).section_cost
    told = float(evaluate(one.problem, nothing).section_cost.sum())
    right = greater(held, twice, summed)
    assert float(summed.sum()) > 1.05 * right, "the tree shows nothing: no limb has two places"
    assert told == pytest.approx(right, rel=0.02)


def test_after_any_single_cut_the_risk_stays_near_the_worse_place(
    both: tuple[Assessment, Built, Built],
) -> None:
    held, one, twice = both
    for node in range(1, one.base.size):
        gone = np.zeros(one.base.size, dtype=np.bool_)
        gone[node : one.problem.end[node]] = True
        summed = evaluate(twice.problem, gone).section_cost
        told = float(evaluate(one.problem, gone).section_cost.sum())
        assert told <= float(summed.sum()) + 1e-9
        assert told == pytest.approx(greater(held, twice, summed), rel=0.10)

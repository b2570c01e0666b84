"""A folded tree costs what the whole one does; a season's model tells the price of its answers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.cuts.problems import every_plan
from tests.stages.grown import every_sequence, random_years

from limbwright.stages.fold import fold
from limbwright.stages.price import prices
from limbwright.stages.turn import Turn


@pytest.mark.parametrize("first", range(0, 40, 10))
def test_every_sequence_of_a_folded_tree_costs_the_same_and_breaks_the_same(first: int) -> None:
    for seed in range(first, first + 10):
        years = random_years(seed, 7, 2, cases=3, rules=seed % 2 == 0)
        may = np.random.default_rng(seed).random(years.nodes) < 0.5
        small = fold(years, may)
        small.years.check()
        every = every_sequence(small.years)
        assert bool((small.part(small.whole(every)) == every).all())
        here, there = prices(small.years, every), prices(years, small.whole(every))
        assert here.objective_h + small.fixed_h == pytest.approx(there.objective_h, abs=1e-9)
        assert bool((here.broken == there.broken).all()), seed


def best_of(turn: Turn, gap_h: float = 1e-9) -> tuple[np.ndarray | None, float, float]:
    """Return the best decision of a turn, its price and its bound."""
    turn.add_planes(turn.before)
    best, best_h, told = None, math.inf, -math.inf
    for _ in range(60):
        answer = turn.solve_whole(gap_h, 10.0)
        if answer.gone is None:
            break
        told = answer.bound_h
        new = turn.add_planes(answer.gone)
        price = turn.price_h(answer.gone)
        if price < best_h:
            best, best_h = answer.gone, price
        if new == 0:
            break
    else:
        raise AssertionError("the same plane is added again and again")
    return best, best_h, told


@pytest.mark.parametrize("seed", range(12))
def test_a_season_is_decided_best_for_all_later_years(seed: int) -> None:
    years = random_years(seed, 6, 3, cases=3, rules=seed % 2 == 0)
    every = every_sequence(years)
    found = prices(years, every)
    fits = ~found.broken.any(axis=(1, 2))
    for y in range(3):
        still = (every[:, y:] == every[:, -1:]).all(axis=(1, 2))  # no later season cuts
        some = every[fits & still]
        before = some[-1].copy() if len(some) else np.zeros_like(every[0])
        before[y:] = before[y - 1] if y else False
        same = fits & still & (every[:, :y] == before[:y]).all(axis=(1, 2))
        turn = Turn(years, before, y, years.dose, None)
        best, best_h, told = best_of(turn)
        if not same.any():
            assert best is None
            continue
        assert best is not None
        assert told <= best_h + 1e-5
        here = float(prices(years, turn.sequence(best)[None]).objective_h[0])
        assert here == pytest.approx(float(found.objective_h[same].min()), abs=1e-5)


@pytest.mark.parametrize("seed", range(12))
def test_a_season_decided_again_keeps_what_the_others_take_and_is_never_dearer(seed: int) -> None:
    years = random_years(seed, 6, 3, cases=3, rules=seed % 2 == 0)
    every = every_sequence(years)
    found = prices(years, every)
    fits = ~found.broken.any(axis=(1, 2))
    plans = every_plan(years.seasons[0])
    rng = np.random.default_rng(seed)
    for at in rng.permutation(np.flatnonzero(fits))[:4]:
        one = every[at]
        for y in range(3):
            turn = Turn(years, one, y, years.dose, None)
            assert bool((turn.sequence(one[y]) == one).all())
            may = plans[(plans | ~turn.before).all(axis=1)]
            told = np.asarray([turn.price_h(p) for p in may])
            tried = prices(years, np.stack([turn.sequence(p) for p in may]))
            # both leave the same out, whatever is decided
            assert told - told[0] == pytest.approx(tried.objective_h - tried.objective_h[0])
            best, best_h, bound = best_of(turn)
            assert best is not None
            now = prices(years, turn.sequence(best)[None])
            assert not now.broken.any()
            assert float(now.objective_h[0]) <= float(found.objective_h[at]) + 1e-5
            assert bound <= best_h + 1e-5

"""A folded tree costs what the whole one does; a season's model tells the price of its answers."""

from __future__ import annotations

import math

import numpy as np
import pytest
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
        turn = Turn(years, before, y, float(years.dose[y]), None)
        turn.add_planes(turn.before.astype(np.float64))
        best, told = math.inf, -math.inf
        for _ in range(60):
            answer = turn.solve_whole(1e-9, 10.0)
            if answer.gone is None:
                break
            told = answer.bound_h
            new = turn.add_planes(answer.gone.astype(np.float64))
            assert turn.fits(answer.gone)
            best = min(best, turn.price_h(answer.gone))
            if new == 0:
                break
        if not same.any():
            assert math.isinf(best)
            continue
        assert told <= best + 1e-5
        # prices of a turn leave out what is the same whatever goes: tell them from one sequence
        other = every[same][0]
        apart = float(found.objective_h[same][0]) - turn.price_h(other[y])
        assert best + apart == pytest.approx(float(found.objective_h[same].min()), abs=1e-5)

"""The seasons' model against every sequence of small trees, and never beyond its bounds."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.stages.grown import every_sequence, no_light, random_years

from limbwright.cuts.evaluate import evaluate
from limbwright.errors import PlanError
from limbwright.stages.best import best_of_years
from limbwright.stages.joint import Joint
from limbwright.stages.price import price, prices, standing_leaf_m2
from limbwright.stages.rhythm import Rhythm
from limbwright.stages.search import Bench, improve
from limbwright.stages.solve import Found, prove, roll
from limbwright.stages.years import Years

FREE = Rhythm(hard=1.0, after_hard=1.0, running=9, rest=0)
EXACT = 1e-9


def bench(years: Years, rule: Rhythm = FREE) -> Bench:
    return Bench(years, rule, (), None)


def small(seed: int) -> tuple[Years, np.ndarray, tuple[float, ...]]:
    """Return a tree of 3 to 6 candidates over 2 or 3 seasons, some of which rest or go lightly."""
    seasons = 2 + seed % 2
    nodes = 4 + seed % 3 if seasons == 2 else 3 + seed % 2
    years = random_years(seed, nodes, seasons, cases=3, rules=seed % 5 != 0)
    doses, levels = years.dose.copy(), ()
    if seed % 4 == 1:
        doses[1] = 0.0
    if seed % 4 == 2:
        doses[-1] *= 0.5
        levels = (float(doses[-1]),)
    return years, doses, levels


@pytest.mark.parametrize("first", range(0, 48, 12))
def test_all_seasons_at_once_finds_the_best_of_every_sequence(first: int) -> None:
    for seed in range(first, first + 12):
        years, doses, levels = small(seed)
        years.check()
        every = every_sequence(years)
        found = prices(years, every, doses)
        fits = ~found.broken.any(axis=(1, 2))
        model = Joint(years, doses=levels)
        model.hold_to(doses)
        linear = model.solve_linear()
        nothing = price(years, np.zeros(every.shape[1:], dtype=np.bool_)).objective_h
        begin = Found(None, math.inf, -1e6 if linear is None else linear[1])
        weighed = bench(replace(years, dose=doses))
        proven = prove(weighed, model, begin, nothing, gap=EXACT)
        if not fits.any():
            assert proven.gone is None, seed
            continue
        best = float(found.objective_h[fits].min())
        assert linear is not None
        assert linear[1] <= best + 1e-6, seed
        assert proven.gone is not None
        assert proven.objective_h == pytest.approx(best, abs=1e-5), seed
        assert proven.bound_h <= best + 1e-5, seed
        rolled = roll(weighed, doses, nothing, linear[1], gap=1e-6)
        if rolled is not None:
            assert weighed.one_h(rolled) >= best - 1e-6


@pytest.mark.parametrize("seed", range(1, 9))
def test_the_answer_lies_between_the_best_of_all_and_doing_nothing(seed: int) -> None:
    years = random_years(seed, 5, 2, rules=False)
    rule = Rhythm(hard=0.15, after_hard=0.1, running=1, rest=1)
    every = every_sequence(years)
    price_h = bench(years, rule).price_h(every)
    found = best_of_years(years, no_light(years), rule, proof=True, gap=EXACT)
    assert found.objective_h == pytest.approx(float(price_h.min()), abs=1e-5)
    assert found.bound_h <= float(price_h.min()) + 1e-5
    quick = best_of_years(years, no_light(years), rule)
    assert float(price_h.min()) - 1e-6 <= quick.objective_h <= quick.nothing_h + 1e-6
    assert quick.bound_h <= float(price_h.min()) + 1e-5


def test_one_season_is_priced_as_ever() -> None:
    for seed in range(6):
        years = random_years(seed, 8, 1, rules=False)
        p = years.seasons[0]
        once = replace(p, gone_gain_h=p.gone_gain_h - years.once_h[0])
        for gone in every_sequence(years)[:60, 0]:
            was, now = evaluate(once, gone), price(years, gone[None])
            assert now.objective_h == pytest.approx(was.objective_h, abs=1e-9)
            assert {name for _, name in now.violated} == set(was.violated)
            assert now.taken_m2[0] == pytest.approx(was.leaf_m2)


def test_what_grew_again_counts_in_the_crown_and_falls_with_its_wood() -> None:
    years = random_years(5, 5, 3, rules=False)
    p = years.seasons[0]
    leaf = int(np.flatnonzero(p.end == np.arange(p.nodes) + 1)[-1])
    gone = np.zeros((3, p.nodes), dtype=np.bool_)
    gone[:, leaf] = True
    standing = standing_leaf_m2(years, gone)
    left = years.leaf_m2.sum(axis=1) - years.leaf_m2[:, leaf]
    back = years.regrown * years.leaf_m2[:, leaf]
    assert standing[1:] == pytest.approx(left[1:] + back[1:])
    up = int(p.parent[leaf])
    if up > 0:
        gone[2, up : p.end[up]] = True
        now = price(years, gone)
        fresh = gone[2] & ~gone[1]
        assert now.taken_m2[2] == pytest.approx(float(fresh @ years.leaf_m2[2]) + back[2])


def test_work_is_paid_where_a_cut_is_made_and_never_for_what_leaves_with_its_parent() -> None:
    years = random_years(5, 5, 2, rules=False)
    p = years.seasons[0]
    up = next(i for i in range(1, p.nodes) if p.end[i] > i + 1)
    gone = np.zeros((2, p.nodes), dtype=np.bool_)
    gone[:, up + 1 : p.end[up]] = True
    gone[1, up] = True
    cuts = price(years, gone).cuts
    assert cuts[1].sum() == 1
    assert bool(cuts[1, up])
    assert bool(cuts[0, up + 1])


@given(seed=st.integers(0, 400))
@settings(max_examples=12, deadline=None)
def test_exchanges_never_make_a_sequence_worse_and_keep_its_limits(seed: int) -> None:
    years = random_years(seed, 12, 3, rules=seed % 2 == 0)
    rule = Rhythm(hard=0.2, after_hard=0.1, running=2, rest=1)
    nothing = np.zeros((3, years.nodes), dtype=np.bool_)
    weighed = bench(years, rule)
    before = weighed.one_h(nothing)
    after = improve(weighed, nothing)
    if not math.isfinite(before):
        assert bool((after == nothing).all())
        return
    assert weighed.one_h(after) <= before + 1e-9
    assert not price(years, after).violated


@given(seed=st.integers(0, 400))
@settings(max_examples=10, deadline=None)
def test_no_plane_lies_above_the_risk_of_any_sequence(seed: int) -> None:
    years = random_years(seed, 5, 2, rules=False)
    model = Joint(years)
    every = every_sequence(years)
    rng = np.random.default_rng(seed)
    for at in rng.integers(0, len(every), 4):
        model.add_planes(every[at].astype(np.float64))
    linear = model.solve_linear(1)
    found = prices(years, every)
    fits = ~found.broken.any(axis=(1, 2))
    assert linear is not None
    assert linear[1] <= float(found.objective_h[fits].min()) + 1e-6


def test_the_same_tree_gives_the_same_sequence() -> None:
    years = random_years(7, 14, 3, rules=False)
    rule = Rhythm(hard=0.2, after_hard=0.1, running=4, rest=1)
    one, two = (best_of_years(years, no_light(years), rule) for _ in range(2))
    assert bool((one.gone == two.gone).all())
    assert one.bound_h == two.bound_h


def test_a_limb_both_kept_and_wanted_gone_is_refused() -> None:
    years = random_years(7, 6, 2, rules=False)
    p = years.seasons[0]
    mark = np.zeros(p.nodes, dtype=np.bool_)
    mark[3] = True
    clash = replace(
        years, seasons=tuple(replace(q, forced=mark, forbidden=mark) for q in years.seasons)
    )
    with pytest.raises(PlanError):
        best_of_years(clash, no_light(clash), FREE)


def test_a_limb_that_must_go_may_wait_for_room_in_a_later_season() -> None:
    years = random_years(7, 8, 3, rules=False)
    p = years.seasons[0]
    beyond = [float(p.leaf_m2[i : p.end[i]].sum()) for i in range(p.nodes)]
    tips = [i for i in range(1, p.nodes) if p.end[i] == i + 1]
    a, b = sorted(tips, key=lambda i: beyond[i])[-2:]
    share = (max(beyond[a], beyond[b]) * 1.1) / float(p.leaf_m2.sum())
    must = np.zeros(p.nodes, dtype=np.bool_)
    must[[a, b]] = True
    tight = replace(
        years,
        seasons=tuple(replace(q, forced=must) for q in years.seasons),
        dose=np.full(3, share),
    )
    found = best_of_years(tight, no_light(tight), FREE)
    assert bool(found.gone[-1, [a, b]].all())
    assert not found.priced.violated
    assert int(np.argmax(found.gone[:, a])) != int(np.argmax(found.gone[:, b]))

"""Crowns lit together have the light each has alone."""

from __future__ import annotations

from dataclasses import asdict

import numpy as np
import pytest
from tests.light.old_trees import old_trees

from limbwright.light.canopy import canopy, shared_grid
from limbwright.light.crown import crown_light, crown_lights
from limbwright.light.sky import season_sky, winter_sky
from limbwright.light.summary import Standing
from limbwright.model import Site, Skeleton


def upper_half(one: Skeleton) -> np.ndarray:
    """What springs from the upper half of the tree, gone."""
    high = one.start_m[:, 2] > float(np.median(one.start_m[:, 2]))
    gone = np.zeros(one.n, dtype=np.bool_)
    for i in np.flatnonzero(high):
        gone[one.in_subtree(int(i))] = True
    gone[0] = False
    return gone


@pytest.mark.parametrize("spacing_m", [None, 8.0])
def test_crowns_lit_together_have_the_light_each_has_alone(spacing_m: float | None) -> None:
    """Of different trees in one grid, of different skies, in leaf and bare, in the order asked."""
    trees = old_trees()[:2]
    grid = shared_grid(trees, spacing_m=spacing_m)
    first, second = (canopy(one, grid=grid) for one in trees)
    own = canopy(trees[1])
    summer, winter = season_sky(52.0), winter_sky(52.0)
    asked = [
        (first, summer, True),
        (own, summer, True),
        (second, winter, False),
        (first.without(~upper_half(trees[0])), summer, True),
        (second, season_sky(52.0, directions=24), True),
    ]
    together = crown_lights(asked)
    for (held, sky, in_leaf), found in zip(asked, together, strict=True):
        alone = crown_light(held, sky, in_leaf=in_leaf)
        assert found.canopy is held
        assert found.field == pytest.approx(alone.field, abs=1e-6)
        assert found.segments == pytest.approx(alone.segments, abs=1e-6, nan_ok=True)
        assert (found.mean, found.ground) == pytest.approx((alone.mean, alone.ground), abs=1e-6)


def test_a_shared_grid_holds_every_tree_whole() -> None:
    """No leaf is pressed into the rim, and the light is that of a tree's own grid within 0.01."""
    trees = old_trees()[:3]
    grid = shared_grid(trees)
    for one in trees:
        held, own = canopy(one, grid=grid), canopy(one)
        leaf = held.leaf_in_cells()
        assert leaf.sum() == pytest.approx(float(one.leaf_area_m2.sum()))
        # the margin of one cell at the sides and above stays empty
        rim = np.ones(grid.shape, dtype=np.bool_)
        rim[1:-1, 1:-1, :-1] = False
        assert leaf[rim].sum() == 0.0
        sky = season_sky(52.0)
        assert crown_light(held, sky).mean == pytest.approx(crown_light(own, sky).mean, abs=0.01)


@pytest.mark.parametrize("spacing_m", [None, 9.0])
def test_before_and_after_a_cut_is_what_each_asked_alone_would_be(spacing_m: float | None) -> None:
    one = old_trees()[0]
    gone = upper_half(one)
    assert 0 < gone.sum() < one.n - 1
    site = Site(spacing_m=spacing_m)
    before, after = Standing(one, site).before_and_after(gone)
    stands = Standing(one, site)
    assert asdict(before) == pytest.approx(
        asdict(stands.light_air(leaf_of=~gone)), abs=1e-6, nan_ok=True
    )
    assert asdict(after) == pytest.approx(asdict(stands.light_air(~gone)), abs=1e-6, nan_ok=True)
    assert after.mean > before.mean

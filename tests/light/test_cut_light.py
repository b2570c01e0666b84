"""What cuts give in light, on the plan's coarse grid, against the whole crown lit anew."""

from __future__ import annotations

import numpy as np
import pytest
from tests.light.old_trees import old_trees

from limbwright.light.canopy import canopy
from limbwright.light.crown import crown_light, relight
from limbwright.light.cuts import cut_light, worth_of_light
from limbwright.light.sky import season_sky
from limbwright.model import Skeleton
from limbwright.trade.parameters import parameters

PLAN_SKY = season_sky(52.0, directions=int(parameters("light")["sky.plan_directions"].value))


def cuts_of(one: Skeleton, most: int = 14) -> tuple[np.ndarray, np.ndarray]:
    """The segments each of some cuts takes, ``(K, n)``, and the piece each segment is in."""
    firsts = [limb.first_segment for limb in one.limbs[1:]]
    leafy = [i for i in firsts if one.leaf_area_m2[one.in_subtree(i)].sum() > 2.0][:most]
    off = np.zeros((len(leafy), one.n), dtype=bool)
    for k, first in enumerate(leafy):
        off[k, one.in_subtree(first)] = True
    return off, np.unique(off.T, axis=0, return_inverse=True)[1].ravel()


def test_gains_of_cuts_are_those_of_the_crown_lit_anew() -> None:
    """On a grid as fine as the usual one and a sky of 72 directions each cut's gain: all cuts
    together at most a fifth too high on the coarse grid, and in the same order."""
    for one in old_trees(3):
        off, piece = cuts_of(one)
        gone = np.zeros((len(off), piece.max() + 1), dtype=bool)
        for k in range(len(off)):
            gone[k, piece[off[k]]] = True
        found = cut_light(one, PLAN_SKY, piece).gained(gone)
        held = canopy(one)
        before = crown_light(held, season_sky(52.0))
        exact = []
        for taken in off:
            after = relight(before, ~taken)
            more = worth_of_light(after.field) - worth_of_light(before.field)
            stays = after.canopy.leaf_in_cells()
            exact.append((stays * more).sum() / one.leaf_area_m2.sum())
        slope = (found @ np.array(exact)) / (np.array(exact) @ np.array(exact))
        assert 0.95 < slope < 1.2
        assert np.abs(found - exact).max() < 0.2 * max(exact)
        assert np.corrcoef(found, exact)[0, 1] > 0.97


def test_no_cut_gains_nothing_and_two_no_less_than_one() -> None:
    one = old_trees(1)[0]
    off, piece = cuts_of(one, 3)
    light = cut_light(one, PLAN_SKY, piece)
    none = np.zeros((1, piece.max() + 1), dtype=bool)
    assert light.gained(none) == pytest.approx([0.0], abs=1e-5)
    whole = light.mean_light(none, ~none[0])[0]
    assert 0.0 < whole < 1.0
    # the leaf of the whole tree, itself still shading where nothing is gone
    some = np.isin(np.arange(piece.max() + 1), piece[off[0]])[None]
    assert light.mean_light(some, ~some[0])[0] > light.mean_light(none, ~some[0])[0]
    assert light.gained(np.zeros_like(none) | True) == pytest.approx([0.0])


def test_a_cut_s_light_does_not_hang_on_room_left_empty() -> None:
    """The grid is cropped to the leaf and what stands beside and above it. Whole or cropped, the
    mean light of the tree's leaf is that of the coarse crown to 0.02."""
    for one in old_trees(3):
        _, piece = cuts_of(one)
        light = cut_light(one, PLAN_SKY, piece)
        none = np.zeros((1, piece.max() + 1), dtype=bool)
        ends = np.concatenate([one.start_m, one.end_m])
        across = parameters("light")["grid.plan_cells_across"].value
        coarse = canopy(one, cell_m=float(np.ptp(ends, axis=0).max() / across))
        found = light.mean_light(none, ~none[0])[0]
        assert found == pytest.approx(crown_light(coarse, PLAN_SKY).mean, abs=0.02)

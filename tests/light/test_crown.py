"""Light, air and shape of whole trees."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.light.old_trees import old_trees
from tests.trees import worked_tree as tree

from limbwright.errors import InputError
from limbwright.light.air import LINES, centre_filling, openness
from limbwright.light.canopy import canopy
from limbwright.light.crown import crown_light, light_at, relight
from limbwright.light.hat import hat_share, hat_test
from limbwright.light.shape import bowl_gap, close_limbs, inward_growth
from limbwright.light.sky import even_sky, season_sky, winter_sky
from limbwright.light.summary import Standing
from limbwright.model import Site, Skeleton
from limbwright.model.skeleton import Limb, State
from limbwright.trade.parameters import parameters

SKY = season_sky(52.0)


def cut(one: Skeleton, *limbs: int) -> np.ndarray:
    kept = np.ones(one.n, dtype=bool)
    for limb in limbs:
        kept[one.in_subtree(one.limbs[limb].first_segment)] = False
    return kept


def forked(
    parent: list[int], start: list, end: list, limb: list[int], leaf: list[float]
) -> Skeleton:
    """A tree of several limbs, all wood 80 mm; limb 0 is the stem."""
    span = [float(np.linalg.norm(np.subtract(b, a))) for a, b in zip(start, end, strict=True)]
    limbs = [
        Limb(
            label=str(k),
            parent=-1 if k == 0 else 0,
            first_segment=limb.index(k),
            at_m=0.0,
            diameter_mm=80.0,
            length_m=sum(length for length, of in zip(span, limb, strict=True) if of == k),
            bearing_deg=0.0,
            rise_deg=0.0,
        )
        for k in range(max(limb) + 1)
    ]
    return Skeleton.build(
        tree="worked example",
        species="apple",
        parent=parent,
        start_m=np.array(start, dtype=float),
        end_m=np.array(end, dtype=float),
        start_diameter_mm=np.full(len(parent), 80.0),
        end_diameter_mm=np.full(len(parent), 80.0),
        leaf_area_m2=np.array(leaf, dtype=float),
        limb=limb,
        limbs=limbs,
    )


def bowl(limbs: int = 8, *, centre_m2: float = 0.0, skip: tuple[int, ...] = ()) -> Skeleton:
    """A goblet: limbs all round at 45 degrees with leaf on their outer halves; and its centre."""
    turn = [2 * np.pi * (k + 0.3) / limbs for k in range(limbs) if k not in skip]
    start, end, parent, leaf, limb = [(0, 0, 0)], [(0, 0, 2)], [-1], [0.0], [0]
    for k, t in enumerate(turn, start=1):
        middle = (1.5 * np.sin(t), 1.5 * np.cos(t), 3.2)
        start += [(0, 0, 2), middle]
        end += [middle, (3 * np.sin(t), 3 * np.cos(t), 4.4)]
        parent += [0, len(parent)]
        leaf += [0.0, 12.0]
        limb += [k, k]
    return forked(
        [*parent, 0],
        [*start, (0, 0, 2)],
        [*end, (0, 0, 4.4)],
        [*limb, len(turn) + 1],
        [*leaf, centre_m2],
    )


def test_leaf_and_wood_are_all_in_the_cells() -> None:
    for one in old_trees():
        for spacing in (None, 9.0):
            held = canopy(one, spacing_m=spacing)
            assert held.leaf_in_cells().sum() == pytest.approx(one.leaf_area_m2.sum())
            wood = np.pi * one.length_m * (one.start_diameter_mm + one.end_diameter_mm) / 4000
            assert held.wood_in_cells().sum() > wood.sum() * 0.999


def test_a_leafless_twigless_crown_s_wood_is_half_its_surface() -> None:
    """Cauchy: a convex body shows a quarter of its surface on average, as leaf of half of it."""
    pole = tree([-1], [(0, 0, 0)], [(0, 0, 4)], [200], [200])
    held = canopy(pole)
    assert held.wood_in_cells().sum() == pytest.approx(np.pi * 0.2 * 4 / 2)


def test_an_open_place_has_all_the_light_and_a_crown_less_below() -> None:
    one = bowl(centre_m2=40.0)
    light = crown_light(canopy(one), SKY)
    assert (light.field <= 1.0 + 1e-6).all()
    above = light_at(light, np.array([[0.0, 0.0, 50.0], [0.0, 0.0, 4.9]]))
    assert above[0] == 1.0
    assert above[1] > 0.8
    low, high = light_at(light, np.array([[0.0, 0.0, 2.2], [0.0, 0.0, 4.2]]))
    assert low < high
    assert 0.0 < light.ground < light.ground_open <= 1.0


def test_winter_is_lighter_than_summer_and_neighbours_darken() -> None:
    for one in old_trees():
        alone = canopy(one)
        summer = crown_light(alone, SKY)
        bare = crown_light(alone, SKY, in_leaf=False)
        assert bare.mean > summer.mean
        assert crown_light(canopy(one, spacing_m=9.0), SKY).ground < summer.ground
        assert crown_light(alone, winter_sky(52.0), in_leaf=False).mean > summer.mean
        assert summer.fruiting <= summer.flowering <= 1.0


def test_taking_out_the_centre_lets_light_into_the_rest() -> None:
    one = bowl(centre_m2=60.0)
    before = crown_light(canopy(one), SKY)
    kept = np.ones(one.n, dtype=bool)
    kept[-1] = False
    after = relight(before, kept)
    stays = np.flatnonzero(one.leaf_area_m2[:-1] > 0)
    assert (after.segments[stays] > before.segments[stays]).all()
    assert np.isnan(after.segments[-1])
    assert after.mean > before.mean


@given(st.integers(0, 3), st.integers(1, 4))
@settings(max_examples=12, deadline=None)
def test_a_cut_never_darkens_what_stays(which: int, limb: int) -> None:
    one = old_trees()[which]
    before = crown_light(canopy(one), even_sky(24))
    after = relight(before, cut(one, limb))
    both = ~np.isnan(after.segments)
    assert (after.segments[both] >= before.segments[both] - 1e-5).all()


def test_together_cuts_give_more_than_each_alone() -> None:
    one = bowl(limbs=4, centre_m2=60.0)
    held = canopy(one)
    light = crown_light(held, SKY)
    worth = held.leaf_in_cells()

    def gain(*segments: int) -> float:
        kept = np.ones(one.n, dtype=bool)
        for i in segments:
            kept[one.in_subtree(i)] = False
        return float(((relight(light, kept).field - light.field) * worth).sum())

    assert gain(1, one.n - 1) >= gain(1) + gain(one.n - 1) - 1e-6


def test_grids_that_cannot_be_are_refused() -> None:
    with pytest.raises(InputError, match="apart"):
        canopy(bowl(), spacing_m=0.1)
    with pytest.raises(InputError, match="cell"):
        canopy(bowl(), cell_m=-1.0)


def test_seen_through_from_the_side() -> None:
    """By hand: a wall of leaf 1 m thick, 4 m wide and high, looked at square: exp(-0.5 LAD w)."""
    cells = []
    for x in np.arange(-1.95, 2, 0.1):
        cells += [(x, 0.0, z) for z in np.arange(0.05, 4, 0.1)]
    start = [(x, -0.5, z) for x, _, z in cells]
    end = [(x, 0.5, z) for x, _, z in cells]
    n = len(cells)
    wall = tree([-1, *range(n - 1)], start, end, [1] * n, [1] * n, leaf_area_m2=[16 / n] * n)
    held = canopy(wall, cell_m=0.2, leaf_reach_m=0.01)
    weight = parameters("light")["leaf.clumping"].value
    weight *= np.sqrt(parameters("light")["leaf.absorptance"].value)
    seen, bare = openness(held)
    assert LINES[0][1] == "north-south"
    square = np.exp(-0.5 * (weight * 16 / (4 * 1 * 4) + np.pi * 0.001 * n / 2 / 16))
    assert seen.share[0, :2] == pytest.approx([square] * 2, abs=0.03)
    assert seen.share[2].mean() < seen.share[0].mean() - 0.2  # along the wall one sees less
    assert bare.mean > 0.9


def test_a_hollow_crown_and_a_filled_one() -> None:
    assert centre_filling(canopy(bowl())) < 0.5
    assert centre_filling(canopy(bowl(centre_m2=200.0))) > 1.0
    assert np.isnan(centre_filling(canopy(tree([-1], [(0, 0, 0)], [(0, 0, 4)], [200], [200]))))


def test_the_hat() -> None:
    """Nothing stops it in an empty crown; a fence of wood stops it always; cutting only helps."""
    rails = [(-3, 0, z) for z in np.arange(0.2, 8, 0.2)]
    n = len(rails)
    fence = tree(
        [-1, *range(n - 1)],
        rails,
        [(3, 0, z) for _, _, z in rails],
        [50] * n,
        [50] * n,
        leaf_area_m2=[1.0] * n,
    )
    held = canopy(fence)
    test = hat_test(fence, held)
    assert hat_share(test) < 0.06  # only throws along the rails, or over them
    assert hat_share(test, np.zeros(n, dtype=bool)) == 1.0
    twigs = replace(fence, start_diameter_mm=np.full(n, 5.0), end_diameter_mm=np.full(n, 5.0))
    assert hat_share(hat_test(twigs, canopy(twigs))) == 1.0


def test_distance_of_throw_and_wood_is_that_of_a_fine_search() -> None:
    """Brute force: no point of a piece that does not stop the hat comes within its reach."""
    one = old_trees()[0]
    test = hat_test(one, canopy(one), throws=40)
    share = np.linspace(0, 1, 60)
    point = one.start_m[:, None] + share[None, :, None] * (one.end_m - one.start_m)[:, None]
    thick = np.maximum(one.start_diameter_mm, one.end_diameter_mm) >= 10
    reach = 0.15 + (one.start_diameter_mm + one.end_diameter_mm) / 4000
    for t in range(40):
        off = point - test.through_m[t]
        flat = off - (off @ test.along[t])[..., None] * test.along[t]
        near = np.linalg.norm(flat, axis=2).min(axis=1)
        assert (near[thick & ~test.stopped_by[t]] > reach[thick & ~test.stopped_by[t]] - 1e-9).all()
        assert (near[test.stopped_by[t]] < reach[test.stopped_by[t]] + 0.01).all()
        assert not test.stopped_by[t][~thick].any()


@given(st.integers(0, 3), st.integers(1, 5))
@settings(max_examples=10, deadline=None)
def test_a_cut_never_stops_more_throws(which: int, limb: int) -> None:
    one = old_trees()[which]
    test = hat_test(one, canopy(one), throws=128)
    assert hat_share(test, cut(one, limb)) >= hat_share(test)


def limbs_at(*ends: tuple[tuple[float, float, float], tuple[float, float, float]]) -> Skeleton:
    """A stem of 2 m and limbs from one place to another, none carrying another."""
    n = len(ends) + 1
    start, end = [(0, 0, 0), *(a for a, _ in ends)], [(0, 0, 2), *(b for _, b in ends)]
    return forked([-1, *[0] * (n - 1)], start, end, list(range(n)), [1.0] * n)


def test_limbs_that_run_too_close() -> None:
    """By hand: parallel limbs of 80 mm, 0.25 m apart: 0.17 m clear over their outer part."""
    side_by_side = limbs_at(
        ((0, 0, 2), (3, 0, 2)), ((0, 0.25, 2), (3, 0.25, 2)), ((0, 0, 2), (-3, 0, 2))
    )
    (one,) = close_limbs(side_by_side)
    assert {one.a, one.b} == {1, 2}
    assert one.gap_m == pytest.approx(0.25 - 0.08, abs=0.02)
    assert one.along_m == pytest.approx(3 * 0.85, abs=0.11)
    assert 0.5 < one.confidence < 0.9
    assert close_limbs(side_by_side, within_m=0.1) == ()


def test_a_limb_that_turns_back_grows_inward() -> None:
    one = limbs_at(((2, 0, 2.5), (0.5, 0.3, 4)), ((0.1, 0, 2), (3, 0, 3)))
    assert [x.limb for x in inward_growth(one)] == [1]
    dead = replace(one, limbs=(one.limbs[0], replace(one.limbs[1], state=State.DEAD), one.limbs[2]))
    assert inward_growth(dead) == ()


def test_the_gap_in_a_bowl() -> None:
    assert bowl_gap(bowl(24)).width_deg == 0.0
    missing = bowl_gap(bowl(24, skip=(5, 6, 7)))  # bearings 75, 90, 105
    assert missing.width_deg == pytest.approx(45.0)
    assert missing.bearing_deg == pytest.approx(90.0, abs=8.0)


def test_a_few_numbers_before_and_after_a_cut() -> None:
    one = old_trees()[1]
    stands = Standing(one, Site(spacing_m=10.0))
    before = stands.light_air()
    after = stands.light_air(cut(one, 1))
    for name, share in before.to_dict().items():
        assert 0.0 <= share <= (9.0 if name == "centre" else 1.0)
    assert after.ground > before.ground
    assert after.winter_ground > before.winter_ground
    assert after.seen_through_bare >= before.seen_through_bare - 0.02
    assert after.hat >= before.hat
    assert before.seen_through < before.seen_through_bare
    assert Site(southern=True).latitude == -Site().latitude
    assert Site(latitude_deg=-41.0).latitude == -41.0

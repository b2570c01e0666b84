"""Whole crowns against exact integrals, each other, and the keeping of light."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.light.old_trees import old_trees
from tests.trees import random_skeleton, skeletons
from tests.trees import worked_tree as tree

from limbwright.light.canopy import canopy
from limbwright.light.crown import crown_light, light_at
from limbwright.light.cuts import cut_light
from limbwright.light.sky import Sky, diffuse_share, even_sky, overcast_sky, season_sky
from limbwright.light.summary import Standing
from limbwright.light.sun import extraterrestrial_w_m2, sun_position
from limbwright.light.sweep import Sweep, light_fields, optical_depth
from limbwright.model import Site, Skeleton

SEASON = season_sky(52.0, directions=24)


def ellipsoid(half_axes_m: tuple[float, float, float], cells: int) -> tuple[np.ndarray, float]:
    """Density 1 within half axes, cells cut by the rim filled in part; the cell's edge."""
    cell = 2.1 * max(half_axes_m) / cells
    shape = [int(np.ceil(2.1 * a / cell)) for a in half_axes_m]
    fine = [(np.arange(4 * n) + 0.5) / 4 - n / 2 for n in shape]
    x, y, z = np.meshgrid(*fine, indexing="ij")
    a, b, c = (half / cell for half in half_axes_m)
    full = (x / a) ** 2 + (y / b) ** 2 + (z / c) ** 2 < 1.0
    nx, ny, nz = shape
    return full.reshape(nx, 4, ny, 4, nz, 4).mean(axis=(1, 3, 5)), cell


def exact_mean(k: np.ndarray) -> np.ndarray:
    """Mean light in an ellipsoid whose longest ray has optical depth k.

    By hand: the rays through it cross chords k u, u**2 evenly spread over its shadow (as for a
    sphere, of which it is an affine image), so 1 - 2 (1 - (1 + k) exp(-k)) / k**2 of what meets it
    is taken; the mean light is that over the mean optical depth, 2 k / 3.
    """
    return (1.0 - 2.0 * (1.0 - (1.0 + k) * np.exp(-k)) / k**2) / (2.0 * k / 3.0)


@pytest.mark.parametrize("half_axes_m", [(3.0, 3.0, 3.0), (2.0, 3.0, 1.5), (1.5, 1.5, 3.0)])
def test_the_mean_light_in_a_sphere_and_in_ellipsoids(half_axes_m: tuple) -> None:
    """Under an even sky within 1 %, in each direction within 2.5 %."""
    area, cell = ellipsoid(half_axes_m, 40)
    sky = even_sky(72)
    light = np.exp(-optical_depth(area, Sweep(sky.towards, np.full(72, 0.5), cell)))
    found = (light * area).sum(axis=(1, 2, 3)) / area.sum()
    k = 0.5 * 2.0 / np.linalg.norm(sky.towards / np.array(half_axes_m), axis=1)
    assert found == pytest.approx(exact_mean(k), rel=0.025)
    assert sky.share @ found == pytest.approx(sky.share @ exact_mean(k), rel=0.01)


def steep(seed: int, count: int) -> np.ndarray:
    """Directions that cross at most one cell a layer."""
    rng = np.random.default_rng(seed)
    turn, rise = rng.uniform(0, 2 * np.pi, count), np.radians(rng.uniform(46, 90, count))
    return np.column_stack([np.cos(turn) * np.cos(rise), np.sin(turn) * np.cos(rise), np.sin(rise)])


@given(st.integers(0, 10_000), st.booleans())
@settings(max_examples=40, deadline=None)
def test_what_shades_is_shaded_the_other_way_round(seed: int, endless: bool) -> None:
    """Reciprocity: what a crown A takes of the light of B is what B takes of that of A, looked
    at from behind."""
    rng = np.random.default_rng(seed)
    shape = tuple(rng.integers(1, 9, 3))
    one, other = rng.uniform(0, 1, shape), rng.uniform(0, 1, shape)
    sweep = Sweep(steep(seed, 5), rng.uniform(0.2, 0.8, 5), 0.3, endless)
    there = optical_depth(one, sweep)
    back = optical_depth(other[::-1, ::-1, ::-1], sweep)[:, ::-1, ::-1, ::-1]
    assert np.tensordot(there, other, 3) == pytest.approx(np.tensordot(back, one, 3), rel=1e-4)


def taken(area: np.ndarray, depth: np.ndarray, sweep: Sweep) -> tuple[np.ndarray, np.ndarray]:
    """Light each cell takes of each direction and what leaves it below, per ray.

    The depth is that of the middle step in a layer; it stands for the others.
    """
    half = 0.5 * sweep.step_depth[:, None, None, None] * area
    took = np.exp(half - depth) - np.exp(-half - depth)
    return took * sweep.steps[:, None, None, None], np.exp(-half - depth)


@given(st.integers(0, 10_000), st.booleans())
@settings(max_examples=30, deadline=None)
def test_all_light_is_taken_or_reaches_the_ground_or_the_sides(seed: int, wide: bool) -> None:
    """Energy balance of random crowns. With room beside the crown no shaded ray leaves by a side,
    so what is taken is what the ground lacks; without it some is lost there, never gained."""
    rng = np.random.default_rng(seed)
    area = rng.uniform(0, 3, tuple(rng.integers(1, 8, 3))) * (rng.uniform() < 0.8)
    room = area.shape[2] + 1 if wide else 0
    area = np.pad(area, ((room, room), (room, room), (0, 0)))
    sweep = Sweep(steep(seed, 6), rng.uniform(0.2, 0.8, 6), 0.4)
    took, below = taken(area, optical_depth(area, sweep), sweep)
    lost = (1.0 - below[..., 0]).sum(axis=(1, 2))
    if wide:
        assert took.sum(axis=(1, 2, 3)) == pytest.approx(lost, rel=1e-4, abs=1e-4)
    else:
        assert (took.sum(axis=(1, 2, 3)) >= lost - 1e-3).all()


@pytest.mark.parametrize("spacing_m", [6.0, 11.0])
def test_energy_balance_of_an_old_tree_among_others(spacing_m: float) -> None:
    """An endless orchard under an even sky: what leaf and wood take and what reaches the ground
    is all the light that comes: steep light to a hundred-thousandth, low light, of which each
    layer's middle step is all that is told, to 3 % of the whole sky's."""
    sky = even_sky()
    for one in old_trees(2):
        held = canopy(one, spacing_m=spacing_m)
        sweep, area = held.sweep(sky), held.plant_m2_m3()
        took, below = taken(area, optical_depth(area, sweep), sweep)
        rays = area.shape[0] * area.shape[1]
        balance = (took.sum(axis=(1, 2, 3)) + below[..., 0].sum(axis=(1, 2))) / rays
        assert balance[sweep.steps == 1] == pytest.approx(1.0, abs=2e-5)
        assert sky.share @ balance == pytest.approx(1.0, abs=0.03)


def test_an_endless_orchard_is_one_of_three_by_three_trees() -> None:
    """The middle one of nine like trees: its leaf's light within 0.015, being a little lighter
    than with neighbours without end."""
    sky = season_sky(52.0)
    for one in old_trees(3):
        endless = canopy(one, spacing_m=9.0)
        alone = canopy(one, cell_m=endless.grid.cell_m)
        apart = endless.grid.shape[0]
        nx, ny, nz = alone.grid.shape
        orchard = np.zeros((nx + 2 * apart, ny + 2 * apart, nz))
        for x in range(3):
            for y in range(3):
                at = slice(x * apart, x * apart + nx), slice(y * apart, y * apart + ny)
                orchard[at] += alone.plant_m2_m3()
        light = light_fields(orchard[None], alone.sweep(sky), sky.share)[0]
        middle = light[apart : apart + nx, apart : apart + ny]
        leaf = alone.leaf_in_cells()
        nine = (middle * leaf).sum() / leaf.sum()
        by_itself, among = crown_light(alone, sky).mean, crown_light(endless, sky).mean
        assert nine == pytest.approx(among, abs=0.015)
        assert by_itself > nine > among - 0.005


def test_finer_cells_change_an_old_tree_s_light_little() -> None:
    """Convergence: against cells of 0.1 m the usual ones are 0.012 off in the mean light of leaf,
    0.05 on grass in the shade, where coarse cells stay the darker."""
    sky = season_sky(52.0)
    for one in old_trees(2):
        usual, fine = crown_light(canopy(one), sky), crown_light(canopy(one, cell_m=0.1), sky)
        assert usual.mean == pytest.approx(fine.mean, abs=0.012)
        bears = one.leaf_area_m2 > 0.0
        middle = ((one.start_m + one.end_m)[bears] / 2.0).mean(axis=0)
        turn = 2.4 * np.arange(200)
        away = 2.5 * np.sqrt((np.arange(200) + 0.5) / 200)
        grass = np.column_stack([away * np.cos(turn), away * np.sin(turn), np.full(200, 0.3)])
        grass[:, :2] += middle[:2]
        there, exact = light_at(usual, grass).mean(), light_at(fine, grass).mean()
        assert -0.05 < there - exact < 0.005


def where_the_sun_stands(latitude_deg: float, clearness: float) -> Sky:
    """May to July with the sun in all its places and a sky of 1000 directions."""
    days = [f"2026-{m:02d}-{d:02d}" for m in (5, 6, 7) for d in (5, 15, 25)]
    minutes = np.arange(10, 1440, 20).astype("timedelta64[m]")
    when = (np.array(days, dtype="datetime64[m]")[:, None] + minutes).ravel()
    rise, bearing = np.radians(sun_position(latitude_deg, 0.0, when))
    up = np.sin(rise) > 0.0
    level = np.cos(rise)
    sun = np.column_stack([np.sin(bearing) * level, np.cos(bearing) * level, np.sin(rise)])[up]
    light = extraterrestrial_w_m2(when)[up] * sun[:, 2]
    from_sky = float(diffuse_share(np.asarray(clearness)))
    sky = overcast_sky(1000)
    share = [from_sky * sky.share, (1.0 - from_sky) * light / light.sum()]
    return Sky(np.vstack([sky.towards, sun]), np.concatenate(share), "exact")


@pytest.mark.parametrize("clearness", [0.45, 0.6])
def test_few_directions_do_for_a_season(clearness: float) -> None:
    """72 directions, the sun put to the nearest, against the sun where it stands and a sky of
    1000: 0.004 of full light in the mean over segments, 0.03 at worst; 0.012 over cells."""
    exact = where_the_sun_stands(52.0, clearness)
    for one in old_trees(2):
        held = canopy(one)
        true, found = (
            crown_light(held, sky) for sky in (exact, season_sky(52.0, clearness=clearness))
        )
        off = np.abs(found.segments - true.segments)[one.leaf_area_m2 > 0.0]
        cells = np.abs(found.field - true.field)[held.leaf_in_cells() > 0.0]
        assert off.mean() < 0.004
        assert off.max() < 0.03
        assert cells.mean() < 0.012
        assert found.mean == pytest.approx(true.mean, abs=0.002)


@given(skeletons(), st.sampled_from([None, 1.0, 3.0, 8.0, 50.0]), st.booleans())
@settings(max_examples=30, deadline=None)
def test_any_tree_at_any_distance(one: Skeleton, spacing_m: float | None, in_leaf: bool) -> None:
    """No leaf or wood is lost, no light made; every number is a share."""
    held = canopy(one, spacing_m=spacing_m)
    assert held.leaf_in_cells().sum() == pytest.approx(one.leaf_area_m2.sum(), rel=1e-9)
    assert held.wood_in_cells().sum() == pytest.approx(held.wood_m2.sum(), rel=1e-9)
    light = crown_light(held, even_sky(24), in_leaf=in_leaf)
    assert (light.field >= 0.0).all()
    assert (light.field <= 1.0 + 1e-5).all()
    for share in (light.mean, light.flowering, light.fruiting, light.ground):
        assert -1e-9 <= share <= 1.0 + 1e-5
    bears = one.leaf_area_m2 > 0.0
    assert np.isnan(light.segments[~bears]).all()
    assert not np.isnan(light.segments[bears]).any()


def test_leaf_that_would_hang_below_the_ground_lies_on_it() -> None:
    """A limb sweeping the grass: all its leaf is above the ground, which is where the stem is."""
    low = tree(
        [-1, 0, 1],
        [(0, 0, 0), (0, 0, 1), (2, 0, 0.2)],
        [(0, 0, 1), (2, 0, 0.2), (3, 0, 0.1)],
        [100, 60, 40],
        [100, 50, 30],
        leaf_area_m2=[0.0, 5.0, 20.0],
    )
    held = canopy(low)
    assert held.grid.origin_m[2] == 0.0
    assert held.leaf_in_cells().sum() == pytest.approx(25.0)
    light = crown_light(held, even_sky())
    under, beside = light_at(light, np.array([[2.5, 0.0, 0.0], [-2.5, 0.0, 0.0]]))
    assert under < 0.5 < beside


def test_far_neighbours_take_no_light() -> None:
    """At 50 m a tree is as light as by itself, to what the place of the cells makes of it."""
    one = random_skeleton(5, 20)
    far = crown_light(canopy(one, spacing_m=50.0, cell_m=0.2), even_sky(24))
    alone = crown_light(canopy(one, cell_m=0.2), even_sky(24))
    assert far.mean == pytest.approx(alone.mean, abs=0.02)


def test_neighbours_do_not_change_the_air_of_a_crown_wider_than_their_distance() -> None:
    one = old_trees(1)[0]
    among = Standing(one, Site(spacing_m=5.0)).light_air()
    alone = Standing(one, Site()).light_air()
    assert among.mean < alone.mean
    for name in ("seen_through", "seen_through_bare", "centre", "hat"):
        assert getattr(among, name) == pytest.approx(getattr(alone, name))


def test_where_nothing_stands_all_is_open() -> None:
    """All cut down: no leaf to light, all the light on the ground, and every hat passes."""
    one = old_trees(1)[0]
    none = Standing(one, Site()).light_air(np.zeros(one.n, dtype=bool))
    assert (none.mean, none.flowering, none.fruiting) == (0.0, 0.0, 0.0)
    assert none.ground == pytest.approx(1.0)
    assert (none.seen_through, none.seen_through_bare, none.hat) == (1.0, 1.0, 1.0)


def test_a_bare_stem_and_a_stump_in_leaf() -> None:
    """Trees of one segment, without leaf or hardly above the ground, have their numbers too."""
    pole = tree([-1], [(0, 0, 0)], [(0, 0, 4)], [200], [200])
    bare = Standing(pole, Site()).light_air()
    assert (bare.mean, bare.hat) == (0.0, 1.0)
    assert np.isnan(bare.centre)
    assert bare.ground > 0.8
    stump = tree([-1], [(0, 0, 0)], [(0, 0, 0.05)], [200], [200], leaf_area_m2=[3.0])
    found = Standing(stump, Site(spacing_m=4.0)).light_air()
    assert 0.0 < found.mean < 1.0
    for k in (cut_light(tree_, SEASON, np.zeros(1, dtype=int)) for tree_ in (pole, stump)):
        assert k.gained(np.ones((1, 1), dtype=bool)) == pytest.approx([0.0])
        assert k.gained(np.zeros((2, 1), dtype=bool)) == pytest.approx([0.0, 0.0], abs=1e-5)

"""Light through slabs and spheres against Beer's law, and the derivative against differences."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import expn

from limbwright.light.sky import even_sky, overcast_sky
from limbwright.light.sweep import Sweep, optical_depth


def slab(sky, layers: int = 32, depth_m: float = 4.0) -> np.ndarray:
    """Light ``(layers,)`` at the lower side of each layer of an endless slab of density 1."""
    cell = depth_m / layers
    area = np.ones((4, 4, layers))
    sweep = Sweep(sky.towards, np.full(len(sky.share), 0.5), cell, endless=True)
    middle = optical_depth(area, sweep)[:, 0, 0, ::-1]
    lower = middle + 0.5 * cell * 0.5 / sky.towards[:, 2:]
    return sky.share @ np.exp(-lower)


def test_an_even_sky_through_a_slab() -> None:
    """2 E3(L/2), the integral of Beer's law over an even sky: within 1 % to a leaf area of 4."""
    found = slab(even_sky())
    depth = np.arange(1, 33) / 8
    assert found == pytest.approx(2.0 * expn(3, depth / 2.0), rel=0.01)


def test_an_overcast_sky_through_a_slab() -> None:
    """Integrated values at leaf areas .5, 1, 2, 3, 4: within 1 %."""
    found = slab(overcast_sky())[[3, 7, 15, 23, 31]]
    assert found == pytest.approx([0.6769, 0.4732, 0.2416, 0.1275, 0.0687], rel=0.01)


@pytest.mark.parametrize(
    ("density", "expected"),
    [
        (0.5, (0.882, 0.779, 0.687, 0.607, 0.472)),
        (1.0, (0.779, 0.607, 0.472, 0.368, 0.223)),
        (1.5, (0.687, 0.472, 0.325, 0.223, 0.105)),
        (2.0, (0.607, 0.368, 0.223, 0.135, 0.050)),
    ],
)
def test_light_from_overhead_by_crown_depth(density: float, expected: tuple[float, ...]) -> None:
    """Beer's law, G = 0.5, at 0.5, 1, 1.5, 2 and 3 m."""
    sweep = Sweep(np.array([[0.0, 0.0, 1.0]]), np.array([0.5]), 0.25)
    middle = optical_depth(np.full((3, 3, 13), density), sweep)[0, 1, 1, ::-1]
    lower = np.exp(-(middle + 0.5 * density * 0.125))
    assert lower[[1, 3, 5, 7, 11]] == pytest.approx(expected, abs=6e-4)


@pytest.mark.parametrize(("density", "deep_m"), [(0.5, 4.8), (1.0, 2.4), (1.5, 1.6), (2.0, 1.2)])
def test_how_deep_light_for_flowers_reaches(density: float, deep_m: float) -> None:
    """Depth at which light from overhead falls to 0.30, Beer's law, G = 0.5, to a tenth of a m."""
    sweep = Sweep(np.array([[0.0, 0.0, 1.0]]), np.array([0.5]), 0.05, endless=True)
    middle = np.exp(-optical_depth(np.full((1, 1, 110), density), sweep)[0, 0, 0, ::-1])
    deep = 0.05 * np.count_nonzero(middle > 0.30)
    assert deep == pytest.approx(deep_m, abs=0.05)


def sphere(cells: int, radius_m: float = 3.0) -> tuple[np.ndarray, np.ndarray, float]:
    """Density of a sphere crown, cells cut by its rim filled in part; middles; the cell's edge."""
    cell = 2.2 * radius_m / cells
    middle = (np.arange(cells) + 0.5) * cell - 1.1 * radius_m
    place = np.stack(np.meshgrid(middle, middle, middle, indexing="ij"), axis=-1)
    fill = np.zeros((cells,) * 3)
    shifts = ((np.arange(4) + 0.5) / 4 - 0.5) * cell
    for x in shifts:
        for y in shifts:
            for z in shifts:
                fill += ((place + np.array([x, y, z])) ** 2).sum(axis=-1) < radius_m**2
    return fill / 64.0, place, cell


@pytest.mark.parametrize("cells", [24, 32])
def test_a_sphere_crown_against_beers_law_ray_by_ray(cells: int) -> None:
    """Exact chord of each cell's ray out of the sphere: mean light of the sky within 1 %, that of
    each direction within 2 %, and each cell's light of the sky within 0.006 of full light in the
    mean."""
    area, place, cell = sphere(cells)
    sky = even_sky(72)
    found = np.exp(-optical_depth(area, Sweep(sky.towards, np.full(72, 0.5), cell)))
    point = place.reshape(-1, 3)
    inside = (point**2).sum(axis=1) < 9.0
    whole = np.zeros(inside.sum())
    for d in range(72):
        ahead = point[inside] @ sky.towards[d]
        path = np.sqrt(ahead**2 + 9.0 - (point[inside] ** 2).sum(axis=1)) - ahead
        exact = np.exp(-0.5 * path)
        assert found[d].reshape(-1)[inside].mean() == pytest.approx(exact.mean(), rel=0.02)
        whole += sky.share[d] * exact
    got = np.tensordot(sky.share, found, axes=1).reshape(-1)[inside]
    assert np.abs(got - whole).mean() < 0.006
    assert got.mean() == pytest.approx(whole.mean(), rel=0.01)


def test_finer_cells_and_more_directions_change_little() -> None:
    """Convergence: mean light in a sphere crown, to 0.7 % and to a thousandth."""

    def mean(cells: int, directions: int) -> float:
        area, _, cell = sphere(cells)
        sky = overcast_sky(directions)
        depth = optical_depth(area, Sweep(sky.towards, np.full(directions, 0.5), cell))
        return float((np.tensordot(sky.share, np.exp(-depth), axes=1) * area).sum() / area.sum())

    assert mean(24, 72) == pytest.approx(mean(40, 72), rel=0.007)
    assert mean(24, 72) == pytest.approx(mean(24, 288), rel=0.001)
    assert mean(24, 48) == pytest.approx(mean(24, 288), rel=0.002)


@st.composite
def crowns(draw: st.DrawFn) -> tuple[np.ndarray, Sweep, np.random.Generator]:
    rng = np.random.default_rng(draw(st.integers(0, 10_000)))
    shape = tuple(draw(st.integers(1, 5)) for _ in range(3))
    rise = np.radians(rng.uniform(8, 90, 6))
    turn = rng.uniform(0, 2 * np.pi, 6)
    towards = np.column_stack(
        [np.cos(turn) * np.cos(rise), np.sin(turn) * np.cos(rise), np.sin(rise)]
    )
    area = rng.uniform(0, 2, shape) * (rng.uniform(size=shape) < 0.6)
    return area, Sweep(towards, rng.uniform(0.2, 0.8, 6), 0.4, draw(st.booleans())), rng


@given(crowns())
@settings(max_examples=60, deadline=None)
def test_optical_depths_add_up(crown: tuple) -> None:
    """Optical depth is linear in density: that of two crowns together is the sum of theirs."""
    area, sweep, rng = crown
    other = rng.uniform(0, 1, area.shape)
    both = optical_depth(area + 2.0 * other, sweep)
    apart = optical_depth(area, sweep) + 2.0 * optical_depth(other, sweep)
    assert both == pytest.approx(apart, rel=1e-4, abs=1e-5)


@given(crowns())
@settings(max_examples=40, deadline=None)
def test_no_light_is_made(crown: tuple) -> None:
    """More plant never brings more light, and none is brighter than the open."""
    area, sweep, rng = crown
    depth = optical_depth(area, sweep)
    assert (depth >= 0).all()
    more = area.copy()
    more.flat[rng.integers(area.size)] += 1.0
    assert (optical_depth(more, sweep) >= depth - 1e-5).all()


def test_what_shades_is_shaded_the_other_way_round() -> None:
    """Reciprocity: depth from A to the open along a ray past B holds of B what B's ray back
    holds of A; so the sums over a crown and over its mirror image along the ray are equal."""
    rng = np.random.default_rng(3)
    area = rng.uniform(0, 1, (6, 6, 6))
    towards = np.array([[0.3, -0.2, 0.933]])
    towards /= np.linalg.norm(towards)
    sweep = Sweep(towards, np.array([0.5]), 0.3, endless=True)
    up = optical_depth(area, sweep)[0]
    back = optical_depth(area[::-1, ::-1, ::-1], sweep)[0][::-1, ::-1, ::-1]
    assert (area * up).sum() == pytest.approx((area * back).sum(), rel=1e-5)


def test_energy_is_kept() -> None:
    """What an endless crown takes and what reaches the ground are what came in: by Beer's law in
    each layer the light taken is the light's fall, so the sum over layers closes."""
    rng = np.random.default_rng(5)
    area = rng.uniform(0, 1.5, (1, 1, 40))
    towards, cell = np.array([[0.0, 0.0, 1.0]]), 0.1
    middle = optical_depth(area, Sweep(towards, np.array([0.5]), cell, endless=True))[0, 0, 0]
    half = 0.5 * 0.5 * cell * area[0, 0]
    above, below = np.exp(-(middle - half)), np.exp(-(middle + half))
    assert above[-1] == pytest.approx(1.0, abs=1e-6)
    assert (above - below).sum() + below[0] == pytest.approx(1.0, abs=1e-5)
    # the light in a layer's middle stands for what it takes, to the square of its depth
    assert (2.0 * half * np.exp(-middle)).sum() == pytest.approx(1.0 - below[0], rel=2e-3)

"""Worked cases of beam theory, published wall factors and the wind of EN 1991-1-4."""

from __future__ import annotations

import numpy as np
import pytest
from tests.trees import worked_tree as tree

from limbwright.cuts.build_problem import build_problem
from limbwright.cuts.candidates import candidates
from limbwright.cuts.limits import Wishes, limits
from limbwright.cuts.motives import crown, motives
from limbwright.cuts.weights import Settings
from limbwright.model import Limb, Site, Skeleton
from limbwright.statics.assess import assess
from limbwright.statics.loads import Loads, loads
from limbwright.statics.resultants import resultants
from limbwright.statics.sections import (
    curved_limb_tension_mpa,
    ellipse_modulus_m3,
    hollow_modulus_factor,
    offset_cavity,
    opened_cavity_factors,
    sections,
    split_limb_factors,
)
from limbwright.statics.strength import union_factor
from limbwright.statics.stress import Stress, stress
from limbwright.statics.weather import ice_sleeve_kg_m
from limbwright.statics.wind import (
    mean_speed_m_s,
    peak_pressure_pa,
    probability_factor,
    roughness_factor,
    turbulence_intensity,
)
from limbwright.trade.parameters import parameters
from limbwright.trade.species import species


def with_forces(skeleton: Skeleton, density: float, extra: list[tuple[tuple, tuple]]) -> Loads:
    """Own weight and forces at points, each carried by the segment that ends there."""
    own = loads(skeleton, Site(), only=["own-weight"], green_density_kg_m3=density)
    force, moment = own.force_n.copy(), own.moment_n_m.copy()
    for point, pull in extra:
        at = int(np.argmin(np.linalg.norm(skeleton.end_m - np.array(point), axis=1)))
        force[0, at] += pull
        moment[0, at] += np.cross(point, pull)
    return Loads.given(
        own.cases,
        force,
        moment,
        wood_kg=own.wood_kg,
        base_case=own.base_case,
        median_share=own.median_share,
        quantile=own.quantile,
    )


def stresses(skeleton: Skeleton, found) -> Stress:
    at = sections(skeleton)
    return stress(
        found.force_n,
        found.moment_n_m,
        at.axis,
        at.area_m2,
        at.modulus_m3,
        at.torsion_modulus_m3,
    )


def test_w1_uniform_cylinder_under_its_own_weight() -> None:
    """Beam theory: sigma = 4 rho g L^2 / d; 3 m, 100 mm, 1000 kg/m3."""
    bar = tree([-1], [(0, 0, 0)], [(3, 0, 0)], [100], [100])
    found = resultants(bar, with_forces(bar, 1000.0, []))
    part = stresses(bar, found)
    assert np.linalg.norm(found.moment_n_m[0, 0]) == pytest.approx(346.714, rel=1e-5)
    assert found.force_n[0, 0, 2] == pytest.approx(-231.14, rel=1e-4)
    assert part.bending_mpa[0, 0] == pytest.approx(3.5316, rel=1e-5)
    assert part.shear_mpa[0, 0] == pytest.approx(0.03924, rel=1e-4)


def test_w2_cone_to_a_point() -> None:
    """Beam theory: sigma = rho g L^2 / (3 r0) for a cone."""
    bar = tree([-1], [(0, 0, 0)], [(3, 0, 0)], [100], [1e-6])
    own = with_forces(bar, 1000.0, [])
    found = resultants(bar, own)
    assert own.wood_kg.sum() == pytest.approx(7.85398, rel=1e-5)
    assert found.moment_n_m[0, 0, 1] == pytest.approx(57.7857, rel=1e-5)
    assert stresses(bar, found).bending_mpa[0, 0] == pytest.approx(0.58860, rel=1e-5)


def test_w3_a_tapered_limb_breaks_away_from_its_collar() -> None:
    """Beam theory: stress is greatest where the diameter is 1.5 times that of the tip."""
    n, length, base, tip, pull = 300, 2.5, 100.0, 40.0, 200.0
    x = np.linspace(0.0, length, n + 1)
    d = base + (tip - base) * x / length
    points = np.stack([x, 0 * x, 0 * x], axis=1)
    bar = tree([-1, *range(n - 1)], points[:-1], points[1:], d[:-1], d[1:])
    found = resultants(bar, with_forces(bar, 1e-9, [((length, 0, 0), (0, 0, -pull))]))
    bending = stresses(bar, found).bending_mpa[0]
    assert bending.max() == pytest.approx(7.85950, rel=1e-4)
    assert bar.start_diameter_mm[int(bending.argmax())] == pytest.approx(60.0, abs=0.3)
    assert bending[0] == pytest.approx(5.09296, rel=1e-5)


def test_w4_frustum_under_its_own_weight() -> None:
    """Beam theory: volume and centroid of the frustum of a cone."""
    bar = tree([-1], [(0, 0, 0)], [(2.5, 0, 0)], [100], [40])
    assert bar.wood_volume_m3[0] == pytest.approx(0.01021018, rel=1e-6)
    assert bar.wood_centroid_m[0, 0] == pytest.approx(0.913462, rel=1e-6)
    found = resultants(bar, with_forces(bar, 1000.0, []))
    assert found.moment_n_m[0, 0, 1] == pytest.approx(91.49398, rel=1e-6)
    assert stresses(bar, found).bending_mpa[0, 0] == pytest.approx(0.931950, rel=1e-5)


@pytest.mark.parametrize(("wall", "left"), [(0.1, 0.3439), (0.3, 0.7599), (0.5, 0.9375)])
def test_w5_hollow_limb(wall: float, left: float) -> None:
    """1 - (1 - k)^4; 0.76 at k = 0.3 is published by Huang et al. 2017, RSOS 4:160972."""
    assert hollow_modulus_factor(wall) == pytest.approx(left, abs=5e-5)


def test_w6_oval_limb() -> None:
    """Beam theory, pi b h^2 / 32."""
    assert ellipse_modulus_m3(0.12, 0.09) == pytest.approx(1.272345e-4, rel=1e-6)
    assert ellipse_modulus_m3(0.09, 0.12) == pytest.approx(9.542588e-5, rel=1e-6)


def test_w7_cavity_off_the_middle() -> None:
    """Parallel axis theorem, and a grid of a million cells as an independent sum."""
    found = offset_cavity(0.15, 0.08, 0.05)
    assert found.area_m2 == pytest.approx(0.0505796, rel=1e-5)
    assert found.centroid_m == pytest.approx(-0.0198758, rel=1e-5)
    assert found.second_moment_m4 == pytest.approx(2.951911e-4, rel=1e-6)
    assert found.modulus_m3 == pytest.approx(1.737688e-3, rel=1e-6)
    g = (np.arange(1000) + 0.5) / 1000 * 0.3 - 0.15
    x, y = np.meshgrid(g, g)
    wood = (x**2 + y**2 <= 0.15**2) & ((x - 0.05) ** 2 + y**2 > 0.08**2)
    middle = x[wood].mean()
    second = ((x[wood] - middle) ** 2).sum() * 0.0003**2
    assert found.second_moment_m4 == pytest.approx(second, rel=2e-3)


def test_open_shell_and_split_limb() -> None:
    """Polygon integration of a 0.6 cavity with a 90 degree opening; halves that slip freely."""
    in_plane, across = opened_cavity_factors(0.6, 90.0)
    assert in_plane == pytest.approx(0.419, abs=1e-3)
    assert across == pytest.approx(0.791, abs=1e-3)
    strength, stiffness = split_limb_factors()
    assert strength == pytest.approx(0.486, abs=1e-3)
    assert stiffness == pytest.approx(0.279, abs=1e-3)


W8 = (
    [-1, 0, 0],
    [(0, 0, 0), (1, 0, 1), (1, 0, 1)],
    [(1, 0, 1), (2.2, 0.6, 1.3), (1.9, -0.8, 1.2)],
    [120, 80, 70],
)
FRUIT = [((2.2, 0.6, 1.3), (0, 0, -20 * 9.81)), ((1.9, -0.8, 1.2), (0, 0, -15 * 9.81))]


def test_w8_three_limbs_with_fruit() -> None:
    """Statics by hand: sums of r x F over everything beyond the section."""
    fork = tree(*W8, W8[3])
    given = with_forces(fork, 1000.0, FRUIT)
    assert given.wood_kg == pytest.approx([15.9944, 6.9104, 4.6976], rel=1e-4)
    found = resultants(fork, given)
    assert found.force_n[0, 0, 2] == pytest.approx(-614.13, rel=1e-4)
    assert found.moment_n_m[0, 0] == pytest.approx([-1.90, 964.96, 0.0], abs=0.01)
    part = stresses(fork, found)
    assert part.bending_mpa[0, 0] == pytest.approx(5.6881, rel=1e-4)
    assert part.axial_mpa[0, 0] == pytest.approx(0.0384, rel=2e-3)


def test_w8b_taking_a_counterweight_off_raises_the_torsion() -> None:
    """The same by hand without the second limb: torsion 1.35 to 96.28 N m."""
    fork = tree(*W8, W8[3])
    given = with_forces(fork, 1000.0, FRUIT)
    before = stresses(fork, resultants(fork, given))
    left = resultants(fork, given, np.array([True, False, True]))
    after = stresses(fork, left)
    assert left.force_n[0, 0, 2] == pytest.approx(-350.14, rel=1e-4)
    assert left.moment_n_m[0, 0] == pytest.approx([136.15, 424.86, 0.0], abs=0.01)
    assert after.bending_mpa[0, 0] == pytest.approx(2.5679, rel=1e-4)
    assert after.torsion_mpa[0, 0] == pytest.approx(0.2838, rel=1e-3)
    assert before.torsion_mpa[0, 0] == pytest.approx(0.004, abs=1e-4)


def test_w8c_with_wind() -> None:
    """The same by hand with wind from the south on both limbs."""
    fork = tree(*W8, W8[3])
    wind = [((2.2, 0.6, 1.3), (0, 150, 0)), ((1.9, -0.8, 1.2), (0, 120, 0))]
    found = resultants(fork, with_forces(fork, 1000.0, FRUIT + wind))
    assert found.moment_n_m[0, 0] == pytest.approx([-340.90, 964.96, 558.00], abs=0.01)
    part = stresses(fork, found)
    assert part.bending_mpa[0, 0] == pytest.approx(6.8112, rel=1e-4)
    assert part.torsion_mpa[0, 0] == pytest.approx(0.4524, rel=1e-3)


@pytest.mark.parametrize(
    ("terrain", "factor", "speed", "turbulence", "pressure"),
    [
        ("II", 0.9096, 22.741, 0.2089, 795.8),
        ("III", 0.6452, 16.131, 0.3338, 542.7),
        ("IV", 0.5396, 13.489, 0.4343, 459.4),
    ],
)
def test_w9_wind_at_six_metres(
    terrain: str, factor: float, speed: float, turbulence: float, pressure: float
) -> None:
    """EN 1991-1-4 at 25 m/s basic wind speed."""
    site = Site(wind_speed_m_s=25.0, terrain=terrain)
    assert roughness_factor(6.0, terrain) == pytest.approx(factor, abs=5e-5)
    assert mean_speed_m_s(6.0, site) == pytest.approx(speed, abs=1e-3)
    assert turbulence_intensity(6.0, terrain) == pytest.approx(turbulence, abs=5e-5)
    assert peak_pressure_pa(6.0, site) == pytest.approx(pressure, abs=0.06)


@pytest.mark.parametrize(
    ("p", "factor"), [(0.5, 0.7764), (0.2, 0.8545), (0.1, 0.9025), (0.01, 1.0385)]
)
def test_w9b_wind_of_other_years(p: float, factor: float) -> None:
    """EN 1991-1-4 equation 4.2 with K 0.2 and n 0.5."""
    assert probability_factor(p) == pytest.approx(factor, abs=5e-5)


def test_w13_many_small_cuts_wound_as_much_as_one_great_one() -> None:
    """48 cuts of 50 mm are 94 248 mm2, one of 346 mm 94 025 (BS 3998, draft table).

    Its 30 % of a crown's volume for 12 % of the length of its limbs is (1 - 0.12)^3 = 0.681.
    """
    mm = np.array([600.0, 346.0, *[50.0] * 48])
    n = mm.size
    bearing = np.linspace(0.0, 2 * np.pi, n)
    foot = np.tile([0.0, 0.0, 3.0], (n, 1))
    foot[0, 2] = 0.0
    tip = foot + 4.0 * np.stack([np.sin(bearing), np.cos(bearing), 0 * bearing], axis=1)
    tip[0] = [0.0, 0.0, 3.0]
    bush = Skeleton.build(
        tree="W13",
        species="apple",
        parent=[-1] + [0] * (n - 1),
        start_m=foot,
        end_m=tip,
        start_diameter_mm=mm,
        end_diameter_mm=0.8 * mm,
        limb=np.arange(n),
        limbs=[Limb(f"{k}", min(k, 1) - 1, k, 3.0, mm[k], 4.0, 0.0, 0.0) for k in range(n)],
        leaf_area_m2=np.where(np.arange(n) > 0, 2.0, 0.0),
    )
    held, settings, kind = assess(bush), Settings(), species("apple")
    wood = held.loads.wood_kg
    offer = candidates(held, kind, (), Wishes(), settings)
    speaks = motives(bush, wood, crown(bush, wood, settings), (), settings)
    bounds = limits(bush, wood, kind, None, Wishes(), settings)
    built = build_problem(
        held, offer.candidates, offer.forbidden, (), speaks, bounds, kind, settings
    )
    area_mm2 = 100.0 * built.problem.cut_area_cm2
    great = [k for k, at in enumerate(built.base) if at == 1]
    small = [k for k, at in enumerate(built.base) if at > 1]
    assert len(small) == 48
    assert area_mm2[small].sum() == pytest.approx(94_248, abs=0.5)
    assert area_mm2[great] == pytest.approx(94_025, abs=0.5)
    shorter = Skeleton.build(
        tree="W13", species="apple", parent=[-1], start_m=np.zeros((1, 3)), limb=[0], limbs=[],
        end_m=np.array([[0.0, 0.0, 0.88]]), start_diameter_mm=[880.0], end_diameter_mm=[0.0],
    )  # fmt: skip
    whole = np.pi / 12.0
    assert shorter.wood_volume_m3[0] / whole == pytest.approx(0.681, abs=5e-4)


def test_w14_ice_sleeve() -> None:
    """Geometry: pi t (d + t) rho, t 12.5 mm, 900 kg/m3."""
    assert ice_sleeve_kg_m(np.array([0.01, 0.05]), 0.0125) == pytest.approx(
        [0.795, 2.209], abs=5e-4
    )


def test_w15_curved_limb_being_straightened() -> None:
    """Curved-beam theory: sigma_r = sigma_b r / (3 R)."""
    assert curved_limb_tension_mpa(30.0, 0.06, 0.40) == pytest.approx(1.50)


@pytest.mark.parametrize(
    ("slope", "fixed", "force_lb", "rupture_mpa"),
    [(546.0, -1051.0, 1133.0, 53.0), (603.0, -1337.0, 1075.0, 57.0)],
)
def test_w17_forks_of_equals_that_were_pulled_apart(
    slope: float, fixed: float, force_lb: float, rupture_mpa: float
) -> None:
    """Smiley 2000, unaided forks of 4 in: red maple 1133 lb, red oak 1075 lb (F = a D + b).

    The arm of the pull is not told. With the green bending strength of the kind (Wood Handbook,
    from memory) our fork of equals would come apart under that force on an arm of a few
    diameters, as a winch is tied to a young fork.
    """
    assert slope * 4.0 + fixed == pytest.approx(force_lb)
    diameter_m, force_n = 4 * 0.0254, force_lb * 4.448
    factor = float(union_factor(np.array(1.0))) * parameters("strength")["bark"].value
    moment = factor * rupture_mpa * 1e6 * np.pi * diameter_m**3 / 32.0
    assert 3.0 < moment / force_n / diameter_m < 10.0

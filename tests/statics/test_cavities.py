"""Cavities off the middle and open to one side, as a survey tells them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.trees import worked_tree

from limbwright.demo import make_holding, write_holding
from limbwright.model.skeleton import Limb, Skeleton
from limbwright.statics.assess import assess
from limbwright.statics.sections import (
    hollow_area_factor,
    hollow_modulus_factor,
    offset_cavity,
    opened_cavity_factors,
    sections,
    shell_factors,
)
from limbwright.statics.strength import strength
from limbwright.survey import read_survey
from limbwright.survey.build import build_skeleton
from limbwright.trade.parameters import parameters
from limbwright.trade.species import all_species


def shell(
    near: float, far: float | None = None, opening: float = 0.0
) -> tuple[float, float, float]:
    wall = np.array([near])
    area, modulus, torsion = shell_factors(
        wall, wall if far is None else np.array([far]), np.array([opening])
    )
    return float(area[0]), float(modulus[0]), float(torsion[0])


def limb(
    near_mm: float, far_mm: float = np.nan, opening_deg: float = 0.0, diameter_mm: float = 200.0
) -> Skeleton:
    return Skeleton.build(
        tree="1",
        species="apple",
        parent=[-1],
        start_m=np.zeros((1, 3)),
        end_m=np.array([[2.0, 0.0, 0.0]]),
        start_diameter_mm=np.array([diameter_mm]),
        end_diameter_mm=np.array([diameter_mm]),
        limb=[0],
        limbs=[Limb("stem", -1, 0, 0, diameter_mm, 2.0, 90, 0)],
        cavity_wall_mm=np.array([near_mm]),
        cavity_far_wall_mm=np.array([far_mm]),
        cavity_open_deg=np.array([opening_deg]),
    )


@pytest.mark.parametrize("k", [0.1, 0.3, 0.5, 0.8])
def test_a_round_closed_shell_is_the_ring(k: float) -> None:
    area, modulus, torsion = shell(k)
    assert area == pytest.approx(float(hollow_area_factor(k)), rel=2e-3)
    assert modulus == pytest.approx(float(hollow_modulus_factor(k)), rel=2e-3)
    assert torsion <= modulus + 1e-12
    if k <= 0.3:  # where the ring is thin, so is Bredt's tube right
        assert torsion == pytest.approx(modulus, rel=0.07)


def test_w7_off_the_middle_has_the_modulus_of_the_parallel_axis_theorem() -> None:
    # R 150, c 80, e 50 mm: walls of 20 and 120 mm; 0.6556 of the solid limb.
    area, modulus, _ = shell(20 / 150, 120 / 150)
    assert modulus == pytest.approx(0.6556, rel=2e-3)
    assert area == pytest.approx(
        offset_cavity(0.15, 0.08, 0.05).area_m2 / (np.pi * 0.15**2), rel=2e-3
    )


def test_an_open_shell_is_at_most_what_its_plane_gives() -> None:
    # c/R 0.6, a quarter open: 0.419 in the opening's plane, 0.791 across (polygon integration).
    _, modulus, torsion = shell(0.4, opening=90.0)
    in_plane, across = opened_cavity_factors(0.6, 90.0)
    assert modulus <= min(in_plane, across) * 1.002
    assert modulus > 0.6 * in_plane
    # between the tube closed again and one slit all along: (2 pi - a) r t^2 / 3 (thin-walled)
    slit = 1.5 * np.pi * 0.8 * 0.4**2 / 3.0 / (np.pi / 2.0)
    assert slit < torsion < 0.75 * shell(0.4)[2]


@given(st.floats(0.05, 0.45), st.floats(0.0, 0.5), st.floats(0.0, 200.0), st.floats(0.0, 2 * np.pi))
@settings(max_examples=40, deadline=None)
def test_no_direction_is_weaker_than_the_one_taken(
    near: float, more: float, opening: float, way: float
) -> None:
    """A grid of cells bent about any axis through its centroid, as an independent sum."""
    g = (np.arange(500) + 0.5) / 250 - 1.0
    x, y = np.meshgrid(g, g)
    far = near + more
    c, e = 1.0 - (near + far) / 2.0, (far - near) / 2.0
    wood = (x**2 + y**2 <= 1.0) & ((x - e) ** 2 + y**2 > c**2)
    # the opening's edges run from the bark, seen from the middle, to the cavity, seen from its own
    half = np.radians(opening) / 2.0
    way_in = np.array([e + (c - 1.0) * np.cos(half), (c - 1.0) * np.sin(half)])

    def side(px: np.ndarray, py: np.ndarray) -> np.ndarray:
        return way_in[0] * (py - np.sin(half)) - way_in[1] * (px - np.cos(half)) > 0.0

    wood &= side(x, np.abs(y)) == side(np.array(-1.0), np.array(0.0))
    px, py = x[wood] - x[wood].mean(), y[wood] - y[wood].mean()
    ixx, iyy = (px**2).sum(), (py**2).sum()
    stress = np.cos(way) * px / ixx + np.sin(way) * py / iyy
    grid = 1.0 / np.abs(stress).max() * (4 / 500**2) / (np.pi / 4)
    assert shell(near, far, opening)[1] <= grid * 1.06


@given(st.floats(0.05, 0.4), st.floats(0.0, 0.6), st.floats(0.0, 180.0))
@settings(max_examples=60, deadline=None)
def test_more_wall_across_never_weakens_and_an_opening_never_helps(
    near: float, more: float, opening: float
) -> None:
    closed, opened = shell(near, near + more), shell(near, near + more, opening)
    assert all(o <= c + 1e-9 for o, c in zip(opened, closed, strict=True))
    assert closed[1] >= shell(near)[1] - 1e-9
    assert all(v > 0.0 for v in opened)


def test_sections_take_the_survey_at_its_word() -> None:
    solid, ring = sections(limb(np.nan)), sections(limb(30.0))
    off, opened = sections(limb(30.0, 90.0)), sections(limb(30.0, opening_deg=90.0))
    assert sections(limb(30.0, 30.0)).modulus_m3 == pytest.approx(ring.modulus_m3, rel=2e-3)
    assert ring.modulus_m3 < off.modulus_m3 < solid.modulus_m3
    assert opened.modulus_m3 < ring.modulus_m3
    assert opened.torsion_modulus_m3 < 0.5 * ring.torsion_modulus_m3
    assert opened.area_m2 == pytest.approx(0.75 * ring.area_m2, rel=2e-3)
    # an opening without a cavity is none
    assert sections(limb(np.nan, opening_deg=90.0)).modulus_m3 == solid.modulus_m3


def test_an_open_cavity_uses_more_of_the_limb_and_is_known_less_well() -> None:
    closed, opened = assess(limb(30.0)), assess(limb(30.0, opening_deg=90.0))
    assert (opened.utilisation > closed.utilisation).all()
    assert strength(limb(30.0, opening_deg=90.0)).cov[0] > strength(limb(30.0)).cov[0]


def test_trees_without_such_cavities_are_as_before() -> None:
    tree = worked_tree(
        [-1, 0, 0],
        [(0, 0, 0), (1, 0, 1), (1, 0, 1)],
        [(1, 0, 1), (2.2, 0.6, 1.3), (1.9, -0.8, 1.2)],
        [120, 80, 70],
        [120, 80, 70],
    )
    d = tree.start_diameter_mm / 1000.0
    assert sections(tree).modulus_m3 == pytest.approx(np.pi * d**3 / 32.0)
    assert sections(tree).torsion_modulus_m3 == pytest.approx(np.pi * d**3 / 16.0)


def test_the_demo_has_an_old_tree_with_such_cavities(tmp_path: Path) -> None:
    stations, limbs = write_holding(make_holding(), tmp_path)
    trees = [build_skeleton(one)[0] for one in read_survey(limbs, stations).trees]
    (old,) = [t for t in trees if (t.cavity_open_deg > 0.0).any()]
    assert np.isfinite(old.cavity_far_wall_mm).any()
    ring = replace(
        old,
        cavity_far_wall_mm=np.full(old.n, np.nan),
        cavity_open_deg=np.zeros(old.n),
    )
    told, taken_as_ring = assess(old), assess(ring)
    stem = old.limbs[0].first_segment
    off = int(np.flatnonzero(np.isfinite(old.cavity_far_wall_mm))[0])
    assert told.utilisation[:, stem].max() > taken_as_ring.utilisation[:, stem].max()
    assert told.sections.modulus_m3[off] > taken_as_ring.sections.modulus_m3[off]


def test_an_open_tube_held_at_its_ends_warps_as_vlasov_says() -> None:
    """Sectorial sums of a slit tube, r = t = 1: w = a - 2 sin a, I_w 8.10, w / (2 I_w) 0.194."""
    a = np.linspace(-np.pi, np.pi, 200_001)
    w = a - 2.0 * np.sin(a)
    constant = float(np.trapezoid(w**2, a))
    assert constant == pytest.approx(2 * np.pi**3 / 3 - 4 * np.pi, rel=1e-6)
    assert 0.5 * np.abs(w[-1]) / constant == pytest.approx(0.194, abs=5e-4)


def test_bending_over_shear_is_that_of_the_fruit_species() -> None:
    ratio = [k.bending_strength_mpa.value / k.shear_strength_mpa.value for k in all_species()]
    known = parameters("strength")["bending_over_shear"]
    assert min(ratio) >= known.low
    assert max(ratio) <= known.high + 1e-9
    assert np.mean(ratio) == pytest.approx(known.value, abs=0.05)

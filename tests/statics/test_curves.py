"""Curved limbs that split before they break: the curve, its sign, its strength, its limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.trees import skeletons

from limbwright.model.skeleton import Limb, Skeleton
from limbwright.statics.assess import Assessment, assess, assessments_to_dict, reassess
from limbwright.statics.curves import curvature_per_m
from limbwright.statics.sections import curved_limb_tension_mpa, sections
from limbwright.statics.stress import splitting, stress, utilisation


def line(points: np.ndarray, diameter_mm: float = 120.0, fruit_kg: float = 0.0) -> Skeleton:
    """One limb of even thickness through points, its fruit at the tip."""
    count = len(points) - 1
    fruit = np.zeros(count)
    fruit[-1] = fruit_kg
    return Skeleton.build(
        tree="line",
        species="apple",
        parent=np.arange(-1, count - 1),
        start_m=points[:-1],
        end_m=points[1:],
        start_diameter_mm=np.full(count, diameter_mm),
        end_diameter_mm=np.full(count, diameter_mm),
        limb=np.zeros(count, dtype=int),
        limbs=[Limb("A", -1, 0, 0, diameter_mm, 1.0, 0, 0)],
        fruit_kg=fruit,
    )


def arc(
    radius_m: float, turn_deg: float = 90.0, pieces: int = 12, *, up: bool = True
) -> np.ndarray:
    """Points of an arc in the east-up plane that sets out level to the east."""
    a = np.radians(np.linspace(0.0, turn_deg, pieces + 1))
    rise = radius_m * (1.0 - np.cos(a)) * (1.0 if up else -1.0)
    return np.stack([radius_m * np.sin(a), np.zeros(a.size), rise], axis=1)


def elbow(before_m: float, turn_deg: float, after_m: float) -> np.ndarray:
    """Points of a level limb that turns upwards about one corner, segments of 50 mm."""
    a = np.radians(turn_deg)
    first = np.arange(0.0, before_m + 1e-9, 0.05)
    second = np.arange(0.05, after_m + 1e-9, 0.05)
    level = np.stack([first, 0 * first, 0 * first], axis=1)
    rising = np.stack([np.cos(a) * second, 0 * second, np.sin(a) * second], axis=1)
    return np.concatenate([level, level[-1] + rising])


@pytest.mark.parametrize("pieces", [6, 13, 80])
@pytest.mark.parametrize("radius_m", [0.4, 2.0, 10.0])
def test_an_arc_has_the_curve_of_its_circle_however_finely_drawn(
    radius_m: float, pieces: int
) -> None:
    curve = curvature_per_m(line(arc(radius_m, pieces=pieces), 60.0))
    size = np.linalg.norm(curve[1:], axis=1)
    assert size == pytest.approx(1.0 / radius_m, rel=0.1)
    # turning upwards while going east is turning about the south
    assert curve[1:, 1] == pytest.approx(-size)


@given(st.integers(0, 2**20))
@settings(max_examples=30, deadline=None)
def test_the_curve_turns_with_the_limb_and_forgets_a_split_segment(seed: int) -> None:
    draw = np.random.default_rng(seed)
    points = arc(0.5, 100.0, 10)
    turn, _ = np.linalg.qr(draw.normal(size=(3, 3)))
    turn *= np.linalg.det(turn)
    still, turned = curvature_per_m(line(points)), curvature_per_m(line(points @ turn.T))
    assert turned == pytest.approx(still @ turn.T, abs=1e-9)
    k = int(draw.integers(1, 9))
    more = np.insert(points, k + 1, 0.3 * points[k] + 0.7 * points[k + 1], axis=0)
    finer = curvature_per_m(line(more))
    assert np.delete(finer, k + 1, axis=0) == pytest.approx(still, abs=1e-9)


def test_a_straight_limb_and_the_base_of_a_limb_have_no_curve() -> None:
    straight = line(np.linspace([0, 0, 0], [2, 1, 1], 20))
    assert np.abs(curvature_per_m(straight)).max() < 1e-6
    assert (curvature_per_m(line(arc(0.3)))[0] == 0.0).all()


def test_survey_jitter_is_no_elbow() -> None:
    """Points of a scan some 5 % of the diameter off never look as sharp as splitting needs."""
    draw = np.random.default_rng(3)
    points = np.linspace([0, 0, 0], [3, 0, 0], 100) + draw.normal(0.0, 0.006, (100, 3))
    found = assess(line(points, fruit_kg=40.0))
    assert not found.splits.any()


def test_a_corner_is_no_sharper_than_the_wood_is_thick() -> None:
    sharp = curvature_per_m(line(elbow(1.0, 150.0, 1.0)))
    assert np.linalg.norm(sharp, axis=1).max() <= 1.0 / 0.06 + 1e-9
    slight = curvature_per_m(line(elbow(1.0, 20.0, 1.0)))
    # a lone corner of angle a, measured over arms h: 2 sin(a / 2) / h (derived)
    assert np.linalg.norm(slight, axis=1).max() == pytest.approx(
        2 * np.sin(np.radians(10.0)) / 0.18, rel=1e-6
    )


def test_w15_the_tension_of_a_section_is_that_of_the_curved_beam() -> None:
    """r 60 mm, R_c 0.40 m, 30 MPa of bending: 1.50 MPa across the grain (curved-beam theory)."""
    at = sections(line(arc(0.4, 90.0, 60)))
    moment = 30e6 * np.pi * 0.06**3 / 4.0
    tension = np.linalg.norm(at.split_per_m3[20], axis=0) * moment / 1e6
    assert tension == pytest.approx(1.50, rel=0.01)
    assert tension == pytest.approx(float(curved_limb_tension_mpa(30.0, 0.06, 0.40)), rel=0.01)


def test_weight_opens_a_limb_that_curves_up_and_closes_one_that_arches_over() -> None:
    for up, sign in ((True, 1.0), (False, -1.0)):
        limb = line(arc(0.4, 60.0, 12, up=up), fruit_kg=30.0)
        found = assess(limb, only=["own-weight"])
        pull = np.einsum("nk,nk->n", found.resultants.moment_n_m[0], found.sections.split_per_m3)
        assert (sign * pull[2:8] > 0.0).all()
        if not up:
            assert not found.splits.any()


def test_a_sharp_elbow_splits_before_it_breaks_and_a_gentle_one_does_not() -> None:
    sharp = assess(line(elbow(0.2, 75.0, 2.0), fruit_kg=200.0))
    gentle = assess(line(elbow(0.2, 30.0, 2.0), fruit_kg=200.0))
    assert sharp.splits.any()
    assert not gentle.splits.any()
    i = int(np.flatnonzero(sharp.splits)[0])
    case = int(sharp.utilisation[:, i].argmax())
    tension = sharp.resultants.moment_n_m[case, i] @ sharp.sections.split_per_m3[i] / 1e6
    lasting = sharp.loads.cases[case].duration_factor * sharp.strength.split_mpa[i]
    assert sharp.utilisation[case, i] == pytest.approx(tension / lasting)
    (told,) = assessments_to_dict([sharp])["trees"]
    (limb,) = told["limbs"]
    assert limb["splits"]
    assert limb["segment"] in sharp.skeleton.segment_ids[sharp.splits]
    # what is unknown is then what is unknown of splitting: more than of breaking
    assert sharp.strength.cov[i] == sharp.strength.split_cov[i]
    assert sharp.strength.cov[i] > gentle.strength.cov[i]


def naive(found: Assessment) -> np.ndarray:
    """Utilisation with the splitting of every section worked out, none left out."""
    at, held = found.sections, found.resultants
    parts = stress(
        held.force_n, held.moment_n_m, at.axis, at.area_m2, at.modulus_m3, at.torsion_modulus_m3
    )
    u = utilisation(parts, found.bending_strength_mpa, found.shear_strength_mpa)
    pull = np.einsum("cnk,nk->cn", held.moment_n_m, at.split_per_m3) / 1e6
    lasting = np.array([c.duration_factor for c in found.loads.cases])[:, None]
    return np.asarray(np.maximum(u, pull / (lasting * found.strength.split_mpa)))


@given(skeletons(2, 24))
@settings(max_examples=30, deadline=None)
def test_sections_that_cannot_split_first_are_rightly_left_out(tree: Skeleton) -> None:
    found = assess(tree)
    assert found.utilisation == pytest.approx(naive(found), rel=1e-12)
    kept = np.ones(tree.n, dtype=bool)
    kept[tree.n // 2 :] = False
    less = reassess(found, kept)
    assert less.utilisation[:, kept] == pytest.approx(naive(less)[:, kept], rel=1e-12)


@given(skeletons(2, 24))
@settings(max_examples=20, deadline=None)
def test_the_share_of_each_newton_metre_gives_the_utilisation_back(tree: Skeleton) -> None:
    found = assess(tree)
    every = np.arange(tree.n)
    each = found.split_per_n_m(every)
    if each is None:
        assert not found.splits.any()
        return
    apart = splitting(found.resultants.moment_n_m, each)
    assert (apart <= found.utilisation * (1 + 1e-12) + 1e-15).all()
    worst = found.worst_case
    at = found.splits
    assert apart[worst, every][at] == pytest.approx(found.utilisation[worst, every][at])


@pytest.mark.parametrize("wall_mm", [15.0, 30.0, 45.0])
def test_a_hollow_limb_pulls_its_grain_apart_as_its_ring_says(wall_mm: float) -> None:
    """M S / (I b R) at the neutral axis (Jourawski, curved-beam theory), the ring summed in strips.

    S the first moment of half the ring, I its second moment, b the wood cut at the neutral axis.
    """
    radius_m, r, c = 0.8, 0.06, 0.06 - wall_mm / 1000.0
    y = (np.arange(200_000) + 0.5) / 200_000 * r
    width = 2 * np.sqrt(r * r - y * y) - 2 * np.sqrt(np.maximum(c * c - y * y, 0.0))
    step = r / y.size
    first, second = (width * y).sum() * step, 2 * (width * y * y).sum() * step
    tree = line(arc(radius_m, pieces=40))
    hollow = replace(tree, cavity_wall_mm=np.full(tree.n, wall_mm))
    found = np.linalg.norm(sections(hollow).split_per_m3[20])
    curve = np.linalg.norm(curvature_per_m(tree)[20])
    assert found == pytest.approx(first / (second * 2 * (r - c)) * curve, rel=1e-4)

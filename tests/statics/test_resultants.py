"""Forces and moments of whole trees: equilibrium, superposition, and another program's answer."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from Pynite import FEModel3D
from tests.trees import cut_masks, random_skeleton, skeletons

from limbwright.errors import InputError
from limbwright.model import Site, Skeleton
from limbwright.statics.loads import Loads, loads
from limbwright.statics.resultants import resultants

SITE = Site()


@settings(max_examples=40, deadline=None)
@given(skeletons())
def test_the_foot_carries_everything(tree: Skeleton) -> None:
    every = loads(tree, SITE)
    found = resultants(tree, every)
    assert found.force_n[:, 0] == pytest.approx(every.force_n.sum(axis=1), abs=1e-6)
    about = every.moment_n_m.sum(axis=1) - np.cross(tree.start_m[0], every.force_n.sum(axis=1))
    assert found.moment_n_m[:, 0] == pytest.approx(about, abs=1e-5)


@settings(max_examples=30, deadline=None)
@given(skeletons())
def test_every_section_carries_what_a_plain_sum_says(tree: Skeleton) -> None:
    every = loads(tree, SITE, only=["heavy-crop", "gust-leaf"])
    found = resultants(tree, every)
    for i in range(tree.n):
        beyond = tree.in_subtree(i)
        force = every.force_n[:, beyond].sum(axis=1)
        moment = every.moment_n_m[:, beyond].sum(axis=1) - np.cross(tree.start_m[i], force)
        assert found.force_n[:, i] == pytest.approx(force, abs=1e-6)
        assert found.moment_n_m[:, i] == pytest.approx(moment, abs=1e-5)
        rest = slice(i + 1, beyond.stop)
        force = every.force_n[:, rest].sum(axis=1)
        moment = every.moment_n_m[:, rest].sum(axis=1) - np.cross(tree.end_m[i], force)
        assert found.end_force_n[:, i] == pytest.approx(force, abs=1e-6)
        assert found.end_moment_n_m[:, i] == pytest.approx(moment, abs=1e-5)


@settings(max_examples=30, deadline=None)
@given(skeletons(min_segments=2), st.floats(0.1, 5.0))
def test_loads_add_up(tree: Skeleton, factor: float) -> None:
    one = loads(tree, SITE, only=["own-weight", "wet-snow"])
    other = loads(tree, SITE, only=["light-crop", "ice"])
    both = Loads.given(
        one.cases,
        one.force_n + factor * other.force_n,
        one.moment_n_m + factor * other.moment_n_m,
        wood_kg=one.wood_kg,
        base_case=one.base_case,
        median_share=one.median_share,
        quantile=one.quantile,
    )
    a, b, c = (resultants(tree, x) for x in (one, other, both))
    assert c.force_n == pytest.approx(a.force_n + factor * b.force_n, abs=1e-6)
    assert c.moment_n_m == pytest.approx(a.moment_n_m + factor * b.moment_n_m, abs=1e-5)


@settings(max_examples=30, deadline=None)
@given(skeletons(min_segments=3), st.integers(1, 10_000))
def test_what_is_cut_away_loads_nothing(tree: Skeleton, pick: int) -> None:
    cut = 1 + pick % (tree.n - 1)
    kept = cut_masks(tree, [cut])
    every = loads(tree, SITE)
    left = resultants(tree, every, kept)
    force = every.force_n * kept[None, :, None]
    assert left.force_n[:, 0] == pytest.approx(force.sum(axis=1), abs=1e-6)
    assert left.force_n[:, ~kept] == pytest.approx(0.0, abs=1e-6)
    assert left.moment_n_m[:, ~kept] == pytest.approx(0.0, abs=1e-5)


@pytest.mark.parametrize("seed", range(50))
def test_an_independent_frame_program_agrees(seed: int) -> None:
    """PyNite on 50 random prismatic trees with a force at every node, to 1e-6 of the greatest."""
    tree = random_skeleton(seed, 5 + seed % 8, prismatic=True, bare=True)
    rng = np.random.default_rng(seed)
    pull = rng.normal(0.0, 300.0, (tree.n, 3))
    given_loads = Loads.given(
        loads(tree, SITE, only=["own-weight"]).cases,
        pull[None],
        np.cross(tree.end_m, pull)[None],
        wood_kg=np.zeros(tree.n),
        base_case=np.array([-1]),
        median_share=np.array([1.0]),
        quantile=np.array([1.0]),
    )
    found = resultants(tree, given_loads)
    model = FEModel3D()
    model.add_material("wood", 8e9, 3e9, 0.3, 0.0)
    model.add_node("foot", *tree.start_m[0])
    model.def_support("foot", *[True] * 6)
    for i in range(tree.n):
        radius = tree.start_diameter_mm[i] / 2000.0
        inertia = np.pi * radius**4 / 4
        model.add_node(f"n{i}", *tree.end_m[i])
        model.add_section(f"s{i}", np.pi * radius**2, inertia, inertia, 2 * inertia)
        near = "foot" if tree.parent[i] < 0 else f"n{tree.parent[i]}"
        model.add_member(f"m{i}", near, f"n{i}", "wood", f"s{i}")
        for axis, value in zip(("FX", "FY", "FZ"), pull[i], strict=True):
            model.add_node_load(f"n{i}", axis, float(value))
    model.analyze_linear()
    for i in range(tree.n):
        member = model.members[f"m{i}"]
        turn = member.T()[:3, :3]
        near = np.asarray(member.f()).ravel()[:6]
        # what the near end takes up is the opposite of what lies beyond it
        force = -(turn.T @ near[:3])
        moment = -(turn.T @ near[3:])
        biggest_n = np.abs(found.force_n).max()
        biggest_n_m = np.abs(found.moment_n_m).max()
        assert np.abs(force - found.force_n[0, i]).max() <= 1e-6 * biggest_n
        assert np.abs(moment - found.moment_n_m[0, i]).max() <= 1e-6 * biggest_n_m


def test_a_load_case_nobody_knows_is_refused() -> None:
    with pytest.raises(InputError, match="moonlight"):
        loads(random_skeleton(1), SITE, only=["moonlight"])


def test_one_density_is_that_of_all_wood() -> None:
    tree = random_skeleton(2, bare=True)
    found = loads(tree, SITE, only=["own-weight"], green_density_kg_m3=1050.0)
    assert found.wood_kg == pytest.approx(tree.wood_volume_m3 * 1050.0)
    assert [case.key for case in found.cases] == ["own-weight"]


def test_heavy_and_extreme_crops_are_three_and_five_times_the_fruit() -> None:
    tree = random_skeleton(3)
    found = loads(tree, SITE, only=["light-crop", "heavy-crop", "extreme-crop"])
    down = -found.force_n[:, :, 2].sum(axis=1)
    fruit_n = 9.81 * tree.fruit_kg.sum()
    assert down[1] - down[0] == pytest.approx(2 * fruit_n)
    assert down[2] - down[0] == pytest.approx(4 * fruit_n)


def test_a_gust_pushes_the_way_it_blows_from_sixteen_sides() -> None:
    found = loads(random_skeleton(4), SITE, only=["gust-leaf"])
    assert len(found.cases) == 16
    push = found.force_n.sum(axis=1)[:, :2]
    assert push[0][1] < 0.0 < push[8][1]
    assert push[:8] == pytest.approx(-push[8:])  # a gust and its opposite push alike
    assert np.linalg.norm(push, axis=1).min() > 0.0


@settings(max_examples=30, deadline=None)
@given(skeletons(), st.integers(0, 10_000))
def test_any_force_and_couple_is_kept_as_it_was_given(tree: Skeleton, seed: int) -> None:
    rng = np.random.default_rng(seed)
    force, moment = rng.normal(size=(2, 3, tree.n, 3))
    cases = loads(tree, SITE, only=["own-weight", "wet-snow", "ice"]).cases
    kept = Loads.given(
        cases,
        force,
        moment,
        wood_kg=np.zeros(tree.n),
        base_case=np.full(3, -1),
        median_share=np.ones(3),
        quantile=np.ones(3),
    )
    assert kept.force_n == pytest.approx(force, abs=1e-12)
    assert kept.moment_n_m == pytest.approx(moment, abs=1e-12)


def test_resultants_may_be_written_over_old_ones() -> None:
    tree = random_skeleton(6, 50)
    every = loads(tree, SITE)
    fresh = resultants(tree, every)
    old = resultants(tree, every, cut_masks(tree, [5]))
    again = resultants(tree, every, over=old)
    assert (again.force_n == fresh.force_n).all()
    assert (again.moment_n_m == fresh.moment_n_m).all()
    assert np.shares_memory(again.force_n, old.force_n)
    with pytest.raises(ValueError, match="38 cases"):
        resultants(tree, every, over=resultants(tree, loads(tree, SITE, only=["ice"])))

"""Closed forms of what seeing is worth, against plain simulation and independent integrals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_normal

from limbwright.needs.evsi import best_of_three, best_of_two, bivariate_normal, signed_square
from limbwright.needs.tape import value_of_seeing

DRAWS = 400_000
means = st.floats(-4.0, 4.0)
scatters = st.floats(0.05, 4.0)
ties = st.floats(-0.97, 0.97)


def test_one_choice_is_the_unit_normal_loss() -> None:
    """Table of the unit normal loss integral (Schlaifer 1959): 0.3989 at 0, 0.0833 at 1."""
    assert best_of_two(0.0, 1.0) == pytest.approx(0.3989, abs=5e-5)
    assert best_of_two(-1.0, 1.0) == pytest.approx(0.0833, abs=5e-5)
    assert best_of_two(-2.0, 1.0) == pytest.approx(0.008491, abs=5e-7)


@settings(max_examples=40, deadline=None)
@given(h=means, k=means, rho=ties)
def test_the_bivariate_normal_is_that_of_scipy(h: float, k: float, rho: float) -> None:
    other = multivariate_normal([0.0, 0.0], [[1.0, rho], [rho, 1.0]]).cdf([h, k])
    assert float(bivariate_normal(h, k, rho)) == pytest.approx(other, abs=1e-6)


@pytest.mark.parametrize(
    ("mx", "sx", "my", "sy", "rho"),
    [
        (1.0, 1.0, 1.5, 2.0, 0.5),
        (-1.0, 0.5, -2.0, 3.0, -0.6),
        (3.0, 2.0, 2.9, 0.4, 0.9),
        (0.0, 1.0, 0.0, 1.0, 0.0),
    ],
)
def test_the_best_of_three_by_brute_force(
    mx: float, sx: float, my: float, sy: float, rho: float
) -> None:
    rng = np.random.default_rng(1)
    cov = [[sx * sx, rho * sx * sy], [rho * sx * sy, sy * sy]]
    drawn = rng.multivariate_normal([mx, my], cov, size=DRAWS)
    best = np.maximum(drawn.max(axis=1), 0.0)
    error = 4.0 * best.std() / np.sqrt(DRAWS)
    assert float(best_of_three(mx, sx, my, sy, rho)) == pytest.approx(best.mean(), abs=error)


@settings(max_examples=60, deadline=None)
@given(mx=means, sx=scatters, my=means, sy=scatters, rho=ties)
def test_more_choice_and_more_scatter_never_hurt(
    mx: float, sx: float, my: float, sy: float, rho: float
) -> None:
    three = float(best_of_three(mx, sx, my, sy, rho))
    assert three >= float(best_of_two(mx, sx)) - 1e-9
    assert three >= float(best_of_two(my, sy)) - 1e-9
    assert three >= max(mx, my, 0.0)
    assert three == pytest.approx(float(best_of_three(my, sy, mx, sx, rho)), abs=1e-9)


def test_without_scatter_there_is_nothing_to_see() -> None:
    assert float(best_of_three(2.0, 0.0, 1.0, 0.0, 0.3)) == pytest.approx(2.0)
    assert float(best_of_three(-2.0, 0.0, -1.0, 0.0, 0.3)) == pytest.approx(0.0)


def test_signed_squares_have_these_moments() -> None:
    z = np.random.default_rng(2).normal(0.4, 0.9, DRAWS)
    value = z * np.abs(z)
    mean, sd = signed_square(0.4, 0.9)
    assert float(mean) == pytest.approx(value.mean(), abs=4.0 * value.std() / np.sqrt(DRAWS))
    assert float(sd) == pytest.approx(value.std(), rel=0.01)


def test_the_value_of_seeing_by_brute_force() -> None:
    """Three trees, each decided on means and again with its limbs seen, many times over."""
    mean = np.array([[1.0, -0.5, 4.0], [1.2, -0.2, 5.0], [2.5, -1.0, 5.2]])
    sd = np.array([[1.0, 0.8, 2.0], [1.5, 0.9, 2.5], [1.8, 1.0, 2.0]])
    rho, known = 0.5, 0.8
    whole, choosing, placing = value_of_seeing(mean, sd, rho, known)
    rng = np.random.default_rng(3)
    for k in range(3):
        s = np.sqrt(known) * sd[:2, k]
        cov = [[s[0] ** 2, rho * s[0] * s[1]], [rho * s[0] * s[1], s[1] ** 2]]
        seen = rng.multivariate_normal(mean[:2, k], cov, size=DRAWS)
        without = max(mean[0, k], mean[1, k], 0.0)
        chosen = np.maximum(seen.max(axis=1), 0.0)
        error = 4.0 * chosen.std() / np.sqrt(DRAWS)
        assert whole[k] == pytest.approx(max(mean[2, k], chosen.mean()) - without, abs=error)
        assert choosing[k] <= chosen.mean() - without + error
        assert whole[k] == pytest.approx(choosing[k] + placing[k])
        assert min(whole[k], choosing[k], placing[k]) >= 0.0

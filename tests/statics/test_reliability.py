"""Chance of failure against closed forms, Monte Carlo and published examples."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr, ndtri

from limbwright.statics.reliability import (
    NODES,
    PRIOR,
    YearlyLoad,
    annual_chance,
    hazard_groups,
    lognormal_chance,
    normal_chance,
    stand_a_year,
    worst_of_hazards,
    yearly_load,
)

# W10: mean and coefficient of variation of strength and load, reliability index, chance.
LOGNORMAL = [
    (50, 0.25, 20, 0.35, 2.2484, 0.01227),
    (50, 0.25, 30, 0.35, 1.2824, 0.09984),
    (50, 0.16, 20, 0.20, 3.6354, 1.388e-4),
    (40, 0.30, 15, 0.50, 1.8867, 0.02960),
]


@pytest.mark.parametrize(("r", "vr", "s", "vs", "beta", "chance"), LOGNORMAL)
def test_w10_lognormal_strength_and_load_in_closed_form(r, vr, s, vs, beta, chance) -> None:  # type: ignore[no-untyped-def]
    # Textbook closed form; figures recomputed by hand and by Monte Carlo.
    found = lognormal_chance(r, vr, s, vs)
    assert found == pytest.approx(chance, rel=1e-3)
    assert -ndtri(found) == pytest.approx(beta, abs=1e-3)


@pytest.mark.parametrize(("r", "vr", "s", "vs", "beta", "chance"), LOGNORMAL)
def test_the_grid_gives_the_closed_form(r, vr, s, vs, beta, chance) -> None:  # type: ignore[no-untyped-def]
    zr, zs = np.sqrt(np.log1p(vr**2)), np.sqrt(np.log1p(vs**2))
    load = YearlyLoad(np.array([[np.log(s / r) - zs**2 / 2]]), np.array([[zs]]))
    stands = stand_a_year(load, np.array([-(zr**2) / 2]), np.array([zr]))
    assert annual_chance(stands, PRIOR)[0] == pytest.approx(chance, rel=2e-3)


def test_w10b_normal_strength_and_load_in_closed_form() -> None:
    found = normal_chance(50, 12.5, 20, 7)  # W10b
    assert found == pytest.approx(0.01813, rel=1e-3)
    assert -ndtri(found) == pytest.approx(2.0940, abs=1e-3)


def test_monte_carlo_of_closed_forms() -> None:
    draw = np.random.default_rng(4)
    n = 400_000
    zr, zs = np.sqrt(np.log1p(0.25**2)), np.sqrt(np.log1p(0.35**2))
    strength = 50 * np.exp(zr * draw.normal(size=n) - zr**2 / 2)
    load = 30 * np.exp(zs * draw.normal(size=n) - zs**2 / 2)
    assert (load > strength).mean() == pytest.approx(
        float(lognormal_chance(50, 0.25, 30, 0.35)), abs=4 * np.sqrt(0.1 * 0.9 / n)
    )


def test_monte_carlo_of_several_hazards() -> None:
    draw = np.random.default_rng(5)
    n = 400_000
    load = YearlyLoad(np.log(np.array([[0.25], [0.35], [0.2]])), np.array([[0.5], [0.2], [0.6]]))
    mu, zeta = -0.03, 0.4
    e = mu + zeta * draw.normal(size=n)
    fails = np.zeros(n, dtype=bool)
    for m, z in zip(load.ln_median[:, 0], load.zeta[:, 0], strict=True):
        fails |= m + z * draw.normal(size=n) > e
    found = annual_chance(stand_a_year(load, np.array([mu]), np.array([zeta])), PRIOR)[0]
    assert fails.mean() == pytest.approx(found, abs=4 * np.sqrt(found / n))


def test_w11_the_implied_limb_of_a_published_pulling_test_is_plausible() -> None:
    # W11, Lilly & Sydnor-type table (AUF): silver maple 3009 N m at 29.70 MPa, Norway maple 3521
    # at 24.51: the round limbs implied are of pullable size.
    for moment, stress_mpa, diameter in ((3009, 29.70, 0.1011), (3521, 24.51, 0.1135)):
        implied = (32 * moment / (np.pi * stress_mpa * 1e6)) ** (1 / 3)
        assert implied == pytest.approx(diameter, abs=2e-4)


def test_the_yearly_load_passes_through_its_two_quantiles() -> None:
    load = yearly_load(np.array([[0.2]]), np.array([[0.5]]), np.array([0.98]))
    at_level = load.ln_median[0, 0] + load.zeta[0, 0] * ndtri(0.98)
    assert np.exp(load.ln_median[0, 0]) == pytest.approx(0.2)
    assert np.exp(at_level) == pytest.approx(0.5)


def test_a_load_that_is_always_there_hardly_varies() -> None:
    load = yearly_load(np.array([[0.0]]), np.array([[0.4]]), np.array([1.0]))
    assert np.exp(load.ln_median[0, 0]) == pytest.approx(0.4)
    assert load.zeta[0, 0] == pytest.approx(0.10)


def test_wind_that_lifts_a_limb_does_not_count_below_its_weight() -> None:
    load = yearly_load(np.array([[0.4]]), np.array([[0.3]]), np.array([0.98]))
    assert np.exp(load.ln_median[0, 0]) == pytest.approx(0.4)


def test_no_load_means_no_chance() -> None:
    load = yearly_load(np.zeros((1, 1)), np.zeros((1, 1)), np.array([0.98]))
    stands = stand_a_year(load, np.array([0.0]), np.array([0.4]))
    assert annual_chance(stands, PRIOR)[0] == pytest.approx(0.0, abs=1e-12)


def test_a_load_most_years_do_not_bring_still_reaches_its_level_as_often_as_told() -> None:
    load = yearly_load(np.array([[0.0]]), np.array([[0.5]]), np.array([0.95]))
    score = (np.log(0.5) - load.ln_median[0, 0]) / load.zeta[0, 0]
    assert ndtr(score) == pytest.approx(0.95)


def test_gusts_in_leaf_and_bare_are_one_hazard_and_the_worst_case_counts() -> None:
    names, groups = hazard_groups(["weight", "gust-leaf", "gust-bare", "gust-leaf"])
    assert names == ("weight", "gust")
    load = YearlyLoad(np.log(np.array([[0.1], [0.2], [0.5], [0.3]])), np.full((4, 1), 0.3))
    worst, case = worst_of_hazards(load, groups, 2, np.array([0.4]))
    assert case[:, 0].tolist() == [0, 2]
    assert np.exp(worst.ln_median[1, 0]) == pytest.approx(0.5)


@given(st.floats(0.02, 3.0), st.floats(1.01, 2.0), st.floats(0.1, 1.0), st.floats(0.1, 0.8))
def test_more_load_never_means_less_chance(u: float, more: float, za: float, ze: float) -> None:
    load = YearlyLoad(np.log(np.array([[u, u * more]])), np.full((1, 2), za))
    chance = annual_chance(stand_a_year(load, np.zeros(2), np.full(2, ze)), PRIOR)
    assert 0.0 <= chance[0] <= chance[1] <= 1.0 + 1e-12


def test_the_grid_is_a_normal_distribution() -> None:
    assert PRIOR.sum() == pytest.approx(1.0)
    mean, variance = float(PRIOR @ NODES), float(PRIOR @ NODES**2)
    assert mean == pytest.approx(0.0, abs=1e-4)
    assert variance == pytest.approx(1.0, abs=1e-3)

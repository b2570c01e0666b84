"""Limbs lost: gamma-Poisson against integration and scipy, and the exact Poisson range."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from scipy.stats import gamma, poisson

from limbwright.learn.failures import Watched, failure_range, hazard, poisson_range
from limbwright.trade.parameters import parameters

TABLE = parameters("learn")


def test_the_prior_has_mean_one_and_the_range_its_source_says() -> None:
    shape = TABLE["failure_shape"].value
    band = failure_range(0.0, 0.0)
    assert band.low == pytest.approx(gamma.ppf(0.05, shape, scale=1.0 / shape))
    assert (band.low, band.high) == pytest.approx((0.18, 2.4), abs=0.03)
    assert band.value == 1.0  # a chance stays as it is where nothing was seen


@pytest.mark.parametrize(("expected", "lost"), [(0.5, 0), (2.0, 3), (6.0, 20), (40.0, 10)])
def test_the_factor_agrees_with_bayes_on_a_grid(expected: float, lost: int) -> None:
    shape, together = TABLE["failure_shape"].value, TABLE["failure_together"].value
    factor = np.linspace(1e-5, 20.0, 400_001)
    # Poisson likelihood of the losses, each counting for one in so many: its power 1 / together
    weight = gamma.logpdf(factor, shape, scale=1.0 / shape)
    weight = weight + (lost * np.log(factor * expected) - factor * expected) / together
    weight = np.exp(weight - weight.max())
    below = np.cumsum(weight) / weight.sum()
    band = failure_range(expected, lost)
    assert band.value == pytest.approx(float((weight * factor).sum() / weight.sum()), rel=1e-3)
    for value, share in ((band.low, 0.05), (band.high, 0.95)):
        assert value == pytest.approx(float(np.interp(share, below, factor)), abs=1e-3)


@pytest.mark.parametrize("count", [0, 1, 4, 30])
def test_the_poisson_range_is_exact(count: int) -> None:
    low, high = poisson_range(count)
    assert poisson.cdf(count, high) == pytest.approx(0.05)
    if count:
        assert poisson.sf(count - 1, low) == pytest.approx(0.05)
    else:
        assert low == 0.0


def test_the_expected_losses_are_hazard_times_years() -> None:
    assert hazard(0.0) == 0.0
    one = Watched("Sloe Bank/4", date(2027, 8, 1), 2.0, 1.0 - 0.9 * 0.8, 1)
    assert one.expected == pytest.approx(-2.0 * (np.log(0.9) + np.log(0.8)))


def test_more_losses_raise_the_factor_and_more_years_without_lower_it() -> None:
    lost = [failure_range(2.0, n).value for n in range(8)]
    quiet = [failure_range(float(e), 0).value for e in range(8)]
    assert lost == sorted(lost)
    assert quiet == sorted(quiet, reverse=True)

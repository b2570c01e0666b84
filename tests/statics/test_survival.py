"""What the years a limb has stood teach, against a simulation of such limbs."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.model.skeleton import State
from limbwright.statics.reliability import PRIOR, YearlyLoad, annual_chance, stand_a_year
from limbwright.statics.survival import learn, years_counted


def chances(u: float, za: float, ze: float, years: float) -> tuple[float, float]:
    load = YearlyLoad(np.log(np.array([[u]])), np.array([[za]]))
    stands = stand_a_year(load, np.zeros(1), np.array([ze]))
    before = annual_chance(stands, PRIOR)[0]
    after = annual_chance(stands, learn(stands, np.array([years])))[0]
    return float(before), float(after)


@pytest.mark.parametrize(
    ("u", "za", "ze", "years"), [(0.4, 0.35, 0.45, 10), (0.9, 0.25, 0.5, 15), (0.7, 0.1, 0.4, 5)]
)
def test_simulated_limbs_that_stood_fail_as_often_as_said(
    u: float, za: float, ze: float, years: int
) -> None:
    draw = np.random.default_rng(11)
    n = 400_000
    e = ze * draw.normal(size=n)
    standing = np.ones(n, dtype=bool)
    for _ in range(years):
        standing &= np.log(u) + za * draw.normal(size=n) <= e
    left = e[standing]
    fails = (np.log(u) + za * draw.normal(size=left.size) > left).mean()
    before, after = chances(u, za, ze, years)
    assert fails == pytest.approx(after, abs=4 * np.sqrt(after / left.size) + 1e-6)
    assert after < before


@given(st.floats(0.05, 2.0), st.floats(0.1, 0.8), st.floats(0.15, 0.8), st.floats(0.0, 40.0))
def test_longer_standing_never_raises_the_chance(
    u: float, za: float, ze: float, years: float
) -> None:
    before, after = chances(u, za, ze, years)
    assert after <= before + 1e-12
    assert chances(u, za, ze, years + 5)[1] <= after + 1e-12


def test_no_years_teach_nothing() -> None:
    before, after = chances(0.5, 0.3, 0.4, 0.0)
    assert after == pytest.approx(before)


def test_a_limb_that_should_have_failed_long_ago_is_believed_to_be_strong() -> None:
    before, after = chances(2.0, 0.1, 0.4, 20)
    assert before > 0.9
    assert after < 0.05
    # even where no strength in the grid could have stood
    assert 0.0 <= chances(1e4, 0.1, 0.15, 20)[1] <= 1.0


def test_the_past_of_rotting_wood_counts_less() -> None:
    years = years_counted(20.0, np.array([State.LIVE, State.DEAD, State.DISEASED, State.BROKEN]))
    assert years[0] == 20.0
    assert (years[1:] <= 5.0).all()
    assert years_counted(1.0, np.array([State.DEAD]))[0] == 1.0

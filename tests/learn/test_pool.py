"""Partial pooling: against numerical integration, against simulation, and what bends it."""

from __future__ import annotations

from math import exp, log, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm
from tests.learn.records import PRIOR, holding

from limbwright.learn.pool import factor_range, pool, sift
from limbwright.learn.quantities import TAIL, Prior, priors

Y = [0.3, 0.1, 0.5, -0.1, 0.6]
SD = [0.3, 0.3, 0.4, 0.3, 0.5]
SPECIES = ["apple", "apple", "pear", "pear", "apple"]
CREW = ["Ada", "Wyn", "Ada", "Ada", "Wyn"]


def test_one_level_agrees_with_bayes_on_a_grid() -> None:
    prior = Prior(holding=0.4, species=0.0, crew=0.0, scatter=0.3)
    mu = np.linspace(-3.0, 3.0, 6001)
    weight = norm.pdf(mu, 0.0, prior.holding)
    for y, sd in zip(Y, SD, strict=True):
        weight = weight * norm.pdf(y, mu, sd)
    weight /= weight.sum()
    mean = float((weight * mu).sum())
    deviation = sqrt(float((weight * (mu - mean) ** 2).sum()))
    found = pool(Y, SD, SPECIES, CREW, prior).holding
    assert found == pytest.approx((mean, deviation), abs=1e-6)
    assert pool(Y, SD, SPECIES, CREW, prior).species == {}


def test_two_levels_agree_with_bayes_on_a_grid() -> None:
    prior = Prior(holding=0.4, species=0.25, crew=0.0, scatter=0.3)
    axis = np.linspace(-1.8, 1.8, 73)
    mu, apple, pear = np.meshgrid(axis, axis, axis, indexing="ij")
    log_weight = norm.logpdf(mu, 0.0, 0.4)
    log_weight = log_weight + norm.logpdf(apple, 0.0, 0.25) + norm.logpdf(pear, 0.0, 0.25)
    for y, sd, kind in zip(Y, SD, SPECIES, strict=True):
        log_weight += norm.logpdf(y, mu + (apple if kind == "apple" else pear), sd)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    found = pool(Y, SD, SPECIES, CREW, prior)
    for told, value in (
        (found.holding, mu),
        (found.species["apple"], mu + apple),
        (found.species["pear"], mu + pear),
    ):
        mean = float((weight * value).sum())
        deviation = sqrt(float((weight * (value - mean) ** 2).sum()))
        assert told == pytest.approx((mean, deviation), abs=2e-4)


def test_deviations_are_those_from_what_all_the_others_foretell() -> None:
    found = pool(Y, SD, SPECIES, CREW, PRIOR)
    for i in range(len(Y)):
        others = [k for k in range(len(Y)) if k != i]
        # the others' covariance with record i, worked out from the model itself
        cov = np.array(
            [
                [
                    PRIOR.holding**2
                    + PRIOR.species**2 * (SPECIES[a] == SPECIES[b])
                    + PRIOR.crew**2 * (CREW[a] == CREW[b])
                    + SD[a] ** 2 * (a == b)
                    for b in range(len(Y))
                ]
                for a in range(len(Y))
            ]
        )
        gain = cov[i, others] @ np.linalg.inv(cov[np.ix_(others, others)])
        mean = gain @ np.array(Y)[others]
        variance = cov[i, i] - gain @ cov[others, i]
        assert found.deviation[i] == pytest.approx((Y[i] - mean) / sqrt(variance), rel=1e-9)


def test_without_records_the_prior_stands() -> None:
    for prior in priors().values():
        found = sift([], [], [], [], prior)
        assert found.pooled.holding == pytest.approx((0.0, prior.holding))
        assert found.widened == 1.0


def test_a_group_with_few_records_is_drawn_to_the_holding() -> None:
    y, sd = [0.5] * 12 + [-0.5], [0.3] * 13
    found = pool(y, sd, ["apple"] * 12 + ["pear"], [""] * 13, PRIOR)
    assert found.holding[0] > found.species["pear"][0] > 0.0
    assert found.species["pear"][1] > found.species["apple"][1]


@pytest.mark.parametrize("many", [6, 12, 40])
def test_the_range_of_nine_in_ten_holds_nine_in_ten(many: int) -> None:
    rng = np.random.default_rng(20270302)
    inside = {"holding": 0, "species": 0, "crew": 0}
    runs = 400
    for _ in range(runs):
        told, mu, kinds, crews = holding(rng, many)
        found = sift(
            [o.log_ratio for o in told],
            [o.sd for o in told],
            [o.species for o in told],
            [o.who for o in told],
            PRIOR,
        ).pooled
        for level, truth, (mean, sd) in (
            ("holding", mu, found.holding),
            ("species", kinds["pear"], found.species["pear"]),
            ("crew", crews["Ada"], found.crew["Ada"]),
        ):
            inside[level] += abs(truth - mean) <= TAIL * sd
    for level, count in inside.items():
        assert 0.85 <= count / runs <= 0.95, level


def test_many_records_find_the_factor_of_the_holding() -> None:
    rng = np.random.default_rng(7)
    y = rng.normal(log(1.3), 0.3, 400).tolist()
    found = sift(y, [0.3] * 400, ["apple"] * 400, ["Ada"] * 400, PRIOR)
    assert exp(found.pooled.crew["Ada"][0]) == pytest.approx(1.3, rel=0.04)
    assert found.kept.mean() > 0.98


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(-3.0, 3.0),
            st.floats(0.1, 1.0),
            st.sampled_from(["apple", "pear", ""]),
            st.sampled_from(["Ada", "Wyn", ""]),
        ),
        max_size=14,
    ),
    st.randoms(use_true_random=False),
)
def test_order_does_not_matter_and_every_number_is_one(
    rows: list[tuple[float, float, str, str]], shuffler: object
) -> None:
    mixed = list(rows)
    shuffler.shuffle(mixed)  # type: ignore[attr-defined]

    def of(given_rows: list[tuple[float, float, str, str]]) -> tuple[object, ...]:
        y, sd, kinds, crews = ([r[k] for r in given_rows] for k in range(4))
        found = sift(y, sd, kinds, crews, PRIOR)  # type: ignore[arg-type]
        kept = sorted(r for r, stays in zip(given_rows, found.kept, strict=True) if stays)
        return found.pooled.holding, found.pooled.species, found.pooled.crew, found.widened, kept

    assert of(rows) == of(mixed)
    y, sd, kinds, crews = ([r[k] for r in rows] for k in range(4))
    mean, deviation = sift(y, sd, kinds, crews, PRIOR).pooled.holding  # type: ignore[arg-type]
    assert np.isfinite(mean)
    assert 0.0 < deviation <= PRIOR.holding + 1e-12


def test_one_wild_record_is_left_out_and_carries_nothing() -> None:
    y = norm.ppf((np.arange(23) + 0.5) / 23, 0.25, 0.3).tolist()
    groups = (["apple"] * 23, ["Ada"] * 23)
    calm = sift(y, [0.3] * 23, *groups, PRIOR)
    wild = sift([*y, log(10.0)], [0.3] * 24, ["apple"] * 24, ["Ada"] * 24, PRIOR)
    assert not wild.kept[-1]
    assert wild.kept[:-1].all()
    assert wild.pooled.holding == pytest.approx(calm.pooled.holding)


def test_ten_times_throughout_is_no_slip_of_one_record() -> None:
    found = sift([log(3.0)] * 10, [0.3] * 10, ["apple"] * 10, ["Ada"] * 10, PRIOR)
    assert found.kept.all()
    assert exp(found.pooled.crew["Ada"][0]) > 2.5


def test_records_that_contradict_each_other_teach_less() -> None:
    y = [1.0, -1.0] * 6
    agreed = sift([0.1] * 12, [0.3] * 12, [""] * 12, [""] * 12, PRIOR)
    quarrel = sift(y, [0.3] * 12, [""] * 12, [""] * 12, PRIOR)
    assert agreed.widened == 1.0
    assert quarrel.widened > 2.0
    assert quarrel.kept.sum() >= 10
    assert quarrel.pooled.holding[1] > 1.5 * agreed.pooled.holding[1]


def test_a_band_holds_its_median_between_its_ends() -> None:
    band = factor_range(log(1.25), 0.2)
    assert band.value == pytest.approx(1.25)
    assert norm.cdf(log(band.high / band.value) / 0.2) == pytest.approx(0.95, abs=1e-4)
    assert band.low * band.high == pytest.approx(band.value**2)

"""What is not known of a section, against the terms of docs/method/chance.md taken by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr
from tests.trees import worked_tree

from limbwright.model import Site, Skeleton
from limbwright.model.skeleton import Provenance
from limbwright.statics.assess import Assessment, assess

# coefficients of variation: the table of docs/method/chance.md
WOOD, BARK, DIAMETER, DENSITY, MODEL, CROP, SNOW, LASTING = (
    *(0.20, 0.10, 3 * 0.02, 0.08, 0.10),
    *(0.30, 0.40, 0.10),
)


def bar(fruit_kg: float = 20.0) -> Skeleton:
    """A level bar of apple: no union, no cavity, its diameters taped."""
    return worked_tree(
        [-1, 0],
        [(0, 0, 2), (1, 0, 2)],
        [(1, 0, 2), (3, 0, 2)],
        [100, 80],
        [80, 40],
        fruit_kg=[0, fruit_kg],
    )


def spread(*covs: float) -> float:
    """Deviation of the logarithm of a product of independent lognormals (standard result)."""
    return float(np.sqrt(sum(np.log1p(c * c) for c in covs)))


def alone(case: str) -> Assessment:
    return assess(bar(), Site(), only=[case])


def test_under_its_own_weight_wood_bark_diameter_density_and_model_are_unknown() -> None:
    found = alone("own-weight").belief
    assert found.zeta[0] == pytest.approx(spread(WOOD, BARK, DIAMETER, DENSITY, MODEL), rel=1e-6)


def test_strengths_are_means_so_the_median_reserve_is_less() -> None:
    """Median over mean of a lognormal: exp(-zeta^2 / 2) of its own zeta (standard result)."""
    wood = spread(WOOD, BARK)
    assert alone("own-weight").belief.mu[0] == pytest.approx(-0.5 * wood**2, rel=1e-6)


def test_a_crop_is_unknown_for_the_share_of_the_load_that_is_not_always_there() -> None:
    every = assess(bar(), Site())
    keys = [c.key for c in every.loads.cases]
    u = every.utilisation[:, 0]
    varying = 1.0 - u[keys.index("light-crop")] / u[keys.index("extreme-crop")]
    assert 0.2 < varying < 0.8
    known = spread(WOOD, BARK, DIAMETER, DENSITY, MODEL, LASTING, CROP * varying)
    assert alone("extreme-crop").belief.zeta[0] == pytest.approx(known, rel=1e-6)


def test_what_is_always_there_counts_at_the_strength_of_its_own_case() -> None:
    """Wood keeps 0.78 of its strength under a week of snow (US duration curve, loads.csv)."""
    every = assess(bar(), Site())
    keys = [c.key for c in every.loads.cases]
    u = every.utilisation[:, 0]
    varying = 1.0 - (u[keys.index("own-weight")] / 0.78) / u[keys.index("wet-snow")]
    assert 0.05 < varying < 0.95
    known = spread(WOOD, BARK, DIAMETER, DENSITY, MODEL, LASTING, SNOW * varying)
    assert alone("wet-snow").belief.zeta[0] == pytest.approx(known, rel=1e-6)


def test_one_case_alone_has_the_closed_form_of_the_textbooks() -> None:
    """P(load > strength) of two lognormals, e.g. Melchers & Beck (from memory)."""
    found = alone("extreme-crop")
    mu, zeta = found.belief.mu[0], found.belief.zeta[0]
    median, yearly = found.yearly.ln_median[0, 0], found.yearly.zeta[0, 0]
    closed = ndtr((median - mu) / np.hypot(zeta, yearly))
    assert found.chance_handbook[0] == pytest.approx(closed, rel=2e-3)


def test_a_derived_diameter_is_known_less_well_than_a_taped_one() -> None:
    """0.08 in place of 0.02, three times that on the modulus: docs/method/chance.md."""
    derived = Provenance(("measured", "derived: taper"), {"diameter": np.array([1, 0])})
    found = assess(replace(bar(), provenance=derived), only=["own-weight"]).belief
    assert found.zeta[0] == pytest.approx(spread(WOOD, BARK, 3 * 0.08, DENSITY, MODEL), rel=1e-6)

"""Light foretold in measured cherry crowns (open data of UtahTarts, 2014), nothing fitted."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from benchmarks.measured_light import KINDS, flat, foretell, kind_of

ROOT = Path(__file__).resolve().parents[2]
DATA = Path(os.environ.get("LIMBWRIGHT_DATA", ROOT.parent / "shared" / "data")) / "limb-surveys"


@pytest.fixture(scope="module")
def readings() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    if not (DATA / "crown_light.csv").is_file():
        pytest.skip("the measured crowns are not here")
    _, place, measured, foretold = flat(foretell(DATA, ROOT / "examples" / "scaffolds.toml"))
    return np.array([kind_of(p) for p in place]), measured, foretold


def test_the_places_stand_in_the_order_measured(readings: tuple) -> None:
    """Medians: low centre darker than low rim, low rim darker than mid rim, both ways."""
    kind, measured, foretold = readings
    assert len(measured) >= 700
    for light in (measured, foretold):
        low_rim, mid_rim, low_centre, _ = (np.median(light[kind == k]) for k in range(len(KINDS)))
        assert low_centre < low_rim < mid_rim


def test_no_reading_is_far_better_foretold_than_this(readings: tuple) -> None:
    """Honest and poor: one moment at one point is hardly foretold by a season's mean. The mean
    error is below a third of full sun, and the centre's mean is met to a tenth."""
    kind, measured, foretold = readings
    assert np.abs(measured - foretold).mean() < 0.33
    assert foretold[kind == 2].mean() == pytest.approx(measured[kind == 2].mean(), abs=0.1)

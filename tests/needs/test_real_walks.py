"""The forecast on real trees it knows nothing of (open limb survey of tart cherries, 2014)."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from benchmarks.tape_prior import any_fails, real_trees
from benchmarks.tape_trees import YEAR
from scipy.stats import spearmanr

from limbwright.model import Site, StationRecord
from limbwright.model.skeleton import Floats
from limbwright.needs.tape import tape_value

ROOT = Path(__file__).resolve().parents[2]
DATA = Path(os.environ.get("LIMBWRIGHT_DATA", ROOT.parent / "shared" / "data")) / "limb-surveys"
EVERY = 4


@pytest.fixture(scope="module")
def trees() -> tuple[list[StationRecord], Floats]:
    if not (DATA / "scaffolds.csv").is_file():
        pytest.skip("the surveyed cherries are not here: set LIMBWRIGHT_DATA")
    found = real_trees(DATA, EVERY)
    return [s for s, _ in found], np.asarray([any_fails(a) for _, a in found])


def test_the_order_of_danger_carries_over(trees: tuple[list[StationRecord], Floats]) -> None:
    """Measures alone put real trees in the order of their limbs' chances, though not well."""
    stations, chance = trees
    told = {one.tree: one.chance.value for one in tape_value(stations, Site(), year=YEAR)}
    assert spearmanr([told[s.tree] for s in stations], chance)[0] > 0.25


def test_a_few_taped_trees_mend_the_figures(trees: tuple[list[StationRecord], Floats]) -> None:
    """Young kept cherries are foretold several times too much danger; six taped ones take most of
    that away from the rest."""
    stations, chance = trees
    taped = {s.tree: float(p) for s, p in zip(stations[:6], chance[:6], strict=True)}
    true = float(np.median(np.log(chance[6:])))
    far = []
    for known in ({}, taped):
        told = {
            one.tree: one.chance.value
            for one in tape_value(stations, Site(), year=YEAR, chances=known)
        }
        far.append(abs(float(np.median(np.log([told[s.tree] for s in stations[6:]]))) - true))
    assert far[1] < 0.5 * far[0]

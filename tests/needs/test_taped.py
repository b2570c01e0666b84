"""What the taped trees of a holding teach about the rest."""

from __future__ import annotations

import numpy as np
import pytest
from benchmarks.tape_prior import kept_trees

from limbwright.cuts.weights import Settings
from limbwright.errors import InputError
from limbwright.model import Site, StationRecord
from limbwright.needs.need import needs
from limbwright.needs.prior import prior
from limbwright.needs.tape import tape_value
from limbwright.needs.taped import Learnt, learnt_from
from limbwright.needs.walk import Walk, read_walk
from limbwright.trade.parameters import parameters

YEAR = 2026
SITE = Site()


@pytest.fixture(scope="module")
def stations() -> list[StationRecord]:
    return [t.station for t in kept_trees()[:40]]


@pytest.fixture(scope="module")
def walks(stations: list[StationRecord]) -> list[Walk]:
    return [read_walk(s, YEAR) for s in stations]


def foretold(walks: list[Walk]) -> dict[str, float]:
    found = prior(walks, SITE, Settings())
    return {w.station.tree: float(np.exp(v)) for w, v in zip(walks, found.log_chance, strict=True)}


def test_trees_as_foretold_teach_nothing(walks: list[Walk]) -> None:
    learnt = learnt_from(walks, foretold(walks), SITE, Settings())
    assert learnt.shift == pytest.approx(0.0, abs=1e-9)
    assert learnt.trees == len(walks)
    assert learnt_from(walks, {}, SITE, Settings()) == Learnt()


def test_the_posterior_is_that_of_a_grid(walks: list[Walk]) -> None:
    """Normal prior times normal likelihoods, summed on a fine grid."""
    some = walks[:5]
    rng = np.random.default_rng(1)
    chances = {name: 0.4 * p * float(np.exp(rng.normal(0.0, 0.3))) for name, p in
               foretold(some).items()}  # fmt: skip
    learnt = learnt_from(walks, chances, SITE, Settings())
    found = prior(some, SITE, Settings())
    seen = np.log([chances[w.station.tree] for w in some]) - found.log_chance
    grid = np.linspace(-4.0, 4.0, 8001)
    log = -0.5 * (grid / parameters("needs")["holding_spread"].value) ** 2
    for r, sd in zip(seen, found.log_chance_sd, strict=True):
        log -= 0.5 * ((r - grid) / sd) ** 2
    weight = np.exp(log - log.max())
    mean = float((grid * weight).sum() / weight.sum())
    assert learnt.shift == pytest.approx(mean, abs=1e-6)
    assert learnt.sd == pytest.approx(
        float(np.sqrt((weight * (grid - mean) ** 2).sum() / weight.sum())), abs=1e-6
    )


def test_a_few_trees_move_the_rest_most_of_the_way(
    stations: list[StationRecord], walks: list[Walk]
) -> None:
    fifth = {name: 0.2 * p for name, p in foretold(walks).items()}
    names = list(fifth)
    before = {one.tree: one for one in tape_value(stations, SITE, year=YEAR)}
    for many, least, most in ((1, 0.2, 0.8), (12, 0.2, 0.3)):
        known = {name: fifth[name] for name in names[:many]}
        after = tape_value(stations, SITE, year=YEAR, chances=known)
        assert not {one.tree for one in after} & set(known)
        for one in after:
            ratio = one.chance.value / before[one.tree].chance.value
            assert least < ratio < most
            assert one.with_h < before[one.tree].with_h


def test_needs_tell_the_chance_that_is_known(stations: list[StationRecord]) -> None:
    first = needs(stations[:3], year=YEAR, site=SITE)
    at_work = next(one for one in first if one.chance is not None)
    again = needs(stations[:3], year=YEAR, site=SITE, chances={at_work.tree: 0.015})
    told = next(one for one in again if one.tree == at_work.tree).chance
    assert told is not None
    assert told.value == 0.015
    assert "taped limbs" in told.because


def test_a_chance_that_cannot_be_is_refused(walks: list[Walk]) -> None:
    with pytest.raises(InputError, match="chance of tree"):
        learnt_from(walks, {walks[0].station.tree: 1.5}, SITE, Settings())


def test_what_was_learnt_is_told() -> None:
    assert Learnt().sentence == ""
    assert "one tree here are known" not in Learnt(-1.0, 0.3, 12).sentence
    assert "12 trees here" in Learnt(-1.0, 0.3, 12).sentence
    assert "0.37 times" in Learnt(-1.0, 0.3, 12).sentence

"""How a tree answers cuts: against published directions and hand-worked numbers."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.errors import InputError
from limbwright.growth.rates import rates
from limbwright.growth.response import (
    CutKind,
    Season,
    long_run_share,
    regrowth_range,
    regrowth_share,
    watershoots,
    wound_closing_years,
)

ORDINARY = rates("apple", extension_cm=25.0)
KINDS: tuple[CutKind, ...] = ("remove", "shorten", "head", "thin")
SEASONS: tuple[Season, ...] = ("winter", "summer")
doses = st.floats(0.0, 1.0)
years = st.floats(0.0, 30.0)


def test_a_quarter_dose_worked_by_hand() -> None:
    # w 0.5, tau 1.8 years
    for k in range(6):
        assert regrowth_share(ORDINARY, k, 0.25) == pytest.approx(0.5 * (1 - math.exp(-k / 1.8)))
    shoots = watershoots(ORDINARY, 0.25, 40.0)
    assert shoots.count.value == pytest.approx(60.0)
    assert [round(r.value, 1) for r in shoots.by_year] == [60.0, 36.0, 21.6, 13.0, 7.8]
    assert shoots.kg.value == pytest.approx(60.0 * 0.7 * 0.03)
    assert shoots.leaf_m2.value == pytest.approx(60.0 * 0.7 * 0.09)


@given(doses, doses, years, st.sampled_from(KINDS), st.sampled_from(SEASONS))
def test_a_harder_cut_is_answered_harder(
    a: float, b: float, k: float, kind: CutKind, season: Season
) -> None:
    # Saure 1985, Schupp et al. 2017: response rises with severity
    low, high = sorted((a, b))
    more = regrowth_share(ORDINARY, k, high, kind=kind, season=season)
    assert more >= regrowth_share(ORDINARY, k, low, kind=kind, season=season)
    assert (
        watershoots(ORDINARY, high, 10.0, kind=kind, season=season).count.value
        >= watershoots(ORDINARY, low, 10.0, kind=kind, season=season).count.value
    )


@given(doses, years, years, st.sampled_from(KINDS), st.sampled_from(SEASONS))
def test_regrowth_only_rises_slows_down_and_never_exceeds_what_was_taken(
    dose: float, a: float, b: float, kind: CutKind, season: Season
) -> None:
    early, late = sorted((a, b))
    one, two = (regrowth_share(ORDINARY, k, dose, kind=kind, season=season) for k in (early, late))
    assert 0.0 <= one <= two <= 1.0
    assert two <= long_run_share(ORDINARY, dose, kind=kind, season=season)
    first, second = (
        regrowth_share(ORDINARY, k + 1.0, dose, kind=kind, season=season)
        - regrowth_share(ORDINARY, k, dose, kind=kind, season=season)
        for k in (early, late)
    )
    assert second <= first + 1e-12  # Follett et al. 2016: fast after the cut, then less and less


@given(doses, years)
def test_kinds_and_seasons_stand_in_the_published_order(dose: float, k: float) -> None:
    # topping most, cuts to a lateral and thinning less (Fini et al. 2015, Follett et al. 2016);
    # summer less than winter (DesRochers et al. 2015)
    by_kind = [regrowth_share(ORDINARY, k, dose, kind=kind) for kind in KINDS]
    remove, shorten, head, thin = by_kind
    assert thin <= shorten <= remove <= head
    for kind in KINDS:
        winter = regrowth_share(ORDINARY, k, dose, kind=kind)
        assert regrowth_share(ORDINARY, k, dose, kind=kind, season="summer") <= winter


def test_by_the_fourth_season_most_of_what_comes_has_come() -> None:
    # shoot length back to its old level after 2 to 4 seasons, effects traced for 3 years
    assert regrowth_share(ORDINARY, 4, 0.25) / long_run_share(ORDINARY, 0.25) > 0.85
    assert regrowth_share(ORDINARY, 1, 0.25) / long_run_share(ORDINARY, 0.25) < 0.5


@given(doses, years, st.floats(0.0, 500.0), st.sampled_from(KINDS))
def test_ranges_hold_their_values(dose: float, k: float, leaf: float, kind: CutKind) -> None:
    omega = regrowth_range(ORDINARY, k, dose, kind=kind)
    assert omega.value == pytest.approx(regrowth_share(ORDINARY, k, dose, kind=kind))
    shoots = watershoots(ORDINARY, dose, leaf, kind=kind)
    assert shoots.leaf_m2.high <= leaf
    for one in (omega, shoots.count, shoots.length_m, shoots.kg, shoots.leaf_m2, *shoots.by_year):
        assert one.low <= one.value <= one.high
    counts = [one.value for one in shoots.by_year]
    assert counts == sorted(counts, reverse=True)


@given(st.floats(0.02, 0.33))
def test_watershoots_are_a_part_of_the_first_years_regrowth(dose: float) -> None:
    # the rest is older wood near the cuts that breaks into leaf
    leaf = 100.0
    shoots = watershoots(ORDINARY, dose, leaf)
    assert shoots.leaf_m2.value < regrowth_share(ORDINARY, 1, dose) * leaf


def test_nothing_taken_sends_out_no_shoots() -> None:
    none = watershoots(ORDINARY, 0.0, 0.0)
    assert none.count.high == none.kg.high == none.leaf_m2.high == 0.0
    assert none.to_dict()["by_year"][0] == {"value": 0.0, "low": 0.0, "high": 0.0}


def test_wounds_close_as_on_wild_cherry() -> None:
    # Seifert et al. 2010: 1.3 mm closed for 1 mm of diameter growth; ring 1.75 mm: 4.55 mm a year
    found = wound_closing_years(91.0, ORDINARY)
    assert found.value == pytest.approx(20.0)
    assert found.low < 20.0 < found.high
    assert wound_closing_years(45.5, ORDINARY).value == pytest.approx(10.0)
    assert wound_closing_years(0.0, ORDINARY).high == 0.0


def test_wounds_close_later_on_weak_trees_and_thin_limbs() -> None:
    weak = rates("apple", extension_cm=2.0)
    assert wound_closing_years(50.0, weak).value > wound_closing_years(50.0, ORDINARY).value
    on_limb = wound_closing_years(50.0, ORDINARY, bearer_mm=200.0)
    assert on_limb.value == pytest.approx(2.0 * wound_closing_years(50.0, ORDINARY).value)


@pytest.mark.parametrize("dose", [-0.1, 1.1, math.nan])
def test_a_dose_that_cannot_be_is_told(dose: float) -> None:
    with pytest.raises(InputError, match="dose"):
        regrowth_share(ORDINARY, 1, dose)


def test_unknown_kinds_seasons_and_leaf_are_told() -> None:
    with pytest.raises(InputError, match="'pollard'"):
        regrowth_share(ORDINARY, 1, 0.2, kind="pollard")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="'autumn'"):
        watershoots(ORDINARY, 0.2, 10.0, season="autumn")  # type: ignore[arg-type]
    for leaf in (-1.0, math.nan, math.inf):
        with pytest.raises(InputError, match="leaf"):
            watershoots(ORDINARY, 0.2, leaf)

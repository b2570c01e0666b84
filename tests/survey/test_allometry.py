"""Wood carried by a limb of a given thickness and length."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.survey.allometry import (
    Taped,
    base_diameter_mm,
    carried_wood,
    crown_factor,
    section_share,
    tree_wood,
)


@pytest.mark.parametrize("other", ["pear", "perry-pear", "quince", "medlar"])
def test_pome_fruit_borrow_the_apple(other: str) -> None:
    assert carried_wood(other, 120.0, 3.0) == carried_wood("apple", 120.0, 3.0)


@pytest.mark.parametrize("other", ["plum", "damson", "gage", "cherry"])
def test_stone_fruit_borrow_the_tart_cherry(other: str) -> None:
    assert carried_wood(other, 120.0, 3.0) == carried_wood("tart-cherry", 120.0, 3.0)


@pytest.mark.parametrize("key", ["apple", "tart-cherry"])
@pytest.mark.parametrize("taken_at_m", [None, 0.0, 0.3])
def test_thicker_and_longer_limbs_carry_more(key: str, taken_at_m: float | None) -> None:
    here = carried_wood(key, 100.0, 3.0, taken_at_m=taken_at_m).dry_kg
    assert carried_wood(key, 120.0, 3.0, taken_at_m=taken_at_m).dry_kg > here
    assert carried_wood(key, 100.0, 3.5, taken_at_m=taken_at_m).dry_kg > here


def test_a_felled_cherry_limb_weighs_about_what_the_fit_says() -> None:
    """Brym & Ernest 2018, PeerJ 6:4949: cherry 1, branch 44: 121 mm, 4.635 m, 27.3 kg dry."""
    found = carried_wood("tart-cherry", 121.0, 4.635)
    assert found.dry_kg == pytest.approx(27.3, rel=2.0 * found.ln_spread)


def test_green_wood_holds_the_water_of_living_wood() -> None:
    """Moisture of living wood of the four kinds: 58 to 97 % of dry (Wood Handbook table 4-1)."""
    found = carried_wood("apple", 120.0, 3.0)
    assert 1.58 <= found.green_kg / found.dry_kg <= 1.97
    whole = tree_wood("apple", Taped(200.0, 1.8), [Taped(120.0, 3.0)])
    assert whole.green_kg / whole.dry_kg == pytest.approx(found.green_kg / found.dry_kg)


def test_the_exponents_are_near_published_ones_of_whole_trees() -> None:
    """W goes with (D^2 L)^0.976 in 4004 trees (Chave et al. 2014, Glob. Change Biol. 20:3177,
    from memory)."""
    for taken_at_m in (None, 0.0):
        thin, thick, long = (
            carried_wood("apple", d, m, taken_at_m=taken_at_m).dry_kg
            for d, m in ((100.0, 3.0), (200.0, 3.0), (100.0, 6.0))
        )
        assert np.log2(thick / thin) == pytest.approx(2.0 * 0.976, abs=0.1)
        assert np.log2(long / thin) == pytest.approx(0.976, abs=0.15)


def test_a_diameter_taken_further_out_means_a_thicker_limb() -> None:
    # the section falls evenly to nothing at the end: at a quarter out, three quarters are left
    assert base_diameter_mm(90.0, 4.0, 1.0) == pytest.approx(90.0 / np.sqrt(0.75))
    assert base_diameter_mm(90.0, 4.0, 0.0) == 90.0
    assert base_diameter_mm(90.0, 4.0, 9.0) == base_diameter_mm(90.0, 4.0, 2.0)


@given(st.floats(80.0, 900.0), st.lists(st.floats(20.0, 500.0), min_size=1, max_size=8))
def test_limbs_count_for_little_more_section_than_their_stem_has(
    stem_mm: float, limbs_mm: list[float]
) -> None:
    share = section_share(stem_mm, limbs_mm, at_base=False)
    assert 0.0 < share <= 1.0
    assert share * sum(d**2 for d in limbs_mm) <= 1.1 * stem_mm**2 * (1.0 + 1e-9) or share == 1.0
    assert section_share(stem_mm, limbs_mm) >= share


def test_a_whole_tree_is_its_stem_and_its_limbs() -> None:
    limbs = [Taped(120.0, 3.0, 0.0), Taped(100.0, 3.5, 0.0)]
    alone = tree_wood("apple", Taped(220.0, 1.8), []).dry_kg
    # 729 kg dry to the cubic metre of the stem's cylinder (the same open data)
    assert alone == pytest.approx(729.0 * np.pi / 4.0 * 0.22**2 * 1.8)
    borne = sum(
        carried_wood("apple", o.diameter_mm, o.length_m, taken_at_m=0.0).dry_kg for o in limbs
    )
    assert tree_wood("apple", Taped(220.0, 1.8), limbs).dry_kg == pytest.approx(alone + borne)
    # limbs that outgrow their stem are collar and swelling in part
    assert tree_wood("apple", Taped(110.0, 1.8), limbs).dry_kg < alone / 4.0 + borne


def test_an_ordinary_crown_is_the_measure() -> None:
    assert crown_factor(None) == crown_factor(2.0) == 1.0
    assert crown_factor(0.0) == 0.0
    assert crown_factor(0.5) < crown_factor(1.0) < 1.0 < crown_factor(3.0)

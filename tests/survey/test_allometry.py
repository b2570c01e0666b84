"""Wood carried by a limb of a given thickness and length."""

from __future__ import annotations

import pytest

from limbwright.survey.allometry import crown_factor, limb_wood_dry_kg


@pytest.mark.parametrize("other", ["pear", "perry-pear", "quince", "medlar"])
def test_pome_fruit_borrow_the_apple(other: str) -> None:
    assert limb_wood_dry_kg(other, 120.0, 3.0) == limb_wood_dry_kg("apple", 120.0, 3.0)


@pytest.mark.parametrize("other", ["plum", "damson", "gage", "cherry"])
def test_stone_fruit_borrow_the_tart_cherry(other: str) -> None:
    assert limb_wood_dry_kg(other, 120.0, 3.0) == limb_wood_dry_kg("tart-cherry", 120.0, 3.0)


@pytest.mark.parametrize("key", ["apple", "tart-cherry"])
def test_thicker_and_longer_limbs_carry_more(key: str) -> None:
    here = limb_wood_dry_kg(key, 100.0, 3.0)[0]
    assert limb_wood_dry_kg(key, 120.0, 3.0)[0] > here
    assert limb_wood_dry_kg(key, 100.0, 3.5)[0] > here


def test_a_felled_cherry_limb_weighs_about_what_the_fit_says() -> None:
    """Brym & Ernest 2018, PeerJ 6:4949: cherry 1, branch 44: 121 mm, 4.635 m, 27.3 kg dry."""
    mean, scatter = limb_wood_dry_kg("tart-cherry", 121.0, 4.635)
    assert mean == pytest.approx(27.3, rel=2.0 * scatter)


def test_an_ordinary_crown_is_the_measure() -> None:
    assert crown_factor(None) == crown_factor(2.0) == 1.0
    assert crown_factor(0.0) == 0.0
    assert crown_factor(0.5) < crown_factor(1.0) < 1.0 < crown_factor(3.0)

"""Snow, ice and gusts on a tree: amounts by hand, levels of the year by their distribution."""

from __future__ import annotations

import numpy as np
import pytest
from tests.trees import random_skeleton
from tests.trees import worked_tree as tree

from limbwright.model import Site, Skeleton
from limbwright.statics.loads import loads
from limbwright.statics.weather import ice_kg, ice_sleeve_kg_m, leaf_drag_area_m2, snow_kg
from limbwright.trade.parameters import parameters

SITE = Site()


def bar(length_m: float, rise_deg: float, diameter_mm: float, **more: list[float]) -> Skeleton:
    """One limb at two metres' height, pointing east."""
    rise = np.radians(rise_deg)
    end = (length_m * np.cos(rise), 0.0, 2.0 + length_m * np.sin(rise))
    return tree([-1], [(0, 0, 2)], [end], [diameter_mm], [diameter_mm], **more)


@pytest.mark.parametrize(
    ("rise_deg", "diameter_mm", "kg"),
    [
        (0, 50, 0.05 * 0.05 * 400 * 2),  # a cap no deeper than the limb is thick
        (0, 200, 0.20 * 0.075 * 400 * 2),  # a cap as deep as the fall: 30 kg/m2 at 400 kg/m3
        (60, 50, 0.05 * 0.05 * 400 * 1),  # half the length as seen from above
        (90, 200, 0.0),  # nothing lies on an upright limb
    ],
)
def test_wet_snow_caps_a_bare_limb(rise_deg: float, diameter_mm: float, kg: float) -> None:
    """By hand: d h rho a metre as seen from above, h no more than d (mass of a cap)."""
    assert snow_kg(bar(2.0, rise_deg, diameter_mm)) == pytest.approx([kg], abs=1e-12)


def test_shoots_hold_three_tenths_of_a_wet_snowfall_on_their_own_ground() -> None:
    """12 m2 of leaf stand for 3 m2 of crown as seen from above: 0.3 x 30 kg/m2 x 3 m2 = 27 kg.

    Within 5 to 20 kg/m2 published for crowns in leaf, of which a leafless crown holds less.
    """
    held = snow_kg(bar(2.0, 90.0, 50.0, leaf_area_m2=[12.0]))
    assert held == pytest.approx([27.0])
    assert 4.0 <= held[0] / 3.0 <= 20.0


def test_ice_is_a_sleeve_on_limb_and_shoots() -> None:
    """By hand: pi t (d + t) rho L, t 6 mm and 900 kg/m3; shoots of 8 mm make 1 kg of wood."""
    sleeve = np.pi * 0.006 * (0.05 + 0.006) * 900 * 2.0
    shoots_m = 1.0 / (1000.0 * np.pi * 0.008**2 / 4)
    on_shoots = np.pi * 0.006 * (0.008 + 0.006) * 900 * shoots_m
    found = ice_kg(bar(2.0, 30.0, 50.0, fine_wood_kg=[1.0]), 1000.0)
    assert found == pytest.approx([sleeve + on_shoots])
    assert float(ice_sleeve_kg_m(np.array(0.05), 0.006)) * 2.0 == pytest.approx(sleeve)


def test_the_median_year_is_a_share_of_each_level_by_gumbel() -> None:
    """Gumbel annual maximum with cov V: x_p = m (1 - V sqrt(6)/pi (0.5772 + ln(-ln p)))."""

    def level(p: float, cov: float) -> float:
        return 1.0 - cov * np.sqrt(6.0) / np.pi * (np.euler_gamma + np.log(-np.log(p)))

    table = parameters("loads")
    for kind in ("snow", "ice"):
        p = 1.0 - table[f"{kind}.yearly_probability"].value
        share = level(0.5, 0.6) / level(p, 0.6)
        assert table[f"{kind}.median_share"].value == pytest.approx(share, abs=0.005)
    # EN 1991-1-4 equation 4.2 with K 0.2: pressure of the median year over the fifty-year one
    found = loads(random_skeleton(3), SITE)
    for case, median in zip(found.cases, found.median_share, strict=True):
        if case.hazard.startswith("gust"):
            assert median == pytest.approx(0.7764**2, abs=2e-4)


@pytest.mark.parametrize("seed", range(6))
def test_a_bare_crown_takes_half_of_its_wind_in_leaf(seed: int) -> None:
    """From memory: 0.4 to 0.6 of the load in leaf, the wood of the crown included."""
    one = random_skeleton(seed, 60)
    found = loads(one, SITE)
    whole = np.linalg.norm(found.force_n.sum(axis=1)[:, :2], axis=1)
    hazard = np.array([case.hazard for case in found.cases])
    ratio = whole[hazard == "gust-bare"].sum() / whole[hazard == "gust-leaf"].sum()
    table = parameters("loads")
    least = table["drag.bare_shoots_least"].value
    assert ratio >= 0.4
    if ratio > 0.6:  # thick wood alone takes more than half: shoots are at their least
        in_leaf = leaf_drag_area_m2(one.leaf_area_m2).sum()
        frontal = one.length_m * (one.start_diameter_mm + one.end_diameter_mm) / 2000.0
        assert table["drag.wood"].value * frontal.sum() > (0.5 - least) * in_leaf


def test_a_place_sets_its_own_snow_and_ice() -> None:
    one = random_skeleton(3)
    names = ["own-weight", "wet-snow", "ice"]
    down = {
        place: -loads(one, place, only=names).force_n[:, :, 2].sum(axis=1)
        for place in (Site(), Site(wet_snow_kg_m2=0.0, ice_mm=0.0), Site(ice_mm=12.0))
    }
    usual, none, icy = down.values()
    assert none == pytest.approx(none[0])  # nothing but the tree's own weight
    assert usual[0] == none[0] == icy[0]
    assert usual[1] == icy[1] > none[1]
    assert icy[2] - none[2] > 2 * (usual[2] - none[2])  # a sleeve grows faster than its thickness

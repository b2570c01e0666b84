"""Cuts of scaffold limbs: within the shares of the sources, their tips as level as that allows."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.form.young import shoot, tree

from limbwright.form.crown import Shoot, fill_crown
from limbwright.form.level import Share, level_cuts, outward_bud, share_of_growth
from limbwright.form.settings import FormSettings

PLAIN = FormSettings({"weak_tip": 0.0})
HALF = Share(0.5, 1 / 3, 2 / 3, "")


def limbs(*given: tuple[float, float, float, float]) -> list[Shoot]:
    """Limbs of (height of base, rise, length, thickness), all grown last season."""
    records = [
        shoot(str(k), at, 90.0 * k, rise, length, diameter_mm=thick)
        for k, (at, rise, length, thick) in enumerate(given)
    ]
    return list(fill_crown(tree(*records), PLAIN).shoots)


LIMB = st.tuples(
    st.floats(1.8, 2.6), st.floats(25.0, 65.0), st.floats(0.3, 1.0), st.floats(8.5, 10.0)
)


@settings(max_examples=80, deadline=None)
@given(st.lists(LIMB, min_size=2, max_size=5))
def test_no_other_level_serves_better(given: list[tuple[float, float, float, float]]) -> None:
    found = limbs(*given)
    cuts = level_cuts(found, HALF, PLAIN)
    assert all(1 / 3 - 1e-9 <= c.share <= 2 / 3 + 1e-9 for c in cuts)

    def cost(shares: np.ndarray, level: float) -> float:
        tips = np.array(
            [
                s.base_m[2] + (s.length_m - q * s.grown_m) * math.sin(math.radians(s.rise_deg))
                for s, q in zip(found, shares, strict=True)
            ]
        )
        stray = (shares - 0.5) * np.array([s.grown_m for s in found])
        return float(((tips - level) ** 2 + stray**2).sum())

    mine = np.array([c.share for c in cuts])
    tips = np.array([c.tip_m for c in cuts])
    best = min(cost(mine, h) for h in np.arange(tips.min() - 0.05, tips.max() + 0.05, 0.005))
    for level in np.arange(1.9, 3.6, 0.05):
        shares = []
        for s in found:
            rise = s.grown_m * math.sin(math.radians(s.rise_deg))
            full = s.base_m[2] + s.length_m * math.sin(math.radians(s.rise_deg))
            shares.append(min(max((full - level) / rise, 1 / 3), 2 / 3))
        assert best <= cost(np.array(shares), level) + 1e-3


def test_like_limbs_are_cut_alike_by_the_asked_share() -> None:
    cuts = level_cuts(limbs(*[(2.0, 40.0, 0.6, 10.0)] * 4), HALF, PLAIN)
    assert [c.share for c in cuts] == pytest.approx([0.5] * 4, abs=0.02)
    assert [c.keep_m for c in cuts] == pytest.approx([0.3] * 4, abs=0.01)


def test_lower_limbs_stay_longer_and_tips_end_nearer_level() -> None:
    found = limbs((1.85, 45.0, 0.7, 10.0), (2.0, 45.0, 0.7, 10.0), (2.1, 45.0, 0.7, 10.0))
    cuts = level_cuts(found, HALF, PLAIN)
    assert cuts[0].keep_m > cuts[1].keep_m > cuts[2].keep_m
    assert np.ptp([c.tip_m for c in cuts]) < 0.6 * np.ptp([s.tip_m[2] for s in found])


def test_a_weak_limb_below_the_others_is_not_cut() -> None:
    found = limbs((2.1, 45.0, 0.8, 14.0), (2.2, 45.0, 0.8, 14.0), (1.85, 45.0, 0.4, 7.0))
    assert level_cuts(found, HALF, PLAIN)[2].share == 0.0
    assert level_cuts([], HALF, PLAIN) == ()


def test_a_flat_limb_is_cut_by_the_share_alone() -> None:
    found = limbs((2.0, 5.0, 0.6, 10.0), (2.2, 50.0, 0.9, 10.0))
    assert level_cuts(found, HALF, PLAIN)[0].share == pytest.approx(0.5)


def test_the_bud_looks_outward_into_the_wider_gap_or_up() -> None:
    near, own, far = (
        fill_crown(
            tree(shoot("n", 2.0, 50.0), shoot("o", 2.1, 90.0), shoot("f", 2.2, 220.0)), PLAIN
        ).by_name[name]
        for name in "nof"
    )
    assert "south side" in outward_bud(own, [near, own, far], PLAIN)
    assert outward_bud(own, [own], PLAIN) == "an outward bud"
    flat = fill_crown(tree(shoot("x", 2.0, 0.0, 5.0)), PLAIN).by_name["x"]
    assert "upper side" in outward_bud(flat, [flat], PLAIN)


def test_shares_stay_within_what_the_sources_give() -> None:
    for winters in (0, 1, 3):
        for growth in (None, 10.0, 50.0, 120.0):
            for stone in (False, True):
                share = share_of_growth(winters, growth, stone, FormSettings())
                assert share.low <= share.value <= share.high
                # German meadow-orchard advice: a third to two thirds; later a quarter to a half
                assert (share.low, share.high) == pytest.approx(
                    (1 / 3, 2 / 3) if winters == 0 else (0.25, 0.5)
                )

"""Edges of seasons, gaps and wet spells: which side of a line a case falls on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.light.test_crown import bowl

from limbwright.light.scab import daily_spells, wet_spells
from limbwright.light.shape import bowl_gap
from limbwright.light.sky import season_sky, winter_sky


def test_the_southern_seasons_are_half_a_year_later() -> None:
    assert season_sky(52.0).name == "months 5, 6, 7"
    assert season_sky(-38.0).name == "months 11, 12, 1"
    assert winter_sky(52.0).name == "months 12, 1, 2"
    assert winter_sky(-38.0).name == "months 6, 7, 8"


def test_a_side_with_half_its_leaf_is_no_gap_and_one_with_a_quarter_is() -> None:
    """Less than a third of its share of leaf makes a gap."""
    whole = bowl(24)
    side = np.isin(whole.limb, (6, 7, 8))  # bearings 79 to 110
    half, quarter = (
        bowl_gap(replace(whole, leaf_area_m2=np.where(side, share, 1.0) * whole.leaf_area_m2))
        for share in (0.5, 0.25)
    )
    assert half.width_deg == 0.0
    assert quarter.width_deg == pytest.approx(45.0)


def test_two_wet_days_are_as_warm_as_their_wet_hours() -> None:
    """20 hours at 8 and 10 at 17 degrees: 11 degrees in the mean of the wet hours."""
    days = np.array(["2026-05-01", "2026-05-02"], dtype="datetime64[D]")
    (one,) = daily_spells(days, np.array([8.0, 17.0]), np.array([20.0, 10.0]))
    assert one.mean_c == pytest.approx(11.0)


def test_rain_that_begins_at_seven_in_the_evening_is_a_nights() -> None:
    """Begun at 18:00 all twelve hours count, begun at 19:00 none before seven."""
    for begin, counted in (("18", 12.0), ("19", 0.0)):
        when = np.datetime64(f"2026-05-01T{begin}:00") + np.arange(12) * np.timedelta64(1, "h")
        (one,) = wet_spells(when, np.full(12, 12.0), np.ones(12, dtype=bool))
        assert one.counted_h == counted

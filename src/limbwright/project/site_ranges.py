"""What the place of a holding can be; the options that set it hold to the same."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import get_args

from limbwright.model.site import Terrain

__all__ = ["SITE_RANGES", "TERRAINS", "within"]

SITE_RANGES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "wind_speed_m_s": (10.0, 60.0),
        "wet_snow_kg_m2": (0.0, 200.0),
        "ice_mm": (0.0, 60.0),
        "latitude_deg": (-65.0, 65.0),
        "clearness": (0.2, 0.8),
        "spacing_m": (2.0, 50.0),
        "years_stood": (0.0, 200.0),
    }
)
"""Least and largest value of each measure of a `Site`; judgement: the temperate zone, with room."""
TERRAINS: tuple[str, ...] = get_args(Terrain)


def within(name: str, value: object) -> bool:
    """Return whether a value of a place can be; what is not a number or not measured can."""
    if name not in SITE_RANGES or isinstance(value, bool) or not isinstance(value, int | float):
        return True
    low, high = SITE_RANGES[name]
    return low <= value <= high

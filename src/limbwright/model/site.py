"""What a holding's place does to its trees: wind, terrain, hemisphere."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Site", "Terrain"]

Terrain = Literal["0", "I", "II", "III", "IV"]
"""Terrain category of EN 1991-1-4: II open fields, III hedges, villages, orchard blocks."""


@dataclass(frozen=True, slots=True)
class Site:
    """The place a tree stands in.

    ``wind_speed_m_s`` is the basic wind speed of EN 1991-1-4 (10 minute mean, 10 m above open
    ground, exceeded once in 50 years). The default is a middling temperate lowland value
    (from memory: national annexes run from about 22 to 28 m/s); a holding sets its own.
    ``wet_snow_kg_m2`` is the wet snowfall exceeded about once in 20 years, as a load on level
    ground; ``ice_mm`` the sleeve of glaze ice exceeded about once in 50 years. Both differ more
    from place to place than any other load; 0 is for where it does not happen, None the middling
    value of the table of loads.
    ``years_stood`` is the time over which the trees have kept their present size and form,
    the evidence that learning from survival uses.
    """

    name: str = ""
    wind_speed_m_s: float = 24.0
    terrain: Terrain = "II"
    wet_snow_kg_m2: float | None = None
    ice_mm: float | None = None
    southern: bool = False
    years_stood: float = 10.0

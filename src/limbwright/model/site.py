"""What a holding's place does to its trees: wind, snow, ice, light, and the years they stood."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Site", "Terrain"]

MIDDLING_LATITUDE_DEG = 50.0
"""Judgement: most old standard orchards of the temperate zone lie within 45 to 55 degrees."""

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
    ``latitude_deg`` (south below zero) sets the sun's path, ``clearness`` the mean share of the
    light above the air that reaches the ground in summer, ``spacing_m`` how far neighbours like
    it stand around a tree; None: a middling latitude, clearness, and no neighbours.
    ``years_stood`` is the time over which the trees have kept their present size and form,
    the evidence that learning from survival uses (default: judgement, old trees that nobody has
    pruned for a decade; the longer, the smaller the chance of failure comes out).
    """

    name: str = ""
    wind_speed_m_s: float = 24.0
    terrain: Terrain = "II"
    wet_snow_kg_m2: float | None = None
    ice_mm: float | None = None
    southern: bool = False
    latitude_deg: float | None = None
    clearness: float | None = None
    spacing_m: float | None = None
    years_stood: float = 10.0

    @property
    def latitude(self) -> float:
        """Latitude [degrees], the middling one of the hemisphere where none was given."""
        if self.latitude_deg is not None:
            return self.latitude_deg
        return -MIDDLING_LATITUDE_DEG if self.southern else MIDDLING_LATITUDE_DEG

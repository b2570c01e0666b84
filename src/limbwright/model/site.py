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
    ``years_stood`` is the time over which the trees have kept their present size and form,
    the evidence that learning from survival uses.
    """

    name: str = ""
    wind_speed_m_s: float = 24.0
    terrain: Terrain = "II"
    southern: bool = False
    years_stood: float = 10.0

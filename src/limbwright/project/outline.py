"""The ground of an orchard: its drawn boundary, else one drawn around its stations."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import shapely

from limbwright.model import Orchard, StationRecord

__all__ = ["Outline", "outline"]

HALF_SPACING_M = 5.0
"""How far the ground reaches beyond the outer trees; judgement: half of the 8 to 10 m between
standards."""


@dataclass(frozen=True, slots=True)
class Outline:
    """The outer ring of an orchard, closed, on the project's map.

    ``derived`` is true where nobody drew it: it then goes around the stations, half a spacing
    beyond the outer ones.
    """

    orchard: str
    ring: tuple[tuple[float, float], ...]
    area_ha: float
    derived: bool


def outline(
    orchard: Orchard, stations: Iterable[StationRecord], *, beyond_m: float = HALF_SPACING_M
) -> Outline | None:
    """Return the ground of an orchard; None where it has neither boundary nor placed stations.

    Parameters
    ----------
    orchard
        The orchard.
    stations
        Stations, those of other orchards among them, with x and y in metres.
    beyond_m
        How far it reaches beyond the outer stations where it is derived.
    """
    if len(set(orchard.boundary)) >= 3:
        drawn = shapely.Polygon(orchard.boundary)
        return Outline(orchard.name, _ring(drawn), float(drawn.area) / 1e4, derived=False)
    places = [
        (s.x, s.y)
        for s in stations
        if s.orchard == orchard.name and s.x is not None and s.y is not None
    ]
    if not places:
        return None
    around = shapely.MultiPoint(places).convex_hull.buffer(beyond_m)
    return Outline(orchard.name, _ring(around), float(around.area) / 1e4, derived=True)


def _ring(shape: shapely.Polygon) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y, *_ in shape.exterior.coords)

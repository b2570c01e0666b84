"""Coordinates from any map, on to the project's: names of systems, and moving points."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from limbwright.errors import InputError
from limbwright.model.skeleton import Bools, Floats

__all__ = ["WGS84", "Moved", "crs_label", "is_metric", "move", "named_crs", "outside_of", "utm_of"]

WGS84 = "EPSG:4326"
"""Longitude and latitude as GeoJSON and phones give them; source: RFC 7946, section 4."""
ROUNDED_TO = 3
"""Decimals kept of metres that were moved from another map; judgement: a millimetre, finer than
any survey of trees."""
_AREA_SLACK_DEG = 0.5
"""How far beyond the area a CRS is made for positions may lie; judgement: about 50 km."""


@cache
def named_crs(name: str) -> CRS:
    """Return the CRS of that name or definition.

    Parameters
    ----------
    name
        ``EPSG:27700``, an OGC URN, WKT, or anything else PROJ knows.

    Raises
    ------
    InputError
        There is none such, or it is no map of the ground (heights alone, say).
    """
    remedy = "Give it as EPSG:27700, with the number of the map's coordinate system."
    text = name.strip()
    shown = text if len(text) <= 60 else text[:57] + "..."
    try:
        found = CRS.from_user_input(int(text) if text.isascii() and text.isdigit() else text)
    except (CRSError, ValueError, OverflowError):
        raise InputError(f"{shown!r} is no coordinate system known here.", remedy) from None
    if not (found.is_projected or found.is_geographic):
        raise InputError(f"{shown} ({found.name}) is no map of the ground.", remedy)
    return found


def crs_label(name: str) -> str:
    """Return the short name of a CRS: authority and number where it has them, else its WKT."""
    found = named_crs(name)
    known = found.to_authority(min_confidence=90)
    return ":".join(known) if known else str(found.to_wkt())


def is_metric(name: str) -> bool:
    """Return whether x and y of a CRS are metres on a map."""
    found = named_crs(name)
    if not found.is_projected:
        return False
    return all(abs(a.unit_conversion_factor - 1.0) < 1e-12 for a in found.axis_info[:2])


def utm_of(lon_deg: float, lat_deg: float) -> str:
    """Return the UTM zone of a place, as ``EPSG:32630``.

    Source: the zones are 6 degrees wide from 180 degrees west; EPSG numbers them 32601 to 32660
    north of the equator, 32701 to 32760 south of it.

    Raises
    ------
    InputError
        The place lies beyond the zones, in the polar ice.
    """
    if not -80.0 <= lat_deg <= 84.0:
        raise InputError(
            f"Latitude {lat_deg:g} lies beyond the UTM zones.",
            "Are lon and lat swapped? Else give the CRS of the project.",
        )
    zone = int((lon_deg + 180.0) // 6.0) % 60 + 1
    return f"EPSG:{32600 + zone if lat_deg >= 0.0 else 32700 + zone}"


@dataclass(frozen=True, slots=True)
class Moved:
    """Points moved to another CRS.

    ``x`` and ``y`` ``(N,)`` are NaN where a point cannot be placed. ``accuracy_m`` is how good
    the move is said to be, negative where nobody says.
    """

    x: Floats
    y: Floats
    accuracy_m: float


@cache
def _transformer(source: str, target: str) -> Transformer:
    return Transformer.from_crs(named_crs(source), named_crs(target), always_xy=True)


def move(x: ArrayLike, y: ArrayLike, source: str, target: str) -> Moved:
    """Return points moved from one CRS to another, x (or longitude) first in both.

    Metres are rounded to millimetres, so that the same file gives the same place each time.

    Parameters
    ----------
    x, y
        East and north, or longitude and latitude [deg] ``(N,)``.
    source, target
        Names of the two systems.

    Raises
    ------
    InputError
        One of them is not known, or there is no way from one to the other.
    """
    a, b = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    if named_crs(source) == named_crs(target):
        return Moved(a.copy(), b.copy(), 0.0)
    try:
        way = _transformer(source, target)
        east, north = way.transform(a, b, errcheck=False)
    except ProjError:
        said = f"There is no way from {source[:60]} to {target[:60]}."
        raise InputError(said, "Give another CRS.") from None
    east, north = np.asarray(east, dtype=np.float64), np.asarray(north, dtype=np.float64)
    lost = ~(np.isfinite(east) & np.isfinite(north))
    east, north = np.where(lost, np.nan, east), np.where(lost, np.nan, north)
    if named_crs(target).is_projected:
        east, north = np.round(east, ROUNDED_TO), np.round(north, ROUNDED_TO)
    return Moved(east, north, _accuracy_m(way))


def _accuracy_m(way: Transformer) -> float:
    try:
        return float(way.get_last_used_operation().accuracy)
    except ProjError:  # nothing was moved
        return -1.0


def outside_of(x: ArrayLike, y: ArrayLike, crs: str) -> Bools:
    """Return which points ``(N,)`` lie well outside the area their CRS is made for."""
    a = np.asarray(x, dtype=np.float64)
    area = named_crs(crs).area_of_use
    if area is None:
        return np.zeros(a.shape, dtype=np.bool_)
    there = move(a, y, crs, WGS84)
    west, east = area.west - _AREA_SLACK_DEG, area.east + _AREA_SLACK_DEG
    if area.west > area.east:  # across the date line
        between = (there.x >= west) | (there.x <= east)
    else:
        between = (there.x >= west) & (there.x <= east)
    low, high = area.south - _AREA_SLACK_DEG, area.north + _AREA_SLACK_DEG
    inside = between & (there.y >= low) & (there.y <= high)
    return np.asarray(~inside & np.isfinite(a), dtype=np.bool_)

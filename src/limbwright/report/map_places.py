"""Where the stations of a holding lie in metres, and how wide, however they were taken."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.errors import InputError
from limbwright.model.holding import Holding
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Floats

__all__ = ["Places", "half_spreads", "places"]

# World Geodetic System 1984: half the long axis [m] and the square of the eccentricity.
LONG_AXIS_M, ECCENTRICITY_2 = 6378137.0, 6.69437999014e-3
MIDDLING_SPREAD_M = 7.0
"""Judgement: a grown standard, where nobody taped a crown in the whole holding."""
PLACE_M, YOUNG_M = 2.0, 1.0
"""Half the width a gap and an untaped young tree are drawn at (judgement)."""
WGS84 = "EPSG:4326"


@dataclass(frozen=True, slots=True)
class Places:
    """Stations and boundaries on one plane, x east and y north.

    ``xy_m`` ``(n, 2)`` holds the stations in their order, NaN where no place is known;
    ``rings`` by orchard the ``(k, 2)`` corners of its boundary [m].
    """

    xy_m: Floats
    rings: Mapping[str, Floats]


def places(holding: Holding, stations: Sequence[StationRecord]) -> Places:
    """Return where stations and boundaries lie [m].

    Degrees are laid flat round their middle by the radii of curvature of the ellipsoid there,
    which holds to a part in a thousand over some ten kilometres. Stations with nothing but
    longitude and latitude come into a named map by its own formulas; on a local grid they have
    no place unless all have them.

    Raises
    ------
    InputError
        The holding's coordinate reference system has no such name.
    """
    taken = _pairs([(s.x, s.y) for s in stations])
    degrees = _pairs([(s.lon_deg, s.lat_deg) for s in stations])
    rings = {
        one.name: np.asarray(one.boundary, dtype=np.float64).reshape(-1, 2)
        for one in holding.orchards
        if len(one.boundary) >= 3 and bool(np.isfinite(one.boundary).all())
    }
    unset = np.isnan(taken).any(axis=1)
    if not holding.crs:
        if bool(unset.all()) and not rings:
            return Places(_flat(degrees, _middle(degrees)), {})
        return Places(taken, rings)
    geographic, unit_m = _kind(holding.crs)
    if geographic:
        taken[unset] = degrees[unset]
        middle = _middle(np.concatenate([taken, *rings.values()]))
        return Places(
            _flat(taken, middle), {name: _flat(ring, middle) for name, ring in rings.items()}
        )
    found = taken * unit_m
    late = unset & ~np.isnan(degrees).any(axis=1)
    if bool(late.any()):
        found[late] = _into(holding.crs, degrees[late]) * unit_m
    return Places(found, {name: ring * unit_m for name, ring in rings.items()})


def _pairs(values: Sequence[tuple[float | None, float | None]]) -> Floats:
    """Return ``(n, 2)`` pairs, NaN for both where either is missing or no number."""
    out = np.asarray(
        [[np.nan if one is None else one for one in pair] for pair in values], dtype=np.float64
    ).reshape(-1, 2)
    out[~np.isfinite(out).all(axis=1)] = np.nan
    return out


def _middle(degrees: Floats) -> Floats:
    known = degrees[~np.isnan(degrees).any(axis=1)]
    return (known.min(axis=0) + known.max(axis=0)) / 2.0 if known.size else np.zeros(2)


def _flat(degrees: Floats, middle: Floats) -> Floats:
    """Return longitude and latitude as metres east and north of a middle."""
    sine = float(np.sin(np.radians(middle[1])))
    inner = 1.0 - ECCENTRICITY_2 * sine * sine
    north_m = LONG_AXIS_M * (1.0 - ECCENTRICITY_2) / inner**1.5
    east_m = LONG_AXIS_M / inner**0.5 * float(np.cos(np.radians(middle[1])))
    return np.asarray(np.radians(degrees - middle) * np.array([east_m, north_m]))


def _kind(crs: str) -> tuple[bool, float]:
    """Return whether a system is in degrees, and else its unit [m]."""
    from pyproj import CRS  # costs a tenth of a second, and many maps are on a local grid
    from pyproj.exceptions import CRSError

    try:
        found = CRS.from_user_input(crs)
    except CRSError:
        raise InputError(
            f"The map of the holding is in {crs!r}, which is no coordinate reference system.",
            "Name it as EPSG does, such as EPSG:27700, or leave it empty for a local grid.",
        ) from None
    if found.is_geographic:
        return True, 1.0
    axes = found.axis_info
    return False, float(axes[0].unit_conversion_factor) if axes else 1.0


def _into(crs: str, degrees: Floats) -> Floats:
    from pyproj import Transformer

    into = Transformer.from_crs(WGS84, crs, always_xy=True)
    x, y = into.transform(degrees[:, 0], degrees[:, 1])
    out = np.column_stack([x, y])
    out[~np.isfinite(out).all(axis=1)] = np.nan
    return out


def half_spreads(stations: Sequence[StationRecord], marks: Sequence[str]) -> tuple[Floats, int]:
    """Return ``(n, 2)`` half the spread east and north [m], and how many crowns were not taped."""
    """Return ``(n, 2)`` half the spread east and north [m], and how many crowns were not taped.

    An untaped crown is as wide as the middle of those taped; a gap or stump has a fixed width.
    """
    taped = [s.spread_m for s in stations if s.spread_m is not None and s.spread_m > 0.0]
    middling = float(np.median(taped)) if taped else MIDDLING_SPREAD_M
    out, untaped = np.empty((len(stations), 2)), 0
    for k, (s, mark) in enumerate(zip(stations, marks, strict=True)):
        if s.status in ("gap", "stump"):
            out[k] = PLACE_M
            continue
        mean = s.spread_m
        if mean is None or mean <= 0.0:
            young = mark == "form"
            untaped += not young
            out[k] = YOUNG_M if young else middling / 2.0
            continue
        out[k] = [(one or mean) / 2.0 for one in (s.spread_ew_m, s.spread_ns_m)]
    return out, untaped

"""Where the sun stands."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from limbwright.model.skeleton import Floats

__all__ = ["extraterrestrial_w_m2", "sun_position"]

J2000 = np.datetime64("2000-01-01T12:00:00")


def _centuries(when_utc: NDArray[np.datetime64]) -> Floats:
    seconds = (when_utc - J2000) / np.timedelta64(1, "s")
    return np.asarray(seconds / 86400.0 / 36525.0, dtype=np.float64)


def sun_position(
    latitude_deg: float, longitude_deg: float, when_utc: NDArray[np.datetime64]
) -> tuple[Floats, Floats]:
    """Return the sun's elevation and bearing [degrees] of the same shape as ``when_utc``.

    Without refraction. Within 0.02 degrees of the full algorithm of Reda & Andreas (2004) between
    1950 and 2100. Source: Meeus, Astronomical Algorithms (2nd ed.), chapters 12 and 25, low
    accuracy (from memory).

    Parameters
    ----------
    latitude_deg, longitude_deg
        North and east are above zero.
    when_utc
        Times as ``datetime64``.
    """
    t = _centuries(when_utc)
    mean_longitude = 280.46646 + t * (36000.76983 + 0.0003032 * t)
    anomaly = np.radians(357.52911 + t * (35999.05029 - 0.0001537 * t))
    centre = (
        np.sin(anomaly) * (1.914602 - t * (0.004817 + 0.000014 * t))
        + np.sin(2 * anomaly) * (0.019993 - 0.000101 * t)
        + np.sin(3 * anomaly) * 0.000289
    )
    node = np.radians(125.04 - 1934.136 * t)
    longitude = np.radians(mean_longitude + centre - 0.00569 - 0.00478 * np.sin(node))
    tilt = np.radians(23.4392911 - 0.0130042 * t + 0.00256 * np.cos(node))
    ascension = np.arctan2(np.cos(tilt) * np.sin(longitude), np.cos(longitude))
    declination = np.arcsin(np.sin(tilt) * np.sin(longitude))
    sidereal = 280.46061837 + 360.98564736629 * t * 36525.0 + 0.000387933 * t * t
    hour = np.radians(sidereal + longitude_deg) - ascension
    latitude = np.radians(latitude_deg)
    up = np.sin(latitude) * np.sin(declination)
    up = up + np.cos(latitude) * np.cos(declination) * np.cos(hour)
    east = -np.cos(declination) * np.sin(hour)
    north = np.cos(latitude) * np.sin(declination)
    north = north - np.sin(latitude) * np.cos(declination) * np.cos(hour)
    bearing = np.degrees(np.arctan2(east, north)) % 360.0
    return np.degrees(np.arcsin(np.clip(up, -1.0, 1.0))), bearing


def extraterrestrial_w_m2(when_utc: NDArray[np.datetime64]) -> Floats:
    """Return the sun's power square to its rays above the air [W/m2].

    Spencer 1971, Search 2:172 (from memory), solar constant 1366.1 W/m2 (ASTM E490).
    """
    year = when_utc.astype("datetime64[Y]")
    day = (when_utc - year) / np.timedelta64(86400, "s")
    b = 2.0 * np.pi * np.floor(np.asarray(day, dtype=np.float64)) / 365.0
    return np.asarray(
        1366.1
        * (
            1.00011
            + 0.034221 * np.cos(b)
            + 0.00128 * np.sin(b)
            + 0.000719 * np.cos(2 * b)
            + 0.000077 * np.sin(2 * b)
        )
    )

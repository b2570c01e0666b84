"""Wind speed and gust pressure by height and terrain, after EN 1991-1-4.

The mean wind follows the logarithm of height over the roughness of the ground; the gust adds
seven times the turbulence intensity. The orography factor is taken as 1.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from limbwright.errors import InputError
from limbwright.model.site import Site
from limbwright.model.skeleton import Floats
from limbwright.trade.parameters import parameters

__all__ = [
    "blowing_towards",
    "mean_speed_m_s",
    "peak_pressure_pa",
    "probability_factor",
    "roughness_factor",
    "turbulence_intensity",
]


def _ground(terrain: str) -> tuple[float, float]:
    """Return roughness length and lowest height of the profile [m]."""
    table = parameters("loads")
    if f"terrain.{terrain}.roughness" not in table:
        known = [name.split(".")[1] for name in table if name.endswith(".roughness")]
        raise InputError(
            f'There is no terrain "{terrain}".',
            f"Terrain is one of {', '.join(known)}; open fields are II, orchard blocks III.",
        )
    return (
        table[f"terrain.{terrain}.roughness"].value,
        table[f"terrain.{terrain}.lowest_height"].value,
    )


def _log_height(height_m: ArrayLike, terrain: str) -> Floats:
    roughness_m, lowest_m = _ground(terrain)
    height = np.maximum(np.asarray(height_m, dtype=np.float64), lowest_m)
    return np.asarray(np.log(height / roughness_m))


def roughness_factor(height_m: ArrayLike, terrain: str) -> Floats:
    """Return mean wind over basic wind, ``c_r`` of EN 1991-1-4 equation 4.4.

    Parameters
    ----------
    height_m
        Height above ground [m], any shape; below the terrain's lowest height that one counts.
    terrain
        ``"0"``, ``"I"``, ``"II"``, ``"III"`` or ``"IV"``.

    Raises
    ------
    InputError
        The terrain is not one of these.
    """
    table = parameters("loads")
    ratio = _ground(terrain)[0] / table["wind.reference_roughness"].value
    factor = table["wind.terrain_factor"].value * ratio ** table["wind.terrain_exponent"].value
    return np.asarray(factor * _log_height(height_m, terrain))


def mean_speed_m_s(height_m: ArrayLike, site: Site) -> Floats:
    """Return the 10 minute mean wind [m/s] exceeded once in 50 years at a height [m]."""
    return roughness_factor(height_m, site.terrain) * site.wind_speed_m_s


def turbulence_intensity(height_m: ArrayLike, terrain: str) -> Floats:
    """Return ``I_v`` at a height [m]: EN 1991-1-4 equation 4.7 with turbulence factor 1."""
    return np.asarray(1.0 / _log_height(height_m, terrain))


def peak_pressure_pa(height_m: ArrayLike, site: Site) -> Floats:
    """Return the gust pressure ``q_p`` [Pa] exceeded once in 50 years at a height [m].

    EN 1991-1-4 equation 4.8. The result has the shape of ``height_m``.
    """
    table = parameters("loads")
    gust = 1.0 + table["wind.peak_multiplier"].value * turbulence_intensity(height_m, site.terrain)
    return np.asarray(gust * 0.5 * table["air_density"].value * mean_speed_m_s(height_m, site) ** 2)


def probability_factor(yearly_exceedance: float) -> float:
    """Return ``c_prob``: wind speed of another yearly chance over the basic wind speed.

    EN 1991-1-4 equation 4.2. Pressures scale with its square.

    Raises
    ------
    InputError
        The chance is not between 0 and 1.
    """
    table = parameters("loads")
    if not 0.0 < yearly_exceedance < 1.0:
        raise InputError(
            f"A yearly chance of {yearly_exceedance:g} cannot be.", "Give one between 0 and 1."
        )
    k, n = table["wind.probability_shape"].value, table["wind.probability_exponent"].value

    def level(p: float) -> float:
        return 1.0 - k * float(np.log(-np.log1p(-p)))

    return float((level(yearly_exceedance) / level(table["wind.gust_exceedance"].value)) ** n)


def blowing_towards(bearing_deg: float) -> Floats:
    """Return the ``(3,)`` unit vector a wind *from* ``bearing_deg`` blows along (x east)."""
    angle = np.radians(bearing_deg)
    return np.array([-np.sin(angle), -np.cos(angle), 0.0])

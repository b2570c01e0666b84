"""The place as options say it, with what cannot be refused plainly."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, get_args

from limbwright.errors import InputError

if TYPE_CHECKING:
    from limbwright.model import Site

__all__ = ["lit", "one_of", "site"]

Light = tuple[float | None, float | None, float | None]
"""Latitude [degrees], clearness and spacing [m], None where not given."""


def site(
    wind: float,
    terrain: str,
    snow: float | None,
    ice: float | None,
    southern: bool,
    years_stood: float,
    light: Light,
) -> Site:
    """Return the site that the options of a command describe.

    Raises
    ------
    InputError
        The terrain is not known, or latitude and hemisphere collide.
    """
    from limbwright.model import Site
    from limbwright.model.site import Terrain

    one_of("--terrain", terrain, get_args(Terrain))
    plain = Site(
        wind_speed_m_s=wind,
        terrain=terrain,  # type: ignore[arg-type]
        wet_snow_kg_m2=snow,
        ice_mm=ice,
        southern=southern,
        years_stood=years_stood,
    )
    return lit(plain, *light)


def lit(
    place: Site, latitude: float | None, clearness: float | None, spacing: float | None
) -> Site:
    """Return the site with what its light depends on; a latitude says the hemisphere too.

    Raises
    ------
    InputError
        A northern latitude for a place in the south.
    """
    if latitude is not None and place.southern and latitude > 0.0:
        raise InputError(
            f"--southern and --latitude {latitude:g}, which lies in the north, collide.",
            f"Give --latitude -{latitude:g}, or leave --southern out.",
        )
    return replace(
        place,
        southern=place.southern or (latitude is not None and latitude < 0.0),
        latitude_deg=place.latitude_deg if latitude is None else latitude,
        clearness=place.clearness if clearness is None else clearness,
        spacing_m=place.spacing_m if spacing is None else spacing,
    )


def one_of(option: str, given: str, allowed: tuple[str, ...]) -> None:
    """Raise an `InputError` where an option is none of the words it may be."""
    if given not in allowed:
        raise InputError(f"{option} {given!r} is not known.", f"Use {', '.join(allowed)}.")

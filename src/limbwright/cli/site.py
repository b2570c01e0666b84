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
    wind: float | None,
    terrain: str | None,
    snow: float | None,
    ice: float | None,
    southern: bool,
    years_stood: float | None,
    light: Light,
    *,
    base: Site | None = None,
) -> Site:
    """Return the site that the options of a command describe.

    What no option says is as in ``base``, the place of a project file, or middling.

    Raises
    ------
    InputError
        The terrain is not known, or latitude and hemisphere collide.
    """
    from limbwright.model import Site
    from limbwright.model.site import Terrain

    plain = Site() if base is None else base
    if terrain is not None:
        one_of("--terrain", terrain, get_args(Terrain))
        plain = replace(plain, terrain=terrain)  # type: ignore[arg-type]
    given = {
        "wind_speed_m_s": wind,
        "wet_snow_kg_m2": snow,
        "ice_mm": ice,
        "southern": southern or None,
        "years_stood": years_stood,
    }
    told = {name: value for name, value in given.items() if value is not None}
    return lit(replace(plain, **told), *light)  # type: ignore[arg-type]


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

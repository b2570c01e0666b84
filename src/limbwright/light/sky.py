"""Where a crown's light comes from: the sky and the season's sun as a set of directions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.errors import InputError
from limbwright.light.sun import extraterrestrial_w_m2, sun_position
from limbwright.model.skeleton import Floats
from limbwright.trade.parameters import parameters

__all__ = [
    "Sky",
    "diffuse_share",
    "even_sky",
    "overcast_sky",
    "season_sky",
    "winter_sky",
]

GOLDEN_ANGLE = np.pi * (1.0 + 5.0**0.5)
FRUIT_BUD_MONTHS = (5, 6, 7)
"""Low light in the weeks after bloom halves next year's flowers, later shade matters less
(Tromp, in Jackson 2003)."""
BARE_MONTHS = (12, 1, 2)


@dataclass(frozen=True, slots=True)
class Sky:
    """Light as parallel rays from D directions.

    ``towards`` ``(D, 3)`` unit vectors, x east, y north, z up; ``share`` ``(D,)`` of the light that
    falls on level ground in the open, adding up to 1. ``name`` says which light it is.
    """

    towards: Floats
    share: Floats
    name: str


def _directions(count: int) -> Floats:
    """Return ``(count, 3)`` directions, each standing for the same share of an even sky's light.

    A spiral on the disc of level light (cosine-weighted), so that few directions lie so low that
    they hardly bring light.
    """
    i = np.arange(count) + 0.5
    up = np.sqrt(i / count)
    level = np.sqrt(1.0 - i / count)
    turn = GOLDEN_ANGLE * i
    return np.column_stack([level * np.cos(turn), level * np.sin(turn), up])


def even_sky(directions: int | None = None) -> Sky:
    """Return a sky as bright everywhere."""
    count = directions or int(parameters("light")["sky.directions"].value)
    return Sky(_directions(count), np.full(count, 1.0 / count), "an evenly bright sky")


def overcast_sky(directions: int | None = None) -> Sky:
    """Return the standard overcast sky, three times as bright overhead as at the horizon.

    Brightness ``(1 + 2 sin(elevation)) / 3`` of that overhead: CIE e-ILV 17-29-113.
    """
    even = even_sky(directions)
    bright = 1.0 + 2.0 * even.towards[:, 2]
    return Sky(even.towards, bright / bright.sum(), "a standard overcast sky")


def diffuse_share(clearness: Floats) -> Floats:
    """Return the share of hourly light that comes from the sky, not the sun's disc.

    Erbs, Klein & Duffie 1982, Solar Energy 28:293; ``clearness`` is light on level ground over
    that above the air.
    """
    k = np.asarray(clearness, dtype=np.float64)
    middle = 0.9511 - 0.1604 * k + 4.388 * k**2 - 16.638 * k**3 + 12.336 * k**4
    return np.where(k <= 0.22, 1.0 - 0.09 * k, np.where(k <= 0.80, middle, 0.165))


def season_sky(
    latitude_deg: float,
    months: Sequence[int] | None = None,
    *,
    clearness: float | None = None,
    directions: int | None = None,
) -> Sky:
    """Return the light of a season: the sun's path and an overcast sky around it.

    Three days a month, every twenty minutes of sun time. The light above the air, times the
    clearness, is split into sky and sun by `diffuse_share`; the sun's part goes to the direction
    nearest to where it stands. Spreading it over the nearest two to four is no better: either way
    72 directions are 0.002 of full light off in the mean over segments, against the sun where it
    stands and a sky of 1000.

    Parameters
    ----------
    latitude_deg
        Of the place, south below zero.
    months
        1 to 12; None takes May to July, in the south November to January: they weigh most for
        next year's fruit buds.
    clearness
        Mean share of the light above the air that reaches the ground; None for the middling one.
    directions
        Number of directions.

    Raises
    ------
    InputError
        Latitude, months or clearness cannot be, or the sun never rises.
    """
    if not -90.0 <= latitude_deg <= 90.0:
        raise InputError(f"A latitude of {latitude_deg:g} cannot be.", "Give -90 to 90 degrees.")
    if months is None:
        months = FRUIT_BUD_MONTHS if latitude_deg >= 0.0 else tuple(_half_a_year(FRUIT_BUD_MONTHS))
    if not months or any(not 1 <= m <= 12 for m in months):
        raise InputError(f"Months {tuple(months)} cannot be.", "Give numbers from 1 to 12.")
    k = parameters("light")["sky.clearness"].value if clearness is None else clearness
    if not 0.0 < k < 1.0:
        raise InputError(f"A clearness of {k:g} cannot be.", "Give a share between 0 and 1.")
    days = [f"2026-{m:02d}-{d:02d}" for m in months for d in (5, 15, 25)]
    minutes = np.arange(10, 1440, 20).astype("timedelta64[m]")
    when = (np.array(days, dtype="datetime64[m]")[:, None] + minutes).ravel()
    elevation, bearing = sun_position(latitude_deg, 0.0, when)
    up = np.sin(np.radians(elevation))
    light = np.where(up > 0.0, k * extraterrestrial_w_m2(when) * np.maximum(up, 0.0), 0.0)
    if light.sum() <= 0.0:
        raise InputError(
            f"At latitude {latitude_deg:g} the sun does not rise in months {tuple(months)}.",
            "Name other months.",
        )
    from_sky = float(diffuse_share(np.asarray(k)))
    sky = overcast_sky(directions)
    share = from_sky * sky.share
    level = np.cos(np.radians(elevation))
    east, north = np.sin(np.radians(bearing)) * level, np.cos(np.radians(bearing)) * level
    sun = np.column_stack([east, north, up])[light > 0.0]
    nearest = np.argmax(sun @ sky.towards.T, axis=1)
    of_sun = np.bincount(nearest, weights=light[light > 0.0], minlength=len(share))
    share = share + (1.0 - from_sky) * of_sun / of_sun.sum()
    return Sky(sky.towards, share, f"months {', '.join(map(str, months))}")


def winter_sky(latitude_deg: float, directions: int | None = None) -> Sky:
    """Return the light of the leafless months."""
    months = BARE_MONTHS if latitude_deg >= 0.0 else _half_a_year(BARE_MONTHS)
    clearness = parameters("light")["sky.winter_clearness"].value
    return season_sky(latitude_deg, months, clearness=clearness, directions=directions)


def _half_a_year(months: Sequence[int]) -> list[int]:
    return [(m + 5) % 12 + 1 for m in months]

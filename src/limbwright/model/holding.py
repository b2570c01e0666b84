"""A holding and its orchards: all that one owner has, and the planting places on it."""

from __future__ import annotations

from dataclasses import dataclass, field

from limbwright.model.site import Site

__all__ = ["Holding", "Orchard"]

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Orchard:
    """One orchard of a holding.

    ``boundary`` is the outer ring of its polygon in the coordinates of the holding's map, open or
    closed, empty where nobody drew it. ``grazed_by`` names the stock under the trees (sheep,
    cattle, horses, ...), empty for none. ``access`` and ``note`` are the adviser's own words;
    ``people_below`` is true where people are often beneath the trees.
    """

    name: str
    boundary: tuple[Point, ...] = ()
    grazed_by: str = ""
    access: str = ""
    people_below: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class Holding:
    """All that one owner has.

    ``crs`` names the coordinate reference system of all x and y, such as ``"EPSG:27700"``; empty:
    a local grid in metres, x east and y north. ``marked`` are words that mark every page, such as
    "invented example". ``aims`` are the owner's, most important first.
    """

    name: str
    owner: str = ""
    site: Site = field(default_factory=Site)
    crs: str = ""
    aims: tuple[str, ...] = ()
    marked: str = ""
    orchards: tuple[Orchard, ...] = ()
    note: str = ""

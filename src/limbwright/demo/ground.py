"""The invented ground: whose the holding is, what grazes there, where its orchards lie."""

from __future__ import annotations

from limbwright.demo.names import MARK, HoldingNames
from limbwright.demo.planting import APART_M, GRIDS, SPACING_M
from limbwright.model import Holding, Orchard, Site

__all__ = ["CLEAR_STEM_M", "ground"]

AIMS = (
    "keep the old trees standing over the grazing and the path",
    "leave what lives in them undisturbed",
    "bring the crowns back to bearing within a few years",
    "raise the next generation in the gaps",
)
"""What the invented owner wants, most important first."""

GRAZED_BY = ("sheep", "cattle", "")
CLEAR_STEM_M = (1.8, 2.0, 1.8)
"""Clear stem of the young trees of each orchard [m]; judgement, within what formation.csv asks for
beneath sheep and cattle, and for a standard over hay."""
ACCESS = (
    "by the yard gate, dry most of the year",
    "over the ford, soft from November to April",
    "from the lane; a path crosses it",
)
EDGE_M = 6.0
"""Judgement: from the outer trees to the hedge."""
BENT_M = (3.0, -2.0, 4.0)
"""How far the north-east corner of each orchard lies beyond a square [m], so that none is one."""


def ground(names: HoldingNames) -> Holding:
    """Return the holding with its three orchards, on a local grid of metres."""
    return Holding(
        name=names.holding,
        owner=names.owner,
        site=Site(name=f"{names.holding} ({MARK})", terrain="III", years_stood=12.0),
        aims=AIMS,
        marked=MARK,
        orchards=tuple(
            Orchard(
                name=name,
                boundary=_boundary(k),
                grazed_by=GRAZED_BY[k],
                access=ACCESS[k],
                people_below=k == 2,
                note=MARK,
            )
            for k, name in enumerate(names.orchards)
        ),
        note=MARK,
    )


def _boundary(orchard: int) -> tuple[tuple[float, float], ...]:
    columns, rows = GRIDS[orchard]
    west, south = APART_M * orchard - EDGE_M, -EDGE_M
    east = APART_M * orchard + SPACING_M * (columns - 1) + EDGE_M
    north = SPACING_M * (rows - 1) + EDGE_M
    bent = BENT_M[orchard]
    return ((west, south), (east, south), (east + bent, north + bent), (west, north))

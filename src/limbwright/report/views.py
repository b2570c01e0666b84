"""Where one stands to look at a tree, and what of it then lies where on paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.model.skeleton import Floats

__all__ = ["ABOVE", "EAST", "NORTH", "SOUTH", "WEST", "View", "choose_sides"]


@dataclass(frozen=True, slots=True)
class View:
    """One way of looking at a tree.

    ``right`` and ``up`` are the directions (east, north, height) that run to the right and up on
    paper; ``left_end`` and ``right_end`` the points of the compass at either hand.
    """

    name: str
    right: tuple[float, float, float]
    up: tuple[float, float, float]
    left_end: str
    right_end: str

    @property
    def from_above(self) -> bool:
        """Whether one looks straight down."""
        return self.up[2] == 0.0

    @property
    def caption(self) -> str:
        """The standing place in words."""
        return "Seen from above" if self.from_above else f"Seen from the {self.name}"

    def project(self, points_m: Floats) -> Floats:
        """Return ``(n, 2)`` right and up [m] of ``(n, 3)`` points [m]."""
        points = np.asarray(points_m, dtype=np.float64).reshape(-1, 3)
        return np.asarray(points @ np.array([self.right, self.up]).T, dtype=np.float64)


HEIGHT = (0.0, 0.0, 1.0)
SOUTH = View("south", (1.0, 0.0, 0.0), HEIGHT, "W", "E")
NORTH = View("north", (-1.0, 0.0, 0.0), HEIGHT, "E", "W")
WEST = View("west", (0.0, -1.0, 0.0), HEIGHT, "N", "S")
EAST = View("east", (0.0, 1.0, 0.0), HEIGHT, "S", "N")
ABOVE = View("above", (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), "W", "E")


def choose_sides(points_m: Sequence[tuple[float, float, float]]) -> tuple[View, View]:
    """Return the two standing places, at right angles, nearer to the cuts.

    Parameters
    ----------
    points_m
        Points of the cuts [m]; none gives the south and the west.
    """
    if not points_m:
        return SOUTH, WEST
    east, north, _ = np.mean(np.asarray(points_m, dtype=np.float64), axis=0)
    return (NORTH if north > 0.0 else SOUTH), (EAST if east > 0.0 else WEST)

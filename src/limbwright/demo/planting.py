"""What stands where on the invented holding: species and story of every station."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

__all__ = ["SPACING_M", "Spot", "position", "spots"]

SPACING_M = 9.5
"""Planting distance of old standards; common practice: 9 to 10 m."""
APART_M = 100.0
"""Judgement: from the corner of one orchard to that of the next, so that no two overlap."""

TAPED_FIRST: tuple[tuple[tuple[str, str], ...], ...] = (
    (
        ("apple", "split"),
        ("apple", "congested"),
        ("apple", "ordinary"),
        ("apple", "top-heavy"),
        ("", "gap"),
        ("apple", "congested, kept for wildlife"),
        ("apple", "hollow arm"),
        ("apple", "young"),
        ("", "stump"),
        ("apple", "leaning"),
        ("apple", "cankered"),
    ),
    (
        ("perry pear", "veteran"),
        ("perry pear", "ordinary"),
        ("", "gap"),
        ("pear", "congested"),
        ("pear", "included"),
        ("perry pear", "top-heavy"),
        ("apple", "mistletoe"),
        ("pear", "ordinary"),
        ("", "gap"),
    ),
    (
        ("plum", "small"),
        ("plum", "small, torn"),
        ("damson", "small"),
        ("cherry", "top-heavy"),
        ("", "gap"),
        ("cherry", "ordinary"),
        ("damson", "small"),
        ("apple", "torn"),
        ("apple", "congested"),
    ),
)
"""Species and story of the first stations, orchard by orchard; they stand in the four rows."""

WALKED: tuple[tuple[tuple[str, str, int], ...], ...] = (
    (
        ("apple", "congested", 1),
        ("apple", "ordinary", 1),
        ("apple", "top-heavy", 1),
        ("apple", "ordinary", 5),
        ("apple", "congested", 3),
        ("apple", "leaning", 2),
        ("apple", "split", 1),
        ("apple", "hollow", 2),
        ("apple", "veteran", 1),
        ("apple", "top-heavy", 2),
        ("apple", "middle-aged", 4),
        ("apple", "kept", 2),
        ("apple", "mistletoe", 2),
        ("apple", "cankered", 2),
        ("apple", "dying", 1),
        ("apple", "barely noted", 2),
        ("apple", "nameless", 1),
        ("apple", "forming", 4),
        ("apple", "planted last winter", 2),
        ("apple", "dead", 1),
        ("", "gap", 4),
        ("", "stump", 1),
    ),
    (
        ("perry pear", "congested", 1),
        ("pear", "ordinary", 1),
        ("apple", "cankered", 1),
        ("perry pear", "ordinary", 5),
        ("perry pear", "veteran", 2),
        ("perry pear", "hollow", 2),
        ("perry pear", "top-heavy", 2),
        ("perry pear", "split", 1),
        ("perry pear", "fallen", 1),
        ("perry pear", "heaving", 1),
        ("perry pear", "middle-aged", 2),
        ("pear", "ordinary", 3),
        ("pear", "congested", 3),
        ("pear", "blighted", 1),
        ("pear", "scabby", 1),
        ("apple", "mistletoe", 2),
        ("apple", "kept", 1),
        ("perry pear", "forming", 3),
        ("pear", "forming", 2),
        ("perry pear", "planted last winter", 1),
        ("pear", "planted last winter", 1),
        ("perry pear", "dead", 1),
        ("", "gap", 2),
    ),
    (
        ("gage", "middle-aged", 1),
        ("cherry", "ordinary", 1),
        ("plum", "ordinary", 3),
        ("plum", "silvered", 2),
        ("plum", "middle-aged", 3),
        ("plum", "torn", 1),
        ("plum", "forming", 2),
        ("damson", "ordinary", 3),
        ("damson", "congested", 2),
        ("damson", "planted last winter", 1),
        ("gage", "ordinary", 2),
        ("gage", "middle-aged", 2),
        ("gage", "forming", 1),
        ("gage", "nameless", 1),
        ("cherry", "ordinary", 3),
        ("cherry", "gumming", 1),
        ("cherry", "hollow", 1),
        ("cherry", "forming", 1),
        ("cherry", "planted last winter", 1),
        ("apple", "middle-aged", 2),
        ("apple", "kept", 1),
        ("apple", "hollow", 1),
        ("plum", "dead", 1),
        ("", "gap", 2),
    ),
)
"""Species, story and number of the stations that were only walked past, orchard by orchard."""

GRIDS: tuple[tuple[int, int], ...] = ((8, 7), (7, 7), (8, 6))
"""Columns and rows of each orchard's lattice."""
FIRST_COLUMNS = 4


@dataclass(frozen=True, slots=True)
class Spot:
    """One planting place before anything grows there: where it is and what is told of it."""

    number: int
    orchard: int
    column: int
    row: int
    species: str
    story: str
    taped: bool


def spots(seed: int) -> tuple[Spot, ...]:
    """Return the planting places in the order of their numbers.

    The first fill three or fewer rows of four, orchard by orchard; the others, numbered on from
    there, the rest of each lattice, their stories in an order drawn with the seed.
    """
    found: list[Spot] = []
    for orchard, first in enumerate(TAPED_FIRST):
        for place, (species, story) in enumerate(first):
            row, column = divmod(place, FIRST_COLUMNS)
            found.append(Spot(len(found) + 1, orchard, column, row, species, story, bool(species)))
    taken = {(s.orchard, s.column, s.row) for s in found}
    for orchard, (columns, rows) in enumerate(GRIDS):
        told = [(species, story) for species, story, count in WALKED[orchard] for _ in range(count)]
        rng = np.random.default_rng([seed, 0, orchard])
        free = [
            (column, row)
            for row in range(rows)
            for column in range(columns)
            if (orchard, column, row) not in taken
        ]
        order = rng.permutation(len(told))
        for (column, row), which in zip(free, order, strict=True):
            number = len(found) + 1
            found.append(Spot(number, orchard, column, row, *told[int(which)], taped=False))
    return tuple(found)


def position(rng: np.random.Generator, spot: Spot) -> tuple[float, float]:
    """Return x and y of a station [m]: its place in the lattice, a step beside it."""
    x = APART_M * spot.orchard + SPACING_M * spot.column + float(rng.uniform(-0.4, 0.4))
    y = SPACING_M * spot.row + float(rng.uniform(-0.4, 0.4))
    return round(x, 1), round(y, 1)

"""Draw how leaf comes back after cuts and how many watershoots stand, for docs/method/growth.md.

Run: ``python benchmarks/draw_growth.py [folder]``. Writes ``growth.svg``: on the left the share of
the leaf taken that has grown again, by years since the cut; on the right the watershoots of an old
apple by season. Lines are told apart by their dashes and by the words at their ends.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drawn_page import BAND, FAINT, page, stroke, write_picture
from limbwright.growth.rates import Rates, rates
from limbwright.growth.response import (
    SEASONS_TOLD,
    CutKind,
    Season,
    regrowth_range,
    regrowth_share,
    watershoots,
)
from limbwright.report.strokes import INK, PLUM, line, words

WIDE, HIGH = 300.0, 230.0
TOP, LEFT, GAP = 84.0, 48.0, 182.0
LAST_YEAR = 8.0
LEAF_M2 = 160.0
"""Leaf of an old apple of 32 cm across the stem, by the section rule."""


@dataclass(frozen=True)
class Frame:
    """The ground of one chart: where it lies on paper and what its ends stand for."""

    x: float
    first: float
    last: float
    most: float

    def at(self, across: float, up: float) -> tuple[float, float]:
        """Return where a value lies on paper."""
        share = (across - self.first) / (self.last - self.first)
        return self.x + WIDE * share, TOP + HIGH * (1.0 - up / self.most)

    def path(self, across: list[float], up: list[float]) -> str:
        """Return values as a path."""
        points = [self.at(a, b) for a, b in zip(across, up, strict=True)]
        return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)

    def ground(
        self, title: str, under: tuple[str, str], marks: list[float], steps: list[float]
    ) -> list[str]:
        """Return title, axes and their figures."""
        parts = [
            words(self.x - 30, 22, title, 15, INK, bold=True),
            *(words(self.x - 30, 42 + 17 * k, said, 12, INK) for k, said in enumerate(under)),
            words(self.x + WIDE, TOP + HIGH + 36, "growing seasons since", 12, INK, anchor="end"),
        ]
        for value in steps:
            x, y = self.at(self.first, value)
            parts.append(line(x, y, x + WIDE, y, INK if value == 0.0 else FAINT, 1.0))
            parts.append(words(x - 7, y + 4, f"{value:g}", 12, INK, anchor="end"))
        for mark in marks:
            x, y = self.at(mark, 0.0)
            parts.append(line(x, y, x, y + 4, INK, 1.0))
            parts.append(words(x, y + 18, f"{mark:g}", 12, INK, anchor="middle"))
        return parts


def leaf_again(one: Rates, x: float) -> list[str]:
    """Return omega(k) by dose, kind and season, with its range for a fifth."""
    frame = Frame(x, 0.0, LAST_YEAR, 80.0)
    parts = frame.ground(
        "Leaf grown again at the cuts",
        (
            "% of the leaf taken, by dose and kind of cut",
            "shaded: the range for 20 %, to the collar",
        ),
        [0, 2, 4, 6, 8],
        [0, 20, 40, 60, 80],
    )
    years = np.linspace(0.0, LAST_YEAR, 65).tolist()
    both = [regrowth_range(one, k, 0.2) for k in years]
    low, high = [100 * r.low for r in both], [100 * r.high for r in both]
    edge = frame.path(years + years[::-1], high + low[::-1])
    parts.append(f'<path d="{edge}z" fill="{BAND}" stroke="none"/>')
    lines: tuple[tuple[float, CutKind, Season, str, str, float, str], ...] = (
        (0.2, "head", "winter", INK, "2 4", 1.8, "20 %, headed"),
        (0.33, "remove", "winter", INK, "9 4", 1.8, "33 %, to the collar"),
        (0.2, "remove", "winter", PLUM, "", 3.0, "20 %, to the collar"),
        (0.1, "remove", "winter", INK, "9 4 2 4", 1.8, "10 %, to the collar"),
        (0.2, "remove", "summer", INK, "5 3", 1.2, "20 %, in summer"),
    )
    for dose, kind, season, colour, dashes, width, said in lines:
        up = [100 * regrowth_share(one, k, dose, kind=kind, season=season) for k in years]
        parts.append(stroke(frame.path(years, up), colour, width, dashes))
        end = frame.at(LAST_YEAR, up[-1])
        parts.append(words(end[0] + 7, end[1] + 4, said, 12, colour, bold=colour == PLUM))
    return parts


def shoots(one: Rates, x: float) -> list[str]:
    """Return watershoots by season for three doses, with the range of the first for a fifth."""
    frame = Frame(x, 1.0, float(SEASONS_TOLD), 120.0)
    parts = frame.ground(
        "Watershoots that stand, unthinned",
        (
            f"number on an apple of {LEAF_M2:g} m² of leaf, by dose",
            "bars: the range for 20 %",
        ),
        [float(k) for k in range(1, SEASONS_TOLD + 1)],
        [0, 40, 80, 120],
    )
    seasons = [float(k) for k in range(1, SEASONS_TOLD + 1)]
    for dose, colour, dashes, width in (
        (0.33, INK, "9 4", 1.8),
        (0.2, PLUM, "", 3.0),
        (0.1, INK, "9 4 2 4", 1.8),
    ):
        found = watershoots(one, dose, dose * LEAF_M2).by_year
        up = [r.value for r in found]
        if dose == 0.2:
            for k, r in zip(seasons, found, strict=True):
                parts.append(line(*frame.at(k, r.low), *frame.at(k, r.high), PLUM, 1.2))
        parts.append(stroke(frame.path(seasons, up), colour, width, dashes))
        for k, value in zip(seasons, up, strict=True):
            cx, cy = frame.at(k, value)
            parts.append(f'<circle cx="{cx:.1f}" cy="{cy:.1f}" r="3.2" fill="{colour}"/>')
        cx, cy = frame.at(1.0, up[0])
        parts.append(words(cx + 9, cy - 5, f"{100 * dose:.0f} %", 12, colour, bold=colour == PLUM))
    return parts


def picture() -> str:
    one = rates("apple", extension_cm=25.0)
    width, height = LEFT + 2 * WIDE + GAP + 40, TOP + HIGH + 48
    parts = [*leaf_again(one, LEFT), *shoots(one, LEFT + WIDE + GAP)]
    return page(width, height, parts)


def main() -> None:
    write_picture("growth.svg", picture())


if __name__ == "__main__":
    main()

"""Ways to set out one card on A4: how large the drawings, and where they stand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from limbwright.model.skeleton import Skeleton
from limbwright.report.drawing import ROUND_SCALES, box_needed
from limbwright.report.views import View

__all__ = ["PAPER_MM", "Setting", "a5_setting", "settings"]

PAPER_MM = (190.0, 276.5)
"""What the margins leave of A4."""

GUTTER_MM = 4.0
NARROWEST_DRAWING_MM = 56.0  # two compass letters and "Seen from the south" between them
NARROWEST_WORDS_MM = 78.0  # judgement: narrower columns break every order over three lines
HIGHEST_MM = 236.0  # the heading above and a line to write on below
LARGEST_SCALE = 25  # 1 in so many; larger, a young tree would look like an old one
SMALLEST_SHARE = 0.42  # judgement: drawn smaller than this share of what fits, twigs run together


@dataclass(frozen=True, slots=True)
class Setting:
    """One way to set out the drawings of a card.

    ``stack`` has all three drawings one above the other at the left of the words; ``pair`` the two
    sides abreast across the page and the view from above, below, at the left of the words.
    ``boxes_mm`` holds width and height of the two sides and of the view from above.
    """

    kind: str
    one_in: int
    boxes_mm: tuple[tuple[float, float], ...]

    @property
    def mm_per_m(self) -> float:
        """Paper [mm] for a metre of tree."""
        return 1000.0 / self.one_in


def settings(s: Skeleton, views: Sequence[View]) -> tuple[Setting, ...]:
    """Return the ways the page allows, the largest scale first; at least one.

    ``views`` are the two sides and the view from above.
    """
    found: list[Setting] = []
    width, _ = PAPER_MM
    for one_in in ROUND_SCALES:
        if one_in < LARGEST_SCALE:
            continue
        if found and one_in > found[0].one_in / SMALLEST_SHARE:
            break
        first, second, above = (box_needed(s, view, 1000.0 / one_in) for view in views)
        sides = max(first[1], second[1])
        column = max(first[0], second[0], above[0], NARROWEST_DRAWING_MM)
        last = one_in == ROUND_SCALES[-1]
        slack = width - GUTTER_MM - first[0] - second[0]
        left = max(above[0], NARROWEST_DRAWING_MM)
        fits_pair = slack >= 0.0 and left <= width - GUTTER_MM - NARROWEST_WORDS_MM
        if (fits_pair and sides + above[1] <= HIGHEST_MM) or last:
            wide = tuple(w + max(slack, 0.0) / 2 for w in (first[0], second[0]))
            found.append(
                Setting("pair", one_in, ((wide[0], sides), (wide[1], sides), (left, above[1])))
            )
        fits_stack = column <= width - GUTTER_MM - NARROWEST_WORDS_MM
        if fits_stack and 2 * sides + above[1] <= HIGHEST_MM:
            boxes = ((column, sides), (column, sides), (column, above[1]))
            found.append(Setting("stack", one_in, boxes))
    return tuple(found)


def a5_setting(s: Skeleton, views: Sequence[View], cuts: int) -> Setting:
    """Return how the front of an A5 card is set out; many cuts take height from the drawings."""
    shrink = min(1.0, max(0.65, 1.0 - 0.07 * (cuts - 3)))
    width, side_high, above_high = 65.0, 66.0 * shrink, 58.0 * shrink
    for one_in in ROUND_SCALES:
        first, second, above = (box_needed(s, view, 1000.0 / one_in) for view in views)
        sides = max(first[1], second[1])
        widest = max(first[0], second[0], above[0])
        fits = widest <= width and sides <= side_high and above[1] <= above_high
        if (fits and one_in >= LARGEST_SCALE) or one_in == ROUND_SCALES[-1]:
            break
    sides, high = min(sides, side_high), min(above[1], above_high)
    return Setting("a5", one_in, ((width, sides), (width, sides), (width, high)))

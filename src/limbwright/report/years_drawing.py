"""A tree over the years as a strip of small pictures to one scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np

from limbwright.growth.season import dose_of
from limbwright.model.skeleton import Bools, Skeleton, State
from limbwright.report.drawing import ROUND_SCALES
from limbwright.report.small_tree import extent_m, tree_parts
from limbwright.report.strokes import GREY, GROUND, INK, PLUM, line, svg, words
from limbwright.report.text_width import wrapped
from limbwright.report.views import SOUTH, View
from limbwright.report.words import plain

__all__ = ["Stand", "tree_years"]

EDGE_MM, STAFF_MM, BETWEEN_MM = 4.0, 11.0, 3.0
ABOVE_MM = 1.5
"""Above and below it the page has room of its own."""
HEAD_MM, TEXT_MM, LINE_MM = 2.9, 2.6, 3.7
NARROWEST_MM = 27.0
"""Judgement: narrower cells break "winter 2027-28" over two lines."""
LARGEST_SCALE = 50
SMALLEST_SCALE = 500
"""Judgement: 1 in so many, below which limbs run together; the page grows higher instead."""
LEAST_WIDTH_MM = 60.0


@dataclass(frozen=True, slots=True)
class Stand:
    """The tree at one time: words above it, the tree, and what is cut from it then, if anything.

    ``gone`` ``(n,)`` marks the segments cut off; ``note`` is written below, for what the picture
    cannot show.
    """

    caption: str
    skeleton: Skeleton
    gone: Bools | None = None
    note: str = ""


def tree_years(
    stands: Sequence[Stand],
    *,
    width_mm: float = 180.0,
    most_height_mm: float = 170.0,
    view: View = SOUTH,
    target_height_m: float | None = None,
) -> str:
    """Return a tree over the years as an SVG drawing, in millimetres.

    Every picture has the same scale and ground, with a staff in metres at the left of each row
    and a dotted line at the first height. Below each stand its height and spread, the live leaf
    against that of the first, and the dose where something goes.

    Parameters
    ----------
    stands
        From today on, such as: today with the first cuts, a year later with the next, the end.
    width_mm
        Width of the drawing, at least 60.
    most_height_mm
        The scale is the largest round one at which all fits; many stands may need more height.
    view
        From where.
    target_height_m
        A line at the height aimed at.

    Raises
    ------
    InputError
        Marks do not fit a tree, or a stem would go.
    ValueError
        No stands, or the width is too small for the words.
    """
    if not stands:
        raise ValueError("there is nothing to draw: give at least one stand")
    if width_mm < LEAST_WIDTH_MM:
        raise ValueError(f"the years of a tree need at least {LEAST_WIDTH_MM:g} mm")
    sheet = _Sheet(stands, width_mm, most_height_mm, view, target_height_m)
    return sheet.svg()


class _Sheet:
    """How pictures lie on the paper."""

    def __init__(
        self,
        stands: Sequence[Stand],
        width_mm: float,
        most_height_mm: float,
        view: View,
        target_m: float | None,
    ) -> None:
        self.stands, self.width, self.view, self.target = stands, width_mm, view, target_m
        extents = [extent_m(one.skeleton, view) for one in stands]
        # every picture as wide as the widest, the stem of each at the same place in its cell
        self.left = min(e[0] for e in extents)
        self.wide = max(e[1] for e in extents) - self.left
        self.low = min(e[2] for e in extents)
        self.high = max(max(e[3] for e in extents), target_m or 0.0) - self.low
        inner = width_mm - 2 * EDGE_MM - STAFF_MM
        most = max(1, int((inner + BETWEEN_MM) // (NARROWEST_MM + BETWEEN_MM)))
        foot = LINE_MM * len(self._foot(ROUND_SCALES[-1]))
        found: list[tuple[float, int]] = []
        for columns in range(1, min(most, len(stands)) + 1):
            cell = (inner - BETWEEN_MM * (columns - 1)) / columns
            rows = -(-len(stands) // columns)
            said = self._words_mm(cell)
            high = (most_height_mm - 2 * EDGE_MM - foot) / rows - said
            fits = min(cell / self.wide, max(high / self.high, 1000.0 / SMALLEST_SCALE))
            one_in = next(
                (k for k in ROUND_SCALES if k >= LARGEST_SCALE and 1000.0 / k <= fits),
                ROUND_SCALES[-1],
            )
            found.append((1000.0 / one_in, columns))
        # the largest scale; of equals the one with fewest rows
        self.scale, self.columns = max(found)
        self.cell = (inner - BETWEEN_MM * (self.columns - 1)) / self.columns
        self.words_mm = self._words_mm(self.cell)
        self.row_mm = self.words_mm + self.high * self.scale
        self.foot = self._foot(1000.0 / self.scale)

    def _foot(self, one_in: float) -> list[str]:
        """Return what has to be said of all pictures."""
        said = f"{self.view.caption}, 1 : {one_in:.0f}; widths as seen. "
        said += "Leaf is told against the first picture. Dotted: the height of the first."
        if self.target is not None:
            said += f" Unbroken line: the height aimed at, {self.target:.1f} m."
        return wrapped(said, TEXT_MM, self.width - 2 * EDGE_MM)

    def _words_mm(self, cell: float) -> float:
        """Return the height that words above and below a picture take."""
        self.heads = max(len(wrapped(plain(s.caption), HEAD_MM, cell)) for s in self.stands)
        lines = max(len(self._said(s, cell)) for s in self.stands)
        return LINE_MM * (self.heads + lines) + 5.0

    def _said(self, stand: Stand, cell: float) -> list[tuple[str, str]]:
        """Return the lines below a stand, each with its colour."""
        s = stand.skeleton
        flat = self.view.project(np.concatenate([s.start_m, s.end_m]))
        said = [
            (f"{float(s.end_m[:, 2].max()):.1f} m high", INK),
            (f"{float(np.ptp(flat[:, 0])):.1f} m wide", INK),
            (f"leaf {100.0 * _leaf(s) / max(_leaf(self.stands[0].skeleton), 1e-9):.0f} %", INK),
        ]
        if stand.gone is not None and bool(np.any(stand.gone)):
            said.append((f"{100.0 * dose_of(s, stand.gone):.0f} % of it goes", PLUM))
        said += [(one, INK) for one in wrapped(plain(stand.note), TEXT_MM, cell)]
        return said

    def svg(self) -> str:
        rows = -(-len(self.stands) // self.columns)
        height = 2 * ABOVE_MM + rows * self.row_mm + LINE_MM * len(self.foot)
        title = "; ".join(
            f"{plain(s.caption)}: {', '.join(said for said, _ in self._said(s, self.cell))}"
            for s in self.stands
        )
        parts = [
            f"<title>{escape(title)}</title>",
            f'<rect width="{self.width:.2f}" height="{height:.2f}" fill="{GROUND}"/>',
        ]
        self.heads = max(len(wrapped(plain(s.caption), HEAD_MM, self.cell)) for s in self.stands)
        for row in range(rows):
            top = ABOVE_MM + row * self.row_mm
            chosen = self.stands[row * self.columns : (row + 1) * self.columns]
            parts += self._row(chosen, top)
        for k, text in enumerate(reversed(self.foot)):
            parts.append(words(EDGE_MM, height - ABOVE_MM - k * LINE_MM, text, TEXT_MM, INK))
        return svg(self.width, height, parts) + "\n"

    def _row(self, stands: Sequence[Stand], top: float) -> list[str]:
        ground = top + LINE_MM * self.heads + 1.5 + (self.high + self.low) * self.scale
        end = EDGE_MM + STAFF_MM + len(stands) * (self.cell + BETWEEN_MM) - BETWEEN_MM
        first_m = float(self.stands[0].skeleton.end_m[:, 2].max())
        y = ground - first_m * self.scale
        dots = ' stroke-dasharray="0.1 1.2"'
        out = [
            f'<path d="M{EDGE_MM + STAFF_MM:.2f} {y:.2f}H{end:.2f}" stroke="{GREY}" fill="none" '
            f'stroke-width="0.4" stroke-linecap="round"{dots}/>',
            *self._staff(ground),
        ]
        if self.target is not None:
            y = ground - self.target * self.scale
            out.append(line(EDGE_MM + STAFF_MM, y, end, y, PLUM, 0.2))
        below = ground - self.low * self.scale + 4.2
        for k, stand in enumerate(stands):
            left = EDGE_MM + STAFF_MM + k * (self.cell + BETWEEN_MM)
            for row, text in enumerate(wrapped(plain(stand.caption), HEAD_MM, self.cell)):
                out.append(words(left, top + LINE_MM * (row + 0.75), text, HEAD_MM, INK, bold=True))
            spare = (self.cell - self.wide * self.scale) / 2.0
            foot = left + spare - self.left * self.scale, ground
            out += tree_parts(stand.skeleton, stand.gone, self.view, foot, self.scale)
            for row, (text, colour) in enumerate(self._said(stand, self.cell)):
                out.append(words(left, below + LINE_MM * row, text, TEXT_MM, colour))
        out.append(line(EDGE_MM, ground, end, ground, INK, 0.3))
        return out

    def _staff(self, ground: float) -> list[str]:
        out = []
        every = next(k for k in (1, 2, 5, 10, 20, 50, 100) if k * self.scale >= 4.0 or k == 100)
        tall = max(1, int(self.high + self.low + 1e-6))
        for k in range(tall):
            fill = INK if k % 2 == 0 else GROUND
            out.append(
                f'<rect x="{EDGE_MM:.2f}" y="{ground - (k + 1) * self.scale:.2f}" width="1.1" '
                f'height="{self.scale:.2f}" fill="{fill}" stroke="{INK}" stroke-width="0.15"/>'
            )
        for k in range(every, tall + 1, every):
            text = f"{k} m" if k == every else str(k)
            out.append(words(EDGE_MM + 1.8, ground - k * self.scale + 0.9, text, TEXT_MM, INK))
        return out


def _leaf(s: Skeleton) -> float:
    return float(s.leaf_area_m2[s.state != int(State.DEAD)].sum())

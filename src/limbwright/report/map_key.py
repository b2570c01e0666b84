"""What stands below a map: north, scale bar, the key of its marks, and what has to be said."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor, log10

from limbwright.report.map_marks import MARKS, Crown, crown_svg, ring_svg
from limbwright.report.strokes import GROUND, INK, words
from limbwright.report.text_width import text_width_mm, wrapped

__all__ = [
    "KEY_MM",
    "PLANNED",
    "PLANNED_WORDS",
    "key_svg",
    "note_lines",
    "notes_svg",
    "round_length",
    "scale_svg",
]

KEY_MM = 2.8  # 8 pt
"""Size of the words below a map."""
SMALL_MM = 2.6
ROW_MM, SAMPLE_MM, BETWEEN_MM = 6.0, 1.75, 4.5
LINE_MM = 3.9
PLANNED = "planned"
PLANNED_WORDS = "planned for the seasons that come next"
BAR_MM = 45.0
"""The scale bar is the longest round length that is no longer."""
BESIDE_BAR_MM = 23.0
"""Room beside the bar: for the arrow before it, and between it and the words of the scale."""


def round_length(most: float) -> float:
    """Return the largest of 1, 2, 5, 10, 20, 50, ... (and 0.5, 0.2, ...) not above ``most``."""
    power = 10.0 ** floor(log10(most))
    return next(step * power for step in (5.0, 2.0, 1.0) if step * power <= most * (1.0 + 1e-9))


def scale_svg(left: float, top: float, width: float, mm_per_m: float) -> list[str]:
    """Return north arrow, scale bar and scale in a strip ``width`` by 10 mm.

    The bar has two halves, so that it is the width of the rectangles of class ``bar`` together.
    """
    one_in = f"1 : {1000.0 / mm_per_m:,.0f}".replace(",", " ")
    room = width - BESIDE_BAR_MM - text_width_mm(one_in, KEY_MM)
    length_m = round_length(min(BAR_MM, room) / mm_per_m)
    wide, x, y = length_m * mm_per_m, left + 9.0, top + 2.6
    unit, shown = ("km", length_m / 1000.0) if length_m >= 1000.0 else ("m", length_m)
    out = [
        f'<path d="M{left + 2.4:.2f} {top + 0.3:.2f}l2 6l-2 -1.3l-2 1.3z" fill="{INK}"/>',
        words(left + 2.4, top + 9.6, "N", 3.6, INK, bold=True, anchor="middle"),
    ]
    for k, fill in enumerate((INK, GROUND)):
        out.append(
            f'<rect class="bar" x="{x + k * wide / 2:.3f}" y="{y:.2f}" width="{wide / 2:.3f}" '
            f'height="1.4" fill="{fill}" stroke="{INK}" stroke-width="0.2"/>'
        )
    for share in (0.0, 0.5, 1.0):
        text = f"{shown * share:g}" + (f" {unit}" if share == 1.0 else "")
        anchor = "start" if share == 1.0 else "middle"
        at = x + share * wide - (0.8 if share == 1.0 else 0.0)
        out.append(words(at, y + 5.0, text, KEY_MM, INK, anchor=anchor))
    out.append(words(x + wide + 14.0, y + 1.6, one_in, KEY_MM, INK, bold=True))
    return out


def key_svg(
    counts: Sequence[tuple[str, int]], left: float, top: float, width: float
) -> tuple[list[str], float]:
    """Return the key of the marks in use with how many there are of each, and its height.

    ``counts`` holds keys of `MARKS`, or `PLANNED` for the ring.
    """
    out: list[str] = []
    x, y = left, top + ROW_MM / 2
    for mark, count in counts:
        said = PLANNED_WORDS if mark == PLANNED else MARKS[mark]
        text = f"{said}: {count}"
        wide = 2 * SAMPLE_MM + 3.4 + text_width_mm(text, KEY_MM) + BETWEEN_MM
        if x > left and x + wide - BETWEEN_MM > left + width:
            x, y = left, y + ROW_MM
        out += _sample(mark, x + SAMPLE_MM + 0.9, y)
        out.append(words(x + 2 * SAMPLE_MM + 3.0, y + 1.0, text, KEY_MM, INK))
        x += wide
    return out, y + ROW_MM / 2 - top if counts else 0.0


def _sample(mark: str, x: float, y: float) -> list[str]:
    if mark == PLANNED:
        small = Crown(x, y, 1.3, 1.3, "", planned=True)
        return [*crown_svg(small), *ring_svg(small)]
    return crown_svg(Crown(x, y, SAMPLE_MM, SAMPLE_MM, mark))


def note_lines(notes: Sequence[str], width: float) -> list[str]:
    """Return notes as lines that fit."""
    return [line for note in notes for line in wrapped(note, SMALL_MM, width)]


def notes_svg(lines: Sequence[str], left: float, top: float) -> tuple[list[str], float]:
    """Return lines of notes below one another, and their height."""
    out = [
        words(left, top + LINE_MM * (k + 0.75), text, SMALL_MM, INK) for k, text in enumerate(lines)
    ]
    return out, LINE_MM * len(lines)

"""What was done beside what was planned, as bars: hours, dose, metres, or any other figure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from math import isfinite

from limbwright.report.strokes import GREY, GROUND, INK, PLUM, line, svg, words
from limbwright.report.text_width import shortened, text_width_mm
from limbwright.report.words import plain
from limbwright.report.years_chart import round_steps

__all__ = ["Bar", "done_bars"]

EDGE_MM = 4.0
HEAD_MM, TEXT_MM, ROW_MM = 3.3, 2.7, 7.2
OPEN_MM, FILLED_MM, LIMIT_MM = 4.4, 2.0, 5.8
HEAD_ROOM_MM, AXIS_MM, KEY_MM = 11.0, 6.0, 6.5
LABEL_SHARE = 0.28
LEAST_WIDTH_MM = 90.0
NOT_KNOWN = "–"


@dataclass(frozen=True, slots=True)
class Bar:
    """One row: what it is of, what was planned and what was done, None where not known.

    ``low`` and ``high`` are the range of what was planned; ``limit`` what was not to be passed,
    such as the dose of the tree's state.
    """

    label: str
    planned: float | None = None
    done: float | None = None
    low: float | None = None
    high: float | None = None
    limit: float | None = None


def done_bars(
    title: str,
    unit: str,
    bars: Sequence[Bar],
    *,
    width_mm: float = 180.0,
    digits: int = 1,
) -> str:
    """Return rows of bars as an SVG drawing, in millimetres, on one axis from nothing.

    What was planned is an open bar with its range as a stroke through it, what was done a filled
    one inside, a limit an upright plum stroke. Both figures stand at the end of each row.

    Parameters
    ----------
    title, unit
        What is shown and in what; values are in that unit (a dose in per cent is 100 times its
        share).
    bars
        The rows, in their order; values below nothing are drawn as nothing.
    width_mm
        Width of the drawing, at least 90.
    digits
        Decimals of the figures.

    Raises
    ------
    ValueError
        The width is too small.
    """
    if width_mm < LEAST_WIDTH_MM:
        raise ValueError(f"bars need at least {LEAST_WIDTH_MM:g} mm")
    label_mm = LABEL_SHARE * width_mm
    figures = [
        value
        for one in bars
        for value in (one.planned, one.done, one.low, one.high, one.limit)
        if value is not None and isfinite(value)
    ]
    steps = round_steps(max(figures, default=0.0))
    texts = [(_said(one.planned, digits), _said(one.done, digits)) for one in bars]
    column = max((text_width_mm(t, TEXT_MM) for pair in texts for t in pair), default=0.0)
    column = max(column, text_width_mm("planned", TEXT_MM)) + 2.0
    x0, x1 = EDGE_MM + label_mm, width_mm - EDGE_MM - 2 * column
    mm_per_unit = (x1 - x0) / steps[-1]
    top = EDGE_MM + HEAD_ROOM_MM
    foot = top + ROW_MM * max(len(bars), 1)
    key, key_mm = _key(foot + AXIS_MM, bars, width_mm - EDGE_MM)
    height = foot + AXIS_MM + key_mm + EDGE_MM
    right = width_mm - EDGE_MM
    parts = [
        f"<title>{escape(_in_words(title, unit, bars, digits))}</title>",
        f'<rect width="{width_mm:.2f}" height="{height:.2f}" fill="{GROUND}"/>',
        words(EDGE_MM, EDGE_MM + 3.0, f"{plain(title)}, {unit}", HEAD_MM, INK, bold=True),
        words(right - column, top - 1.6, "planned", TEXT_MM, INK, anchor="end"),
        words(right, top - 1.6, "done", TEXT_MM, INK, bold=True, anchor="end"),
    ]
    for step in steps:
        x = x0 + step * mm_per_unit
        parts.append(line(x, top, x, foot, INK if step == 0.0 else GREY, 0.15))
        parts.append(words(x, foot + 3.8, f"{step:g}", TEXT_MM, INK, anchor="middle"))
    for k, (one, (planned, done)) in enumerate(zip(bars, texts, strict=True)):
        y = top + ROW_MM * (k + 0.5)
        label = shortened(plain(one.label), TEXT_MM, label_mm - 2.0)
        parts.append(words(EDGE_MM, y + 0.95, label, TEXT_MM, INK))
        parts += _bar(one, x0, y, mm_per_unit)
        parts.append(words(right - column, y + 0.95, planned, TEXT_MM, INK, anchor="end"))
        parts.append(words(right, y + 0.95, done, TEXT_MM, INK, bold=True, anchor="end"))
    if not bars:
        parts.append(words(x0 + 2.0, top + 4.6, "nothing recorded", TEXT_MM, INK))
    return svg(width_mm, height, [*parts, *key]) + "\n"


def _said(value: float | None, digits: int) -> str:
    return NOT_KNOWN if value is None or not isfinite(value) else f"{value:.{digits}f}"


def _bar(one: Bar, x0: float, y: float, mm_per_unit: float) -> list[str]:
    def wide(value: float) -> float:
        return max(value, 0.0) * mm_per_unit

    out = []
    if one.planned is not None and isfinite(one.planned):
        out.append(
            f'<rect class="planned" x="{x0:.3f}" y="{y - OPEN_MM / 2:.2f}" '
            f'width="{wide(one.planned):.3f}" height="{OPEN_MM}" fill="none" stroke="{INK}" '
            'stroke-width="0.25"/>'
        )
    if one.done is not None and isfinite(one.done):
        out.append(
            f'<rect class="done" x="{x0:.3f}" y="{y - FILLED_MM / 2:.2f}" '
            f'width="{wide(one.done):.3f}" height="{FILLED_MM}" fill="{INK}"/>'
        )
    if one.low is not None and one.high is not None and isfinite(one.low + one.high):
        above = y - OPEN_MM / 2 - 0.45
        low, high = x0 + wide(one.low), x0 + wide(one.high)
        out.append(line(low, above, high, above, INK, 0.25))
        out += [line(x, above - 0.5, x, above + 0.5, INK, 0.25) for x in (low, high)]
    if one.limit is not None and isfinite(one.limit):
        x = x0 + wide(one.limit)
        out.append(line(x, y - LIMIT_MM / 2, x, y + LIMIT_MM / 2, PLUM, 0.7))
    return out


def _key(top: float, bars: Sequence[Bar], right: float) -> tuple[list[str], float]:
    """Return what the shapes mean, and the height it takes."""
    kinds = [("planned", Bar("", planned=9.0)), ("done", Bar("", done=9.0))]
    if any(one.low is not None and one.high is not None for one in bars):
        kinds.append(("range of the plan", Bar("", planned=9.0, low=6.0, high=10.0)))
    if any(one.limit is not None for one in bars):
        kinds.append(("not to be passed", Bar("", limit=5.0)))
    out: list[str] = []
    x, y = EDGE_MM, top + KEY_MM / 2.0
    for text, sample in kinds:
        wide = 11.6 + text_width_mm(text, TEXT_MM)
        if x + wide > right:
            x, y = EDGE_MM, y + KEY_MM
        drawn = [one.replace('class="', 'class="key ') for one in _bar(sample, x, y, 1.0)]
        out += [*drawn, words(x + 11.6, y + 0.95, text, TEXT_MM, INK)]
        x += wide + 3.0
    return out, y + KEY_MM / 2.0 - top


def _in_words(title: str, unit: str, bars: Sequence[Bar], digits: int) -> str:
    rows = [
        f"{plain(one.label)}: planned {_said(one.planned, digits)}, done {_said(one.done, digits)}"
        for one in bars
    ]
    return f"{plain(title)}, {unit}. " + ("; ".join(rows) or "Nothing recorded") + "."

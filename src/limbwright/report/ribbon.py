"""Draw the year as a ribbon: months, the two pruning windows, nesting and harvest.

Everything is told by shape, so that it reads in black print: a filled bar is open, a bar of
slanting strokes is open after looking, a broken outline is a time on which sources differ; nests
are a row of small bowls, harvest a row of rings. Seasons of work hang below on two strokes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape

from limbwright.report.fonts import FAMILY
from limbwright.report.strokes import GREY, GROUND, INK, PLUM, line, words
from limbwright.trade.seasons.days import MONTHS
from limbwright.trade.seasons.ribbon import Band, Ribbon, Stretch

__all__ = ["Hung", "ribbon_svg"]

# judgement: sizes [mm] found by looking at the ribbon on screen and in black print
LEFT_MM, RIGHT_MM = 40.0, 4.0
STRIP_MM, TOP_MM = 7.0, 3.5
ROW_MM, BAR_MM = 8.6, 4.6
TEXT_MM, SMALL_MM = 3.1, 2.5
PEN_MM = 0.3
HATCH_MM, BOWL_MM, RING_MM = 1.6, 3.0, 2.8
HUNG_MM, HUNG_ROW_MM = 4.0, 6.0
KEY_MM = 8.5
LEAST_WIDTH_MM = 120.0
CHARACTER = 0.56
"""Mean width of a character over its size; judgement, measured on the labels."""


@dataclass(frozen=True, slots=True)
class Hung:
    """A season of work hung below the ribbon."""

    first: date
    last: date
    label: str


def ribbon_svg(
    ribbon: Ribbon,
    *,
    hung: Sequence[Hung] = (),
    today: date | None = None,
    width_mm: float = 180.0,
) -> str:
    """Return the ribbon of a year as an SVG drawing, in millimetres.

    Parameters
    ----------
    hung
        Seasons of work to hang below; what lies outside the year is cut off at its ends.
    today
        A day of the year to mark; None for none.
    width_mm
        Width of the drawing, at least 120.

    Raises
    ------
    ValueError
        The width is too small for the labels.
    """
    if width_mm < LEAST_WIDTH_MM:
        raise ValueError(f"a ribbon needs at least {LEAST_WIDTH_MM:g} mm")
    scale = _Scale(ribbon.year, width_mm)
    rows_top = TOP_MM + STRIP_MM + 2.0
    rows_end = rows_top + ROW_MM * len(ribbon.bands)
    placed = _place([one for one in hung if scale.meets(one.first, one.last)], scale)
    lanes = 1 + max((one.lane for one in placed), default=-1)
    key_top = rows_end + (HUNG_MM + HUNG_ROW_MM * lanes if lanes else 1.0)
    height = key_top + KEY_MM
    body = [f'<rect width="{width_mm:.2f}" height="{height:.2f}" fill="{GROUND}"/>']
    body += _months(scale, rows_end)
    for k, band in enumerate(ribbon.bands):
        body += _row(band, scale, rows_top + ROW_MM * (k + 0.5))
    body += _hang(placed, rows_end)
    if today is not None and scale.meets(today, today):
        x = scale.middle(today)
        body.append(line(x, TOP_MM + STRIP_MM, x, rows_end, INK, 0.5))
        body.append(f'<path d="M{x - 1.4:.2f} 0.6h2.8l-1.4 2z" fill="{INK}"/>')
    body += _key(key_top, width_mm)
    title = escape(_in_words(ribbon))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{width_mm:.2f}mm" '
        f'height="{height:.2f}mm" viewBox="0 0 {width_mm:.2f} {height:.2f}" '
        f'font-family="{FAMILY}, Verdana, sans-serif"><title>{title}</title>'
        f"{_pattern()}{''.join(body)}</svg>\n"
    )


class _Scale:
    """Days of a year along the paper."""

    def __init__(self, year: int, width_mm: float) -> None:
        self.first, self.last = date(year, 1, 1), date(year, 12, 31)
        self.year = year
        self.days = (self.last - self.first).days + 1
        self.mm_a_day = (width_mm - LEFT_MM - RIGHT_MM) / self.days

    def at(self, day: date) -> float:
        """Return where a day begins, held to the year."""
        days = min(max((day - self.first).days, 0), self.days)
        return LEFT_MM + days * self.mm_a_day

    def end(self, day: date) -> float:
        """Return where a day ends, held to the year."""
        days = min(max((day - self.first).days + 1, 0), self.days)
        return LEFT_MM + days * self.mm_a_day

    def middle(self, day: date) -> float:
        return (self.at(day) + self.end(day)) / 2.0

    def meets(self, first: date, last: date) -> bool:
        return first <= self.last and last >= self.first


def _pattern() -> str:
    return (
        f'<defs><pattern id="look" width="{HATCH_MM}" height="{HATCH_MM}" '
        'patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        f'<rect width="{HATCH_MM}" height="{HATCH_MM}" fill="{GROUND}"/>'
        f'<rect width="{HATCH_MM / 2.4:.2f}" height="{HATCH_MM}" fill="{PLUM}"/></pattern></defs>'
    )


def _months(scale: _Scale, bottom: float) -> list[str]:
    out = []
    for month, name in enumerate(MONTHS, 1):
        x = scale.at(date(scale.year, month, 1))
        end = date(scale.year + month // 12, month % 12 + 1, 1)
        x1 = scale.at(end)
        out.append(line(x, TOP_MM, x, bottom, GREY, 0.15))
        middle = (x + x1) / 2.0
        out.append(words(middle, TOP_MM + 4.7, name[:3], TEXT_MM, INK, bold=True, anchor="middle"))
    left, right = scale.at(scale.first), scale.end(scale.last)
    out.append(line(right, TOP_MM, right, bottom, GREY, 0.15))
    out.append(line(left, TOP_MM, right, TOP_MM, INK, PEN_MM))
    out.append(line(left, TOP_MM + STRIP_MM, right, TOP_MM + STRIP_MM, INK, PEN_MM))
    out.append(words(2.0, TOP_MM + 4.9, str(scale.year), 4.2, INK, bold=True))
    return out


def _row(band: Band, scale: _Scale, y: float) -> list[str]:
    out = [words(2.0, y + 1.1, band.label, TEXT_MM, INK)]
    for one in band.stretches:
        x, x1 = scale.at(one.first), scale.end(one.last)
        if band.kind == "window":
            out += _bar(one.mark, x, x1, y)
        elif band.kind == "nesting":
            out += _repeat(_bowl, BOWL_MM, x, x1, y)
    return out if band.kind != "harvest" else [*out, *_harvest(band, scale, y)]


def _bar(mark: str, x: float, x1: float, y: float) -> list[str]:
    fill = {"open": PLUM, "look first": "url(#look)"}.get(mark, "none")
    broken = ' stroke-dasharray="1.1 0.9"' if mark == "in doubt" else ""
    high = BAR_MM if mark != "in doubt" else BAR_MM / 2.0
    return [
        f'<rect x="{x:.2f}" y="{y - high / 2:.2f}" width="{x1 - x:.2f}" height="{high:.2f}" '
        f'fill="{fill}" stroke="{PLUM}" stroke-width="{PEN_MM}"{broken}/>'
    ]


def _repeat(
    shape: Callable[[float, float], str], every: float, x: float, x1: float, y: float
) -> list[str]:
    count = max(1, int((x1 - x) / every))
    step = (x1 - x) / count
    return [shape(x + (k + 0.5) * step, y) for k in range(count)]


def _bowl(x: float, y: float) -> str:
    return (
        f'<path d="M{x - 0.95:.2f} {y - 0.35:.2f}a0.95 1.05 0 0 0 1.9 0" fill="none" '
        f'stroke="{INK}" stroke-width="0.4" stroke-linecap="round"/>'
    )


def _ring(x: float, y: float) -> str:
    return (
        f'<circle cx="{x:.2f}" cy="{y:.2f}" r="0.8" fill="none" stroke="{INK}" '
        'stroke-width="0.35"/>'
    )


def _harvest(band: Band, scale: _Scale, y: float) -> list[str]:
    """Return rings for the days, each kind of fruit named below where its name finds room."""
    out: list[str] = []
    free = LEFT_MM
    for first, last in _joined(band.stretches):
        out += _repeat(_ring, RING_MM, scale.at(first), scale.end(last), y - 1.3)
    for one in sorted(band.stretches, key=lambda stretch: stretch.first):
        middle = (scale.at(one.first) + scale.end(one.last)) / 2.0
        wide = CHARACTER * SMALL_MM * len(one.label)
        left = min(max(middle - wide / 2.0, free), scale.end(scale.last) - wide)
        if left < free:
            continue
        out.append(words(left, y + 2.6, one.label, SMALL_MM, INK))
        free = left + wide + 1.2
    return out


def _joined(stretches: Sequence[Stretch]) -> list[tuple[date, date]]:
    found: list[tuple[date, date]] = []
    for one in sorted(stretches, key=lambda stretch: stretch.first):
        if found and (one.first - found[-1][1]).days <= 1:
            found[-1] = found[-1][0], max(found[-1][1], one.last)
        else:
            found.append((one.first, one.last))
    return found


@dataclass(frozen=True, slots=True)
class _Placed:
    """A hung season on paper: where it begins and ends, where its words do, and its lane."""

    label: str
    x: float
    x1: float
    left: float
    right: float
    lane: int


def _place(hung: Sequence[Hung], scale: _Scale) -> list[_Placed]:
    """Return each season with a lane of its own where it meets another.

    From the last to the first, so that the words of one run above the posts of those before it.
    """
    found: list[_Placed] = []
    for one in sorted(hung, key=lambda season: season.first, reverse=True):
        x, x1 = scale.at(one.first), scale.end(one.last)
        wide = CHARACTER * TEXT_MM * len(one.label)
        left = x + 3.0
        if left + wide > scale.end(scale.last):
            left = max(2.0, x - 1.0 - wide)
        begins, ends = min(x, left) - 1.0, max(x1, left + wide) + 1.0
        taken = {p.lane for p in found if min(p.x, p.left) < ends and begins < max(p.x1, p.right)}
        lane = next(k for k in range(len(found) + 1) if k not in taken)
        found.append(_Placed(one.label, x, x1, left, left + wide, lane))
    return found


def _hang(placed: Sequence[_Placed], top: float) -> list[str]:
    posts, texts = [], []
    for one in placed:
        y = top + HUNG_MM + HUNG_ROW_MM * one.lane + 1.0
        x = one.x
        posts += [
            line(x + 0.6, top, x + 0.6, y, PLUM, 0.6),
            line(x + 1.8, top, x + 1.8, y, PLUM, 0.6),
            line(x + 0.6, y, max(one.x1 - 0.3, x + 1.8), y, PLUM, 0.6),
        ]
        texts.append(
            f'<rect x="{one.left - 0.4:.2f}" y="{y - 4.1:.2f}" '
            f'width="{one.right - one.left + 0.8:.2f}" height="3.6" fill="{GROUND}"/>'
        )
        texts.append(words(one.left, y - 1.1, one.label, TEXT_MM, INK))
    return [*posts, *texts]


def _key(top: float, width_mm: float) -> list[str]:
    y = top + 4.2
    out = [line(2.0, top + 0.6, width_mm - 2.0, top + 0.6, GREY, 0.15)]
    samples = (
        (_bar("open", 0.0, 7.0, 0.0), "open"),
        (_bar("look first", 0.0, 7.0, 0.0), "look first"),
        (_bar("in doubt", 0.0, 7.0, 0.0), "sources differ"),
        ([_bowl(2.0, 0.0), _bowl(5.0, 0.0)], "birds nesting"),
        ([_ring(2.0, 0.0), _ring(4.8, 0.0)], "harvest"),
    )
    step = (width_mm - 4.0) / len(samples)
    for k, (shapes, text) in enumerate(samples):
        x = 2.0 + k * step
        out.append(f'<g transform="translate({x:.2f} {y:.2f})">{"".join(shapes)}</g>')
        out.append(words(x + 8.4, y + 1.0, text, SMALL_MM, INK))
    return out


def _in_words(ribbon: Ribbon) -> str:
    said = []
    for band in ribbon.bands:
        spans = [
            f"{one.first.day} {MONTHS[one.first.month - 1]} to "
            f"{one.last.day} {MONTHS[one.last.month - 1]}"
            + (f" ({one.label or one.mark})" if one.mark != "about" or one.label else "")
            for one in band.stretches
        ]
        said.append(f"{band.label}: {', '.join(spans) if spans else 'none'}")
    return f"The year {ribbon.year}. " + "; ".join(said) + "."

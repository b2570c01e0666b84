"""Ways to go on with a tree over the years, side by side: chance of loss, crown, light, hours.

Ways are told apart by their dashes and by the words at their ends; the plan is two plum strokes
with room for another line between them, so that all reads in black print.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise
from math import floor, isfinite, log10

from limbwright.report.book_words import CHANCES_RANK
from limbwright.report.strokes import GREY, GROUND, INK, PLUM, line, svg, words
from limbwright.report.text_width import shortened, text_width_mm, wrapped
from limbwright.report.words import plain

__all__ = ["Course", "CourseYears", "Measure", "round_steps", "years_chart"]

EDGE_MM = 4.0
HEAD_MM, TEXT_MM, LINE_MM = 3.1, 2.6, 3.6
PLOT_MM, ABOVE_MM, BELOW_MM, AXIS_MM = 42.0, 10.5, 11.0, 10.0
ENDS_MM, LONGEST_END_MM = 5.0, 30.0
LEAST_WIDTH_MM = 80.0
TWO_ABREAST_MM = 150.0
"""Judgement: from this width on two panels stand side by side."""
BAND = "#e6d5dc"
DASHES = ("2.6 1.3", "0.2 1.2", "4.2 1.2 0.2 1.2", "1.2 1.2")
"""Of the ways that are no plan, in order; a fifth begins again."""
LEAST_AXIS = 1e-6
"""Judgement: less is told as nothing."""
PLAN_PEN_MM, CORE_MM, PEN_MM = 1.35, 0.7, 0.45


@dataclass(frozen=True, slots=True)
class CourseYears:
    """One measure of one way, a value a year; None where it is not known.

    ``low`` and ``high`` are its range, as long as ``value`` or empty.
    """

    value: tuple[float | None, ...] = ()
    low: tuple[float | None, ...] = ()
    high: tuple[float | None, ...] = ()


@dataclass(frozen=True, slots=True)
class Measure:
    """What one panel shows: its title and unit, and ``times`` that a value is multiplied by.

    A share is told in per cent with ``times`` 100.
    """

    key: str
    title: str
    unit: str
    times: float = 1.0


MEASURES = (
    Measure("chance", "Chance of loss so far", "%", 100.0),
    Measure("crown", "Crown kept, of today's leaf", "%", 100.0),
    Measure("light", "Light on its leaf, of full sun", "%", 100.0),
    Measure("hours", "Work so far", "person-hours"),
)


@dataclass(frozen=True, slots=True)
class Course:
    """One way to go on with a tree, such as staged, all at once, equal shares or left alone.

    ``chance`` is that of any loss up to the end of a year, ``crown`` the live leaf against
    today's, ``light`` the mean light on the leaf, all 0 to 1 (``crown`` may pass it); ``hours``
    all work up to then. ``plan`` marks the way that is planned; ``note`` is said below the chart.
    """

    name: str
    chance: CourseYears = CourseYears()
    crown: CourseYears = CourseYears()
    light: CourseYears = CourseYears()
    hours: CourseYears = CourseYears()
    plan: bool = False
    note: str = ""

    def of(self, key: str) -> CourseYears:
        """Return one measure by its key."""
        found: CourseYears = getattr(self, key)
        return found


def years_chart(years: Sequence[int], ways: Sequence[Course], *, width_mm: float = 180.0) -> str:
    """Return how ways compare over the years as an SVG drawing of four panels, in millimetres.

    All axes of values begin at nothing. The range of the plan is a band, that of another way a
    stroke at its end.

    Parameters
    ----------
    years
        ``(Y,)`` rising: years from now, or of the calendar.
    ways
        Each with measures of Y values, or none where a measure was not reckoned.
    width_mm
        Width of the drawing, at least 80.

    Raises
    ------
    ValueError
        Nothing to draw, years that do not rise, measures of another length, or a width too small.
    """
    _check(years, ways, width_mm)
    across = 2 if width_mm >= TWO_ABREAST_MM else 1
    wide = (width_mm - 2 * EDGE_MM - 6.0 * (across - 1)) / across
    high = ABOVE_MM + PLOT_MM + BELOW_MM
    notes = [one for said in _notes(ways) for one in wrapped(said, TEXT_MM, width_mm - 2 * EDGE_MM)]
    rows = -(-len(MEASURES) // across)
    height = 2 * EDGE_MM + rows * high + LINE_MM * len(notes)
    parts = [
        f"<title>{escape(_in_words(years, ways))}</title>",
        f'<rect width="{width_mm:.2f}" height="{height:.2f}" fill="{GROUND}"/>',
    ]
    for k, measure in enumerate(MEASURES):
        left = EDGE_MM + (k % across) * (wide + 6.0)
        top = EDGE_MM + (k // across) * high
        parts += _Panel(measure, years, ways, left, top, wide).svg()
    for k, text in enumerate(notes):
        y = EDGE_MM + rows * high + LINE_MM * (k + 0.75)
        parts.append(words(EDGE_MM, y, text, TEXT_MM, INK))
    return svg(width_mm, height, parts) + "\n"


def round_steps(most: float, count: int = 6) -> list[float]:
    """Return round marks of an axis from 0 to at least ``most``, ``count`` steps or fewer."""
    if not (isfinite(most) and most > LEAST_AXIS):
        return [0.0, 1.0]
    rough = most / count
    power = 10.0 ** floor(log10(rough))
    step = next(k * power for k in (1.0, 2.0, 5.0, 10.0) if k * power >= rough * (1.0 - 1e-9))
    steps = [0.0]
    while steps[-1] < most * (1.0 - 1e-9):
        steps.append(len(steps) * step)
    return steps


def _check(years: Sequence[int], ways: Sequence[Course], width_mm: float) -> None:
    if width_mm < LEAST_WIDTH_MM:
        raise ValueError(f"a chart of years needs at least {LEAST_WIDTH_MM:g} mm")
    if not years or not ways:
        raise ValueError("there is nothing to draw: give years and ways")
    if any(b <= a for a, b in pairwise(years)):
        raise ValueError("the years do not rise")
    for way in ways:
        for measure in MEASURES:
            one = way.of(measure.key)
            lengths = {len(one.value), len(one.low), len(one.high)} - {0}
            if lengths - {len(years)} or (not one.value and (one.low or one.high)):
                raise ValueError(f"{measure.key} of {way.name!r} is not one value a year")


def _notes(ways: Sequence[Course]) -> list[str]:
    ranged = [w for w in ways if any(w.of(m.key).low and w.of(m.key).high for m in MEASURES)]
    said = []
    if any(w.plan for w in ranged):
        said.append("Shaded: the range of the plan.")
    if any(not w.plan for w in ranged):
        said.append("Upright strokes at the ends: the range of a way in the last year.")
    gaps = any(_gaps(w.of(m.key).value) for w in ways for m in MEASURES)
    if gaps:
        said.append("Hairlines: years in between were not reckoned.")
    if any(w.chance.value and not (w.chance.low and w.chance.high) for w in ways):
        said.append(CHANCES_RANK)
    notes = [f"{plain(w.name).capitalize()}: {plain(w.note)}" for w in ways if w.note]
    return [*([" ".join(said)] if said else []), *notes]


def _gaps(values: Sequence[float | None]) -> bool:
    """Return whether a value is missing between two that are known."""
    known = [k for k, value in enumerate(values) if _known(value)]
    return bool(known) and known[-1] - known[0] + 1 > len(known)


def _in_words(years: Sequence[int], ways: Sequence[Course]) -> str:
    told = []
    for measure in MEASURES:
        ends = [
            f"{plain(way.name)} {_figure(value * measure.times)}"
            for way in ways
            if (value := _last(way.of(measure.key).value)[1]) is not None
        ]
        told.append(f"{measure.title}, {measure.unit}: {', '.join(ends) or 'not reckoned'}")
    return f"At the end, {years[-1]}. " + ". ".join(told) + "."


def _figure(value: float) -> str:
    return f"{value:.1f}" if abs(value) < 10.0 else f"{value:.0f}"


def _last(values: Sequence[float | None]) -> tuple[int, float | None]:
    """Return the last value that is known and its place."""
    for k in range(len(values) - 1, -1, -1):
        if _known(values[k]):
            return k, values[k]
    return 0, None


def _known(value: float | None) -> bool:
    return value is not None and isfinite(value)


class _Panel:
    """One measure on paper."""

    def __init__(
        self,
        measure: Measure,
        years: Sequence[int],
        ways: Sequence[Course],
        left: float,
        top: float,
        wide: float,
    ) -> None:
        self.measure, self.years, self.left, self.top = measure, years, left, top
        self.ways = [w for w in ways if _last(w.of(measure.key).value)[1] is not None]
        self.names = {w.name: shortened(plain(w.name), TEXT_MM, LONGEST_END_MM) for w in ways}
        self.dashes: dict[str, str] = {}
        for way in ways:
            others = len([one for one in self.dashes.values() if one])
            self.dashes[way.name] = "" if way.plan else DASHES[others % len(DASHES)]
        ends = max((text_width_mm(n, TEXT_MM) for n in self.names.values()), default=0.0)
        self.x0, self.x1 = left + AXIS_MM, left + wide - ENDS_MM - ends
        self.y0, self.y1 = top + ABOVE_MM + PLOT_MM, top + ABOVE_MM
        every = [
            value * measure.times
            for way in self.ways
            for values in (way.of(measure.key).value, way.of(measure.key).high)
            for value in values
            if value is not None and isfinite(value)
        ]
        self.steps = round_steps(max(every, default=0.0))

    def x(self, year: float) -> float:
        first, last = self.years[0], self.years[-1]
        share = (year - first) / (last - first) if last > first else 0.5
        return self.x0 + share * (self.x1 - self.x0)

    def y(self, value: float) -> float:
        share = min(max(value * self.measure.times / self.steps[-1], 0.0), 1.0)
        return self.y0 - share * (self.y0 - self.y1)

    def svg(self) -> list[str]:
        out = [
            words(self.left, self.top + 3.0, self.measure.title, HEAD_MM, INK, bold=True),
            words(self.left, self.top + 6.9, self.measure.unit, TEXT_MM, INK),
        ]
        for step in self.steps:
            y = self.y0 - step / self.steps[-1] * (self.y0 - self.y1)
            out.append(line(self.x0, y, self.x1, y, INK if step == 0.0 else GREY, 0.12))
            out.append(words(self.x0 - 1.2, y + 0.9, f"{step:g}", TEXT_MM, INK, anchor="end"))
        out += self._years()
        if not self.ways:
            middle = (self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2
            return [*out, words(*middle, "not reckoned", TEXT_MM, INK, anchor="middle")]
        for way in self.ways:
            if way.plan:
                out += self._band(way)
        for way in sorted(self.ways, key=lambda way: not way.plan):
            out += self._line(way)
        return [*out, *self._ends()]

    def _years(self) -> list[str]:
        out = []
        every = 1
        apart = text_width_mm(str(self.years[-1]), TEXT_MM) + 1.5
        while every * (self.x1 - self.x0) / max(self.years[-1] - self.years[0], 1) < apart:
            every += 1
        for year in self.years:
            x = self.x(year)
            out.append(line(x, self.y0, x, self.y0 + 0.9, INK, 0.15))
            if (year - self.years[0]) % every == 0:
                text = str(year)
                out.append(words(x, self.y0 + 4.0, text, TEXT_MM, INK, anchor="middle"))
        first = self.years[0]
        said = "year" if first >= 1000 else "years from now" if first <= 0 else "year of the plan"
        out.append(words(self.x1, self.y0 + 7.6, said, TEXT_MM, INK, anchor="end"))
        return out

    def _points(self, values: Sequence[float | None]) -> list[list[tuple[float, float]]]:
        """Return runs of points of the years whose value is known."""
        found: list[list[tuple[float, float]]] = [[]]
        for year, value in zip(self.years, values, strict=True):
            if value is not None and isfinite(value):
                found[-1].append((self.x(year), self.y(value)))
            elif found[-1]:
                found.append([])
        return [run for run in found if run]

    def _band(self, way: Course) -> list[str]:
        one = way.of(self.measure.key)
        if not (one.low and one.high):
            return []
        both = [_known(a) and _known(b) for a, b in zip(one.low, one.high, strict=True)]
        low = [v if known else None for v, known in zip(one.low, both, strict=True)]
        high = [v if known else None for v, known in zip(one.high, both, strict=True)]
        return [
            f'<path class="band" d="{_way([*above, *below[::-1]])}z" fill="{BAND}"/>'
            for above, below in zip(self._points(high), self._points(low), strict=True)
        ]

    def _line(self, way: Course) -> list[str]:
        dashes = self.dashes[way.name]
        broken = f' stroke-dasharray="{dashes}"' if dashes else ""
        colour, pen = (PLUM, PLAN_PEN_MM) if way.plan else (INK, PEN_MM)
        out = []
        found = self._points(way.of(self.measure.key).value)
        for before, after in pairwise(found):
            out.append(line(*before[-1], *after[0], colour, 0.15))
        for run in found:
            if len(run) == 1:
                x, y = run[0]
                out.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{pen:.2f}" fill="{colour}"/>')
                continue
            out.append(
                f'<path class="way" d="{_way(run)}" fill="none" stroke="{colour}" '
                f'stroke-width="{pen}" stroke-linecap="round" stroke-linejoin="round"{broken}/>'
            )
            if way.plan:
                out.append(
                    f'<path d="{_way(run)}" fill="none" stroke="{GROUND}" '
                    f'stroke-width="{CORE_MM}" stroke-linecap="round" stroke-linejoin="round"/>'
                )
        return out

    def _ends(self) -> list[str]:
        """Return names at the ends of the lines, moved apart, and ranges of the last year."""
        out: list[str] = []
        at: list[tuple[float, float, Course]] = []
        for k, way in enumerate(self.ways):
            one = way.of(self.measure.key)
            last, value = _last(one.value)
            if value is None:
                continue
            at.append((self.y(value), self.x(self.years[last]), way))
            if way.plan or not (one.low and one.high):
                continue
            low, high = one.low[last], one.high[last]
            if low is not None and high is not None and isfinite(low) and isfinite(high):
                x = self.x(self.years[last]) + 0.5 + 0.9 * (k % 4)
                out.append(line(x, self.y(low), x, self.y(high), INK, 0.3))
        at.sort(key=lambda one: one[:2])
        places = _apart([y for y, _, _ in at], LINE_MM, self.y1, self.y0)
        for (y, x, way), place in zip(at, places, strict=True):
            colour = PLUM if way.plan else INK
            out.append(line(x + 0.4, y, self.x1 + ENDS_MM - 0.8, place, colour, 0.12))
            out.append(
                words(
                    self.x1 + ENDS_MM,
                    place + 0.9,
                    self.names[way.name],
                    TEXT_MM,
                    colour,
                    bold=way.plan,
                )
            )
        return out


def _way(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in points)


def _apart(wished: Sequence[float], gap: float, top: float, bottom: float) -> list[float]:
    """Return rising places near those wished, ``gap`` apart, between two ends where they fit."""
    out: list[float] = []
    for y in wished:
        out.append(max(y, out[-1] + gap) if out else max(y, top))
    over = bottom
    for k in range(len(out) - 1, -1, -1):
        out[k] = min(out[k], over)
        over = out[k] - gap
    return out

"""Draw what records teach of hours, for docs/method/learn.md.

Run: ``python benchmarks/draw_learn.py [folder]``. Writes ``learn.svg`` from 24 invented records
drawn with a fixed seed: on the left what is thought of the factor on hours before and after them,
on the right each tree's forecast beside the hours found. Lines are told apart by their dashes and
by the words beside them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from math import exp, log

import numpy as np

from drawn_page import BAND, FAINT, GROUND, page, stroke, write_picture
from limbwright.learn.compared import Observation, prior_range
from limbwright.learn.lessons import Lesson, learn
from limbwright.learn.quantities import TAIL, priors
from limbwright.report.strokes import INK, PLUM, line, words

SIDE, TOP, LEFT, GAP = 300.0, 84.0, 40.0, 110.0
SEED, MANY, TRUE_FACTOR = 20270302, 24, 1.3
"""The invented crew takes 1.3 times the hours reckoned."""
SLIP_AT = 9
"""The record whose decimal point slipped."""


@dataclass(frozen=True)
class Frame:
    """A square chart whose two axes go by the logarithm or evenly."""

    x: float
    across: Callable[[float], float]
    up: Callable[[float], float]

    def at(self, across: float, up: float) -> tuple[float, float]:
        """Return where a value lies on paper."""
        return self.x + SIDE * self.across(across), TOP + SIDE * (1.0 - self.up(up))

    def path(self, points: list[tuple[float, float]]) -> str:
        """Return values as a path."""
        placed = (self.at(a, b) for a, b in points)
        return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in placed)


def by_log(low: float, high: float) -> Callable[[float], float]:
    return lambda value: log(value / low) / log(high / low)


def evenly(low: float, high: float) -> Callable[[float], float]:
    return lambda value: (value - low) / (high - low)


def dot(at: tuple[float, float], *, left_out: bool) -> str:
    fill = f'fill="{GROUND}" stroke="{PLUM}" stroke-width="1.6"' if left_out else f'fill="{INK}"'
    return f'<circle cx="{at[0]:.1f}" cy="{at[1]:.1f}" r="3.2" {fill}/>'


def invented_records() -> list[Observation]:
    rng = np.random.default_rng(SEED)
    foretold = np.exp(rng.uniform(log(0.6), log(6.0), MANY))
    found = foretold * TRUE_FACTOR * np.exp(rng.normal(0.0, priors()["hours"].scatter, MANY))
    found[SLIP_AT] *= 10.0
    return [
        Observation(
            quantity="hours",
            log_ratio=log(y / x),
            sd=priors()["hours"].scatter,
            tree=f"invented/{k}",
            day=date(2027, 3, 2),
            foretold=float(x),
            found=float(y),
        )
        for k, (x, y) in enumerate(zip(foretold.tolist(), found.tolist(), strict=True))
    ]


def density(value: float, low: float, high: float) -> Callable[[float], float]:
    """Return the density of the logarithm of a factor with this range of nine in ten."""
    sd = log(high / low) / (2.0 * TAIL)
    return lambda x: exp(-0.5 * (log(x / value) / sd) ** 2) / (sd * (2.0 * np.pi) ** 0.5)


def beliefs(one: Lesson, records: list[Observation], out: set[str], x: float) -> list[str]:
    """Return what is thought of the factor before and after, the records below."""
    frame = Frame(x, by_log(0.3, 22.0), evenly(-1.3, 6.2))
    parts = [
        words(x, 22, "Factor on the hours in the tree", 15, INK, bold=True),
        words(x, 42, "what is thought of it before and after", 12, INK),
        words(x, 59, f"{len(records)} records; dots: found over foretold, one a tree", 12, INK),
        line(*frame.at(0.3, 0.0), *frame.at(22.0, 0.0), INK, 1.0),
    ]
    for mark in (0.5, 1.0, 2.0, 5.0, 10.0, 20.0):
        px, py = frame.at(mark, -1.3)
        parts.append(line(px, py, px, frame.at(mark, 6.2)[1], FAINT, 1.0))
        parts.append(words(px, py + 18, f"{mark:g}", 12, INK, anchor="middle"))
    xs = np.geomspace(0.31, 21.0, 300).tolist()
    curves = (
        (one.before, INK, "9 4", 1.8, "before", 0.8, 1.75),
        (one.after, PLUM, "", 3.0, "after", 1.55, 5.0),
    )
    for band, colour, dashes, width, said, at_x, at_y in curves:
        of = density(band.value, band.low, band.high)
        parts.append(stroke(frame.path([(v, of(v)) for v in xs]), colour, width, dashes))
        px, py = frame.at(at_x, at_y)
        anchor = "end" if said == "before" else "start"
        text = f"{said}: {band.value:.2f}"
        parts.append(words(px, py, text, 12, colour, bold=colour == PLUM, anchor=anchor))
        parts.append(
            words(px, py + 15, f"{band.low:.2f} to {band.high:.2f}", 12, colour, anchor=anchor)
        )
    for k, record in enumerate(records):
        at = frame.at(exp(record.log_ratio), -0.3 - 0.25 * (k % 4))
        parts.append(dot(at, left_out=record.tree in out))
        if record.tree in out:
            parts.append(words(at[0] - 8, at[1] + 4, "left out", 12, PLUM, anchor="end"))
    return parts


def pairs(one: Lesson, records: list[Observation], out: set[str], x: float) -> list[str]:
    """Return each tree's forecast beside what was found."""
    low, high = 0.4, 60.0
    frame = Frame(x, by_log(low, high), by_log(low, high))
    parts = [
        words(x - 20, 22, "Forecast and found", 15, INK, bold=True),
        words(x - 20, 42, "hours in the tree found, by hours foretold", 12, INK),
        words(x - 20, 59, "shaded: range of one tree, before any record", 12, INK),
    ]
    band = prior_range(1.0, priors()["hours"])
    ends = [(low, low * band.high), (high / band.high, high), (high, high)]
    ends += [(high, high * band.low), (low / band.low, low), (low, low)]
    parts.append(f'<path d="{frame.path(ends)}z" fill="{BAND}" stroke="none"/>')
    for mark in (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0):
        parts.append(line(*frame.at(mark, low), *frame.at(mark, high), FAINT, 1.0))
        parts.append(line(*frame.at(low, mark), *frame.at(high, mark), FAINT, 1.0))
        px, py = frame.at(mark, low)
        parts.append(words(px, py + 18, f"{mark:g}", 12, INK, anchor="middle"))
        px, py = frame.at(low, mark)
        parts.append(words(px - 7, py + 4, f"{mark:g}", 12, INK, anchor="end"))
    parts.append(words(x + SIDE, TOP + SIDE + 36, "foretold, h", 12, INK, anchor="end"))
    parts.append(stroke(frame.path([(low, low), (high, high)]), INK, 1.8, "9 4"))
    top = high / one.value
    parts.append(stroke(frame.path([(low, low * one.value), (top, high)]), PLUM, 2.4))
    px, py = frame.at(17.0, 17.0)
    parts.append(words(px + 8, py + 16, "as foretold", 12, INK))
    px, py = frame.at(26.0, 26.0 * one.value)
    said = f"{one.value:.2f} times"
    parts.append(words(px - 8, py - 6, said, 12, PLUM, bold=True, anchor="end"))
    for record in records:
        at = frame.at(record.foretold, record.found)
        parts.append(dot(at, left_out=record.tree in out))
        if record.tree in out:
            parts.append(words(at[0] + 8, at[1] + 4, "left out", 12, PLUM))
    return parts


def picture() -> str:
    records = invented_records()
    told = learn(records)
    (one,) = told.lessons
    out = {record.tree for record in told.left_out}
    width, height = LEFT + 2 * SIDE + GAP + 30, TOP + SIDE + 48
    parts = [*beliefs(one, records, out, LEFT), *pairs(one, records, out, LEFT + SIDE + GAP)]
    return page(width, height, parts)


def main() -> None:
    write_picture("learn.svg", picture())


if __name__ == "__main__":
    main()

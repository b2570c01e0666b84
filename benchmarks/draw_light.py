"""Draw the light in a crown before and after its plan's cuts, for docs/method/light.md.

Run: ``python benchmarks/draw_light.py [station] [folder]``. Writes ``light-before-after.svg`` and
``light-pass.svg`` (how light is followed down the cells). The tree is one of the invented holding.
Each dot is the leaf of one cell of a slice: its size how much leaf, its shade how much light.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from limbwright.cuts.plan import plan
from limbwright.cuts.results import Plan
from limbwright.demo import make_holding
from limbwright.light.canopy import canopy
from limbwright.light.crown import CrownLight, crown_light, relight
from limbwright.light.sky import season_sky
from limbwright.model.site import Site
from limbwright.model.skeleton import Bools, Floats, Skeleton
from limbwright.report.strokes import INK, PAPER, PLUM, line, words
from limbwright.report.whole import write_whole
from limbwright.statics.assess import assess
from limbwright.survey.build import build_skeleton

PICTURES = Path(__file__).resolve().parents[1] / "docs" / "pictures"
CELL_M = 0.2
SLICE_M = 1.2  # thickness of a slice
SIZE = 40.0  # paper [units] for a metre of tree
EDGE, GAP, TOP = 34.0, 40.0, 40.0
LEAST_WIDE = 330.0
STEPS = (
    (0.10, "#241a0c"),
    (0.20, "#5b4216"),
    (0.30, "#937024"),
    (0.50, "#cfa648"),
    (1.01, "#f2dfa6"),
)
"""Upper end of each step of light and its shade: one hue, each step lighter also in grey."""
SANS = "Atkinson Hyperlegible, Verdana, DejaVu Sans, sans-serif"


@dataclass(frozen=True)
class Slice:
    """Leaf [m2] and light of a slice of a crown, each ``(across, up)``, and its middle [m]."""

    leaf_m2: Floats
    light: Floats
    across_m: Floats
    up_m: Floats


def upright(light: CrownLight, north_m: float) -> Slice:
    """Return the slice that stands west to east, seen from the south."""
    return _slice(light, axis=1, at_m=north_m)


def level(light: CrownLight, height_m: float) -> Slice:
    """Return the slice that lies level at a height, seen from above."""
    return _slice(light, axis=2, at_m=height_m)


def _slice(light: CrownLight, axis: int, at_m: float) -> Slice:
    grid = light.canopy.grid
    middles = [grid.origin_m[k] + (np.arange(grid.shape[k]) + 0.5) * grid.cell_m for k in range(3)]
    held = np.abs(middles[axis] - at_m) <= SLICE_M / 2.0
    leaf = np.compress(held, light.canopy.leaf_in_cells(), axis=axis)
    field = np.compress(held, light.field, axis=axis)
    total = leaf.sum(axis=axis)
    mean = (leaf * field).sum(axis=axis) / np.maximum(total, 1e-12)
    across, up = (middles[k] for k in range(3) if k != axis)
    return Slice(total, mean, across, up)


def shade(light: float) -> str:
    """Return the shade of a share of light."""
    return next(colour for end, colour in STEPS if light < end)


class Panel:
    """A part of the picture: the foot of the stem lies at ``x, y``, up on paper is up in it."""

    def __init__(self, x: float, y: float) -> None:
        self.x, self.y = x, y

    def dots(self, cut: Slice, most_m2: float) -> list[str]:
        """Return the leaf as dots, those of one shade together."""
        found: dict[tuple[str, float], list[str]] = {}
        for i, j in zip(*np.nonzero(cut.leaf_m2 > 0.004 * most_m2), strict=True):
            share = min(float(cut.leaf_m2[i, j]) / most_m2, 1.0)
            wide = round(1.02 * CELL_M * SIZE * share**0.5 / 0.6) * 0.6
            if wide <= 0.0:
                continue
            x, y = self.at(cut.across_m[i], cut.up_m[j])
            found.setdefault((shade(cut.light[i, j]), wide), []).append(f"M{x:.1f} {y:.1f}h0")
        return [
            f'<path d="{"".join(path)}" stroke="{colour}" stroke-width="{wide:.1f}" '
            'stroke-linecap="round"/>'
            for (colour, wide), path in sorted(found.items())
        ]

    def at(self, across_m: float, up_m: float) -> tuple[float, float]:
        """Return where a place lies on paper."""
        return self.x + SIZE * float(across_m), self.y - SIZE * float(up_m)

    def wood(self, s: Skeleton, stands: Bools, goes: Bools, view: tuple[int, int]) -> list[str]:
        """Return the taped wood as an outline; what goes is broken into dashes and plum."""
        rims, cores = [], []
        for i in np.flatnonzero(stands & s.surveyed):
            a, b = (self.at(*point[list(view)]) for point in (s.start_m[i], s.end_m[i]))
            wide = max(SIZE * (s.start_diameter_mm[i] + s.end_diameter_mm[i]) / 2000.0, 1.2)
            if goes[i]:
                cores.append(
                    f'<path d="M{a[0]:.1f} {a[1]:.1f}L{b[0]:.1f} {b[1]:.1f}" stroke="{PLUM}" '
                    f'stroke-width="{max(wide, 2.6):.1f}" stroke-dasharray="7 3"/>'
                )
            else:
                rims.append(line(*a, *b, INK, wide + 1.4))
                cores.append(line(*a, *b, PAPER, max(wide - 0.2, 0.5)))
        return rims + cores


def tree_of(station: str) -> tuple[Skeleton, Plan, Site]:
    """Return a tree of the invented holding, its plan, and its site."""
    holding = make_holding(1)
    tree = next(one for one in holding.surveys() if one.station.station == station)
    skeleton, _ = build_skeleton(tree)
    assessment = assess(skeleton, holding.site)
    made = plan(assessment, tree.station, season="winter 2026/27")
    return skeleton, made, holding.site


def picture(station: str) -> str:
    """Return a crown before and after its cuts, upright and level."""
    s, made, site = tree_of(station)
    kept = ~np.asarray(made.gone, dtype=np.bool_)
    sky = season_sky(site.latitude, clearness=site.clearness)
    before = crown_light(canopy(s, cell_m=CELL_M), sky)
    after = relight(before, kept)
    leafy = s.leaf_area_m2 > 0.0
    ends = np.concatenate([s.start_m[leafy], s.end_m[leafy]])
    low, high = ends.min(axis=0) - 0.9, ends.max(axis=0) + 0.9
    leaf = before.canopy.leaf_in_cells().sum(axis=(0, 1))
    heights = before.canopy.grid.origin_m[2] + (np.arange(leaf.size) + 0.5) * CELL_M
    height_m = round(2.0 * float((leaf * heights).sum() / leaf.sum())) / 2.0
    north_m = 0.0
    most = max(float(upright(before, north_m).leaf_m2.max()), 1e-9) * 0.6
    wide, deep = (SIZE * (high - low))[:2].tolist()
    wide = max(wide, LEAST_WIDE)
    x_middle = SIZE * float(high[0] + low[0]) / 2.0
    foot = TOP + SIZE * float(high[2])
    middle = foot + 62 + SIZE * float(high[1])
    below = foot + 62 + deep
    width, height = EDGE + 2 * wide + GAP + 8, below + 96
    parts = []
    sides = (
        (before, made.light_before, np.ones(s.n, dtype=np.bool_), "As it stands"),
        (after, made.light_after, kept, "After its cuts"),
    )
    for k, (light, told, stands, title) in enumerate(sides):
        left = EDGE + k * (wide + GAP)
        x = left + wide / 2.0 - x_middle
        side, above = Panel(x, foot), Panel(x, middle)
        parts += [
            words(left, 20, title, 17, INK, bold=True),
            words(left, 38, f"the leaf gets {told.mean:.0%} of full sun,", 12, INK),
            words(left, 54, f"{told.flowering:.0%} of it enough for flower buds", 12, INK),
            *side.dots(upright(light, north_m), most),
            *side.wood(s, stands, ~kept, (0, 2)),
            line(left, foot, left + wide, foot, INK, 1.6),
            words(left, foot + 17, "W", 14, INK, bold=True),
            words(left + wide, foot + 17, "E", 14, INK, bold=True, anchor="end"),
            words(
                left + wide / 2,
                foot + 17,
                f"upright slice through the stem, {SLICE_M:g} m thick",
                12,
                INK,
                anchor="middle",
            ),
            *above.dots(level(light, height_m), most),
            *above.wood(s, stands, ~kept, (0, 1)),
            words(
                left + wide / 2 + 30,
                below + 12,
                f"level slice {height_m:g} m up, {SLICE_M:g} m thick",
                12,
                INK,
                anchor="middle",
            ),
            *_north(left + wide - 14, foot + 44),
            *_bar(left, below + 6),
        ]
        if k == 0:
            parts += _staff(EDGE - 12, foot, int(np.floor(high[2])))
    parts += _scale(EDGE, height - 44, width - EDGE - 8)
    return _svg(width, height, parts)


def _staff(x: float, foot: float, top_m: int) -> list[str]:
    found = []
    for k in range(top_m):
        fill = INK if k % 2 == 0 else PAPER
        found.append(
            f'<rect x="{x}" y="{foot - (k + 1) * SIZE:.1f}" width="4" height="{SIZE}" '
            f'fill="{fill}" stroke="{INK}" stroke-width="0.6"/>'
        )
        found.append(words(x - 3, foot - (k + 1) * SIZE + 4, f"{k + 1}", 10.5, INK, anchor="end"))
    return [*found, words(x - 3, foot + 4, "m", 10.5, INK, anchor="end")]


def _north(x: float, y: float) -> list[str]:
    return [
        f'<path d="M{x:.1f} {y:.1f}l6 20l-6 -4.5l-6 4.5z" fill="{INK}"/>',
        words(x, y + 35, "N", 14, INK, bold=True, anchor="middle"),
    ]


def _bar(x: float, y: float) -> list[str]:
    return [
        f'<rect x="{x + k * SIZE:.1f}" y="{y:.1f}" width="{SIZE}" height="4" fill="{fill}" '
        f'stroke="{INK}" stroke-width="0.6"/>'
        for k, fill in enumerate((INK, PAPER))
    ] + [words(x + 2 * SIZE + 4, y + 5, "2 m", 10.5, INK)]


def _scale(x: float, y: float, wide: float) -> list[str]:
    names = ("under 10 %", "10 to 20 %", "20 to 30 %", "30 to 50 %", "over 50 % of full sun")
    step = min(0.72 * wide / len(STEPS), 140.0)
    found = []
    for k, ((_, colour), name) in enumerate(zip(STEPS, names, strict=True)):
        at = x + k * step
        found.append(
            f'<rect x="{at:.1f}" y="{y:.1f}" width="{step:.1f}" height="13" fill="{colour}" '
            f'stroke="{INK}" stroke-width="0.8"/>'
        )
        found.append(words(at + 2, y + 27, name, 11.5, INK))
    for k, name in ((3, "flower buds"), (4, "good fruit")):
        at = x + k * step
        found.append(f'<path d="M{at:.1f} {y - 1:.1f}l-3.5 -7h7z" fill="{INK}"/>')
        found.append(words(at + 6, y - 3, name, 11.5, INK))
    at = x + len(STEPS) * step + 34
    found.append(
        f'<path d="M{at:.1f} {y + 6:.1f}h44" stroke="{PLUM}" stroke-width="3.4" '
        'stroke-dasharray="7 3"/>'
    )
    found.append(words(at + 50, y + 10, "is cut off", 11.5, INK))
    return found


def one_pass() -> str:
    """Return how the rays of one direction go down the cells, one for each cell of a layer."""
    side, across, layers, slope, first = 58.0, 8, 5, 0.62, 5
    left, top = 20.0, 74.0
    full = {(3, 0), (4, 0), (2, 1), (3, 1), (4, 1), (5, 1), (2, 2), (3, 2), (4, 2), (6, 2), (3, 3)}

    def at(column: float, row: float) -> tuple[float, float]:
        return left + (column + 0.5) * side, top + (row + 0.5) * side

    def box(i: int, j: int, fill: str, edge: str, wide: float) -> str:
        return (
            f'<rect x="{left + i * side}" y="{top + j * side}" width="{side}" height="{side}" '
            f'fill="{fill}" stroke="{edge}" stroke-width="{wide}"/>'
        )

    cells = [(i, j) for j in range(layers) for i in range(across)]
    parts = [words(left, 20, "One direction, from the top down", 15, INK, bold=True)]
    parts += [box(i, j, STEPS[4][1] if (i, j) in full else PAPER, "#a9a39a", 1) for i, j in cells]
    met = [(round(first - slope * j), j) for j in range(layers)]
    parts += [box(i, j, "none", INK, 2.6) for i, j in met]
    for column in range(across + 3):
        # what lies within the grid, and a little above it
        enters = max(-0.9, (column - across + 0.5) / slope)
        leaves = min(layers - 0.5, (column + 0.5) / slope)
        upper, lower = at(column - enters * slope, enters), at(column - leaves * slope, leaves)
        mine = column == first
        parts.append(line(*upper, *lower, PLUM if mine else "#a9a39a", 2.4 if mine else 1.0))
    for i, j in met:
        x, y = at(i, j)
        parts.append(f'<circle cx="{x}" cy="{y}" r="4" fill="{INK}"/>')
    x, y = left + across * side + 40, top + 40
    for text in (
        "A ray takes, layer by layer, the cell nearest",
        "to its line (outlined). Its depth grows by what",
        "that cell holds: half of it to the cell's middle,",
        "where the light is read, half on from there.",
        "",
        "Each cell of a layer has a ray of its own, so",
        "one pass gives the light of every cell.",
        "",
        "Shaded: cells with leaf.",
    ):
        parts.append(words(x, y, text, 13, INK))
        y += 21
    return _svg(x + 296, top + layers * side + 12, parts)


def _svg(width: float, height: float, parts: list[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'font-family="{SANS}"><rect width="100%" height="100%" fill="{PAPER}"/>'
        + "\n".join(parts)
        + "</svg>\n"
    )


def main() -> None:
    station = sys.argv[1] if len(sys.argv) > 1 else "6"
    folder = Path(sys.argv[2]) if len(sys.argv) > 2 else PICTURES
    write_whole(folder / "light-before-after.svg", picture(station).encode())
    write_whole(folder / "light-pass.svg", one_pass().encode())


if __name__ == "__main__":
    main()

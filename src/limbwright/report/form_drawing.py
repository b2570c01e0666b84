"""Draw a young tree as it is formed: cuts, shoots set to another angle, the clear stem, years on.

Wood, kerfs, names, staff and north are drawn as on the other cards; see `drawing` and `strokes`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from limbwright.form.crown import Crown
from limbwright.model.skeleton import Floats
from limbwright.report.drawing import (
    MARGIN_ABOVE_MM,
    MARGIN_MM,
    SMALL_MM,
    Frame,
    label_drawn,
    leader_drawn,
    unit_way,
)
from limbwright.report.form_scene import YoungScene
from limbwright.report.labels import Label, Placed, place_labels
from limbwright.report.strokes import INK, PAPER, PLUM, kerf, limb_strokes, line, svg, words
from limbwright.report.views import View

__all__ = ["draw_later", "draw_young", "room_needed", "turned_sample"]

FLAG_HIGH_MM = 5.1
HEAD_MM = 1.6
"""Size of an arrow head; found by looking."""
NAMES_MM = 6.0
"""Room beside the wood for a name; found by looking."""


class _Stand(Frame):
    """How a young tree stands on the paper, its stem broken off where it is long and bare."""

    def __init__(
        self, view: View, width_mm: float, height_mm: float, scale: float, scene: YoungScene
    ) -> None:
        super().__init__(view, width_mm, height_mm, scale, scene.skeleton)
        self.floor_m = scene.floor_m
        if not view.from_above:
            self.y0 = height_mm - MARGIN_MM[3] + self.floor_m * scale

    @property
    def base_mm(self) -> float:
        """Where the floor of the drawing lies on the paper."""
        return self.y0 - self.floor_m * self.scale

    @property
    def taken(self) -> list[tuple[float, float, float, float]]:
        if self.view.from_above:
            return super().taken
        return [(0.0, 0.0, 8.6, self.height), (0.0, self.base_mm, self.width, self.height)]

    def _side(self) -> list[str]:
        y, base, foot = self.y0, self.base_mm, self.height - 1.5
        out = []
        if self.floor_m == 0.0:
            out.append(line(0.8, base, self.width - 0.5, base, INK, 0.35))
        else:
            x = float(self.to_paper(np.zeros((1, 3)))[0, 0])
            for shift in (0.0, 1.3):
                low, high = base + 0.9 - shift, base - 0.9 - shift
                out.append(line(x - 2.2, low, x + 2.2, high, INK, 0.35))
            text = f"{self.floor_m:.1f} m to ground"
            out.append(words(x - 3.4, base + 0.6, text, SMALL_MM, INK, anchor="end"))
        half = 0.5 if self.scale >= 24.0 else 1.0
        k = math.floor(self.floor_m / half)
        while k * half < self.top_m and y - k * half * self.scale > 2.0:
            low, high = max(k * half, self.floor_m), (k + 1) * half
            upper = max(y - high * self.scale, 0.3)
            fill = INK if k % 2 == 0 else PAPER
            out.append(
                f'<rect x="1" y="{upper:.2f}" width="1.3" '
                f'height="{y - low * self.scale - upper:.2f}" fill="{fill}" stroke="{INK}" '
                'stroke-width="0.2"/>'
            )
            if high > self.floor_m + 0.05 and upper > 1.0:
                text = f"{high:g} m" if k == math.floor(self.floor_m / half) else f"{high:g}"
                out.append(words(2.9, upper + 1.1, text, SMALL_MM, INK))
            k += 1
        ends = ((1.0, self.view.left_end, "start"), (self.width - 1.0, self.view.right_end, "end"))
        for x, letter, anchor in ends:
            out.append(words(x, foot, letter, 4.6, INK, bold=True, anchor=anchor))
        out.append(words(self.width / 2, foot, self.view.caption, 3.9, INK, anchor="middle"))
        return out

    def _above(self) -> list[str]:
        x, foot = self.north_x, self.height - 1.4
        reach = next((r for r in (1.0, 0.5, 0.2) if r * self.scale <= 0.3 * self.width), 0.1)
        end = 1.0 + reach * self.scale
        return [
            f'<path d="M{x:.2f} 0.6 l2.2 7.2 l-2.2 -1.6 l-2.2 1.6 z" fill="{INK}"/>',
            words(x, 12.4, "N", 5.0, INK, bold=True, anchor="middle"),
            f'<rect x="1" y="{foot - 1.6:.2f}" width="{end - 1.0:.2f}" height="1.3" '
            f'fill="{INK}" stroke="{INK}" stroke-width="0.2"/>',
            words(end + 1.0, foot, f"{reach:g} m", SMALL_MM, INK),
            words(self.width - 1.0, foot, self.view.caption, 3.9, INK, anchor="end"),
        ]


def room_needed(scene: YoungScene, view: View, mm_per_m: float) -> tuple[float, float]:
    """Return width and height [mm] a view takes at a scale, with room for names all round."""
    s = scene.skeleton
    flat = view.project(np.concatenate([s.start_m, s.end_m]))
    low, high = flat.min(axis=0), flat.max(axis=0)
    left, right, top, bottom = MARGIN_ABOVE_MM if view.from_above else MARGIN_MM
    wide = max(float(high[0] - low[0]), 0.3) * mm_per_m + left + right + 2 * NAMES_MM
    down = float(low[1]) if view.from_above else scene.floor_m
    tall = max(float(high[1]) - down, 0.3) * mm_per_m + top + bottom
    return wide, tall + NAMES_MM * (2 if view.from_above else 1)


def draw_young(
    scene: YoungScene, view: View, width_mm: float, height_mm: float, mm_per_m: float
) -> str:
    """Return one view of a young tree with its cuts as SVG of the given size [mm]."""
    s = scene.skeleton
    frame = _Stand(view, width_mm, height_mm, mm_per_m, scene)
    a, b = frame.to_paper(s.start_m), frame.to_paper(s.end_m)
    parts = list(frame.furniture())
    taken = list(frame.taken)
    if not view.from_above:
        parts += _clear_stem(scene, frame, taken)
    nothing = np.zeros(s.n, dtype=np.bool_)
    parts += limb_strokes(s, scene.gone, nothing, np.zeros(s.n), a, b, mm_per_m)
    for _, base, now, then in scene.turned:
        parts += _arrow(*frame.to_paper(np.array([base, now, then])))
    for _, point, thick, segment in scene.kerfs:
        at = frame.to_paper(point[None, :])[0]
        step = b[segment] - a[segment]
        size = float(np.linalg.norm(step))
        way = step / size if size > 0.3 else np.array([1.0, 0.0])
        parts += kerf(at, way, thick * mm_per_m / 2000.0)
        taken.append((at[0] - 1.2, at[1] - 1.2, at[0] + 1.2, at[1] + 1.2))
    placed = _labels(scene, frame, a, b, taken)
    parts += [one for label in placed for one in leader_drawn(label)]
    parts += [one for label in placed for one in label_drawn(label)]
    return svg(width_mm, height_mm, parts)


def _clear_stem(
    scene: YoungScene, frame: _Stand, taken: list[tuple[float, float, float, float]]
) -> list[str]:
    y = frame.y0 - scene.clear_stem_m * frame.scale
    if y < 6.0:
        return []
    text = f"{scene.clear_stem_m:.1f} m clear"
    right = frame.width - 0.5
    wide = 0.55 * SMALL_MM * len(text)
    taken.append((right - wide, y - 0.5, right, y + 4.2))
    return [
        f'<line x1="9" y1="{y:.2f}" x2="{right:.2f}" y2="{y:.2f}" stroke="{INK}" '
        f'stroke-width="0.25" stroke-dasharray="0.4 1.4" stroke-linecap="round"/>',
        words(right, y + 3.6, text, SMALL_MM, INK, anchor="end"),
    ]


def _arrow(base: Floats, now: Floats, then: Floats) -> list[str]:
    """Return a shoot's way to its new angle: its new line in fine dots, an arrow between tips."""
    step = then - now
    size = float(np.linalg.norm(step))
    dots = (
        f'<line x1="{base[0]:.2f}" y1="{base[1]:.2f}" x2="{then[0]:.2f}" y2="{then[1]:.2f}" '
        f'stroke="{PLUM}" stroke-width="0.45" stroke-dasharray="0.1 1.1" '
        'stroke-linecap="round"/>'
    )
    if size < HEAD_MM:
        return [dots]
    way = step / size
    across = np.array([-way[1], way[0]])
    left = then - HEAD_MM * way + 0.55 * HEAD_MM * across
    right = then - HEAD_MM * way - 0.55 * HEAD_MM * across
    return [
        dots,
        line(now[0], now[1], then[0], then[1], PLUM, 0.4),
        f'<path d="M{then[0]:.2f} {then[1]:.2f}L{left[0]:.2f} {left[1]:.2f}L{right[0]:.2f} '
        f'{right[1]:.2f}z" fill="{PLUM}"/>',
    ]


def _labels(
    scene: YoungScene,
    frame: _Stand,
    a: Floats,
    b: Floats,
    taken: Iterable[tuple[float, float, float, float]],
) -> tuple[Placed, ...]:
    s = scene.skeleton
    labels = []
    flagged = [(order, frame.to_paper(point[None, :])[0]) for order, point, _, _ in scene.kerfs]
    cut = {order for order, _ in flagged}
    flagged += [
        (order, frame.to_paper(then[None, :])[0])
        for order, _, _, then in scene.turned
        if order not in cut
    ]
    for order, (x, y) in sorted(flagged, key=lambda f: f[0]):
        out = unit_way(float(x) - frame.width / 2.0, -1.0)
        text = str(order)
        labels.append(
            Label(text, float(x), float(y), 2.6 + 2.5 * len(text), FLAG_HIGH_MM, out, "flag")
        )
    for k, one in enumerate(s.limbs):
        rows = np.flatnonzero(s.limb == k)
        if k == 0 and (frame.view.from_above or not scene.gone[rows].any()):
            continue  # a stem that stays needs no name
        tip, base = b[rows[-1]], a[rows[0]]
        text = one.label if len(one.label) <= 8 else one.label[:7] + "…"
        kind = "goes" if bool(scene.gone[rows[-1]]) else "limb"
        way = unit_way(float(tip[0] - base[0]), float(tip[1] - base[1]))
        wide = 0.8 + 0.62 * SMALL_MM * len(text)
        labels.append(Label(text, float(tip[0]), float(tip[1]), wide, 3.8, way, kind))
    wood = np.concatenate([a + t * (b - a) for t in (0.1, 0.3, 0.5, 0.7, 0.9)])
    return place_labels(labels, wood, frame.width, frame.height, list(taken))


def turned_sample() -> str:
    """Return a small picture of a shoot set to another angle, for the line under the drawings."""
    base, now, then = (np.array(p) for p in ((0.8, 4.4), (8.4, 0.9), (11.4, 3.2)))
    return svg(13.0, 5.0, [line(0.8, 4.4, 8.4, 0.9, INK, 0.8), *_arrow(base, now, then)])


def draw_later(
    crown: Crown, width_mm: float, height_mm: float, mm_per_m: float, floor_m: float
) -> str:
    """Return a small picture of a crown as foreseen, seen from the south, as SVG.

    What is below ``floor_m`` is not drawn.
    """
    ground = height_mm - 0.5 + floor_m * mm_per_m
    middle = width_mm / 2.0
    parts = []
    for shoot in crown.every:
        (x0, _, z0), (x1, _, z1) = shoot.base_m, shoot.tip_m
        if shoot.level == 0:
            z0 = min(floor_m, z1)
        if min(z0, z1) < floor_m - 1e-9:
            continue
        pen = 0.8 if shoot.level == 0 else 0.45 if shoot.level == 1 else 0.3
        from_x, from_y = middle + x0 * mm_per_m, ground - z0 * mm_per_m
        to_x, to_y = middle + x1 * mm_per_m, ground - z1 * mm_per_m
        parts.append(line(from_x, from_y, to_x, to_y, INK, pen))
    return svg(width_mm, height_mm, parts)

"""Draw a tree to scale as SVG: its wood, kerfs with their numbers, names, a staff, north.

How each kind of wood looks is in `strokes`; where the names go in `labels`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from limbwright.model.skeleton import Bools, Floats, Skeleton
from limbwright.report.labels import Box, Label, Placed, place_labels
from limbwright.report.strokes import (
    INK,
    PAPER,
    PLUM,
    THINNEST_MM,
    cut_along,
    kerf,
    limb_strokes,
    line,
    svg,
    twigs,
    words,
)
from limbwright.report.views import View

if TYPE_CHECKING:
    from limbwright.cuts.results import Cut

__all__ = [
    "Frame",
    "Scene",
    "box_needed",
    "draw_view",
    "fit_scale",
    "label_drawn",
    "label_places",
    "leader_drawn",
    "unit_way",
]

MARGIN_MM = (11.0, 6.0, 6.0, 7.5)  # left (staff), right, top, bottom (ground, points of compass)
MARGIN_ABOVE_MM = (6.0, 6.0, 6.0, 8.0)
MOST_NAMES = 16
LONGEST_LABEL = 12
SMALL_MM = 3.2  # 9 pt, the smallest anything is written on a card
NUMBER_MM = 4.3

ROUND_SCALES = (
    *(20, 25, 30, 40, 50, 60, 75, 100, 125, 150, 175, 200, 250, 300, 400, 500, 600, 750),
    *(1000, 1500, 2000, 3000, 5000, 10000),
)
"""Scales one can read with a ruler: 1 m of tree is so many mm of paper over 1000."""


@dataclass(frozen=True, slots=True)
class Scene:
    """What is drawn, the same for every view.

    ``gone`` ``(n,)`` marks what goes; ``used`` ``(n,)`` is the share of strength used (1 = all)
    before the cuts; ``named`` are indices of limbs worth a name, the most worth first; ``kept``
    indices of limbs not to be touched.
    """

    skeleton: Skeleton
    cuts: Sequence[Cut]
    gone: Bools
    used: Floats
    named: tuple[int, ...]
    kept: tuple[int, ...] = ()


def _extent_m(s: Skeleton, view: View) -> tuple[float, float]:
    """Return width and height [m] of a view, the height down to the stem foot at least."""
    flat = view.project(np.concatenate([s.start_m, s.end_m]))
    lowest = float(flat[:, 1].min())
    if not view.from_above:
        lowest = min(0.0, lowest)
    wide, high = float(np.ptp(flat[:, 0])), float(flat[:, 1].max()) - lowest
    return max(wide, 0.5), max(high, 0.5)


def box_needed(s: Skeleton, view: View, mm_per_m: float) -> tuple[float, float]:
    """Return width and height [mm] of the paper a view takes at a scale, with room for names."""
    wide, high = _extent_m(s, view)
    left, right, top, bottom = MARGIN_ABOVE_MM if view.from_above else MARGIN_MM
    return left + right + wide * mm_per_m, top + bottom + high * mm_per_m


def fit_scale(
    skeleton: Skeleton, views: Sequence[tuple[View, float, float]], largest: float = 60.0
) -> float:
    """Return the scale [mm of paper per m of tree] at which every view fits its box.

    ``views`` holds (view, width, height) of each box [mm].
    """
    scale = largest
    for view, width_mm, height_mm in views:
        left, right, top, bottom = MARGIN_ABOVE_MM if view.from_above else MARGIN_MM
        wide, high = _extent_m(skeleton, view)
        scale = min(scale, (width_mm - left - right) / wide, (height_mm - top - bottom) / high)
    return float(scale)


def draw_view(scene: Scene, view: View, width_mm: float, height_mm: float, mm_per_m: float) -> str:
    """Return one view of the tree as SVG of the given size [mm]."""
    s = scene.skeleton
    frame = Frame(view, width_mm, height_mm, mm_per_m, s)
    a, b = frame.to_paper(s.start_m), frame.to_paper(s.end_m)
    kept = s.surveyed & ~scene.gone & np.isin(s.limb, np.array(scene.kept, dtype=np.int64))
    parts = [*frame.furniture(), *twigs(s, scene.gone, a, b)]
    parts += limb_strokes(s, scene.gone, kept, scene.used, a, b, mm_per_m)
    for cut in scene.cuts:
        at = frame.to_paper(np.array([cut.point_m]))[0]
        parts += kerf(at, cut_along(cut, a, b), cut.diameter_mm * mm_per_m / 2000.0)
    placed = _place(scene, frame, a, b)
    parts += [one for label in placed for one in leader_drawn(label)]
    parts += [one for label in placed for one in label_drawn(label)]
    return svg(width_mm, height_mm, parts)


def label_places(
    scene: Scene, view: View, width_mm: float, height_mm: float, mm_per_m: float
) -> tuple[Placed, ...]:
    """Return where the numbers of the cuts and the names of the limbs stand in a view."""
    s = scene.skeleton
    frame = Frame(view, width_mm, height_mm, mm_per_m, s)
    return _place(scene, frame, frame.to_paper(s.start_m), frame.to_paper(s.end_m))


class Frame:
    """How metres of a view lie on the paper."""

    def __init__(
        self, view: View, width_mm: float, height_mm: float, scale: float, s: Skeleton
    ) -> None:
        self.view, self.width, self.height, self.scale = view, width_mm, height_mm, scale
        flat = view.project(np.concatenate([s.start_m, s.end_m]))
        left, right, top, bottom = MARGIN_ABOVE_MM if view.from_above else MARGIN_MM
        middle = float(flat[:, 0].min() + flat[:, 0].max()) / 2.0
        self.x0 = left + (width_mm - left - right) / 2.0 - middle * scale
        if view.from_above:
            mid = float(flat[:, 1].min() + flat[:, 1].max()) / 2.0
            self.y0 = top + (height_mm - top - bottom) / 2.0 + mid * scale
        else:
            self.y0 = height_mm - bottom + min(0.0, float(flat[:, 1].min())) * scale
        self.top_m = float(flat[:, 1].max())
        paper = self.to_paper(np.concatenate([s.start_m, s.end_m]))
        # North stands in the upper corner with less wood in it.
        upper = paper[:, 1] < 14.0
        crowd = (paper[:, 0] < 9.0) & upper, (paper[:, 0] > width_mm - 9.0) & upper
        self.north_x = 4.0 if crowd[0].sum() < crowd[1].sum() else width_mm - 4.0

    def to_paper(self, points_m: Floats) -> Floats:
        """Return points ``(n, 3)`` [m] on the paper ``(n, 2)`` [mm], from its upper left."""
        flat = self.view.project(points_m)
        return np.column_stack(
            [self.x0 + self.scale * flat[:, 0], self.y0 - self.scale * flat[:, 1]]
        )

    @property
    def taken(self) -> list[Box]:
        """Boxes [mm] in which no name may stand: the staff, the ground, the points of compass."""
        if self.view.from_above:
            return [
                (self.north_x - 3.2, 0.0, self.north_x + 3.2, 13.0),
                (0.0, self.height - 5.2, self.width, self.height),
            ]
        return [(0.0, 0.0, 8.6, self.height), (0.0, self.y0 + 0.3, self.width, self.height)]

    def furniture(self) -> list[str]:
        """Return the staff or the measure, the ground and the points of compass as SVG."""
        return self._above() if self.view.from_above else self._side()

    def _side(self) -> list[str]:
        y = self.y0
        out = [line(0.8, y, self.width - 0.5, y, INK, 0.35)]
        top = max(1, int(np.ceil(self.top_m - 1e-6)))
        while y - top * self.scale < 1.0 and top > 1:
            top -= 1
        for k in range(top):
            fill = INK if k % 2 == 0 else PAPER
            out.append(
                f'<rect x="1" y="{y - (k + 1) * self.scale:.2f}" width="1.3" '
                f'height="{self.scale:.2f}" fill="{fill}" stroke="{INK}" stroke-width="0.2"/>'
            )
        every = 1 if self.scale >= 5.0 else 2 if self.scale >= 2.5 else 5
        for k in range(every, top + 1, every):
            unit = " m" if k == every else ""
            out.append(words(2.9, y - k * self.scale + 1.1, f"{k}{unit}", SMALL_MM, INK))
        base = self.height - 1.5
        out.append(words(1.0, base, self.view.left_end, 4.6, INK, bold=True))
        out.append(
            words(self.width - 1.0, base, self.view.right_end, 4.6, INK, bold=True, anchor="end")
        )
        out.append(words(self.width / 2, base, self.view.caption, 3.9, INK, anchor="middle"))
        return out

    def _above(self) -> list[str]:
        x, base = self.north_x, self.height - 1.4
        reach = 2.0 if self.scale * 2.0 <= 0.35 * self.width else 1.0
        end = 1.0 + reach * self.scale
        half = 1.0 + reach * self.scale / 2.0
        return [
            f'<path d="M{x:.2f} 0.6 l2.2 7.2 l-2.2 -1.6 l-2.2 1.6 z" fill="{INK}"/>',
            words(x, 12.4, "N", 5.0, INK, bold=True, anchor="middle"),
            f'<rect x="1" y="{base - 1.6:.2f}" width="{half - 1.0:.2f}" height="1.3" fill="{INK}" '
            f'stroke="{INK}" stroke-width="0.2"/>',
            f'<rect x="{half:.2f}" y="{base - 1.6:.2f}" width="{end - half:.2f}" height="1.3" '
            f'fill="{PAPER}" stroke="{INK}" stroke-width="0.2"/>',
            words(end + 1.0, base, f"{reach:.0f} m", SMALL_MM, INK),
            words(self.width - 1.0, base, self.view.caption, 3.9, INK, anchor="end"),
        ]


def unit_way(x: float, y: float) -> tuple[float, float]:
    """Return a way on the paper as one of length 1."""
    size = max(float(np.hypot(x, y)), 1e-6)
    return x / size, y / size


def _name(label: str) -> str:
    return label if len(label) <= LONGEST_LABEL else label[: LONGEST_LABEL - 1] + "…"


def _place(scene: Scene, frame: Frame, a: Floats, b: Floats) -> tuple[Placed, ...]:
    """Place the numbers of the cuts, then the limbs to keep, then the other names."""
    s = scene.skeleton
    labels: list[Label] = []
    taken = frame.taken
    for cut in scene.cuts:
        x, y = frame.to_paper(np.array([cut.point_m]))[0].tolist()
        out = unit_way(x - frame.width / 2.0, y - frame.height / 2.0)
        text = str(cut.order)
        labels.append(Label(text, x, y, 2.6 + 2.5 * len(text), 5.1, out, "flag"))
        reach = cut.diameter_mm * frame.scale / 2000.0 + THINNEST_MM
        taken.append((x - reach, y - reach, x + reach, y + reach))
    cut_limbs = {cut.limb for cut in scene.cuts}
    first = [k for k in scene.named if k in scene.kept]
    others = [k for k in scene.named if k not in scene.kept]
    for limb in [*first, *others[:MOST_NAMES]]:
        one = s.limbs[limb]
        rows = np.flatnonzero((s.limb == limb) & s.surveyed)
        if rows.size == 0:
            continue
        tip, base = b[rows[-1]], a[rows[0]]
        kept = limb in scene.kept
        goes = bool(scene.gone[rows[-1]]) or one.label in cut_limbs
        text = f"keep {_name(one.label)}" if kept else _name(one.label)
        letters = sum(2 if ord(c) > 0x2E7F else 1 for c in text)
        wide = (2.4 if kept else 0.8) + 0.62 * SMALL_MM * letters
        kind = "keep" if kept else "goes" if goes else "limb"
        # a kept limb is named half way, where its sleeve is; another at its tip
        at = 0.5 * (b[rows[rows.size // 2]] + a[rows[rows.size // 2]]) if kept else tip
        way = unit_way(float(tip[0] - base[0]), float(tip[1] - base[1]))
        high = 5.0 if kept else 3.8
        labels.append(
            Label(text, float(at[0]), float(at[1]), wide, high, way, kind, must=kept or goes)
        )
    wood = np.concatenate([a + t * (b - a) for t in (0.15, 0.5, 0.85)])[
        np.tile(s.surveyed | (np.arange(s.n) % 4 == 0), 3)
    ]
    return place_labels(labels, wood, frame.width, frame.height, taken)


def leader_drawn(one: Placed) -> list[str]:
    """Return as SVG the thin line from a name to what it names, where there is one."""
    label = one.label
    if not (one.leader or label.kind in ("flag", "keep")):
        return []
    wide = {"flag": 0.45, "keep": 0.4}.get(label.kind, 0.2)
    colour = INK if label.kind in ("limb", "keep") else PLUM
    return [line(label.x_mm, label.y_mm, one.x_mm, one.y_mm, colour, wide)]


def label_drawn(one: Placed) -> list[str]:
    """Return as SVG a name or a number in its box."""
    label = one.label
    left, top, _, _ = one.box
    flag, keep = label.kind == "flag", label.kind == "keep"
    fill = PLUM if flag else PAPER
    edge = {"flag": f' stroke="{PAPER}" stroke-width="0.4"', "keep": KEEP_EDGE}.get(label.kind, "")
    solid = 1 if flag or keep else 0.85
    size = NUMBER_MM if flag else SMALL_MM
    colour = PAPER if flag else PLUM if label.kind == "goes" else INK
    return [
        f'<rect x="{left:.2f}" y="{top:.2f}" width="{label.width_mm:.2f}" '
        f'height="{label.height_mm:.2f}" fill="{fill}" fill-opacity="{solid}"{edge}/>',
        words(
            one.x_mm, one.y_mm + 0.36 * size, label.text, size, colour, bold=True, anchor="middle"
        ),
    ]


KEEP_EDGE = f' rx="2" stroke="{INK}" stroke-width="0.5"'

"""Draw a tree to scale as SVG: limbs, what is to be cut, kerfs with their numbers, a staff.

The stem and limbs are drawn at their true thickness (never thinner than a pen line). Each fills
with ink as its load grows: the dark core covers the share of its strength that is used, so an
idle limb is an open outline and one at its limit is solid. What goes is plum and broken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

import numpy as np

from limbwright.model.skeleton import Bools, Floats, Skeleton
from limbwright.report.fonts import FAMILY
from limbwright.report.labels import Label, Placed, place_labels
from limbwright.report.views import View

if TYPE_CHECKING:
    from limbwright.cuts.results import Cut

__all__ = ["GREY", "INK", "PAPER", "PLUM", "Scene", "draw_view", "fit_scale", "height_needed"]

INK = "#1d2226"
GREY = "#a9a39a"
PLUM = "#6b2346"
PALE_PLUM = "#ead9e1"
PAPER = "#ffffff"

MARGIN_MM = (7.0, 5.0, 4.0, 6.5)  # left (staff), right, top, bottom (ground, points of compass)
MARGIN_ABOVE_MM = (5.0, 5.0, 4.0, 5.5)
PEN_MM = 0.22
THINNEST_MM = 0.62
WIDTH_STEP_MM = 0.08
MOST_LABELS = 16
LABEL_ROOM_MM = 8.0
LONGEST_LABEL = 12


@dataclass(frozen=True, slots=True)
class Scene:
    """What is drawn, the same for every view.

    ``gone`` ``(n,)`` marks what goes; ``used`` ``(n,)`` is the share of strength used (1 = all)
    before the cuts; ``named`` are indices of limbs worth a name, the most worth first.
    """

    skeleton: Skeleton
    cuts: Sequence[Cut]
    gone: Bools
    used: Floats
    named: tuple[int, ...]


def fit_scale(
    skeleton: Skeleton, views: Sequence[tuple[View, float, float]], largest: float = 60.0
) -> float:
    """Return the scale [mm of paper per m of tree] at which every view fits its box.

    ``views`` holds (view, width, height) of each box [mm].
    """
    points = np.concatenate([skeleton.start_m, skeleton.end_m])
    scale = largest
    for view, width_mm, height_mm in views:
        flat = view.project(points)
        left, right, top, bottom = MARGIN_ABOVE_MM if view.from_above else MARGIN_MM
        lowest = flat[:, 1].min() if view.from_above else min(0.0, float(flat[:, 1].min()))
        wide = max(float(np.ptp(flat[:, 0])), 0.5)
        high = max(float(flat[:, 1].max() - lowest), 0.5)
        scale = min(scale, (width_mm - left - right) / wide, (height_mm - top - bottom) / high)
    return float(scale)


def height_needed(skeleton: Skeleton, view: View, mm_per_m: float) -> float:
    """Return the height [mm] of paper a view takes at a scale, with room for its names."""
    flat = view.project(np.concatenate([skeleton.start_m, skeleton.end_m]))
    _, _, top, bottom = MARGIN_ABOVE_MM if view.from_above else MARGIN_MM
    lowest = float(flat[:, 1].min()) if view.from_above else min(0.0, float(flat[:, 1].min()))
    return top + bottom + LABEL_ROOM_MM + (float(flat[:, 1].max()) - lowest) * mm_per_m


def draw_view(scene: Scene, view: View, width_mm: float, height_mm: float, mm_per_m: float) -> str:
    """Return one view of the tree as SVG of the given size [mm]."""
    s = scene.skeleton
    frame = _Frame(view, width_mm, height_mm, mm_per_m, s)
    a, b = frame.to_paper(s.start_m), frame.to_paper(s.end_m)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width_mm}mm" height="{height_mm}mm" '
        f'viewBox="0 0 {width_mm} {height_mm}" font-family="{FAMILY}">'
    ]
    parts += frame.furniture()
    parts += _twigs(scene, a, b)
    parts += _limbs(scene, a, b, mm_per_m)
    placed, kerfs = _labels(scene, frame, a, b)
    parts += kerfs
    parts += [text for one in placed for text in _label_svg(one)]
    parts.append("</svg>")
    return "\n".join(parts)


class _Frame:
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

    def to_paper(self, points_m: Floats) -> Floats:
        flat = self.view.project(points_m)
        return np.column_stack(
            [self.x0 + self.scale * flat[:, 0], self.y0 - self.scale * flat[:, 1]]
        )

    @property
    def taken(self) -> list[tuple[float, float, float, float]]:
        if self.view.from_above:
            return [
                (self.width - 7.0, 0.0, self.width, 9.0),
                (0.0, self.height - 4.5, self.width, self.height),
            ]
        return [(0.0, 0.0, 5.5, self.height), (0.0, self.y0 + 0.3, self.width, self.height)]

    def furniture(self) -> list[str]:
        return self._above() if self.view.from_above else self._side()

    def _side(self) -> list[str]:
        y = self.y0
        out = [_line(0.8, y, self.width - 0.5, y, INK, 0.3)]
        top = max(1, int(np.ceil(self.top_m - 1e-6)))
        while y - top * self.scale < 1.0 and top > 1:
            top -= 1
        for k in range(top):
            fill = INK if k % 2 == 0 else PAPER
            out.append(
                f'<rect x="1" y="{y - (k + 1) * self.scale:.2f}" width="1.1" '
                f'height="{self.scale:.2f}" fill="{fill}" stroke="{INK}" stroke-width="0.18"/>'
            )
        every = 1 if self.scale >= 5.0 else 2 if self.scale >= 2.5 else 5
        for k in range(every, top + 1, every):
            unit = " m" if k == every else ""
            out.append(_text(2.7, y - k * self.scale + 1.0, f"{k}{unit}", 2.7, INK))
        base = self.height - 1.6
        out.append(_text(self.x_of("left"), base, self.view.left_end, 3.7, INK, bold=True))
        out.append(
            _text(self.x_of("right"), base, self.view.right_end, 3.7, INK, bold=True, anchor="end")
        )
        out.append(_text(self.width / 2, base, self.view.caption, 3.5, INK, anchor="middle"))
        return out

    def x_of(self, side: str) -> float:
        return 1.0 if side == "left" else self.width - 1.0

    def _above(self) -> list[str]:
        x, base = self.width - 3.6, self.height - 1.2
        reach = 2.0 if self.scale * 2.0 <= 0.4 * self.width else 1.0
        end = 1.0 + reach * self.scale
        half = 1.0 + reach * self.scale / 2.0
        return [
            f'<path d="M{x} 2.2 l1.7 5.6 l-1.7 -1.2 l-1.7 1.2 z" fill="{INK}"/>',
            _text(x, 11.4, "N", 3.7, INK, bold=True, anchor="middle"),
            f'<rect x="1" y="{base - 1.4:.2f}" width="{half - 1.0:.2f}" height="1.1" fill="{INK}" '
            f'stroke="{INK}" stroke-width="0.18"/>',
            f'<rect x="{half:.2f}" y="{base - 1.4:.2f}" width="{end - half:.2f}" height="1.1" '
            f'fill="{PAPER}" stroke="{INK}" stroke-width="0.18"/>',
            _text(end + 1.0, base, f"{reach:.0f} m", 2.7, INK),
            _text(self.width - 1.0, base, self.view.caption, 3.5, INK, anchor="end"),
        ]


def _line(x1: float, y1: float, x2: float, y2: float, colour: str, width: float) -> str:
    return (
        f'<line x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" stroke="{colour}" '
        f'stroke-width="{width:.2f}" stroke-linecap="round"/>'
    )


def _text(
    x: float,
    y: float,
    words: str,
    size: float,
    colour: str,
    *,
    bold: bool = False,
    anchor: str = "start",
) -> str:
    weight = ' font-weight="700"' if bold else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size}" fill="{colour}"{weight} '
        f'text-anchor="{anchor}">{escape(words)}</text>'
    )


def _path(a: Floats, b: Floats, rows: Bools) -> str:
    return "".join(
        f"M{p[0]:.2f} {p[1]:.2f}L{q[0]:.2f} {q[1]:.2f}"
        for p, q in zip(a[rows].tolist(), b[rows].tolist(), strict=True)
    )


def _stroke(path: str, colour: str, width: float, extra: str = "") -> str:
    if not path:
        return ""
    return (
        f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{width:.2f}" '
        f'stroke-linecap="round"{extra}/>'
    )


def _twigs(scene: Scene, a: Floats, b: Floats) -> list[str]:
    """Wood the rules put there: thin lines, merged into one path each."""
    derived = ~scene.skeleton.surveyed
    return [
        _stroke(_path(a, b, derived & ~scene.gone), GREY, 0.13),
        _stroke(_path(a, b, derived & scene.gone), PLUM, 0.13, ' stroke-dasharray="0.7 0.6"'),
    ]


def _limbs(scene: Scene, a: Floats, b: Floats, mm_per_m: float) -> list[str]:
    """Outlines, then the open inside, then the dark core; merged by width so files stay small."""
    s = scene.skeleton
    middle_mm = 0.5 * (s.start_diameter_mm + s.end_diameter_mm) * mm_per_m / 1000.0
    width = np.maximum(middle_mm, THINNEST_MM)
    step = np.round(width / WIDTH_STEP_MM).astype(np.int64)
    used = np.clip(np.nan_to_num(scene.used), 0.0, 1.0)
    core = np.round(used * (width - 2 * PEN_MM) / WIDTH_STEP_MM).astype(np.int64)
    stays, goes = s.surveyed & ~scene.gone, s.surveyed & scene.gone
    out: list[str] = []
    for rows, edge, inside in ((stays, INK, PAPER), (goes, PLUM, PALE_PLUM)):
        for k in np.unique(step[rows]).tolist():
            out.append(_stroke(_path(a, b, rows & (step == k)), edge, k * WIDTH_STEP_MM))
        for k in np.unique(step[rows]).tolist():
            wide = max(k * WIDTH_STEP_MM - 2 * PEN_MM, 0.1)
            out.append(_stroke(_path(a, b, rows & (step == k)), inside, wide))
    for k in np.unique(core[stays]).tolist():
        if k > 0:
            out.append(_stroke(_path(a, b, stays & (core == k)), INK, k * WIDTH_STEP_MM))
    out.append(
        _stroke(_path(a, b, goes), PLUM, 0.3, ' stroke-dasharray="1.1 1.0"').replace(
            'stroke-linecap="round"', 'stroke-linecap="butt"'
        )
    )
    return out


def _labels(
    scene: Scene, frame: _Frame, a: Floats, b: Floats
) -> tuple[tuple[Placed, ...], list[str]]:
    """Place flags of the cuts and names of the limbs; return them and the kerfs."""
    s = scene.skeleton
    kerfs: list[str] = []
    labels: list[Label] = []
    middle = np.array([frame.width / 2.0, frame.height / 2.0])
    for cut in scene.cuts:
        at = frame.to_paper(np.array([cut.point_m]))[0]
        i = cut.segment
        along = b[i] - a[i]
        size = float(np.linalg.norm(along))
        along = along / size if size > 0.3 else np.array([1.0, 0.0])
        across = np.array([-along[1], along[0]])
        half = max(cut.diameter_mm * frame.scale / 2000.0, THINNEST_MM / 2) + 1.1
        for colour, wide in ((PAPER, 1.25), (PLUM, 0.55)):
            for shift in (0.15, 1.15):
                p, q = at + shift * along - half * across, at + shift * along + half * across
                kerfs.append(_line(p[0], p[1], q[0], q[1], colour, wide))
        out = at - middle
        out = out / max(float(np.linalg.norm(out)), 1e-6)
        text = str(cut.order)
        labels.append(
            Label(text, at[0], at[1], 3.2 + 2.0 * len(text), 4.9, (out[0], out[1]), "flag")
        )
    cut_limbs = {cut.limb for cut in scene.cuts}
    for limb in scene.named[:MOST_LABELS]:
        one = s.limbs[limb]
        rows = np.flatnonzero((s.limb == limb) & s.surveyed)
        if rows.size == 0:
            continue
        tip = b[rows[-1]]
        out = tip - a[rows[0]]
        out = out / max(float(np.linalg.norm(out)), 1e-6)
        text = (
            one.label if len(one.label) <= LONGEST_LABEL else one.label[: LONGEST_LABEL - 1] + "…"
        )
        wide = 1.0 + 1.85 * sum(2 if ord(c) > 0x2E7F else 1 for c in text)
        kind = "goes" if bool(scene.gone[rows[-1]]) or one.label in cut_limbs else "limb"
        labels.append(Label(text, tip[0], tip[1], wide, 3.6, (out[0], out[1]), kind))
    wood = np.concatenate([a + t * (b - a) for t in (0.15, 0.5, 0.85)])[
        np.tile(s.surveyed | (np.arange(s.n) % 4 == 0), 3)
    ]
    placed = place_labels(labels, wood, frame.width, frame.height, frame.taken)
    return placed, kerfs


def _label_svg(one: Placed) -> list[str]:
    label = one.label
    flag = label.kind == "flag"
    colour = INK if label.kind == "limb" else PLUM
    out: list[str] = []
    if one.leader or flag:
        out.append(_line(label.x_mm, label.y_mm, one.x_mm, one.y_mm, colour, 0.3 if flag else 0.16))
    x, y = one.x_mm - label.width_mm / 2, one.y_mm - label.height_mm / 2
    edge = f' stroke="{PLUM}" stroke-width="0.4"' if flag else ""
    out.append(
        f'<rect x="{x:.2f}" y="{y:.2f}" width="{label.width_mm:.2f}" '
        f'height="{label.height_mm:.2f}" fill="{PAPER}" '
        f'fill-opacity="{1 if flag else 0.82}"{edge}/>'
    )
    size = 4.3 if flag else 3.0
    out.append(
        _text(
            one.x_mm, one.y_mm + 0.36 * size, label.text, size, colour, bold=True, anchor="middle"
        )
    )
    return out

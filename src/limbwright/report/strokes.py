"""How wood looks on a card, told apart by shape alone: load, what comes off, dead wood, kerfs.

Kept wood is an unbroken outline that fills with ink as its load grows; what comes off is broken
into dashes; dead wood carries crosses; a limb not to be touched lies in a sleeve drawn round it.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from limbwright.model.skeleton import Bools, Floats, Ints, Skeleton, State
from limbwright.report.fonts import FAMILY

if TYPE_CHECKING:
    from limbwright.cuts.results import Cut

__all__ = [
    "GREY",
    "GROUND",
    "INK",
    "PAPER",
    "PLUM",
    "SAMPLES",
    "kerf",
    "limb_strokes",
    "line",
    "runs",
    "sample",
    "sleeves",
    "twigs",
    "words",
]

INK = "#1d2226"
GREY = "#a9a39a"
PLUM = "#6b2346"
PAPER = "#ffffff"
GROUND = "#fbf7ef"
"""Warm white, under maps, charts and pictures."""

# judgement: sizes found by looking at printed cards, in colour and in grey
PEN_MM = 0.26
THINNEST_MM = 0.8
WIDTH_STEP_MM = 0.08
DASH_MM, GAP_MM = 1.7, 1.0
CROSS_EVERY_MM, CROSS_REACH_MM = 4.2, 1.05
SLEEVE_MM, SLEEVE_PEN_MM = 1.5, 0.45
KERF_REACH_MM, KERF_GAP_MM, KERF_PEN_MM = 1.4, 1.2, 0.7


def line(x1: float, y1: float, x2: float, y2: float, colour: str, width: float) -> str:
    """Return a straight stroke as SVG [mm]."""
    return (
        f'<line x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" stroke="{colour}" '
        f'stroke-width="{width:.2f}" stroke-linecap="round"/>'
    )


def words(
    x: float,
    y: float,
    text: str,
    size: float,
    colour: str,
    *,
    bold: bool = False,
    anchor: str = "start",
) -> str:
    """Return words as SVG, ``size`` in mm."""
    weight = ' font-weight="700"' if bold else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size}" fill="{colour}"{weight} '
        f'text-anchor="{anchor}">{escape(text)}</text>'
    )


def _path(a: Floats, b: Floats, rows: Bools) -> str:
    return "".join(
        f"M{p[0]:.2f} {p[1]:.2f}L{q[0]:.2f} {q[1]:.2f}"
        for p, q in zip(a[rows].tolist(), b[rows].tolist(), strict=True)
    )


def _stroke(path: str, colour: str, width: float, extra: str = "", cap: str = "round") -> str:
    if not path:
        return ""
    return (
        f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{width:.2f}" '
        f'stroke-linecap="{cap}" stroke-linejoin="round"{extra}/>'
    )


def runs(s: Skeleton, rows: Bools) -> list[Ints]:
    """Return the chosen segments as unbroken runs along one limb each, from the base outwards."""
    chosen = np.flatnonzero(rows)
    if chosen.size == 0:
        return []
    found: list[list[int]] = [[int(chosen[0])]]
    for i, j in pairwise(chosen.tolist()):
        meets = s.limb[i] == s.limb[j] and bool(np.allclose(s.end_m[i], s.start_m[j], atol=1e-6))
        if meets:
            found[-1].append(j)
        else:
            found.append([j])
    return [np.array(run, dtype=np.int64) for run in found]


def _run_path(a: Floats, b: Floats, run: Ints) -> str:
    points = np.concatenate([a[run[:1]], b[run]])
    return "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in points.tolist())


def _widths(s: Skeleton, mm_per_m: float) -> Floats:
    middle_mm = 0.5 * (s.start_diameter_mm + s.end_diameter_mm) * mm_per_m / 1000.0
    return np.maximum(middle_mm, THINNEST_MM)


def twigs(s: Skeleton, gone: Bools, a: Floats, b: Floats) -> list[str]:
    """Return the wood the rules put there: thin lines, merged into one path each."""
    derived = ~s.surveyed
    return [
        _stroke(_path(a, b, derived & ~gone), GREY, 0.13),
        _stroke(_path(a, b, derived & gone), PLUM, 0.13, ' stroke-dasharray="0.7 0.6"'),
    ]


def sleeves(s: Skeleton, kept: Bools, a: Floats, b: Floats, mm_per_m: float) -> list[str]:
    """Return a sleeve round every limb that is not to be touched."""
    width = _widths(s, mm_per_m)
    found = [(_run_path(a, b, run), float(width[run].max())) for run in runs(s, kept)]
    return [
        _stroke(path, colour, wide + 2 * SLEEVE_MM - shrink)
        for colour, shrink in ((INK, 0.0), (PAPER, 2 * SLEEVE_PEN_MM))
        for path, wide in found
    ]


def limb_strokes(
    s: Skeleton, gone: Bools, kept: Bools, used: Floats, a: Floats, b: Floats, mm_per_m: float
) -> list[str]:
    """Return what stays, what is not to be touched over it, what comes off over both, crosses."""
    width = _widths(s, mm_per_m)
    stays, goes = s.surveyed & ~gone & ~kept, s.surveyed & gone
    out = _filled(width, used, stays, a, b)
    out += sleeves(s, kept, a, b, mm_per_m)
    out += _filled(width, used, kept, a, b)
    for run in runs(s, goes):
        path, wide = _run_path(a, b, run), float(np.median(width[run]))
        out.append(_stroke(path, PAPER, wide + 0.7, cap="butt"))
        dash = max(DASH_MM, 0.7 * wide)
        dashes = f' stroke-dasharray="{dash:.2f} {GAP_MM}"'
        out.append(_stroke(path, PLUM, wide, dashes, cap="butt"))
    for run in runs(s, s.surveyed & (s.state == State.DEAD)):
        out += _crosses(np.concatenate([a[run[:1]], b[run]]), float(np.median(width[run])))
    return out


def _filled(width_mm: Floats, used: Floats, rows: Bools, a: Floats, b: Floats) -> list[str]:
    """Return outlines, then the open inside, then the dark core, merged by width."""
    step = np.round(width_mm / WIDTH_STEP_MM).astype(np.int64)
    share = np.clip(np.nan_to_num(used), 0.0, 1.0)
    core = np.round(share * (width_mm - 2 * PEN_MM) / WIDTH_STEP_MM).astype(np.int64)
    steps = np.unique(step[rows]).tolist()
    out = [_stroke(_path(a, b, rows & (step == k)), INK, k * WIDTH_STEP_MM) for k in steps]
    for k in steps:
        wide = max(k * WIDTH_STEP_MM - 2 * PEN_MM, 0.1)
        out.append(_stroke(_path(a, b, rows & (step == k)), PAPER, wide))
    for k in np.unique(core[rows]).tolist():
        if k > 0:
            out.append(_stroke(_path(a, b, rows & (core == k)), INK, k * WIDTH_STEP_MM))
    return out


def _crosses(points: Floats, width_mm: float) -> list[str]:
    """Return crosses along a dead limb, at least one however short it looks."""
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    total = float(along[-1])
    count = max(1, int(total / CROSS_EVERY_MM))
    at = (np.arange(count) + 0.5) * total / count
    reach = 0.5 * width_mm + CROSS_REACH_MM
    out = []
    for x, y in zip(
        np.interp(at, along, points[:, 0]), np.interp(at, along, points[:, 1]), strict=True
    ):
        d = reach * 0.7071
        for colour, wide in ((PAPER, 0.85), (INK, 0.38)):
            out.append(line(x - d, y - d, x + d, y + d, colour, wide))
            out.append(line(x - d, y + d, x + d, y - d, colour, wide))
    return out


def kerf(at: Floats, along: Floats, radius_mm: float) -> list[str]:
    """Return a cut: two strokes across the limb at ``at``, ``along`` the way it runs."""
    across = np.array([-along[1], along[0]])
    half = max(radius_mm, THINNEST_MM / 2) + KERF_REACH_MM
    out = []
    for colour, wide in ((PAPER, KERF_PEN_MM + 0.75), (PLUM, KERF_PEN_MM)):
        for shift in (0.15, 0.15 + KERF_GAP_MM):
            p, q = at + shift * along - half * across, at + shift * along + half * across
            out.append(line(p[0], p[1], q[0], q[1], colour, wide))
    return out


SAMPLES = ("cut", "goes", "keep", "dead", "load")


def sample(kind: str) -> str:
    """Return a small picture of one way of drawing, for the line that explains the drawings."""
    wide, high, y = 13.0, 5.0, 2.5
    a, b, w = (0.8, y), (wide - 0.8, y), 1.5
    whole = f"M{a[0]} {a[1]}L{b[0]} {b[1]}"
    body = [_stroke(whole, INK, w, cap="butt"), _stroke(whole, PAPER, w - 2 * PEN_MM, cap="butt")]
    if kind == "cut":
        right = np.array([1.0, 0.0])
        body = [*body, *kerf(np.array([wide / 2 - 0.7, y]), right, w / 2)]
    elif kind == "goes":
        body = [_stroke(whole, PLUM, w, f' stroke-dasharray="{DASH_MM} {GAP_MM}"', cap="butt")]
    elif kind == "keep":
        inner = f"M2.4 {y}L{wide - 2.4} {y}"
        body = [
            _stroke(inner, INK, w + 2 * SLEEVE_MM),
            _stroke(inner, PAPER, w + 2 * SLEEVE_MM - 2 * SLEEVE_PEN_MM),
            *body,
        ]
    elif kind == "dead":
        body += _crosses(np.array([a, b]), w)
    else:
        # from hardly loaded to fully used
        body = []
        for k, share in enumerate((0.15, 0.5, 1.0)):
            part = f"M{0.8 + 4.1 * k:.2f} {y}l3.3 0"
            body += [
                _stroke(part, INK, 2.2, cap="butt"),
                _stroke(part, PAPER, 2.2 - 2 * PEN_MM, cap="butt"),
                _stroke(part, INK, share * (2.2 - 2 * PEN_MM), cap="butt"),
            ]
    return svg(wide, high, body)


def svg(width_mm: float, height_mm: float, parts: Sequence[str]) -> str:
    """Return parts as one SVG of the given size."""
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width_mm:.2f}mm" '
        f'height="{height_mm:.2f}mm" viewBox="0 0 {width_mm:.2f} {height_mm:.2f}" '
        f'font-family="{FAMILY}">'
    )
    return "\n".join([head, *parts, "</svg>"])


def cut_along(cut: Cut, a: Floats, b: Floats) -> Floats:
    """Return the way the limb runs on paper at a cut, level where it runs at the reader."""
    step = b[cut.segment] - a[cut.segment]
    size = float(np.linalg.norm(step))
    return step / size if size > 0.3 else np.array([1.0, 0.0])

"""A small picture of a tree from one side: its leaf as one mass, its limbs, what goes broken."""

from __future__ import annotations

import numpy as np
from shapely import MultiPolygon, Polygon, buffer, points, simplify, union_all
from shapely.geometry.base import BaseGeometry

from limbwright.growth.prune import closed, cut_bases
from limbwright.model.skeleton import Bools, Floats, Skeleton, State
from limbwright.report.strokes import GREY, INK, PLUM, line, runs, svg
from limbwright.report.views import SOUTH, View

__all__ = ["extent_m", "small_tree", "tree_parts"]

LEAF = "#e2dccd"
PAPER = "#fbf7ef"
# judgement: sizes found by looking, at 3 to 12 mm of paper a metre
LAYERS = 1.5
"""Layers of leaf that lie over one another in a clump, as it is drawn."""
CLUMP_M = (0.18, 0.75)
"""Least and greatest half width a segment's own leaf is drawn at."""
DRAWN_MM = 18.0
"""Wood thinner than this is left to the mass of leaf, unless the tree has no thicker."""
LEAF_PEN_MM, LEAST_PEN_MM, STEP_MM = 0.15, 0.2, 0.1
DASH = ' stroke-dasharray="1.0 0.7"'
KERF_REACH_MM, KERF_GAP_MM, KERF_PEN_MM = 0.7, 0.75, 0.4


def small_tree(
    skeleton: Skeleton,
    gone: Bools | None = None,
    *,
    view: View = SOUTH,
    width_mm: float = 30.0,
    height_mm: float = 34.0,
    mm_per_m: float | None = None,
) -> str:
    """Return a small picture of a tree as an SVG drawing, in millimetres.

    Parameters
    ----------
    skeleton
        The tree.
    gone
        ``(n,)`` True for segments cut off, with all they carry; drawn broken, in plum.
    view
        From where; the south if left out.
    width_mm, height_mm
        The paper.
    mm_per_m
        Its scale, the same for all trees to be compared; as large as fits if left out.

    Raises
    ------
    InputError
        The marks do not fit the tree, or its stem would go.
    """
    left, right, low, high = extent_m(skeleton, view)
    if mm_per_m is None:
        mm_per_m = min((width_mm - 1.0) / (right - left), (height_mm - 1.0) / (high - low))
    x = width_mm / 2.0 - mm_per_m * (left + right) / 2.0
    y = height_mm - 0.5 + low * mm_per_m
    return svg(width_mm, height_mm, tree_parts(skeleton, gone, view, (x, y), mm_per_m)) + "\n"


def extent_m(skeleton: Skeleton, view: View) -> tuple[float, float, float, float]:
    """Return left, right, low and high [m] of a tree with its leaf, seen from one side."""
    flat, half = view.project(skeleton.end_m), _clump_m(skeleton)
    ends = np.concatenate(
        [view.project(skeleton.start_m), flat - half[:, None], flat + half[:, None]]
    )
    low, high = ends.min(axis=0), ends.max(axis=0)
    return float(low[0]), float(high[0]), min(0.0, float(low[1])), float(high[1])


def tree_parts(
    skeleton: Skeleton,
    gone: Bools | None,
    view: View,
    foot_mm: tuple[float, float],
    mm_per_m: float,
) -> list[str]:
    """Return a tree as parts of an SVG drawing, the foot of its stem at a point of the paper."""
    s = skeleton
    falls = np.zeros(s.n, dtype=np.bool_) if gone is None else closed(s, gone)
    flip = np.array([mm_per_m, -mm_per_m])
    a = np.array(foot_mm) + view.project(s.start_m) * flip
    b = np.array(foot_mm) + view.project(s.end_m) * flip
    reach = _clump_m(s) * mm_per_m
    leafy = (s.leaf_area_m2 > 0.0) & (s.state != State.DEAD)
    stays, goes = _mass(b, reach, leafy & ~falls), _mass(b, reach, leafy & falls)
    out = [_area(stays, f'fill="{LEAF}" stroke="{GREY}" stroke-width="{LEAF_PEN_MM}"')]
    lost = goes.difference(stays)
    out.append(_area(lost, f'fill="none" stroke="{PLUM}" stroke-width="0.22"{DASH}'))
    out += _wood(s, falls, a, b, mm_per_m)
    if gone is not None:
        for base in cut_bases(s, gone).tolist():
            out += _kerf(a[base], b[base] - a[base], s.start_diameter_mm[base] * mm_per_m / 2000.0)
    return [one for one in out if one]


def _clump_m(s: Skeleton) -> Floats:
    """Return ``(n,)`` half the width [m] the leaf of each segment is drawn at, 0 for none."""
    half = np.sqrt(np.maximum(s.leaf_area_m2, 0.0) / (np.pi * LAYERS))
    return np.asarray(np.where(s.leaf_area_m2 > 0.0, np.clip(half, *CLUMP_M), 0.0))


def _mass(at_mm: Floats, half_mm: Floats, rows: Bools) -> BaseGeometry:
    """Return the discs of leaf as one shape; gaps and edges too fine to print are left out."""
    discs = buffer(points(at_mm[rows]), half_mm[rows], quad_segs=3)
    whole = union_all(discs).buffer(0.3, 2).buffer(-0.3, 2)
    return simplify(whole, 0.08)


def _area(shape: BaseGeometry, style: str) -> str:
    parts = shape.geoms if isinstance(shape, MultiPolygon) else [shape]
    rings = [
        ring
        for part in parts
        if isinstance(part, Polygon) and part.area > 0.15
        for ring in (part.exterior, *(i for i in part.interiors if Polygon(i).area > 0.4))
    ]
    path = "".join(
        "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in ring.coords[:-1]) + "z" for ring in rings
    )
    return f'<path d="{path}" fill-rule="evenodd" {style}/>' if path else ""


def _wood(s: Skeleton, falls: Bools, a: Floats, b: Floats, mm_per_m: float) -> list[str]:
    """Return limbs in ink by width, then what goes, broken."""
    thick = 0.5 * (s.start_diameter_mm + s.end_diameter_mm)
    drawn = thick >= min(DRAWN_MM, 0.3 * float(thick.max()))
    steps = np.maximum(np.round(thick * mm_per_m / 1000.0 / STEP_MM), LEAST_PEN_MM / STEP_MM)
    out = []
    # the first segment ends flat on the ground, all others round where they meet
    for cap, kind in (("butt", s.parent < 0), ("round", s.parent >= 0)):
        chosen = drawn & ~falls & kind
        for step in np.unique(steps[chosen]).tolist():
            rows = chosen & (steps == step)
            path = "".join(
                f"M{p[0]:.2f} {p[1]:.2f}L{q[0]:.2f} {q[1]:.2f}"
                for p, q in zip(a[rows].tolist(), b[rows].tolist(), strict=True)
            )
            out.append(
                f'<path d="{path}" fill="none" stroke="{INK}" '
                f'stroke-width="{step * STEP_MM:.2f}" stroke-linecap="{cap}"/>'
            )
    for run in runs(s, drawn & falls):
        way = "L".join(f"{x:.2f} {y:.2f}" for x, y in np.concatenate([a[run[:1]], b[run]]).tolist())
        pen = max(float(np.median(steps[run])) * STEP_MM, 0.35)
        out.append(f'<path d="M{way}" fill="none" stroke="{PLUM}" stroke-width="{pen:.2f}"{DASH}/>')
    return out


def _kerf(at: Floats, way: Floats, half_mm: float) -> list[str]:
    """Return a cut as two short strokes across the limb, level where it runs at the reader."""
    size = float(np.linalg.norm(way))
    along = way / size if size > 0.1 else np.array([0.0, -1.0])
    across = np.array([-along[1], along[0]]) * (half_mm + KERF_REACH_MM)
    out = []
    for colour, pen in ((PAPER, KERF_PEN_MM + 0.4), (PLUM, KERF_PEN_MM)):
        for shift in (0.0, KERF_GAP_MM):
            p, q = at + shift * along - across, at + shift * along + across
            out.append(line(p[0], p[1], q[0], q[1], colour, pen))
    return out

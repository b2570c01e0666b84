"""How a station looks on a map: its crown to scale, and the kind of need told by what is in it.

All is told by shape, so that it reads in black print: plum only doubles what a thick ring says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.report.strokes import INK, PLUM

__all__ = [
    "MARKS",
    "RING_MM",
    "RING_OUT_MM",
    "Crown",
    "crown_svg",
    "mark_of",
    "open_middle",
    "ring_svg",
]

MARKS: dict[str, str] = {
    "form": "form",
    "maintain": "maintain",
    "restore": "restore",
    "retrench": "retrench",
    "leave for wildlife": "leave for wildlife",
    "replace": "replace",
    "restock": "restock",
    "restock, stump": "restock, a stump there",
    "leave standing": "dead, leave standing",
    "": "nothing worked out",
}
"""What each mark means, in the order of the key."""

# judgement: sizes [mm] found by looking at printed maps in colour and in grey
PEN_MM, FINE_MM, RING_MM, RING_OUT_MM = 0.28, 0.18, 0.85, 0.95
HATCH_MM, CLOSE_MM, DOT_EVERY_MM, DOT_MM = 1.15, 0.75, 1.25, 0.24
INNER_SHARE = 0.55
GLYPH_MM = 1.5


@dataclass(frozen=True, slots=True)
class Crown:
    """A station on paper: its middle and half its spread east and north [mm], and its mark."""

    x_mm: float
    y_mm: float
    half_x_mm: float
    half_y_mm: float
    mark: str
    planned: bool = False

    @property
    def reach_mm(self) -> float:
        """The longer half spread, with the ring of a planned tree."""
        ring = RING_OUT_MM + RING_MM / 2.0 if self.planned else PEN_MM / 2.0
        return max(self.half_x_mm, self.half_y_mm) + ring


def mark_of(kind: str, status: str) -> str:
    """Return the key in `MARKS` for a kind of need (empty for none) and the state of a station."""
    if status == "stump" and kind in ("", "restock"):
        return "restock, stump"
    if kind and kind in MARKS:
        return kind
    return {"gap": "restock", "dead": "leave standing", "new": "form"}.get(status, "")


def open_middle(mark: str) -> bool:
    """Return whether a number may lie over the middle of the mark."""
    return mark not in ("form", "restock", "restock, stump")


def crown_svg(one: Crown) -> list[str]:
    """Return outline and filling of a station."""
    dashed = one.mark.startswith("restock")
    broken = ' stroke-dasharray="0.9 0.7"' if dashed else ""
    out = [_ellipse(one, 1.0, INK, PEN_MM, broken)]
    out += _filling(one)
    return out


def ring_svg(one: Crown) -> list[str]:
    """Return the ring of a tree that is planned, none for others."""
    if not one.planned:
        return []
    return [
        f'<ellipse cx="{one.x_mm:.2f}" cy="{one.y_mm:.2f}" '
        f'rx="{one.half_x_mm + RING_OUT_MM:.2f}" ry="{one.half_y_mm + RING_OUT_MM:.2f}" '
        f'fill="none" stroke="{PLUM}" stroke-width="{RING_MM}"/>'
    ]


def _ellipse(one: Crown, share: float, colour: str, pen: float, extra: str = "") -> str:
    return (
        f'<ellipse cx="{one.x_mm:.2f}" cy="{one.y_mm:.2f}" rx="{share * one.half_x_mm:.2f}" '
        f'ry="{share * one.half_y_mm:.2f}" fill="none" stroke="{colour}" '
        f'stroke-width="{pen}"{extra}/>'
    )


def _path(d: str, pen: float, colour: str = INK) -> str:
    return (
        f'<path d="{d}" fill="none" stroke="{colour}" stroke-width="{pen}" stroke-linecap="round"/>'
    )


def _filling(one: Crown) -> list[str]:
    x, y = one.x_mm, one.y_mm
    small = min(one.half_x_mm, one.half_y_mm)
    size = min(GLYPH_MM, 0.68 * small)
    match one.mark:
        case "maintain":
            return [_path(_notches(one), PEN_MM)]
        case "restore":
            return [_path(_chords(one, (1.0, -1.0), HATCH_MM), FINE_MM)]
        case "retrench":
            return [_ellipse(one, INNER_SHARE, INK, PEN_MM)]
        case "leave for wildlife":
            return _dots(one)
        case "replace":
            return [_path(_chords(one, (1.0, 0.0), CLOSE_MM, below=True), FINE_MM * 1.4)]
        case "leave standing":
            return [_path(_chords(one, (1.0, 1.0), 0.0) + _chords(one, (1.0, -1.0), 0.0), PEN_MM)]
        case "form":
            arms = f"M{x:.2f} {y + size:.2f}v{-size:.2f}l{-0.75 * size:.2f} {-size:.2f}"
            arms += f"M{x:.2f} {y:.2f}l{0.75 * size:.2f} {-size:.2f}"
            return [_path(arms, 0.42)]
        case "restock":
            arm = 0.85 * size
            plus = f"M{x - arm:.2f} {y:.2f}h{2 * arm:.2f}M{x:.2f} {y - arm:.2f}v{2 * arm:.2f}"
            return [_path(plus, 0.42)]
        case "restock, stump":
            side = 0.9 * size
            return [
                f'<rect x="{x - side / 2:.2f}" y="{y - side / 2:.2f}" width="{side:.2f}" '
                f'height="{side:.2f}" fill="{INK}"/>'
            ]
    return []


def _notches(one: Crown) -> str:
    reach = 0.32
    a, b = one.half_x_mm, one.half_y_mm
    return "".join(
        f"M{one.x_mm + i * a:.2f} {one.y_mm + j * b:.2f}l{-i * reach * a:.2f} {-j * reach * b:.2f}"
        for i, j in ((1, 0), (0, 1), (-1, 0), (0, -1))
    )


def _chords(one: Crown, way: tuple[float, float], every: float, *, below: bool = False) -> str:
    """Return parallel chords of the crown, one through its middle; only below it if asked.

    Worked out on the unit circle the crown is stretched from.
    """
    a, b = one.half_x_mm, one.half_y_mm
    size = float(np.hypot(*way))
    ux, uy = way[0] / size, way[1] / size
    step = every / max(min(a, b), 1e-6)
    count = int(0.98 / step) if every else 0
    out = []
    for k in range(0 if below else -count, count + 1):
        off = k * step
        half = (1.0 - off * off) ** 0.5
        px, py = -uy * off, ux * off
        ends = [(px + t * half * ux, py + t * half * uy) for t in (-1.0, 1.0)]
        (x0, y0), (x1, y1) = [(one.x_mm + a * i, one.y_mm + b * j) for i, j in ends]
        out.append(f"M{x0:.2f} {y0:.2f}L{x1:.2f} {y1:.2f}")
    return "".join(out)


def _dots(one: Crown) -> list[str]:
    """Return dots in staggered rows, at least one."""
    a, b = one.half_x_mm, one.half_y_mm
    found: list[tuple[float, float]] = []
    rows = int(b / DOT_EVERY_MM)
    for j in range(-rows, rows + 1):
        shift = 0.5 * (j % 2)
        many = int(a / DOT_EVERY_MM) + 1
        for i in range(-many, many + 1):
            x, y = (i + shift) * DOT_EVERY_MM, j * DOT_EVERY_MM * 0.87
            if (x / a) ** 2 + (y / b) ** 2 <= 0.72:
                found.append((one.x_mm + x, one.y_mm + y))
    return _discs(found, DOT_MM)


def _discs(points: Sequence[tuple[float, float]], r: float) -> list[str]:
    arcs = "".join(
        f"M{x - r:.2f} {y:.2f}a{r} {r} 0 1 0 {2 * r:.2f} 0a{r} {r} 0 1 0 {-2 * r:.2f} 0z"
        for x, y in points
    )
    return [f'<path d="{arcs}" fill="{INK}"/>']

"""Put the numbers of stations on a map so that none covers another, with a leader where far."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from limbwright.model.skeleton import Bools, Floats
from limbwright.report.labels import Box, Label, Placed
from limbwright.report.map_marks import RING_MM, RING_OUT_MM, Crown, open_middle

__all__ = ["free_place", "place_numbers"]

ANGLES = 16
REACHES_MM = (0.4, 1.6, 3.2, 5.0, 7.5)
BETWEEN_MM = 0.35
LEADER_MM = 1.2
CORE_MM = 1.2
"""Half the width of what must stay clear round a place: its glyph, or a tree's own number."""
GRID_MM = 1.6
FURTHEST_MM = 30.0
"""Judgement: a number further off is left out, as nobody follows so long a leader."""
# judgement, by looking: costs of a number's place against one more millimetre of way
OVER_CORE, OVER_CROWN, OVER_RIM, ACROSS, SIDEWAYS = 8.0, 1.6, 2.2, 6.0, 0.25


def place_numbers(
    crowns: Sequence[Crown],
    texts: Sequence[str],
    sizes_mm: Sequence[tuple[float, float]],
    frame: Box,
    taken: Sequence[Box] = (),
) -> tuple[Placed, ...]:
    """Return where numbers go, each in or next to its crown; those without any room are left out.

    Those that fit inside their crowns are placed first, as they are in nobody's way.

    Parameters
    ----------
    crowns, texts, sizes_mm
        Station, text, width and height of each number.
    frame
        The paper they may lie on.
    taken
        Boxes in use.
    """
    boxes = np.empty((len(taken) + len(crowns), 4))
    boxes[: len(taken)] = np.asarray(taken, dtype=np.float64).reshape(-1, 4)
    used = len(taken)
    spans = np.array([(c.x_mm, c.y_mm, c.half_x_mm, c.half_y_mm) for c in crowns]).reshape(-1, 4)
    found: dict[int, Placed] = {}
    inside = [_fits_inside(c, size) for c, size in zip(crowns, sizes_mm, strict=True)]
    for k in sorted(range(len(crowns)), key=lambda k: not inside[k]):
        crown, size = crowns[k], sizes_mm[k]
        points, cost = _choices(crown, size, inside=inside[k])
        cost = cost + _cover(points, size, np.delete(spans, k, axis=0))
        cost[_hits(points, size, boxes[:used], frame)] = np.inf
        best = int(np.argmin(cost))
        if np.isfinite(cost[best]):
            x, y = points[best].tolist()
        else:
            somewhere = free_place((crown.x_mm, crown.y_mm), size, frame, boxes[:used], FURTHEST_MM)
            if somewhere is None:
                continue
            x, y = somewhere
        label = Label(texts[k], crown.x_mm, crown.y_mm, *size, kind="station")
        off = max(
            abs(x - crown.x_mm) - size[0] / 2 - crown.half_x_mm,
            abs(y - crown.y_mm) - size[1] / 2 - crown.half_y_mm,
        )
        found[k] = Placed(label, x, y, off > LEADER_MM)
        boxes[used] = found[k].box
        used += 1
    return tuple(found[k] for k in sorted(found))


def _fits_inside(crown: Crown, size: tuple[float, float]) -> bool:
    """Return whether the rim of the crown shows all round a number over its middle."""
    wide, high = size[0] / 2 / crown.half_x_mm, size[1] / 2 / crown.half_y_mm
    return open_middle(crown.mark) and bool(np.hypot(wide, high) <= 0.95)


def _choices(crown: Crown, size: tuple[float, float], *, inside: bool) -> tuple[Floats, Floats]:
    """Return ``(m, 2)`` places for a number and what each costs by itself."""
    half_w, half_h = size[0] / 2, size[1] / 2
    turn = np.arange(ANGLES) * (2.0 * np.pi / ANGLES) + np.pi / 2
    dx, dy = np.cos(turn), np.sin(turn)
    # from the middle of the crown to the middle of a box that just clears it in that direction
    clear = np.minimum(half_w / np.maximum(np.abs(dx), 1e-9), half_h / np.maximum(np.abs(dy), 1e-9))
    edge = 1.0 / np.hypot(dx / crown.half_x_mm, dy / crown.half_y_mm)
    outer = edge + RING_OUT_MM + RING_MM / 2.0 if crown.planned else edge
    side = SIDEWAYS * (1.0 - dy)  # below its crown is best
    ways = [outer + clear + reach for reach in REACHES_MM]
    price = [1.5 + reach + side for reach in REACHES_MM]
    core = np.minimum(edge, CORE_MM) + clear
    for share in (0.0, 0.5):  # over its own rim, clear of what is in its middle
        ways.append(np.maximum(core, edge + clear * share))
        price.append(OVER_RIM - share + side)
    within = core + 0.4  # inside a large crown, beside its glyph
    ways.append(within)
    price.append(np.where(within + clear < edge, 0.6 + side, ACROSS))
    way, cost = np.concatenate(ways), np.concatenate(price)
    turns = np.tile(np.column_stack([dx, dy]), (len(ways), 1))
    middle = np.array([[crown.x_mm, crown.y_mm]])
    points = np.concatenate([middle, middle + way[:, None] * turns])
    return points, np.concatenate([[0.0 if inside else ACROSS], cost])


def _cover(points: Floats, size: tuple[float, float], others: Floats) -> Floats:
    """Return what covering middles and crowns of other stations costs each place."""
    box = np.array(size) / 2.0
    reach = np.abs(points - points[0]).max(axis=0) + box
    near = (np.abs(others[:, :2] - points[0]) < reach + others[:, 2:]).all(axis=1)
    at, half = others[near, :2], others[near, 2:]
    gap = np.abs(points[:, None, :] - at[None, :, :]) - box
    over_core = (gap < np.minimum(half, CORE_MM)).all(axis=2)
    over_crown = (gap < half).all(axis=2)
    return np.asarray(OVER_CORE * over_core.sum(axis=1) + OVER_CROWN * over_crown.sum(axis=1))


def _hits(points: Floats, size: tuple[float, float], boxes: Floats, frame: Box) -> Bools:
    """Return which places leave the frame or cover a box in use."""
    half = np.array(size) / 2
    out = (points - half < frame[:2]).any(axis=1) | (points + half > frame[2:]).any(axis=1)
    apart = half + BETWEEN_MM
    low, high = points.min(axis=0) - apart, points.max(axis=0) + apart
    near = boxes[(boxes[:, :2] < high).all(axis=1) & (boxes[:, 2:] > low).all(axis=1)]
    over = (points[:, None, :] + apart > near[None, :, :2]).all(axis=2)
    over &= (points[:, None, :] - apart < near[None, :, 2:]).all(axis=2)
    return np.asarray(out | over.any(axis=1), dtype=np.bool_)


def free_place(
    near: tuple[float, float],
    size: tuple[float, float],
    frame: Box,
    boxes: Floats,
    furthest_mm: float = np.inf,
) -> tuple[float, float] | None:
    """Return the free place of a box nearest to a point, None where there is none so near."""
    left, top = frame[0] + size[0] / 2, frame[1] + size[1] / 2
    right, bottom = frame[2] - size[0] / 2, frame[3] - size[1] / 2
    if right < left or bottom < top:
        return None
    xs = np.linspace(left, right, max(2, int((right - left) / GRID_MM) + 1))
    ys = np.linspace(top, bottom, max(2, int((bottom - top) / GRID_MM) + 1))
    points = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    far = np.hypot(points[:, 0] - near[0], points[:, 1] - near[1])
    order = np.argsort(far, kind="stable")[: int((far <= furthest_mm).sum())]
    for part in np.array_split(order, max(1, order.size // 500)):
        free = ~_hits(points[part], size, boxes, frame)
        if bool(free.any()):
            x, y = points[part[int(np.argmax(free))]].tolist()
            return x, y
    return None

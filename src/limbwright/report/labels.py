"""Put small labels near their points so that none covers another or the wood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.model.skeleton import Floats

__all__ = ["Box", "Label", "Placed", "overlaps", "place_labels"]

ANGLES = 24
REACHES_MM = (1.2, 2.4, 4.0, 6.0, 8.5, 11.5, 15.0, 19.0, 24.0)
BETWEEN_MM = 0.4

Box = tuple[float, float, float, float]
"""Left, top, right, bottom [mm]."""


@dataclass(frozen=True, slots=True)
class Label:
    """A text of ``width_mm`` by ``height_mm`` that belongs at a point (x right, y down) [mm].

    ``out`` is the direction the label would best lie in, from its point. One that is not a
    ``must`` is left off where it could only cover another.
    """

    text: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    out: tuple[float, float] = (0.0, -1.0)
    kind: str = "limb"
    must: bool = True


@dataclass(frozen=True, slots=True)
class Placed:
    """A label with the middle of its box [mm] and whether it needs a leader to its point."""

    label: Label
    x_mm: float
    y_mm: float
    leader: bool

    @property
    def box(self) -> Box:
        """The box it covers."""
        half_w, half_h = self.label.width_mm / 2.0, self.label.height_mm / 2.0
        return self.x_mm - half_w, self.y_mm - half_h, self.x_mm + half_w, self.y_mm + half_h


def overlaps(boxes: Sequence[Box]) -> int:
    """Return how many pairs of boxes cover one another."""
    if len(boxes) < 2:
        return 0
    left, top, right, bottom = np.asarray(boxes, dtype=np.float64).T
    over_x = np.minimum.outer(right, right) - np.maximum.outer(left, left)
    over_y = np.minimum.outer(bottom, bottom) - np.maximum.outer(top, top)
    hit = (over_x > 1e-6) & (over_y > 1e-6)
    return int(np.triu(hit, 1).sum())


def place_labels(
    labels: Sequence[Label],
    wood_mm: Floats,
    width_mm: float,
    height_mm: float,
    taken_mm: Sequence[Box] = (),
) -> tuple[Placed, ...]:
    """Return a place for the labels, in the order given; earlier labels choose first.

    Parameters
    ----------
    labels
        The labels, the most important first.
    wood_mm
        ``(k, 2)`` points of the drawing better left free [mm].
    width_mm, height_mm
        The paper; no label leaves it.
    taken_mm
        Boxes already in use.

    Returns
    -------
    tuple of Placed
        Each takes the cheapest of 216 places round its point: overlap with another label costs
        most, then wood covered, then distance, then turning from its best direction. Labels that
        are no must and have no free place are left out.
    """
    boxes: list[Box] = list(taken_mm)
    placed: list[Placed] = []
    turn = np.arange(ANGLES) * (2.0 * np.pi / ANGLES)
    dx, dy = np.cos(turn), np.sin(turn)
    reaches = np.array(REACHES_MM)
    gap = np.repeat(reaches, ANGLES)
    ux, uy = np.tile(dx, reaches.size), np.tile(dy, reaches.size)
    for one in labels:
        half_w, half_h = one.width_mm / 2.0, one.height_mm / 2.0
        # From the point to the middle of a box that just clears it in that direction.
        clear = np.minimum(
            half_w / np.maximum(np.abs(dx), 1e-9), half_h / np.maximum(np.abs(dy), 1e-9)
        )
        reach = (clear[None, :] + reaches[:, None]).ravel()
        x = np.clip(one.x_mm + reach * ux, half_w + 0.3, max(width_mm - half_w - 0.3, half_w))
        y = np.clip(one.y_mm + reach * uy, half_h + 0.3, max(height_mm - half_h - 0.3, half_h))
        cost = gap * 0.8 - 1.5 * (ux * one.out[0] + uy * one.out[1])
        covers = np.zeros(x.size, dtype=np.bool_)
        if boxes:
            left, top, right, bottom = np.asarray(boxes).T[:, :, None]
            over_x = np.minimum(x + half_w + BETWEEN_MM, right) - np.maximum(
                x - half_w - BETWEEN_MM, left
            )
            over_y = np.minimum(y + half_h + BETWEEN_MM, bottom) - np.maximum(
                y - half_h - BETWEEN_MM, top
            )
            hit = (over_x > 0.0) & (over_y > 0.0)
            cost = cost + np.where(hit, 1000.0 + 50.0 * over_x * over_y, 0.0).sum(axis=0)
            covers = hit.any(axis=0)
        own = (np.abs(x - one.x_mm) < half_w) & (np.abs(y - one.y_mm) < half_h)
        cost = cost + np.where(own, 300.0, 0.0)
        wide, high = half_w + 0.2, half_h + 0.2
        near = wood_mm[
            (wood_mm[:, 0] > x.min() - wide)
            & (wood_mm[:, 0] < x.max() + wide)
            & (wood_mm[:, 1] > y.min() - high)
            & (wood_mm[:, 1] < y.max() + high)
        ]
        if near.size:
            inside = (np.abs(near[None, :, 0] - x[:, None]) < wide) & (
                np.abs(near[None, :, 1] - y[:, None]) < high
            )
            cost = cost + 1.6 * inside.sum(axis=1)
        best = int(np.argmin(cost))
        if covers[best] and not one.must:
            continue
        cx, cy = float(x[best]), float(y[best])
        edge = max(abs(cx - one.x_mm) - half_w, abs(cy - one.y_mm) - half_h)
        placed.append(Placed(one, cx, cy, edge > 1.6))
        boxes.append(placed[-1].box)
    return tuple(placed)

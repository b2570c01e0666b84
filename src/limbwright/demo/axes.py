"""Axes of invented limbs in space, and which of them really rub."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np

from limbwright.model import LimbRecord
from limbwright.model.skeleton import Floats

__all__ = ["limb_axes", "limb_axis", "radius_m", "rubbing_pairs"]

STATIONS = 25
"""Points along an axis; judgement: steps of about 0.2 m on the longest limb."""

TIP_MM = 8.0
"""Diameter of the furthest shoot; judgement: a pencil's."""

TOUCH_M = 0.03
"""Gap within which wind brings two limbs together; judgement: a finger's breadth or two."""

FREE_M = 0.4
"""Length near its base where a limb is too stiff and too close to its parent to rub; judgement."""


def limb_axis(
    start_m: Floats, bearing_deg: float, rise_deg: float, end_rise_deg: float, length_m: float
) -> Floats:
    """Return ``(25, 3)`` points [m] along a limb whose rise turns evenly from base to end."""
    steps = STATIONS - 1
    middle = (np.arange(steps) + 0.5) / steps
    rise = np.radians(rise_deg + (end_rise_deg - rise_deg) * middle)
    bearing = np.radians(bearing_deg)
    level = np.cos(rise)
    step = np.stack([level * np.sin(bearing), level * np.cos(bearing), np.sin(rise)], axis=1)
    points = np.zeros((STATIONS, 3))
    points[1:] = np.cumsum(step * (length_m / steps), axis=0)
    return np.asarray(points + start_m)


def limb_axes(limbs: Sequence[LimbRecord]) -> Mapping[str, Floats]:
    """Return the axis of every limb of one tree by label; parents come before their limbs."""
    axes: dict[str, Floats] = {}
    length: dict[str, float] = {}
    for limb in limbs:
        start = np.zeros(3)
        if limb.parent:
            at = (limb.at_m or 0.0) / length[limb.parent] * (STATIONS - 1)
            parent = axes[limb.parent]
            start = np.array([np.interp(at, np.arange(STATIONS), parent[:, k]) for k in range(3)])
        rise = 90.0 if limb.rise_deg is None else limb.rise_deg
        end_rise = rise if limb.end_rise_deg is None else limb.end_rise_deg
        axes[limb.limb] = limb_axis(start, limb.bearing_deg or 0.0, rise, end_rise, limb.length_m)
        length[limb.limb] = limb.length_m
    return axes


def radius_m(limb: LimbRecord) -> Floats:
    """Return ``(25,)`` radii [m] along a limb that tapers evenly to its end."""
    end = TIP_MM if limb.end_diameter_mm is None else limb.end_diameter_mm
    return np.linspace(limb.diameter_mm, end, STATIONS) / 2000.0


def rubbing_pairs(limbs: Sequence[LimbRecord], only: str = "") -> list[tuple[float, str, str]]:
    """Return the pairs of limbs that touch, the tightest first.

    Parameters
    ----------
    only
        Look at pairs with this limb alone; empty: at all.

    Returns
    -------
    list of (gap_m, limb, limb)
        The clear gap bark to bark [m], negative where the wood would overlap, for pairs within
        3 cm that are neither parent and child nor share a union.
    """
    axes = limb_axes(limbs)
    radii = {one.limb: radius_m(one) for one in limbs}
    free = {one.limb: int(np.ceil(FREE_M / one.length_m * (STATIONS - 1))) for one in limbs}
    found: list[tuple[float, str, str]] = []
    for a, b in combinations([one for one in limbs if one.parent], 2):
        if b.parent == a.limb or a.parent == b.limb:
            continue
        if only and only not in (a.limb, b.limb):
            continue
        free_a, free_b = free[a.limb], free[b.limb]
        if max(free_a, free_b) >= STATIONS:
            continue
        apart = axes[a.limb][free_a:, None, :] - axes[b.limb][None, free_b:, :]
        reach = radii[a.limb][free_a:, None] + radii[b.limb][None, free_b:]
        gap = float((np.linalg.norm(apart, axis=-1) - reach).min())
        if gap <= TOUCH_M:
            found.append((gap, a.limb, b.limb))
    return sorted(found)

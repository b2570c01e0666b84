"""Congestion from geometry: limbs that run too close, grow inward, and gaps in the bowl.

A limb survey is coarse: a bearing read from the ground may be ten degrees out, and the further
along a limb, the less one knows where it is. So each closeness comes with how likely it is to be
true.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from limbwright.model.skeleton import Floats, Ints, Skeleton, State
from limbwright.trade.parameters import parameters

__all__ = ["Close", "Gap", "bowl_gap", "close_limbs", "inward_limbs"]

SECTORS = 24


@dataclass(frozen=True, slots=True)
class Close:
    """Two limbs nearer than they should be: indices in `Skeleton.limbs`, and how.

    ``gap_m`` is the least clear distance between their barks as reckoned, ``along_m`` the length
    over which they stay within the distance asked for, ``confidence`` the chance that their true
    gap is within it.
    """

    a: int
    b: int
    gap_m: float
    along_m: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Gap:
    """The widest gap in a crown seen from above: where its middle lies and how wide it is."""

    bearing_deg: float
    width_deg: float


def _places(skeleton: Skeleton, step_m: float) -> tuple[Floats, Ints, Floats, Floats]:
    """Return points along surveyed limbs: place, limb, radius [m], distance from the limb's base.

    The stem is left out, and so is the wood the rules put there.
    """
    chosen = np.flatnonzero(skeleton.surveyed & (skeleton.limb > 0))
    length = skeleton.length_m
    base = np.zeros(skeleton.n)
    for i in range(1, skeleton.n):
        parent = skeleton.parent[i]
        if skeleton.limb[parent] == skeleton.limb[i]:
            base[i] = base[parent] + length[parent]
    pieces = np.maximum(np.ceil(length[chosen] / step_m), 1).astype(np.int64)
    of = np.repeat(chosen, pieces)
    first = np.repeat(np.cumsum(pieces) - pieces, pieces)
    share = (np.arange(len(of)) - first + 0.5) / np.repeat(pieces, pieces)
    place = skeleton.start_m[of] + share[:, None] * (skeleton.end_m - skeleton.start_m)[of]
    taper = skeleton.end_diameter_mm - skeleton.start_diameter_mm
    radius = (skeleton.start_diameter_mm[of] + share * taper[of]) / 2000.0
    return place, skeleton.limb[of], radius, base[of] + share * length[of]


def close_limbs(skeleton: Skeleton, within_m: float | None = None) -> tuple[Close, ...]:
    """Return pairs of limbs that run closer than they should, the surest first.

    Neither carries the other; near the union they share they do not count. The place of a limb is
    taken as uncertain in proportion to the distance from its base, `shape.place_error` for a
    survey by tape and compass.

    Parameters
    ----------
    skeleton
        The tree.
    within_m
        Clear distance limbs should keep; None takes that of the table.
    """
    table = parameters("light")
    within = table["shape.close"].value if within_m is None else within_m
    step = table["shape.step"].value
    place, limb, radius, along = _places(skeleton, step)
    count = len(skeleton.limbs)
    spans = [skeleton.in_subtree(one.first_segment) for one in skeleton.limbs]
    length = np.array([one.length_m for one in skeleton.limbs])
    clear_of_union = along > table["shape.union_share"].value * length[limb]
    error = table["shape.place_error"].value
    found = []
    for a in range(1, count):
        mine = (limb == a) & clear_of_union
        if not mine.any():
            continue
        for b in range(a + 1, count):
            inside = spans[a].start <= skeleton.limbs[b].first_segment < spans[a].stop
            inside |= spans[b].start <= skeleton.limbs[a].first_segment < spans[b].stop
            other = (limb == b) & clear_of_union
            if inside or not other.any():
                continue
            apart = np.linalg.norm(place[mine][:, None] - place[other][None], axis=2)
            clear = apart - radius[mine][:, None] - radius[other][None]
            nearest = np.unravel_index(int(clear.argmin()), clear.shape)
            gap = float(clear[nearest])
            spread = error * float(np.hypot(along[mine][nearest[0]], along[other][nearest[1]]))
            sure = float(ndtr((within - gap) / max(spread, 1e-6)))
            if gap > within:
                continue
            near = (clear <= within).any(axis=1)
            found.append(Close(a, b, max(gap, 0.0), float(near.sum() * step), sure))
    return tuple(sorted(found, key=lambda c: (-c.confidence, c.a, c.b)))


def inward_limbs(skeleton: Skeleton) -> tuple[int, ...]:
    """Return the limbs whose outer half comes nearer the middle of the crown than their own base.

    The middle is the vertical line through the top of the stem.
    """
    stem = np.flatnonzero((skeleton.limb == 0) & skeleton.surveyed)
    middle = skeleton.end_m[stem[np.argmax(skeleton.end_m[stem, 2])], :2]
    found = []
    for k, one in enumerate(skeleton.limbs[1:], start=1):
        own = np.flatnonzero((skeleton.limb == k) & skeleton.surveyed)
        if own.size == 0 or one.state == State.DEAD:
            continue
        base = np.linalg.norm(skeleton.start_m[one.first_segment, :2] - middle)
        tip = np.linalg.norm(skeleton.end_m[own[-1], :2] - middle)
        if tip < base - 1e-9:
            found.append(k)
    return tuple(found)


def bowl_gap(skeleton: Skeleton) -> Gap:
    """Return the widest stretch of bearings that holds less than a third of its share of leaf.

    About the top of the stem. A crown with none has a gap of width 0.
    """
    stem = np.flatnonzero((skeleton.limb == 0) & skeleton.surveyed)
    middle = skeleton.end_m[stem[np.argmax(skeleton.end_m[stem, 2])], :2]
    place = (skeleton.start_m + skeleton.end_m)[:, :2] / 2.0 - middle
    bearing = np.degrees(np.arctan2(place[:, 0], place[:, 1])) % 360.0
    sector = (bearing / 360.0 * SECTORS).astype(np.int64) % SECTORS
    leaf = np.bincount(sector, weights=skeleton.leaf_area_m2, minlength=SECTORS)
    if leaf.sum() <= 0.0:
        return Gap(0.0, 360.0)
    thin = leaf < leaf.sum() / SECTORS / 3.0
    if not thin.any():
        return Gap(0.0, 0.0)
    best, start = 0, 0
    for first in range(SECTORS):
        run = 0
        while run < SECTORS and thin[(first + run) % SECTORS]:
            run += 1
        if run > best:
            best, start = run, first
    width = 360.0 / SECTORS
    return Gap(((start + best / 2.0) * width) % 360.0, best * width)

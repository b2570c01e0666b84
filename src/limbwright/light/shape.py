"""Congestion from geometry: limbs that run too close, grow inward, and gaps in the bowl.

A limb survey is coarse: a bearing read from the ground may be ten degrees out, and the further
along a limb, the less one knows where it is. So each closeness comes with how likely it is to be
true.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree
from scipy.special import ndtr

from limbwright.model.skeleton import Floats, Ints, Skeleton, State
from limbwright.trade.parameters import parameters

__all__ = [
    "Close",
    "Gap",
    "Inward",
    "bowl_gap",
    "close_limbs",
    "inward_growth",
]

SECTORS = 24
"""Judgement: bearings are read to about fifteen degrees."""
THIN_SHARE = 1.0 / 3.0
"""Judgement: with less than this share of an even crown's leaf a bearing lacks a limb."""


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
class Inward:
    """A limb that grows inward: its index in `Skeleton.limbs`, and by how much.

    ``inward_m`` is how much nearer to the middle its end is than its base, seen from above;
    ``confidence`` the chance that it truly is nearer.
    """

    limb: int
    inward_m: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Gap:
    """The widest gap in a crown seen from above: where its middle lies and how wide it is.

    ``confidence`` is the chance that it is truly wide enough to lack a limb, `shape.gap`.
    """

    bearing_deg: float
    width_deg: float
    confidence: float = 0.0


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

    Neither carries the other; near the union they share they do not count, nor do shoots thinner
    than `shape.least_limb`. The place of a limb is
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
    error = table["shape.place_error"].value
    place, limb, radius, along = _places(skeleton, step)
    length = np.array([one.length_m for one in skeleton.limbs])
    first = np.array([one.first_segment for one in skeleton.limbs])
    thick = skeleton.start_diameter_mm[first] >= parameters("air")["shape.least_limb"].value
    asked = thick[limb] & (along > table["shape.union_share"].value * length[limb])
    place, limb, radius, along = place[asked], limb[asked], radius[asked], along[asked]
    if len(place) < 2:
        return ()
    reach = within + 2.0 * float(radius.max())
    pairs = cKDTree(place).query_pairs(reach, output_type="ndarray")
    one, other = pairs[:, 0], pairs[:, 1]
    turned = limb[one] > limb[other]
    one, other = np.where(turned, other, one), np.where(turned, one, other)
    a, b = limb[one], limb[other]
    end = skeleton.subtree_end[first]
    carried = (first[a] <= first[b]) & (first[b] < end[a])
    carried |= (first[b] <= first[a]) & (first[a] < end[b])
    apart = np.linalg.norm(place[one] - place[other], axis=1)
    clear = apart - radius[one] - radius[other]
    near = np.flatnonzero((a != b) & ~carried & (clear <= within))
    near = near[np.lexsort((clear[near], b[near], a[near]))]
    starts = np.flatnonzero(np.r_[True, (np.diff(a[near]) != 0) | (np.diff(b[near]) != 0)])
    found = []
    for group in np.split(near, starts[1:]) if near.size else []:
        nearest = int(group[0])
        gap = float(clear[nearest])
        spread = error * float(np.hypot(along[one[nearest]], along[other[nearest]]))
        sure = float(ndtr((within - gap) / max(spread, 1e-6)))
        run = float(len(np.unique(one[group])) * step)
        found.append(Close(int(a[nearest]), int(b[nearest]), max(gap, 0.0), run, sure))
    return tuple(sorted(found, key=lambda c: (-c.confidence, c.a, c.b)))


def _middle(skeleton: Skeleton) -> Floats:
    """Return the place ``(2,)`` of the top of the stem, east and north."""
    stem = np.flatnonzero((skeleton.limb == 0) & skeleton.surveyed)
    if stem.size == 0:  # the rules put the stem there
        stem = np.flatnonzero(skeleton.limb == 0)
    return np.asarray(skeleton.end_m[stem[np.argmax(skeleton.end_m[stem, 2])], :2])


def inward_growth(skeleton: Skeleton) -> tuple[Inward, ...]:
    """Return the live limbs whose end is nearer the middle of the crown than their own base.

    The middle is the vertical line through the top of the stem. The end is uncertain as in
    `close_limbs`. The surest come first.
    """
    middle = _middle(skeleton)
    error = parameters("light")["shape.place_error"].value
    least = parameters("air")["shape.least_limb"].value
    found = []
    for k, one in enumerate(skeleton.limbs[1:], start=1):
        own = np.flatnonzero((skeleton.limb == k) & skeleton.surveyed)
        thick = skeleton.start_diameter_mm[one.first_segment] >= least
        if own.size == 0 or one.state == State.DEAD or not thick:
            continue
        base = np.linalg.norm(skeleton.start_m[one.first_segment, :2] - middle)
        tip = np.linalg.norm(skeleton.end_m[own[-1], :2] - middle)
        nearer = float(base - tip)
        if nearer > 1e-9:
            sure = float(ndtr(nearer / max(error * one.length_m, 1e-6)))
            found.append(Inward(k, nearer, sure))
    return tuple(sorted(found, key=lambda i: (-i.confidence, i.limb)))


def bowl_gap(skeleton: Skeleton) -> Gap:
    """Return the widest stretch of bearings that holds less than a third of its share of leaf.

    About the top of the stem. A crown with none has a gap of width 0.
    """
    middle = _middle(skeleton)
    place = (skeleton.start_m + skeleton.end_m)[:, :2] / 2.0 - middle
    bearing = np.degrees(np.arctan2(place[:, 0], place[:, 1])) % 360.0
    sector = (bearing / 360.0 * SECTORS).astype(np.int64) % SECTORS
    leaf = np.bincount(sector, weights=skeleton.leaf_area_m2, minlength=SECTORS)
    if leaf.sum() <= 0.0:
        return Gap(0.0, 360.0, 1.0)
    thin = leaf < THIN_SHARE * leaf.sum() / SECTORS
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
    wide = best * width
    # each of its two edges is a limb whose bearing was read by eye
    spread = float(np.degrees(parameters("light")["shape.place_error"].value)) * 2.0**0.5
    sure = float(ndtr((wide - parameters("air")["shape.gap"].value) / spread))
    return Gap(((start + best / 2.0) * width) % 360.0, wide, sure)

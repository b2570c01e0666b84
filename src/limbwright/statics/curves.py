"""Where a limb carries its parent on, and how sharply its axis curves there.

The axis of a limb is the path of the segments that carry it on, a broken line. Its curve at a
section is that of the circle through three points of the path, some diameters apart and never
nearer than the corners next to it: right for an arc however coarsely it is drawn, dull to a jitter
of single points, and never sharper than the wood is thick. An elbow shows only where segments
are shorter than it is.
"""

from __future__ import annotations

import numpy as np

from limbwright.model.skeleton import Bools, Floats, Ints, Skeleton
from limbwright.trade.parameters import parameters

__all__ = ["carries_on", "curvature_per_m"]


def carries_on(skeleton: Skeleton) -> Bools:
    """Return ``(n,)`` True where a segment carries on the limb of its parent.

    Of the segments of one limb that leave one parent, the thickest does, then the first.
    """
    parent, n = skeleton.parent, skeleton.n
    inner = parent >= 0
    above = np.where(inner, parent, 0)
    same = inner & (skeleton.limb == skeleton.limb[above])
    thickness = np.where(same, skeleton.start_diameter_mm, -1.0)
    order = np.lexsort((-np.arange(n), thickness))  # the thickest, then the first, comes last
    order = order[same[order]]
    heir = np.full(n, -1, dtype=np.int64)
    heir[parent[order]] = order
    return np.asarray(same & (heir[above] == np.arange(n)))


def curvature_per_m(skeleton: Skeleton) -> Floats:
    """Return the curve of each limb's axis at the base of every segment.

    Parameters
    ----------
    skeleton
        The tree.

    Returns
    -------
    Floats
        ``(n, 3)`` vectors [1/m]: of the length of the curvature, along the axis about which the
        wood turns as one goes outwards (the binormal). Zero at the base of a limb, at the ends
        of a limb too short to tell, and where it runs straight. Never sharper than a radius of
        curvature equal to that of the section, where the inner side would have no length.
    """
    radius_m = skeleton.start_diameter_mm / 2000.0
    on = carries_on(skeleton)
    first = _first_of_path(skeleton.parent, on)
    length = skeleton.length_m
    below = np.where(on, length[np.maximum(skeleton.parent, 0)], 0.0)
    # a coarse line turns at its corners only, so the window reaches over to the next ones
    reach_m = 2.0 * parameters("strength")["curve_reach"].value * radius_m
    reach_m = np.maximum(reach_m, np.maximum(length, below))
    from_ground = _from_ground_m(skeleton, length)
    along = from_ground - from_ground[first]
    last_end = np.zeros(skeleton.n)
    np.maximum.at(last_end, first, along + length)
    end = last_end[first]
    # a window that fits wholly on the path, moved in from its ends
    fits = end >= 2.0 * reach_m
    middle = np.clip(along, reach_m, np.maximum(end - reach_m, reach_m))
    behind, at, ahead = _points(
        skeleton, first, along, length, (middle - reach_m, middle, middle + reach_m)
    )
    a, b = at - behind, ahead - at
    cross = np.cross(a, b)
    sides = np.linalg.norm(a, axis=1) * np.linalg.norm(b, axis=1)
    sides = sides * np.linalg.norm(a + b, axis=1)
    kappa = 2.0 * cross / np.maximum(sides, 1e-12)[:, None]
    size = np.linalg.norm(kappa, axis=1)
    most = 1.0 / np.maximum(radius_m, 1e-9)
    kappa *= np.minimum(1.0, most / np.maximum(size, 1e-12))[:, None]
    return np.asarray(np.where((fits & on)[:, None], kappa, 0.0))


def _first_of_path(parent: Ints, on: Bools) -> Ints:
    """Return ``(n,)`` the first segment of the path each segment lies on, by doubled jumps."""
    jump = np.where(on, parent, np.arange(parent.size))
    while True:
        further = jump[jump]
        if bool((further == jump).all()):
            return np.asarray(jump)
        jump = further


def _from_ground_m(skeleton: Skeleton, length: Floats) -> Floats:
    """Return ``(n,)`` the length of wood between the ground and each segment's base."""
    change = np.zeros(skeleton.n + 1)
    change[:-1] = length
    np.subtract.at(change, skeleton.subtree_end, length)
    return np.asarray(np.cumsum(change[:-1]) - length)


def _points(
    skeleton: Skeleton, first: Ints, along: Floats, length: Floats, wanted: tuple[Floats, ...]
) -> list[Floats]:
    """Return the point of each path at each wanted length from its start, ``(n, 3)`` each.

    All paths lie one behind the other on one line, each a little further off than it is long.
    """
    order = np.lexsort((along, first))
    path = first[order]
    starts = np.flatnonzero(np.diff(path, prepend=-1))
    span = np.maximum.reduceat((along + length)[order], starts)
    offset_of = np.zeros(skeleton.n)
    offset_of[path[starts]] = np.concatenate([[0.0], np.cumsum(span[:-1] + 1.0)])
    base = offset_of[first]
    knots = (base + along)[order]
    points = []
    for length_m in wanted:
        here = base + length_m
        k = order[np.clip(np.searchsorted(knots, here, side="right") - 1, 0, skeleton.n - 1)]
        share = np.clip((here - base[k] - along[k]) / length[k], 0.0, 1.0)[:, None]
        points.append(skeleton.start_m[k] + share * (skeleton.end_m[k] - skeleton.start_m[k]))
    return points

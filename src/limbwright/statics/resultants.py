"""Force and moment at every section of a tree, exactly and in O(n).

In preorder the wood beyond a section is a slice, so its load is the difference of two prefix
sums. Each load component is one contiguous row over the segments; a case's six rows (1 MB at
20,000 segments) stay in cache between the three steps, so that memory is read and written once.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from limbwright.model.skeleton import Bools, Floats, Skeleton
from limbwright.statics.loads import Loads

__all__ = ["Resultants", "resultants"]


@dataclass(frozen=True)
class Resultants:
    """What the wood beyond each section does to it.

    ``force_n`` and ``moment_n_m`` are ``(C, n, 3)`` at the base of each segment: everything from
    the segment on, the moment taken about the segment's start. ``end_force_n`` and
    ``end_moment_n_m`` are the same just inside the segment's end (its own load left out, the
    moment taken about its end), worked out when first asked for and then kept.
    """

    force_n: Floats
    moment_n_m: Floats
    skeleton: Skeleton
    loads: Loads
    kept: Bools | None = None

    @cached_property
    def _ends(self) -> tuple[Floats, Floats]:
        force, moment = _rows(self.loads.force_n), _rows(self.loads.moment_n_m)
        start, end = _points(self.skeleton.start_m), _points(self.skeleton.end_m)
        left = 1.0 if self.kept is None else self.kept.astype(np.float64)
        beyond = _rows(self.force_n) - force * left
        about_origin = _rows(self.moment_n_m) - moment * left
        for c in range(len(beyond)):
            about_origin[c] += _cross(start, _rows(self.force_n)[c])
            about_origin[c] -= _cross(end, beyond[c])
        return beyond.transpose(0, 2, 1), about_origin.transpose(0, 2, 1)

    @property
    def end_force_n(self) -> Floats:
        """``(C, n, 3)`` force of everything beyond the end of each segment [N]."""
        return self._ends[0]

    @property
    def end_moment_n_m(self) -> Floats:
        """``(C, n, 3)`` its moment about that end [N m]."""
        return self._ends[1]


def resultants(skeleton: Skeleton, loads: Loads, kept: Bools | None = None) -> Resultants:
    """Return force and moment at the base of every segment, for every load case.

    ``F = sum F_j`` and ``M = sum (p_j - p) x F_j`` over everything beyond the section.

    Parameters
    ----------
    skeleton
        The tree.
    loads
        Its loads.
    kept
        ``(n,)`` False for segments that are gone: their loads count as nothing. All stay if None.

    Returns
    -------
    Resultants
        ``(C, n, 3)`` arrays, views on memory laid out ``(C, 3, n)``.

    Raises
    ------
    ValueError
        ``loads`` or ``kept`` belong to another tree.
    """
    n = skeleton.n
    if loads.force_n.shape[1:] != (n, 3) or loads.moment_n_m.shape != loads.force_n.shape:
        raise ValueError(f"The loads are not those of a tree of {n} segments.")
    if kept is not None and kept.shape != (n,):
        raise ValueError(f"kept must have one value for each of {n} segments.")
    force, moment = _rows(loads.force_n), _rows(loads.moment_n_m)
    point = _points(skeleton.start_m)
    total_force, total_moment = np.empty_like(force), np.empty_like(moment)
    prefix = np.zeros((3, n + 1))
    masked = np.empty((3, n))
    product = np.empty(n)
    left = None if kept is None else kept.astype(np.float64)
    for c in range(len(force)):
        for given, total in ((force[c], total_force[c]), (moment[c], total_moment[c])):
            source = given if left is None else np.multiply(given, left, out=masked)
            np.cumsum(source, axis=1, out=prefix[:, 1:])
            for k in range(3):
                # mode "clip" writes straight into the row; the ends are valid by construction
                np.take(prefix[k], skeleton.subtree_end, out=total[k], mode="clip")
                total[k] -= prefix[k, :-1]
        for k in range(3):
            i, j = (k + 1) % 3, (k + 2) % 3
            total_moment[c, k] -= np.multiply(point[i], total_force[c, j], out=product)
            total_moment[c, k] += np.multiply(point[j], total_force[c, i], out=product)
    return Resultants(
        force_n=total_force.transpose(0, 2, 1),
        moment_n_m=total_moment.transpose(0, 2, 1),
        skeleton=skeleton,
        loads=loads,
        kept=kept,
    )


def _rows(vectors: Floats) -> Floats:
    """Return ``(C, n, 3)`` as contiguous ``(C, 3, n)``; free where it is a view on that."""
    return np.ascontiguousarray(vectors.transpose(0, 2, 1))


def _points(points_m: Floats) -> Floats:
    return np.ascontiguousarray(points_m.T)


def _cross(point: Floats, force: Floats) -> Floats:
    """Return ``(3, n)`` cross products of ``(3, n)`` rows."""
    return np.stack(
        [
            point[(k + 1) % 3] * force[(k + 2) % 3] - point[(k + 2) % 3] * force[(k + 1) % 3]
            for k in range(3)
        ]
    )

"""Force and moment at every section of a tree, exactly and in O(n).

In preorder the wood beyond a section is a slice, so its load is the difference of two prefix
sums. Sums are linear, so they are taken for the few parts the load cases are made of, and the
cases made from the sums. A running sum waits for each addition before the next; two rows go
through it side by side as one complex number in nearly the time of one.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from limbwright.model.skeleton import Bools, Floats, Skeleton
from limbwright.statics.parts import Loads, Spread

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
        return _sums(self.skeleton, self.loads, self.kept, at_end=True)

    @property
    def end_force_n(self) -> Floats:
        """``(C, n, 3)`` force of everything beyond the end of each segment [N]."""
        return self._ends[0]

    @property
    def end_moment_n_m(self) -> Floats:
        """``(C, n, 3)`` its moment about that end [N m]."""
        return self._ends[1]


def resultants(
    skeleton: Skeleton,
    loads: Loads,
    kept: Bools | None = None,
    *,
    over: Resultants | None = None,
) -> Resultants:
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
    over
        Resultants no longer needed, of as many cases and segments: the new ones are written over
        them. Asking the system for fresh memory takes as long as the sums themselves.

    Returns
    -------
    Resultants
        ``(C, n, 3)`` arrays, views on memory laid out ``(C, 3, n)``.

    Raises
    ------
    ValueError
        ``loads``, ``kept`` or ``over`` belong to another tree.
    """
    n = skeleton.n
    if loads.n != n:
        raise ValueError(f"The loads are not those of a tree of {n} segments.")
    if kept is not None and kept.shape != (n,):
        raise ValueError(f"kept must have one value for each of {n} segments.")
    memory = None
    if over is not None:
        memory = over.force_n.transpose(0, 2, 1), over.moment_n_m.transpose(0, 2, 1)
        if any(m.shape != (len(loads.cases), 3, n) for m in memory):
            raise ValueError(f"over must be of {len(loads.cases)} cases and {n} segments.")
    force, moment = _sums(skeleton, loads, kept, at_end=False, memory=memory)
    return Resultants(force, moment, skeleton, loads, kept)


def _sums(
    skeleton: Skeleton,
    loads: Loads,
    kept: Bools | None,
    *,
    at_end: bool,
    memory: tuple[Floats, Floats] | None = None,
) -> tuple[Floats, Floats]:
    """Return force and moment at the base of each segment, or just inside its end."""
    beyond = _Beyond(skeleton, kept, at_end)
    x, y, z = np.ascontiguousarray((skeleton.end_m if at_end else skeleton.start_m).T)
    product = np.empty(skeleton.n)
    weights = beyond(loads.weights, np.empty_like(loads.weights))
    for pull, over_x, over_y in weights:
        over_x -= np.multiply(x, pull, out=product)
        over_y -= np.multiply(y, pull, out=product)
    spread = Spread(loads, weights, memory)
    two = np.empty((2, 3, skeleton.n))
    arms: dict[bytes, Floats] = {}
    for first in range(0, len(loads.pushes), 2):  # two at a time: six rows, three pairs
        pushes = beyond(loads.pushes[first : first + 2], two)
        for d, rows in enumerate(pushes, start=first):
            east, north = loads.push_towards[d]
            key = loads.push_towards[d].tobytes()
            if key not in arms:
                arms[key] = x * north - y * east
            rows[1] -= np.multiply(z, rows[0], out=product)
            rows[2] -= np.multiply(arms[key], rows[0], out=product)
            spread.push(d, rows)
    return spread.done()


class _Beyond:
    """Sums of parts over each segment and all beyond it, or over what lies beyond alone.

    Called with ``(k, 3, n)`` rows and memory for as many, it returns their sums.
    """

    def __init__(self, skeleton: Skeleton, kept: Bools | None, at_end: bool) -> None:
        n = skeleton.n
        self._until = skeleton.subtree_end
        self._from = slice(1, None) if at_end else slice(0, -1)
        self._left = None if kept is None else kept.astype(np.float64)
        self._pair, self._last = np.zeros(n, dtype=np.complex128), np.empty(n, dtype=np.complex128)
        self._prefix = np.zeros(n + 1, dtype=np.complex128)

    def __call__(self, parts: Floats, memory: Floats) -> Floats:
        given = parts.reshape(-1, parts.shape[2])
        total = memory[: len(parts)].reshape(given.shape)
        for r in range(0, len(given), 2):
            for lane, row in zip(
                (self._pair.real, self._pair.imag), given[r : r + 2], strict=False
            ):
                if self._left is None:
                    lane[:] = row
                else:
                    np.multiply(row, self._left, out=lane)
            np.cumsum(self._pair, out=self._prefix[1:])
            # mode "clip" writes straight into the row; the ends are valid by construction
            np.take(self._prefix, self._until, out=self._last, mode="clip")
            self._last -= self._prefix[self._from]
            for row, lane in zip(
                total[r : r + 2], (self._last.real, self._last.imag), strict=False
            ):
                row[:] = lane
        return total.reshape(parts.shape)

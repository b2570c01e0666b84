"""Loads as sums of a few parts.

Most of the 38 load cases are made of the same things: a gale from the north-west in leaf is the
weight of an ordinary crop year and one push; the gale from the opposite side is that weight and
the same push the other way. Five weights and sixteen pushes make them all, so that forces and
moments need be summed along the tree for these only (63 rows of numbers in place of 228).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from limbwright.model.skeleton import Floats, Ints
from limbwright.statics.cases import LoadCase

__all__ = ["Loads", "Spread"]


@dataclass(frozen=True)
class Loads:
    """The load of each segment itself in each case.

    Attributes
    ----------
    cases
        The C load cases.
    weights
        ``(P, 3, n)`` of each part that hangs on the tree (wood, leaf, fruit, snow, ice): downward
        pull [N] and its first moments over x and over y [N m].
    weight_shares
        ``(C, P)`` how much of each part hangs there in each case.
    pushes
        ``(D, 3, n)`` of each level push: its size [N], its moment over height [N m], and its
        moment about the upright axis through the tree's origin [N m].
    push_towards
        ``(D, 2)`` unit vectors, east and north.
    push_shares
        ``(C, D)`` how much of each push acts in each case; -1 is the push the other way.
    wood_kg
        ``(n,)`` green mass of the segment's wood and fine wood.
    base_case
        ``(C,)`` index of the case that is the constant part of this one, -1 for none (or not
        computed).
    median_share
        ``(C,)`` the load effect of the median year is
        ``base + median_share * (case - base)``.
    quantile
        ``(C,)`` yearly chance that the level of the case is not exceeded.
    """

    cases: tuple[LoadCase, ...]
    weights: Floats
    weight_shares: Floats
    pushes: Floats
    push_towards: Floats
    push_shares: Floats
    wood_kg: Floats
    base_case: Ints
    median_share: Floats
    quantile: Floats

    @classmethod
    def given(
        cls,
        cases: tuple[LoadCase, ...],
        force_n: Floats,
        moment_n_m: Floats,
        *,
        wood_kg: Floats,
        base_case: Ints,
        median_share: Floats,
        quantile: Floats,
    ) -> Loads:
        """Return loads from any ``(C, n, 3)`` force [N] and moment about the origin [N m].

        A force and a moment are a weight and two pushes: downward, eastward and northward.
        """
        count, n, _ = force_n.shape
        force, moment = force_n.transpose(0, 2, 1), moment_n_m.transpose(0, 2, 1)
        nothing = np.zeros((count, n))
        east = np.stack([force[:, 0], nothing, moment[:, 2]], axis=1)
        north = np.stack([force[:, 1], nothing, nothing], axis=1)
        each = np.eye(count)
        return cls(
            cases=cases,
            weights=np.stack([-force[:, 2], moment[:, 1], -moment[:, 0]], axis=1),
            weight_shares=each,
            pushes=np.concatenate([east, north]),
            push_towards=np.repeat([[1.0, 0.0], [0.0, 1.0]], count, axis=0),
            push_shares=np.hstack([each, each]),
            wood_kg=wood_kg,
            base_case=base_case,
            median_share=median_share,
            quantile=quantile,
        )

    @property
    def n(self) -> int:
        """Number of segments."""
        return int(self.weights.shape[2])

    @cached_property
    def _each(self) -> tuple[Floats, Floats]:
        spread = Spread(self, self.weights)
        for d, rows in enumerate(self.pushes):
            spread.push(d, rows)
        return spread.done()

    @property
    def force_n(self) -> Floats:
        """``(C, n, 3)`` force on each segment itself [N]."""
        return self._each[0]

    @property
    def moment_n_m(self) -> Floats:
        """``(C, n, 3)`` its moment about the tree's origin [N m]."""
        return self._each[1]


class Spread:
    """Force and moment in each case, written part by part from those of the parts.

    Parameters
    ----------
    loads
        Which parts act in each case.
    weights
        ``(P, 3, n)`` as in `Loads`, or any sums of them; about whatever point they were taken,
        the moments are about that point. The same holds for what `push` is given.
    memory
        Where to write: two ``(C, 3, n)`` arrays; fresh ones if None.
    """

    def __init__(
        self, loads: Loads, weights: Floats, memory: tuple[Floats, Floats] | None = None
    ) -> None:
        count, n = len(loads.cases), loads.n
        self._loads = loads
        shape = (count, 3, n)
        self._force, self._moment = memory or (np.empty(shape), np.empty(shape))
        self._product = np.empty(n)
        self._begun = np.zeros(count, dtype=np.bool_)
        shares, self._kind = np.unique(loads.weight_shares, axis=0, return_inverse=True)
        self._hanging = []
        for share in shares:
            hanging = np.zeros((3, n))
            for p in np.flatnonzero(share):
                hanging += weights[p] if share[p] == 1.0 else share[p] * weights[p]
            self._hanging.append(hanging)

    def push(self, d: int, rows: Floats) -> None:
        """Write push ``d``, ``(3, n)`` rows as in `Loads`, into the cases it acts in."""
        size, over_height, upright = rows
        for c in np.flatnonzero(self._loads.push_shares[:, d]):
            share = self._loads.push_shares[c, d]
            east, north = share * self._loads.push_towards[d]
            force, moment = self._force[c], self._moment[c]
            if self._begun[c]:
                for row, part, factor in (
                    (force[0], size, east),
                    (force[1], size, north),
                    (moment[0], over_height, -north),
                    (moment[1], over_height, east),
                    (moment[2], upright, share),
                ):
                    row += np.multiply(part, factor, out=self._product)
                continue
            pull, over_x, over_y = self._hanging[self._kind[c]]
            np.multiply(size, east, out=force[0])
            np.multiply(size, north, out=force[1])
            np.negative(pull, out=force[2])
            np.multiply(over_height, -north, out=moment[0])
            moment[0] -= over_y
            np.multiply(over_height, east, out=moment[1])
            moment[1] += over_x
            np.multiply(upright, share, out=moment[2])
            self._begun[c] = True

    def done(self) -> tuple[Floats, Floats]:
        """Return ``(C, n, 3)`` force and moment, views on memory laid out ``(C, 3, n)``."""
        for c in np.flatnonzero(~self._begun):
            pull, over_x, over_y = self._hanging[self._kind[c]]
            self._force[c, :2] = 0.0
            np.negative(pull, out=self._force[c, 2])
            np.negative(over_y, out=self._moment[c, 0])
            self._moment[c, 1] = over_x
            self._moment[c, 2] = 0.0
        return self._force.transpose(0, 2, 1), self._moment.transpose(0, 2, 1)

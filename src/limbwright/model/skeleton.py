"""A tree as a rooted set of segments in depth-first preorder.

Preorder makes every subtree a slice, so that a sum over a subtree is the difference of two
prefix sums and the statics of a whole tree take O(n) without a loop.
Coordinates: x east, y north, z up, metres, origin at the foot of the stem.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from limbwright.errors import SkeletonError

__all__ = [
    "Bools",
    "Floats",
    "Ints",
    "Limb",
    "Provenance",
    "Skeleton",
    "State",
    "Union",
    "topology",
]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

MAX_COORDINATE_M = 1.0e4
"""Points further than this from the stem foot are map coordinates or a slip of units."""


class State(IntEnum):
    """Health of the wood of a segment or limb."""

    LIVE = 0
    DEAD = 1
    DISEASED = 2
    BROKEN = 3


class Union(IntEnum):
    """How a segment joins its parent."""

    SOUND = 0
    INCLUDED = 1
    CRACKED = 2


@dataclass(frozen=True, slots=True)
class Limb:
    """One named limb of a skeleton.

    ``parent`` is the index of the parent limb in `Skeleton.limbs`, -1 for the stem;
    ``first_segment`` is the segment at its base. Lengths are along the limb [m].
    ``rubs`` holds the label of the limb it rubs, empty for none; ``keep`` why it must stay.
    """

    label: str
    parent: int
    first_segment: int
    at_m: float
    diameter_mm: float
    length_m: float
    bearing_deg: float
    rise_deg: float
    crown: float = 2.0
    state: State = State.LIVE
    union: Union = Union.SOUND
    cavity_wall_mm: float | None = None
    cavity_far_wall_mm: float | None = None
    cavity_open_deg: float | None = None
    keep: str = ""
    rubs: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Provenance:
    """Where each value of a skeleton comes from.

    ``codes[name]`` is an ``(n,)`` index into ``rules``; rule 0 is always ``"measured"``, the
    others read ``"derived: <rule>"`` or ``"assumed: <what>"``. Names are ``diameter``,
    ``length``, ``direction``, ``leaf_area``, ``fruit``, ``fine_wood``; a missing name means
    measured throughout.
    """

    rules: tuple[str, ...] = ("measured",)
    codes: Mapping[str, Ints] = field(default_factory=dict)

    def is_measured(self, name: str, n: int) -> Bools:
        """Return ``(n,)`` True where the value ``name`` was measured."""
        codes = self.codes.get(name)
        return np.ones(n, dtype=np.bool_) if codes is None else codes == 0


def topology(parent: Sequence[int] | Ints) -> tuple[Ints, Ints]:
    """Return the preorder and the subtree ends of a rooted tree.

    Parameters
    ----------
    parent
        ``(n,)`` index of each segment's parent, -1 for the one at the ground; any order.

    Returns
    -------
    order
        ``(n,)`` old indices in depth-first preorder (children in their given order).
    subtree_end
        ``(n,)`` in the new order: the subtree of segment i is the slice ``i:subtree_end[i]``.

    Raises
    ------
    SkeletonError
        No root, several roots, a parent that does not exist, or a cycle.
    """
    par = np.asarray(parent, dtype=np.int64)
    n = par.size
    if n == 0:
        raise SkeletonError("The skeleton has no segments.", "Give at least the stem.")
    if bool(((par < -1) | (par >= n)).any()):
        bad = int(np.flatnonzero((par < -1) | (par >= n))[0])
        raise SkeletonError(f"Segment {bad} names a parent that is not there.")
    roots = np.flatnonzero(par == -1)
    if roots.size != 1:
        raise SkeletonError(
            f"The skeleton has {roots.size} segments standing on the ground.",
            "Exactly one segment, the foot of the stem, has parent -1.",
        )
    children: list[list[int]] = [[] for _ in range(n)]
    for i, p in enumerate(par.tolist()):
        if p >= 0:
            children[p].append(i)
    order = np.empty(n, dtype=np.int64)
    end_of = np.empty(n, dtype=np.int64)
    stack = [int(roots[0])]
    opened: list[tuple[int, int]] = []
    at = 0
    while stack:
        i = stack.pop()
        if i < 0:  # marks the close of the most recently opened subtree
            new, _ = opened.pop()
            end_of[new] = at
            continue
        order[at] = i
        opened.append((at, i))
        at += 1
        stack.append(-1)
        stack.extend(reversed(children[i]))
    if at != n:
        raise SkeletonError(
            f"{n - at} segments hang on a cycle and never reach the ground.",
            "Every chain of parents must end at the stem.",
        )
    return order, end_of


@dataclass(frozen=True, slots=True)
class Skeleton:
    """An immutable tree of tapering straight segments, one array a property.

    All arrays have first axis n and are in depth-first preorder (``parent[i] < i``). Build with
    `Skeleton.build`, which orders and checks them. Diameters over bark [mm], points [m],
    ``leaf_area_m2`` one-sided leaf carried by the segment itself, ``fruit_kg`` fruit it carries
    in an ordinary (light crop) year, ``fine_wood_kg`` green mass of shoots and twigs too fine to
    be segments, taken to hang at the segment's middle. ``union`` and ``cavity_wall_mm`` hold at the
    segment's base (NaN: no cavity), as do ``cavity_far_wall_mm``, the wall across from the thinnest
    (NaN: the same all round), and ``cavity_open_deg``, how much of the shell is gone (0: closed).
    ``keep[i]`` indexes ``keep_reasons``, where 0 is "".
    ``surveyed`` is True for wood a person or a scan saw, False for wood the rules put there.
    ``segment_ids`` are the numbers the segments bore in the file they came from.
    """

    tree: str
    species: str
    parent: Ints
    subtree_end: Ints
    start_m: Floats
    end_m: Floats
    start_diameter_mm: Floats
    end_diameter_mm: Floats
    state: Ints
    leaf_area_m2: Floats
    fruit_kg: Floats
    fine_wood_kg: Floats
    limb: Ints
    union: Ints
    cavity_wall_mm: Floats
    cavity_far_wall_mm: Floats
    cavity_open_deg: Floats
    keep: Ints
    surveyed: Bools
    limbs: tuple[Limb, ...]
    keep_reasons: tuple[str, ...] = ("",)
    segment_ids: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    provenance: Provenance = field(default_factory=Provenance)

    @property
    def n(self) -> int:
        """Number of segments."""
        return int(self.parent.size)

    @property
    def length_m(self) -> Floats:
        """``(n,)`` segment lengths [m]."""
        return np.asarray(np.linalg.norm(self.end_m - self.start_m, axis=1), dtype=np.float64)

    @property
    def axis(self) -> Floats:
        """``(n, 3)`` unit vectors pointing away from the ground along each segment."""
        return np.asarray((self.end_m - self.start_m) / self.length_m[:, None], dtype=np.float64)

    @property
    def wood_volume_m3(self) -> Floats:
        """``(n,)`` volume of each segment as the frustum of a cone, over bark [m3]."""
        a, b = self.start_diameter_mm / 1000.0, self.end_diameter_mm / 1000.0
        return np.asarray(np.pi * self.length_m * (a * a + a * b + b * b) / 12.0)

    @property
    def wood_centroid_m(self) -> Floats:
        """``(n, 3)`` centroid of each frustum [m]."""
        a, b = self.start_diameter_mm, self.end_diameter_mm
        share = (a * a + 2.0 * a * b + 3.0 * b * b) / (4.0 * (a * a + a * b + b * b))
        return np.asarray(self.start_m + share[:, None] * (self.end_m - self.start_m))

    def subtree_sum(self, values: Floats) -> Floats:
        """Return for each segment the sum of ``values`` over itself and all beyond it.

        ``values`` has first axis n; the rest is kept.
        """
        prefix = np.zeros((self.n + 1, *values.shape[1:]))
        np.cumsum(values, axis=0, out=prefix[1:])
        return np.asarray(prefix[self.subtree_end] - prefix[:-1])

    def in_subtree(self, segment: int) -> slice:
        """Return the slice of segments that fall when ``segment`` is cut at its base."""
        return slice(segment, int(self.subtree_end[segment]))

    @classmethod
    def build(
        cls,
        *,
        tree: str,
        species: str,
        parent: Sequence[int] | Ints,
        start_m: Floats,
        end_m: Floats,
        start_diameter_mm: Floats,
        end_diameter_mm: Floats,
        limb: Sequence[int] | Ints,
        limbs: Sequence[Limb],
        state: Ints | None = None,
        leaf_area_m2: Floats | None = None,
        fruit_kg: Floats | None = None,
        fine_wood_kg: Floats | None = None,
        union: Ints | None = None,
        cavity_wall_mm: Floats | None = None,
        cavity_far_wall_mm: Floats | None = None,
        cavity_open_deg: Floats | None = None,
        keep: Ints | None = None,
        keep_reasons: tuple[str, ...] = ("",),
        surveyed: Bools | None = None,
        segment_ids: Ints | None = None,
        provenance: Provenance | None = None,
    ) -> Skeleton:
        """Order the segments, check them and return the skeleton.

        ``Limb.first_segment`` and ``parent`` are given in the caller's order and translated.

        Raises
        ------
        SkeletonError
            The segments are not one tree, a segment has no length or no thickness, or a
            coordinate is not finite or lies beyond 10 km.
        """
        order, subtree_end = topology(parent)
        n = order.size
        new_of = np.empty(n, dtype=np.int64)
        new_of[order] = np.arange(n)
        par = np.asarray(parent, dtype=np.int64)[order]
        par = np.where(par >= 0, new_of[par], -1)

        def floats(given: Floats | None, default: float) -> Floats:
            if given is None:
                return np.full(n, default)
            return np.asarray(given, dtype=np.float64)[order]

        def ints(given: Sequence[int] | Ints | None, default: int) -> Ints:
            if given is None:
                return np.full(n, default, dtype=np.int64)
            return np.asarray(given, dtype=np.int64)[order]

        start = np.asarray(start_m, dtype=np.float64)[order]
        end = np.asarray(end_m, dtype=np.float64)[order]
        d0, d1 = floats(start_diameter_mm, 0.0), floats(end_diameter_mm, 0.0)
        ids = np.arange(n)[order] if segment_ids is None else ints(segment_ids, 0)
        _check_geometry(start, end, d0, d1, ids)
        prov = provenance or Provenance()
        prov = Provenance(prov.rules, {k: np.asarray(v)[order] for k, v in prov.codes.items()})
        built = cls(
            tree=tree,
            species=species,
            parent=par,
            subtree_end=subtree_end,
            start_m=start,
            end_m=end,
            start_diameter_mm=d0,
            end_diameter_mm=d1,
            state=ints(state, State.LIVE),
            leaf_area_m2=floats(leaf_area_m2, 0.0),
            fruit_kg=floats(fruit_kg, 0.0),
            fine_wood_kg=floats(fine_wood_kg, 0.0),
            limb=ints(limb, 0),
            union=ints(union, Union.SOUND),
            cavity_wall_mm=floats(cavity_wall_mm, np.nan),
            cavity_far_wall_mm=floats(cavity_far_wall_mm, np.nan),
            cavity_open_deg=floats(cavity_open_deg, 0.0),
            keep=ints(keep, 0),
            surveyed=(
                np.ones(n, dtype=np.bool_)
                if surveyed is None
                else np.asarray(surveyed, dtype=np.bool_)[order]
            ),
            limbs=tuple(_moved(one, new_of) for one in limbs),
            keep_reasons=keep_reasons,
            segment_ids=ids,
            provenance=prov,
        )
        for array in _arrays(built):
            array.setflags(write=False)
        return built


def _moved(limb: Limb, new_of: Ints) -> Limb:
    from dataclasses import replace

    return replace(limb, first_segment=int(new_of[limb.first_segment]))


def _arrays(skeleton: Skeleton) -> list[NDArray[np.generic]]:
    return [
        value
        for name in skeleton.__dataclass_fields__
        if isinstance(value := getattr(skeleton, name), np.ndarray)
    ]


def _check_geometry(start: Floats, end: Floats, d0: Floats, d1: Floats, ids: Ints) -> None:
    finite = np.isfinite(start).all(axis=1) & np.isfinite(end).all(axis=1)
    finite &= np.isfinite(d0) & np.isfinite(d1)
    near = finite & (np.abs(np.where(finite[:, None], end, 0.0)) < MAX_COORDINATE_M).all(axis=1)
    for ok, message, remedy in (
        (finite, "has a value that is not a number", "Give numbers for all points and diameters."),
        (near, "lies more than 10 km from the stem", "Use metres from the foot of the stem."),
        (near & (np.linalg.norm(end - start, axis=1) > 1e-9), "has no length", "Leave it out."),
        (near & (d0 > 0.0) & (d1 >= 0.0), "has no thickness", "Diameters are in millimetres."),
    ):
        if not bool(ok.all()):
            bad = int(ids[np.flatnonzero(~ok)[0]])
            raise SkeletonError(f"Segment {bad} {message}.", remedy)

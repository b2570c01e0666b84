"""A tree without the wood that was cut: the same tree, fewer segments."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbwright.errors import InputError
from limbwright.model.skeleton import Bools, Floats, Ints, Limb, Skeleton

__all__ = ["closed", "cut_bases", "pruned"]

PER_SEGMENT = (
    "start_m",
    "end_m",
    "start_diameter_mm",
    "end_diameter_mm",
    "state",
    "leaf_area_m2",
    "fruit_kg",
    "fine_wood_kg",
    "union",
    "cavity_wall_mm",
    "cavity_far_wall_mm",
    "cavity_open_deg",
    "keep",
    "surveyed",
    "segment_ids",
)


def closed(skeleton: Skeleton, gone: Bools) -> Bools:
    """Return ``(n,)`` True for what falls when the segments of ``gone`` are cut at their bases.

    Raises
    ------
    InputError
        The marks do not fit the tree, or the stem itself would go.
    """
    marks = np.asarray(gone, dtype=np.bool_)
    if marks.shape != (skeleton.n,):
        raise InputError(
            f"{marks.size} marks were given for the {skeleton.n} segments of {skeleton.tree}.",
            "Give one mark a segment, in the tree's own order.",
        )
    if bool(marks[0]):
        raise InputError(
            f"The stem of {skeleton.tree} is marked as cut at its foot.",
            "A tree that is felled does not grow: mark limbs only.",
        )
    # a slice falls with each mark: count the slices open at each place
    opened = np.zeros(skeleton.n + 1, dtype=np.int64)
    at = np.flatnonzero(marks)
    np.add.at(opened, at, 1)
    np.add.at(opened, skeleton.subtree_end[at], -1)
    return np.asarray(np.cumsum(opened)[:-1] > 0)


def cut_bases(skeleton: Skeleton, gone: Bools) -> Ints:
    """Return the segments at whose base a cut is made: gone, on wood that stays."""
    falls = closed(skeleton, gone)
    return np.flatnonzero(falls & ~falls[np.maximum(skeleton.parent, 0)])


def pruned(skeleton: Skeleton, gone: Bools) -> Skeleton:
    """Return the tree without the segments of ``gone`` ``(n,)`` and all they carry.

    What stays keeps its order, its numbers (``segment_ids``) and its limb labels; limbs cut at
    their base are left out, and limbs cut further out are as long as what is left of them.

    Raises
    ------
    InputError
        As `closed`.
    """
    falls = closed(skeleton, gone)
    if not bool(falls.any()):
        return skeleton
    stays = ~falls
    before = np.concatenate([[0], np.cumsum(stays)])
    parent = skeleton.parent[stays]
    base_stays = [bool(stays[one.first_segment]) for one in skeleton.limbs]
    limb_at = np.cumsum(base_stays) - 1
    length = _along_m(skeleton, stays)
    labels = {one.label for one, here in zip(skeleton.limbs, base_stays, strict=True) if here}
    limbs = tuple(
        _shorter(one, limb_at, int(before[one.first_segment]), length.get(k), labels)
        for k, one in enumerate(skeleton.limbs)
        if base_stays[k]
    )
    provenance = replace(
        skeleton.provenance,
        codes={name: code[stays] for name, code in skeleton.provenance.codes.items()},
    )
    arrays = {name: getattr(skeleton, name)[stays] for name in PER_SEGMENT}
    found = replace(
        skeleton,
        parent=np.where(parent >= 0, before[np.maximum(parent, 0)], -1),
        subtree_end=before[skeleton.subtree_end[stays]],
        limb=limb_at[skeleton.limb[stays]],
        limbs=limbs,
        provenance=provenance,
        **arrays,
    )
    for name in ("parent", "subtree_end", "limb", *PER_SEGMENT):
        getattr(found, name).setflags(write=False)
    return found


def _shorter(
    limb: Limb, limb_at: Ints, first_segment: int, length_m: float | None, labels: set[str]
) -> Limb:
    return replace(
        limb,
        parent=int(limb_at[limb.parent]) if limb.parent >= 0 else -1,
        first_segment=first_segment,
        length_m=limb.length_m if length_m is None else min(limb.length_m, length_m),
        rubs=limb.rubs if limb.rubs in labels else "",
    )


def _along_m(skeleton: Skeleton, stays: Bools) -> dict[int, float]:
    """Return by limb the length left of those that lose wood, along their longest way [m]."""
    touched = set(skeleton.limb[~stays].tolist())
    piece = skeleton.length_m
    reach: Floats = np.zeros(skeleton.n)
    found: dict[int, float] = {}
    for i in np.flatnonzero(stays).tolist():
        k = int(skeleton.limb[i])
        if k not in touched:
            continue
        p = int(skeleton.parent[i])
        below = reach[p] if p >= 0 and skeleton.limb[p] == k else 0.0
        reach[i] = below + piece[i]
        found[k] = max(found.get(k, 0.0), float(reach[i]))
    return found

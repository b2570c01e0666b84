"""A tree left alone for some years: thicker wood, longer limbs, a fuller or thinner crown."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbwright.errors import InputError
from limbwright.growth.rates import Rates
from limbwright.model.skeleton import Bools, Floats, Limb, Provenance, Skeleton, State

__all__ = ["GROWN", "check_years", "grow_wood", "marked", "thicken"]

GROWN = "derived: growth since the survey"
"""The rule named in the provenance of what growth has changed."""
GROWS = ("leaf_area", "fruit", "fine_wood")


def thicken(skeleton: Skeleton, rates: Rates, years: float = 1.0) -> Skeleton:
    """Return the tree as it stands after some years in which nobody cuts; the same segments.

    Parameters
    ----------
    skeleton
        The tree.
    rates
        Its rates.
    years
        Growing seasons, 0 or more.

    Returns
    -------
    Skeleton
        Live wood thicker by the share of its rings that counts as strength, live limbs beyond the
        first fork longer, leaf, fruit and fine wood of live wood times
        ``(1 + crown_growth) ** years``. Dead wood is carried along as it is; unions and the walls
        of cavities stay as they were. Growth over a years and then b is growth over a + b.

    Raises
    ------
    InputError
        The years are below zero or no number.

    Notes
    -----
    All live wood thickens by the same share as the stem. So the sections at every fork keep their
    balance (sum of squares over the parent's 0.94 in apples of 8 years and 0.89 in cherries of 24,
    Brym & Ernest 2018 open data: much the same young and old), and leaf to section, as the pipe
    model has it (Shinozaki et al. 1964, from memory), is the same all through the tree.
    """
    check_years(years)
    if years == 0.0:
        return skeleton
    d0, d1 = grow_wood(skeleton, rates, years)
    live = skeleton.state != int(State.DEAD)
    factor = np.where(live, (1.0 + rates.crown_growth.value) ** years, 1.0)
    stretch = np.where(
        live & _beyond_fork(skeleton), (1.0 + rates.reach_growth.value) ** years, 1.0
    )
    start, end = _lengthened(skeleton, stretch)
    return marked(
        replace(
            skeleton,
            start_diameter_mm=d0,
            end_diameter_mm=d1,
            start_m=start,
            end_m=end,
            leaf_area_m2=skeleton.leaf_area_m2 * factor,
            fruit_kg=skeleton.fruit_kg * factor,
            fine_wood_kg=skeleton.fine_wood_kg * factor,
            limbs=_told(skeleton, d0 / skeleton.start_diameter_mm, stretch),
        )
    )


def _beyond_fork(skeleton: Skeleton) -> Bools:
    """Return ``(n,)`` True beyond the lowest fork: the clear stem keeps its length."""
    children = np.bincount(skeleton.parent[1:], minlength=skeleton.n)
    forks = np.flatnonzero(children > 1)
    fork = int(forks[0]) if forks.size else skeleton.n  # in preorder the first is the lowest
    return np.asarray(np.arange(skeleton.n) > fork)


def _told(skeleton: Skeleton, thicker: Floats, stretch: Floats) -> tuple[Limb, ...]:
    """Return the limbs with what was told of their size grown as their bases did."""
    found = []
    for one in skeleton.limbs:
        base = one.first_segment
        below = max(int(skeleton.parent[base]), 0)
        found.append(
            replace(
                one,
                diameter_mm=one.diameter_mm * float(thicker[base]),
                length_m=one.length_m * float(stretch[base]),
                at_m=one.at_m * float(stretch[below]),
            )
        )
    return tuple(found)


def _lengthened(skeleton: Skeleton, stretch: Floats) -> tuple[Floats, Floats]:
    """Return start and end points ``(n, 3)`` when each piece is stretched by a factor ``(n,)``.

    Each is moved by all that lies between it and the ground.
    """
    gain = (stretch - 1.0)[:, None] * (skeleton.end_m - skeleton.start_m)
    # summed over a segment and all that carry it: each adds over its slice, then leaves again
    steps = np.zeros((skeleton.n + 1, 3))
    steps[:-1] = gain
    np.subtract.at(steps, skeleton.subtree_end, gain)
    moved = np.cumsum(steps, axis=0)[:-1]
    return np.asarray(skeleton.start_m + moved - gain), np.asarray(skeleton.end_m + moved)


def check_years(years: float) -> None:
    """Raise an `InputError` where a time cannot be."""
    if not (np.isfinite(years) and years >= 0.0):
        raise InputError(f"{years:g} years of growth cannot be.", "Give 0 or more years.")


def grow_wood(
    skeleton: Skeleton, rates: Rates, years: float, share: Floats | None = None
) -> tuple[Floats, Floats]:
    """Return diameters ``(n,)`` at the start and the end of each segment after some years [mm].

    ``share`` ``(n,)`` is the growth of each segment over that of an uncut tree, 1 if None.
    """
    stem = float(skeleton.start_diameter_mm[0])
    gained = np.log1p(2.0 * rates.ring_mm.value * rates.sound.value * years / stem)
    growing = skeleton.state != int(State.DEAD)
    if not bool(growing[0]):  # nothing rises through a dead stem
        growing = np.zeros_like(growing)
    much = np.exp(gained * np.where(growing, 1.0 if share is None else share, 0.0))
    return (
        np.asarray(skeleton.start_diameter_mm * much),
        np.asarray(skeleton.end_diameter_mm * much),
    )


def marked(skeleton: Skeleton) -> Skeleton:
    """Return a tree whose grown values say so, its arrays closed to writing.

    Diameters keep their mark: a ring forecast adds less doubt than the mark of a derived diameter
    would, and the chance of failure must not leap by a change of mark.
    """
    rules, codes = skeleton.provenance.rules, dict(skeleton.provenance.codes)
    if GROWN not in rules:
        rules = (*rules, GROWN)
    for name in GROWS:
        codes[name] = np.full(skeleton.n, rules.index(GROWN), dtype=np.int64)
    found = replace(skeleton, provenance=Provenance(rules, codes))
    for name in found.__dataclass_fields__:
        value = getattr(found, name)
        if isinstance(value, np.ndarray):
            value.setflags(write=False)
    return found

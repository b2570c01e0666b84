"""What no sequence can cost less than, and which choice of rest seasons to look at first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.model.skeleton import Floats
from limbwright.stages.joint import Joint

__all__ = ["Bounds", "Ranked", "bounds"]

PLANE_ROUNDS = 8
"""Rounds of planes for a bound at most: later ones hardly raise it."""
CHOICE_ROUNDS = 3
"""Rounds of planes for one choice of rests after that, where no proof is asked for."""


@dataclass(frozen=True, slots=True)
class Ranked:
    """A choice of rests: its bound [h], its doses ``(Y,)``, share gone ``(Y, N)`` if worked out."""

    bound_h: float
    doses: Floats
    share: Floats | None


@dataclass(frozen=True, slots=True)
class Bounds:
    """The bound [h] of all sequences, the choices of rests by theirs, and the one to begin with."""

    bound_h: float
    ranked: tuple[Ranked, ...]
    begin: Ranked


def bounds(
    model: Joint, choices: Sequence[Floats], light_h: Floats | None, *, little_h: float, every: bool
) -> Bounds | None:
    """Return the linear bounds of the choices of rests; None where none of them can be.

    First each season is given the most that any choice gives it, with no rest but those common to
    all: no sequence of any choice costs less than that answer. A choice that comes within
    ``little_h`` of it is as good as the best, and the others are left at that bound unless
    ``every`` one is asked for.
    """
    model.set_light(light_h)
    loosest = np.max(choices, axis=0)
    model.hold_to(loosest)
    loose = model.solve_linear(PLANE_ROUNDS, gain_h=little_h)
    if loose is None:
        return None
    share, bound = loose
    order = _by_room(model, choices, share)
    worked: list[Ranked] = []
    others: list[Ranked] = []
    least = np.inf
    for k in order:
        doses = choices[k]
        if np.array_equal(doses, loosest):
            worked.append(Ranked(bound, doses, share))
        elif least <= bound + little_h and not every:
            others.append(Ranked(bound, doses, None))
            continue
        else:
            model.hold_to(doses)
            linear = model.solve_linear(
                PLANE_ROUNDS if every else CHOICE_ROUNDS,
                gain_h=little_h,
                enough_h=np.inf if every else least,
            )
            if linear is None:
                continue
            worked.append(Ranked(max(linear[1], bound), doses, linear[0]))
        least = min(least, worked[-1].bound_h)
    if not worked:
        return None
    ranked = sorted([*others, *worked], key=lambda one: one.bound_h)
    begin = min(worked, key=lambda one: one.bound_h)
    return Bounds(ranked[0].bound_h, tuple(ranked), begin)


def _by_room(model: Joint, choices: Sequence[Floats], share: Floats) -> list[int]:
    """Return the choices in order of how little of what ``share`` takes they have no room for."""
    leaf = model.years.leaf_m2
    went = np.diff(share, axis=0, prepend=np.zeros((1, share.shape[1])))
    taken = (went * leaf).sum(axis=1) / np.maximum(leaf.sum(axis=1), 1e-9)
    short = [float(np.maximum(taken - doses, 0.0).sum()) for doses in choices]
    return sorted(range(len(choices)), key=lambda k: short[k])

"""Whole trees as random examples, seeded or drawn by hypothesis."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from limbwright.model.skeleton import Bools, Ints, Limb, Skeleton, State, Union

__all__ = ["cut_masks", "random_skeleton", "skeletons", "worked_tree"]


def random_skeleton(
    seed: int,
    n: int = 12,
    *,
    prismatic: bool = False,
    bare: bool = False,
    faults: bool = False,
    species: str = "apple",
    tree: str = "Invented/1",
) -> Skeleton:
    """Return an invented tree of ``n`` segments, the same for the same seed.

    The first segment is an upright stem; every other springs from the end of an earlier one, one
    child carrying its parent's limb on and the rest opening a limb of their own. ``prismatic``
    segments do not taper, ``bare`` trees carry no leaf, fruit or fine wood, ``faults`` adds dead
    wood, included unions and cavities.
    """
    rng = np.random.default_rng(seed)
    parent = np.full(n, -1, dtype=np.int64)
    start, end = np.zeros((n, 3)), np.zeros((n, 3))
    d0, d1 = np.zeros(n), np.zeros(n)
    limb = np.zeros(n, dtype=np.int64)
    limbs: list[Limb] = []
    carried_on = np.zeros(n, dtype=np.bool_)
    length = rng.uniform(0.3, 1.5, n)
    for i in range(n):
        if i == 0:
            direction = np.array([0.05, -0.03, 1.0])
            d0[i] = rng.uniform(180.0, 400.0)
        else:
            p = int(rng.integers(max(0, i - 8), i))
            parent[i], start[i] = p, end[p]
            along = (end[p] - start[p]) / np.linalg.norm(end[p] - start[p])
            direction = along + rng.normal(0.0, 0.6, 3) + np.array([0.0, 0.0, 0.15])
            d0[i] = max(d1[p] * rng.uniform(0.45, 0.95), 6.0)
        direction = direction / np.linalg.norm(direction)
        end[i] = start[i] + length[i] * direction
        d1[i] = d0[i] if prismatic else d0[i] * rng.uniform(0.7, 1.0)
        if i > 0 and not carried_on[parent[i]]:
            carried_on[parent[i]] = True
            limb[i] = limb[parent[i]]
        else:
            limb[i] = len(limbs)
            limbs.append(
                Limb(
                    label="stem" if i == 0 else f"limb {len(limbs)}",
                    parent=-1 if i == 0 else int(limb[parent[i]]),
                    first_segment=i,
                    at_m=0.0 if i == 0 else float(length[: parent[i] + 1].sum() / (i + 1)),
                    diameter_mm=float(d0[i]),
                    length_m=float(length[i]),
                    bearing_deg=float(np.degrees(np.arctan2(direction[0], direction[1])) % 360.0),
                    rise_deg=float(np.degrees(np.arcsin(np.clip(direction[2], -1.0, 1.0)))),
                )
            )
    tips = ~np.isin(np.arange(n), parent)
    load = np.zeros(n) if bare else np.where(tips, 1.0, 0.3)
    state = np.full(n, int(State.LIVE), dtype=np.int64)
    union = np.full(n, int(Union.SOUND), dtype=np.int64)
    wall = np.full(n, np.nan)
    if faults:
        state[tips & (rng.random(n) < 0.25)] = int(State.DEAD)
        union[(rng.random(n) < 0.2) & (np.arange(n) > 0)] = int(Union.INCLUDED)
        hollow = rng.random(n) < 0.2
        wall[hollow] = (0.5 * d0 * rng.uniform(0.2, 0.8, n))[hollow]
    return Skeleton.build(
        tree=tree,
        species=species,
        parent=parent,
        start_m=start,
        end_m=end,
        start_diameter_mm=d0,
        end_diameter_mm=d1,
        limb=limb,
        limbs=limbs,
        state=state,
        leaf_area_m2=np.where(state == int(State.DEAD), 0.0, load * rng.uniform(0.2, 4.0, n)),
        fruit_kg=np.where(state == int(State.DEAD), 0.0, load * rng.uniform(0.0, 6.0, n)),
        fine_wood_kg=load * rng.uniform(0.0, 1.5, n),
        union=union,
        cavity_wall_mm=wall,
    )


def skeletons(
    min_segments: int = 1, max_segments: int = 24, *, faults: bool = True
) -> st.SearchStrategy[Skeleton]:
    """Return a strategy of invented trees; it shrinks towards few segments and small seeds."""
    return st.builds(
        lambda n, seed: random_skeleton(seed, n, faults=faults),
        n=st.integers(min_segments, max_segments),
        seed=st.integers(0, 2**20),
    )


def cut_masks(skeleton: Skeleton, cuts: Ints | list[int]) -> Bools:
    """Return ``(n,)`` True for the segments kept when each of ``cuts`` is cut at its base."""
    kept = np.ones(skeleton.n, dtype=np.bool_)
    for i in cuts:
        kept[skeleton.in_subtree(int(i))] = False
    return kept


def worked_tree(
    parent: list[int], start: object, end: object, d0: object, d1: object, **more: object
) -> Skeleton:
    """Return a tree of a worked example, all of one limb; ``more`` are columns of the skeleton."""
    foot_mm = float(np.asarray(d0, dtype=float)[0])
    return Skeleton.build(
        tree="worked example",
        species="apple",
        parent=parent,
        start_m=np.array(start, dtype=float),
        end_m=np.array(end, dtype=float),
        start_diameter_mm=np.array(d0, dtype=float),
        end_diameter_mm=np.array(d1, dtype=float),
        limb=[0] * len(parent),
        limbs=[Limb("stem", -1, 0, 0.0, foot_mm, 1.0, 0.0, 0.0)],
        **{k: np.array(v, dtype=float) for k, v in more.items()},
    )

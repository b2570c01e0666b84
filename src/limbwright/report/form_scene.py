"""What is drawn of a young tree: its shoots as segments, what comes off, cuts, what is turned."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from limbwright.form.crown import Crown, Shoot
from limbwright.form.results import FormPlan, FormRow
from limbwright.model.skeleton import Bools, Floats, Limb, Skeleton, State

__all__ = ["YoungScene", "young_scene", "young_skeleton"]

_STATES = {
    "dead": State.DEAD,
    "diseased": State.DISEASED,
    "broken": State.BROKEN,
}
LEAST_M = 1e-4
TIP_MM = 3.0
UNKNOWN_BEARING_DEG = 0.0
FLOOR_BELOW_M, LEAST_BREAK_M = 0.25, 0.5
"""How far below the lowest shoot a stem is drawn, and from what height on it is broken off;
judgement: a stem without shoots tells nothing."""


@dataclass(frozen=True, slots=True)
class YoungScene:
    """What is drawn of one young tree, the same for every view.

    ``gone`` ``(n,)`` marks segments that come off. ``kerfs`` are cuts as (order, point, thickness
    [mm], segment); ``turned`` the shoots set to another angle as (order, base, tip now, tip then).
    ``floor_m`` is the height from which it is drawn: a long bare stem is broken off.
    """

    skeleton: Skeleton
    gone: Bools
    kerfs: tuple[tuple[int, Floats, float, int], ...]
    turned: tuple[tuple[int, Floats, Floats, Floats], ...]
    clear_stem_m: float
    floor_m: float


def young_skeleton(
    crown: Crown, tree: str, cut_at_m: dict[str, float] | None = None, *, floor_m: float = 0.0
) -> Skeleton:
    """Return a crown as segments: every shoot parted where something grows from it or is cut.

    Parameters
    ----------
    cut_at_m
        Where along a shoot it is cut [m], by name.
    floor_m
        The height from which the stem is drawn.
    """
    cuts = cut_at_m or {}
    parent: list[int] = []
    start: list[tuple[float, float, float]] = []
    end: list[tuple[float, float, float]] = []
    thick: list[tuple[float, float]] = []
    limb: list[int] = []
    state: list[int] = []
    limbs: list[Limb] = []
    ends: dict[str, dict[float, int]] = {}
    number = {s.name: k for k, s in enumerate(crown.every)}
    for k, shoot in enumerate(crown.every):
        marks = {round(c.at_m, 4) for c in crown.shoots if c.parent == shoot.name}
        marks |= {round(cuts[shoot.name], 4)} if shoot.name in cuts else set()
        inner = sorted(m for m in marks if LEAST_M < m < shoot.length_m - LEAST_M)
        joints = [floor_m if shoot.level == 0 else 0.0, *inner, shoot.length_m]
        before = _segment_at(ends.get(shoot.parent, {}), shoot.at_m)
        ends[shoot.name] = {}
        limbs.append(
            Limb(
                shoot.name,
                number.get(shoot.parent, -1),
                len(parent),
                shoot.at_m,
                shoot.diameter_mm,
                shoot.length_m,
                shoot.bearing_deg or UNKNOWN_BEARING_DEG,
                shoot.rise_deg,
            )
        )
        for a, b in pairwise(joints):
            ends[shoot.name][b] = len(parent)
            parent.append(before)
            start.append(shoot.point_at(a))
            end.append(shoot.point_at(b))
            thick.append((_thick(shoot, a), _thick(shoot, b)))
            limb.append(k)
            state.append(_STATES.get(shoot.state, State.LIVE))
            before = len(parent) - 1
    widths = np.array(thick)
    return Skeleton.build(
        tree=tree,
        species="",
        parent=parent,
        start_m=np.array(start),
        end_m=np.array(end),
        start_diameter_mm=widths[:, 0],
        end_diameter_mm=widths[:, 1],
        limb=limb,
        limbs=limbs,
        state=np.array(state, dtype=np.int64),
    )


def _segment_at(ends: dict[float, int], at_m: float) -> int:
    """Return the segment of the parent that ends nearest to a place along it; -1 at the ground."""
    if not ends:
        return -1
    return ends[min(ends, key=lambda b: abs(b - at_m))]


def _thick(shoot: Shoot, along_m: float) -> float:
    tip = min(TIP_MM, shoot.diameter_mm)
    return shoot.diameter_mm + (tip - shoot.diameter_mm) * along_m / shoot.length_m


def young_scene(plan: FormPlan) -> YoungScene:
    """Return what is drawn of a plan."""
    crown = plan.crown
    along = {r.shoot: (r.keep_cm or 0.0) / 100.0 for r in plan.rows if r.cuts}
    floor = _floor_m(crown, plan.target.metres)
    s = young_skeleton(crown, plan.tree, {n: a for n, a in along.items() if a > 0.0}, floor_m=floor)
    by_name = crown.by_name
    gone = np.zeros(s.n, dtype=np.bool_)
    kerfs = []
    turned = []
    number = {one.label: k for k, one in enumerate(s.limbs)}
    for row in plan.rows:
        shoot = by_name[row.shoot]
        if row.cuts:
            rows = np.flatnonzero(s.limb == number[row.shoot])
            way = np.linalg.norm(s.start_m[rows] - np.array(shoot.base_m), axis=1)
            beyond = rows[way >= along[row.shoot] - 2 * LEAST_M]
            if beyond.size:
                first = int(beyond[0])
                gone[s.in_subtree(first)] = True
                point = np.array(shoot.point_at(along[row.shoot]))
                kerfs.append((row.order, point, float(s.start_diameter_mm[first]), first))
        if row.spread_to_deg is not None and shoot.level > 0:
            turned.append(_turn(row, shoot, along.get(row.shoot)))
    return YoungScene(s, gone, tuple(kerfs), tuple(turned), plan.target.metres, floor)


def _turn(row: FormRow, shoot: Shoot, keep_m: float | None) -> tuple[int, Floats, Floats, Floats]:
    length = shoot.length_m if keep_m is None else keep_m
    then = replace(shoot, rise_deg=90.0 - (row.spread_to_deg or 0.0))
    return (
        row.order,
        np.array(shoot.base_m),
        np.array(shoot.point_at(length)),
        np.array(then.point_at(length)),
    )


def _floor_m(crown: Crown, clear_stem_m: float) -> float:
    """Return the height from which a tree is drawn: a little below the lowest thing to see."""
    lowest = min((x.base_m[2] for x in crown.shoots), default=clear_stem_m)
    top = min(clear_stem_m, lowest, crown.leader.length_m - 0.5)
    floor = math.floor(10.0 * (top - FLOOR_BELOW_M)) / 10.0
    return floor if floor >= LEAST_BREAK_M else 0.0

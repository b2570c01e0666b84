"""The measured limbs as curved, tapering axes in space."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from limbwright.model import Fault, LimbRecord, TreeSurvey
from limbwright.model.skeleton import Floats
from limbwright.trade.parameters import parameters

__all__ = ["LEAST_TAPER", "RUNS_OUT", "Axis", "axes_of", "taken_at_m"]

TABLE = parameters("allometry")
FORK = 0.95
"""A child attached beyond this share of its parent's length carries the parent on (judgement)."""
STEM_BREAK = 0.8
"""A stem bearing limbs beyond this share of its length ends in its crown break (judgement)."""
STEM_SHARE = 0.4
"""... if those limbs hold at least this share of its section; else it runs out as a leader."""

LEAST_TAPER = 0.5
"""Measured limbs never leave less than this of an axis's straight taper (judgement)."""
RUNS_OUT = 0.75
"""An axis ending thicker than this share of its base ends in a fork, not in a tip (judgement)."""
SCAFFOLD_RISE_DEG, LIMB_RISE_DEG = 45.0, 30.0
"""Rise of a scaffold limb, and of a limb on a limb, where none was taken (judgement)."""
TAKEN = "taken_at_m"
"""A further column of a limb table: how far from the limb's base its diameter was taken [m]."""
NEAR = 1e-3
"""Limbs attached nearer to each other than this share of their parent share a node (judgement)."""


@dataclass(frozen=True, slots=True)
class Axis:
    """One limb in space: nodes along it, where its children sit, and what was assumed.

    ``at_m`` ``(k,)`` distances along the limb, ``point_m`` ``(k, 3)``, ``diameter_mm`` ``(k,)``;
    ``parent_node`` is the node of the parent's axis where it starts, ``attached_m`` along it.
    ``assumed`` names the values that were not measured, with the rule used.
    """

    record: LimbRecord
    parent: int
    parent_node: int
    attached_m: float
    at_m: Floats
    point_m: Floats
    diameter_mm: Floats
    bearing_deg: float
    rise_deg: float
    assumed: Mapping[str, str]


def axes_of(tree: TreeSurvey) -> tuple[list[Axis], list[Fault]]:
    """Return the axes of a tree's limbs in their order (parents first) and what was assumed."""
    order = {record.limb: i for i, record in enumerate(tree.limbs)}
    children: dict[int, list[int]] = {i: [] for i in range(len(tree.limbs))}
    for i, record in enumerate(tree.limbs[1:], 1):
        children[order[record.parent]].append(i)
    bearing, turned = _bearings(tree, order, children)
    attach = [_attachment(record, tree, order) for record in tree.limbs]
    axes: list[Axis] = []
    faults: list[Fault] = []
    for i, record in enumerate(tree.limbs):
        parent = order[record.parent] if i else -1
        assumed = dict(turned.get(i, {}))
        rise, end_rise = _rises(record, tree, i == 0, parent == 0, assumed)
        if i and record.at_m is None:
            assumed["at_m"] = "assumed: at the stem's end, or half way along a limb"
        marks = sorted({_inside(attach[c], record.length_m) for c in children[i]})
        at = _nodes(record.length_m, marks)
        start, node = np.zeros(3), -1
        if i:
            # never at the very foot, where no segment of the parent ends
            node = 1 + int(np.argmin(np.abs(axes[parent].at_m[1:] - attach[i])))
            start = axes[parent].point_m[node]
        end_mm = _end_diameter(record, [tree.limbs[c] for c in children[i]], attach, order, i == 0)
        if record.end_diameter_mm is None:
            assumed["diameter"] = "derived: straight taper to the end of the limb"
        axes.append(
            Axis(
                record,
                parent,
                node,
                attach[i],
                at,
                start + _curve(at, record.length_m, bearing[i], rise, end_rise),
                _taper(record, at, end_mm, [(attach[c], tree.limbs[c]) for c in children[i]]),
                bearing[i],
                rise,
                assumed,
            )
        )
        faults.extend(_warn(tree, record, assumed))
    return axes, faults


def taken_at_m(record: LimbRecord) -> float:
    """Return how far from a limb's base its diameter was taken [m], 0 (the collar) unless told."""
    found = _told_place(record)
    return found if found is not None else 0.0


def _told_place(record: LimbRecord) -> float | None:
    try:
        place = float(record.extra.get(TAKEN, "").replace(",", "."))
    except ValueError:
        return None
    return place if 0.0 <= place <= record.length_m else None


def _taper(
    record: LimbRecord, at: Floats, end_mm: float, below: list[tuple[float, LimbRecord]]
) -> Floats:
    """Return diameters along a limb: a straight taper, thinner where measured limbs took more.

    Beyond a measured limb the axis has no more section than the base had less that limb's (area
    balance: sum of squares .82 to 1.04 in Brym & Ernest 2018 data), but never under half its
    taper. Up to a measured limb it is no thinner than that limb, which it bears (else the stem of a
    tree with few limbs taped would run out below them). A limb measured at both ends, or ending in
    a fork or the crown break, tapers straight.
    """
    straight = record.diameter_mm + (end_mm - record.diameter_mm) * at / record.length_m
    breaks = end_mm >= RUNS_OUT * record.diameter_mm
    if record.end_diameter_mm is not None or breaks or not below:
        return np.asarray(straight)
    taken = np.zeros(at.size)
    for attached, limb in below:
        taken += np.where(at > attached + 1e-9, limb.diameter_mm**2, 0.0)
    left = np.sqrt(np.maximum(record.diameter_mm**2 - taken, 0.0))
    tapered = np.maximum(np.minimum(straight, left), LEAST_TAPER * straight)
    bears = np.zeros(at.size)
    for attached, limb in below:
        carried = min(limb.diameter_mm, record.diameter_mm)
        bears = np.maximum(bears, np.where(at <= attached + 1e-9, carried, 0.0))
    return np.asarray(np.maximum(tapered, bears))


def _attachment(record: LimbRecord, tree: TreeSurvey, order: Mapping[str, int]) -> float:
    if not record.parent:
        return 0.0
    parent = tree.limbs[order[record.parent]]
    if record.at_m is not None:
        return min(record.at_m, parent.length_m)
    return parent.length_m if order[record.parent] == 0 else 0.5 * parent.length_m


def _inside(at_m: float, length_m: float) -> float:
    return float(min(max(at_m, 0.02 * length_m), length_m))


def _nodes(length_m: float, marks: list[float]) -> Floats:
    pieces = max(2, int(np.ceil(length_m / TABLE["segment_length"].value)))
    even = np.linspace(0.0, length_m, pieces + 1)
    if not marks:
        return even
    taken = np.asarray(marks)
    near = np.abs(even[:, None] - taken[None, :]).min(axis=1) < 0.05 * length_m / pieces
    near[[0, -1]] = False
    apart = np.diff(taken, prepend=0.0) > NEAR * length_m
    apart &= taken < length_m * (1.0 - NEAR)
    return np.unique(np.concatenate([even[~near], taken[apart]]))


def _curve(at: Floats, length_m: float, bearing: float, rise: float, end_rise: float) -> Floats:
    middle = 0.5 * (at[1:] + at[:-1]) / length_m
    angle = np.radians(rise + (end_rise - rise) * middle)
    turn = np.radians(bearing)
    level = np.cos(angle)
    step = np.stack([level * np.sin(turn), level * np.cos(turn), np.sin(angle)], axis=1)
    points = np.zeros((at.size, 3))
    np.cumsum(step * np.diff(at)[:, None], axis=0, out=points[1:])
    return points


def _rises(
    record: LimbRecord, tree: TreeSurvey, stem: bool, on_stem: bool, assumed: dict[str, str]
) -> tuple[float, float]:
    rise = record.rise_deg
    if rise is None:
        lean = tree.station.lean_deg
        rise = (90.0 - (lean or 0.0)) if stem else (SCAFFOLD_RISE_DEG if on_stem else LIMB_RISE_DEG)
        if not stem or lean is None:
            assumed["direction"] = "assumed: stem upright, scaffold limb 45, limb 30 degrees"
    end = record.end_rise_deg
    if end is None:
        bend = 0.0 if stem else TABLE["droop"].value * float(np.cos(np.radians(rise)))
        end = max(rise - bend, -90.0)
    return rise, end


def _bearings(
    tree: TreeSurvey, order: Mapping[str, int], children: Mapping[int, list[int]]
) -> tuple[list[float], dict[int, dict[str, str]]]:
    """Return every bearing; a blank one goes in the widest gap round the same parent."""
    found: list[float | None] = [r.bearing_deg for r in tree.limbs]
    if found[0] is None:
        found[0] = tree.station.lean_bearing_deg or 0.0
    turned: dict[int, dict[str, str]] = {}
    for siblings in children.values():
        for i in siblings:
            if found[i] is not None:
                continue
            known = sorted(b % 360.0 for s in siblings if (b := found[s]) is not None)
            if known:
                gaps = np.diff([*known, known[0] + 360.0])
                widest = int(np.argmax(gaps))
                found[i] = float((known[widest] + gaps[widest] / 2.0) % 360.0)
            else:
                up = found[order[tree.limbs[i].parent]] or 0.0
                found[i] = up if order[tree.limbs[i].parent] == 0 else (up + 60.0) % 360.0
            turned[i] = {"direction": "assumed: bearing in the widest gap round the parent"}
    return [0.0 if b is None else float(b) for b in found], turned


def _end_diameter(
    record: LimbRecord,
    below: list[LimbRecord],
    attach: list[float],
    order: Mapping[str, int],
    stem: bool,
) -> float:
    if record.end_diameter_mm is not None:
        return record.end_diameter_mm
    far = FORK if not stem else STEM_BREAK
    on = [c for c in below if attach[order[c.limb]] >= far * record.length_m]
    share = sum(c.diameter_mm**2 for c in on) / record.diameter_mm**2
    if stem and share >= STEM_SHARE:
        return TABLE["stem_taper"].value * record.diameter_mm
    if not stem and on:
        return min(max(c.diameter_mm for c in on), record.diameter_mm)
    return min(TABLE["tip_diameter"].value, 0.7 * record.diameter_mm)


def _warn(tree: TreeSurvey, record: LimbRecord, assumed: Mapping[str, str]) -> list[Fault]:
    told = record.extra.get(TAKEN, "")
    misread = [
        Fault(
            record.file,
            record.row,
            TAKEN,
            told,
            f"limb {record.limb} of {tree.station.station} is {record.length_m:g} m long; its "
            "diameter is taken to be from just past the collar",
            "Give metres from the limb's base, as a number between 0 and its length.",
            "warning",
        )
    ]
    misread = misread if told and _told_place(record) is None else []
    notable = {"direction": "bearing_deg", "at_m": "at_m"}
    return misread + [
        Fault(
            record.file,
            record.row,
            column,
            "",
            f"limb {record.limb} of {tree.station.station} has a value missing ({assumed[key]})",
            "Measure it when next at the tree.",
            "warning",
        )
        for key, column in notable.items()
        if key in assumed and record.parent
    ]

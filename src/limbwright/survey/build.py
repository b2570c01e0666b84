"""From the limbs of a survey to the skeleton of the whole tree."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from limbwright.model import Fault, Limb, Provenance, Skeleton, State, TreeSurvey, Union
from limbwright.model.skeleton import Floats
from limbwright.survey.axes import Axis, axes_of
from limbwright.survey.crown import Budget, Laterals, budgets, laterals
from limbwright.trade.species import species

__all__ = ["build_skeleton"]

RULES = (
    "measured",
    "derived: straight taper from base to tip",
    "derived: lateral from the limb's side wood (allometry, seeded)",
    "derived: side wood of the limb's allometry",
    "derived: leaf by limb section (pipe model)",
    "derived: crop by limb section",
    "assumed: direction or place not taken in the survey",
)
LATERAL_PARTS = (0.4, 0.6)
"""Judgement: share of a lateral's twigs, leaf and fruit on its inner and on its outer half."""
AXIS_LEAF = 0.3
"""Share of a limb's own leaf and twigs that sits on its outer axis, not on laterals (judgement)."""
UNIONS = {u.name.lower(): u for u in Union}
STATES = {s.name.lower(): s for s in State}


@dataclass
class _Rows:
    """Columns of segments as they grow, limb by limb."""

    parent: list[int] = field(default_factory=list)
    start: list[Floats] = field(default_factory=list)
    end: list[Floats] = field(default_factory=list)
    d0: list[float] = field(default_factory=list)
    d1: list[float] = field(default_factory=list)
    limb: list[int] = field(default_factory=list)
    state: list[int] = field(default_factory=list)
    leaf: list[float] = field(default_factory=list)
    fruit: list[float] = field(default_factory=list)
    twigs: list[float] = field(default_factory=list)
    surveyed: list[bool] = field(default_factory=list)
    direction: list[int] = field(default_factory=list)

    def add(
        self,
        parent: int,
        start: Floats,
        end: Floats,
        d0: float,
        d1: float,
        limb: int,
        state: State,
        *,
        leaf: float = 0.0,
        fruit: float = 0.0,
        twigs: float = 0.0,
        surveyed: bool = True,
        direction: int = 0,
    ) -> int:
        """Add one segment and return its index."""
        self.parent.append(parent)
        self.start.append(start)
        self.end.append(end)
        self.d0.append(d0)
        self.d1.append(d1)
        self.limb.append(limb)
        self.state.append(int(state))
        self.leaf.append(leaf)
        self.fruit.append(fruit)
        self.twigs.append(twigs)
        self.surveyed.append(surveyed)
        self.direction.append(direction)
        return len(self.parent) - 1


def build_skeleton(tree: TreeSurvey, *, seed: int = 0) -> tuple[Skeleton, tuple[Fault, ...]]:
    """Build the whole tree from its taped limbs.

    Measured limbs become curved tapering axes; laterals, twigs, leaf and an ordinary crop are
    derived by allometry (`limbwright.survey.crown`) and marked so. The same survey and seed give
    the same tree. The faults say what had to be assumed.
    """
    station = tree.station
    name = f"{station.orchard}/{station.station}" if station.orchard else station.station
    kind = species(next((r.species for r in tree.limbs if r.species), station.species))
    axes, faults = axes_of(tree)
    given = budgets(axes, kind.key)
    rng = np.random.default_rng((seed, zlib.crc32(name.encode())))
    rows = _Rows()
    base_of: list[int] = []
    ends: list[list[int]] = []
    for i, (axis, budget) in enumerate(zip(axes, given, strict=True)):
        side = laterals(axis, budget, kind.key, rng)
        below = -1 if i == 0 else _segment_at(ends[axis.parent], axis.parent_node)
        ends.append(_grow(rows, i, axis, budget, side, below))
        base_of.append(ends[i][0])
    limbs = [_limb(axis, base) for axis, base in zip(axes, base_of, strict=True)]
    keep, reasons = _keeps(rows, axes)
    union = np.zeros(len(rows.parent), dtype=np.int64)
    wall, far_wall = (np.full(len(rows.parent), np.nan) for _ in range(2))
    opening = np.zeros(len(rows.parent))
    for axis, base in zip(axes, base_of, strict=True):
        union[base] = UNIONS[axis.record.union]
        if axis.record.cavity_wall_mm is not None:
            wall[base] = axis.record.cavity_wall_mm
            far_wall[base] = _or(axis.record.cavity_far_wall_mm, np.nan)
            opening[base] = _or(axis.record.cavity_open_deg, 0.0)
    surveyed = np.asarray(rows.surveyed, dtype=np.bool_)
    skeleton = Skeleton.build(
        tree=name,
        species=kind.key,
        parent=rows.parent,
        start_m=np.asarray(rows.start),
        end_m=np.asarray(rows.end),
        start_diameter_mm=np.asarray(rows.d0),
        end_diameter_mm=np.asarray(rows.d1),
        limb=rows.limb,
        limbs=limbs,
        state=np.asarray(rows.state, dtype=np.int64),
        leaf_area_m2=np.asarray(rows.leaf),
        fruit_kg=np.asarray(rows.fruit),
        fine_wood_kg=np.asarray(rows.twigs),
        union=union,
        cavity_wall_mm=wall,
        cavity_far_wall_mm=far_wall,
        cavity_open_deg=opening,
        keep=keep,
        keep_reasons=reasons,
        surveyed=surveyed,
        provenance=Provenance(
            RULES,
            {
                "diameter": np.where(surveyed, 1, 2),
                "length": np.where(surveyed, 0, 2),
                "direction": np.where(surveyed, np.asarray(rows.direction), 2),
                "fine_wood": np.full(surveyed.size, 3),
                "leaf_area": np.full(surveyed.size, 4),
                "fruit": np.full(surveyed.size, 5),
            },
        ),
    )
    return skeleton, tuple(faults)


def _or(value: float | None, default: float) -> float:
    return default if value is None else value


def _segment_at(ends: Sequence[int], node: int) -> int:
    """Return the segment that ends at a node; a limb at its parent's foot rides the first one."""
    return ends[max(node - 1, 0)]


def _grow(
    rows: _Rows, limb: int, axis: Axis, budget: Budget, side: Laterals, below: int
) -> list[int]:
    """Add a limb's axis and its laterals; return the axis segments in order."""
    state = STATES[axis.record.state]
    if not budget.alive:
        state = State.DEAD
    share = axis.at_m / axis.at_m[-1]
    middle = 0.5 * (share[1:] + share[:-1])
    outer = np.where(middle > 0.5, np.diff(share), 0.0)
    outer = outer / max(float(outer.sum()), 1e-12)
    on_axis = AXIS_LEAF if side.node.size else 1.0
    twigs_axis = max(0.0, budget.side_kg - float(side.twigs_kg.sum())) if not side.node.size else 0
    direction = 6 if "direction" in axis.assumed or "at_m" in axis.assumed else 0
    segments: list[int] = []
    at = below
    for k in range(axis.at_m.size - 1):
        at = rows.add(
            at,
            axis.point_m[k],
            axis.point_m[k + 1],
            float(axis.diameter_mm[k]),
            float(axis.diameter_mm[k + 1]),
            limb,
            state,
            leaf=budget.leaf_m2 * on_axis * outer[k],
            fruit=budget.fruit_kg * on_axis * outer[k],
            twigs=float(twigs_axis * outer[k]),
            direction=direction,
        )
        segments.append(at)
    rest = 1.0 - on_axis
    for j in range(side.node.size):
        carrier = segments[int(side.node[j]) - 1]
        for piece, part in enumerate(LATERAL_PARTS):
            carrier = rows.add(
                carrier,
                side.point_m[j, piece],
                side.point_m[j, piece + 1],
                float(side.diameter_mm[j, piece]),
                float(side.diameter_mm[j, piece + 1]),
                limb,
                state,
                twigs=part * float(side.twigs_kg[j]),
                leaf=part * rest * budget.leaf_m2 * float(side.weight[j]),
                fruit=part * rest * budget.fruit_kg * float(side.weight[j]),
                surveyed=False,
            )
    return segments


def _limb(axis: Axis, base: int) -> Limb:
    record = axis.record
    crown = 2.0 if record.crown is None else record.crown
    return Limb(
        label=record.limb,
        parent=axis.parent,
        first_segment=base,
        at_m=axis.attached_m,
        diameter_mm=record.diameter_mm,
        length_m=record.length_m,
        bearing_deg=axis.bearing_deg % 360.0,
        rise_deg=axis.rise_deg,
        crown=crown,
        state=STATES[record.state],
        union=UNIONS[record.union],
        cavity_wall_mm=record.cavity_wall_mm,
        cavity_far_wall_mm=record.cavity_far_wall_mm,
        cavity_open_deg=record.cavity_open_deg,
        keep=record.keep,
        rubs=record.rubs,
        note=record.note,
    )


def _keeps(rows: _Rows, axes: Sequence[Axis]) -> tuple[np.ndarray, tuple[str, ...]]:
    reasons = [""]
    code = []
    for axis in axes:
        reason = axis.record.keep
        if reason and reason not in reasons:
            reasons.append(reason)
        code.append(reasons.index(reason))
    surveyed = np.asarray(rows.surveyed, dtype=np.bool_)
    of_limb = np.asarray(code, dtype=np.int64)[np.asarray(rows.limb, dtype=np.int64)]
    return np.where(surveyed, of_limb, 0), tuple(reasons)

"""The segments table: whole skeletons, one row a segment."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from limbwright.errors import LimbwrightError
from limbwright.model import Fault, Faults, Skeleton
from limbwright.model.faults import Severity
from limbwright.model.skeleton import Bools, Floats, Ints, Provenance, State, Union
from limbwright.survey.allometry import end_leaf_and_fruit
from limbwright.survey.cells import Cells
from limbwright.survey.header import check_header
from limbwright.survey.labels import label_limbs, limbs_of
from limbwright.survey.limbs import STATES, UNIONS, cavity
from limbwright.survey.stations import known_species
from limbwright.survey.tables import Table, read_table
from limbwright.trade.parameters import parameters
from limbwright.trade.species import species as find_species

__all__ = ["DERIVABLE", "SEGMENT_COLUMNS", "SegmentsSurvey", "read_segments"]

_POINTS = ("x0_m", "y0_m", "z0_m", "x1_m", "y1_m", "z1_m")
SEGMENT_COLUMNS = (
    *("tree", "segment", "parent", *_POINTS, "d0_mm", "d1_mm", "state", "species"),
    *("leaf_area_m2", "fruit_kg", "fine_wood_kg", "limb", "union", "cavity_wall_mm"),
    *("cavity_far_wall_mm", "cavity_open_deg", "keep", "surveyed", "derived"),
    *("crown", "rubs", "note"),
)
Extra = Mapping[int, Mapping[str, str]]
"""The filled cells of unknown columns by segment number, kept to be written out again."""
DERIVABLE = ("diameter", "length", "direction", "leaf_area", "fruit", "fine_wood")
"""Values of a segment that may be given by a rule and not by a measure; see `Provenance`."""
_FARTHEST_M = 1.0e8
"""Beyond any map projection's coordinates; judgement: false northings reach 1e7."""


ASSUMED_SPECIES = "apple"
"""What a tree of unnamed species is taken for: the commonest in the orchards served."""


@dataclass(frozen=True, slots=True)
class SegmentsSurvey:
    """The skeletons that can be built, everything found wrong, and each tree's unknown columns."""

    skeletons: tuple[Skeleton, ...]
    faults: tuple[Fault, ...]
    extra: Mapping[str, Extra] = field(default_factory=dict)


@dataclass(slots=True)
class _Segment:
    cells: Cells
    number: int
    parent: int
    points: Floats
    d0: float
    d1: float


def read_segments(source: Path | Table, *, species: str | None = None) -> SegmentsSurvey:
    """Read whole skeletons, keeping every good segment and reporting every fault at once.

    Parameters
    ----------
    source
        Table of segments: a CSV or XLSX file, or one already read and mapped.
    species
        Species of trees for which the table names none.

    Raises
    ------
    InputError
        The file cannot be read at all, or the species is not known.
    """
    fallback = find_species(species).key if species else ""
    faults = Faults()
    if isinstance(source, Table):
        table = source
    else:
        table = read_table(Path(source), "segments", SEGMENT_COLUMNS)
    faults.extend(table.faults)
    needed = ("tree", "segment", "parent", *_POINTS, "d0_mm", "d1_mm")
    check_header(table, SEGMENT_COLUMNS, needed, faults)
    if "leaf_area_m2" not in table.header:
        fault = "there is no such column; leaf and crop are derived by section at the ends"
        remedy = "Add it where known."
        faults.add(Fault(table.file, 1, "leaf_area_m2", "", fault, remedy, "warning"))
    trees: dict[str, dict[int, _Segment]] = {}
    for row in table.rows:
        cells = Cells(table, row, faults)
        name = cells.needed("tree")
        if not name:
            continue
        tree = trees.setdefault(name, {})
        segment = _segment(cells)
        if segment is None:
            continue
        if segment.number in tree:
            first = tree[segment.number].cells.row.number
            cells.fault(
                "segment", f"already on row {first}", "Number each once; the row is left out."
            )
            continue
        tree[segment.number] = segment
    skeletons = []
    for name, tree in trees.items():
        built = _build(name, _rooted(tree), table, faults, fallback)
        if built is not None:
            skeletons.append(built)
    extra = {
        name: {k: more for k, one in tree.items() if (more := one.cells.extra(SEGMENT_COLUMNS))}
        for name, tree in trees.items()
    }
    return SegmentsSurvey(tuple(skeletons), tuple(faults), {k: v for k, v in extra.items() if v})


def _whole(cells: Cells, column: str) -> int | None:
    if not cells.needed(column):
        return None
    value = cells.number(column)
    if value is not None and (value != int(value) or abs(value) > 2**53):
        cells.fault(column, "not a whole number", "Number the segments 0, 1, 2 ...")
        return None
    return None if value is None else int(value)


def _segment(cells: Cells) -> _Segment | None:
    number, parent = _whole(cells, "segment"), _whole(cells, "parent")
    values: list[float] = []
    for column in (*_POINTS, "d0_mm", "d1_mm"):
        value = cells.number(column) if cells.needed(column) else None
        if value is None:
            continue
        most = 2500.0 if column.startswith("d") else _FARTHEST_M
        if (
            abs(value) > most
            or (column == "d0_mm" and value <= 0)
            or (column == "d1_mm" and value < 0)
        ):
            unit = "mm, above 0" if column.startswith("d") else "m"
            cells.fault(column, "not a possible value", f"Give it in {unit}.")
            continue
        values.append(value)
    if number is None or parent is None or len(values) < 8:
        return None
    if number < 0:
        cells.fault("segment", "below 0", "Number the segments 0, 1, 2 ...")
        return None
    return _Segment(cells, number, parent, np.array(values[:6]).reshape(2, 3), *values[6:])


def _rooted(tree: dict[int, _Segment]) -> list[_Segment]:
    """Return the segments that hang together on one foot, in the order of the file."""
    for one in list(tree.values()):
        if float(np.linalg.norm(one.points[1] - one.points[0])) > 1e-9:
            continue
        root = one.parent == -1
        said = "Leave it out" if root else "Leave it out; what it bears is read as on its parent"
        one.cells.fault("x1_m", "the segment has no length", f"{said}.", warning=not root)
        del tree[one.number]
        if not root and one.parent != one.number:
            for other in tree.values():
                if other.parent == one.number:
                    other.parent = one.parent
    roots = [one for one in tree.values() if one.parent == -1]
    if len(roots) > 1:
        foot = max(roots, key=lambda one: one.d0)
        for one in roots:
            if one is not foot:
                one.cells.fault(
                    "parent",
                    f"a second segment on the ground; segment {foot.number} is the stem's foot",
                    "Name its parent; it is left out with all it bears.",
                )
        roots = [foot]
    children: dict[int, list[int]] = {}
    for one in tree.values():
        children.setdefault(one.parent, []).append(one.number)
    reached: set[int] = set()
    queue = [one.number for one in roots]
    while queue:
        number = queue.pop()
        reached.add(number)
        queue.extend(children.get(number, []))
    for one in tree.values():
        if one.number in reached or one.parent == -1:
            continue
        if one.parent not in tree:
            one.cells.fault(
                "parent", "no such segment", "-1 is the ground; the segment is left out."
            )
        else:
            one.cells.fault(
                "parent",
                "its chain of parents does not end at the stem's foot",
                "Put its parents right; the segment is left out.",
            )
    return [one for one in tree.values() if one.number in reached]


def _build(
    name: str, kept: list[_Segment], table: Table, faults: Faults, fallback: str
) -> Skeleton | None:
    def tree_fault(column: str, fault: str, remedy: str, *, warning: bool = False) -> None:
        kind: Severity = "warning" if warning else "error"
        row = kept[0].cells.row.number if kept else 0
        faults.add(Fault(table.file, row, column, name, fault, remedy, kind))

    if not kept:
        tree_fault("tree", "no segment of this tree stands on the ground", "Parent -1 is the foot.")
        return None
    kinds = [known_species(one.cells) for one in kept]
    kind = next((k for k in kinds if k), fallback)
    if not kind:
        # Loads and shape do not hang on the species; strength and season do, hence the warning.
        kind = ASSUMED_SPECIES
        tree_fault(
            "species",
            f"the tree has no species; taken as {kind}, whose wood and season it is given",
            "Fill it in or give --species.",
            warning=True,
        )
    at = {one.number: k for k, one in enumerate(kept)}
    parent: Ints = np.array([at.get(one.parent, -1) for one in kept], dtype=np.int64)
    points = np.array([one.points for one in kept])
    foot = points[int(np.flatnonzero(parent == -1)[0]), 0].copy()
    if float(np.abs(foot).max()) > parameters("survey_ranges")["segment_from_foot_m"].high:
        points = points - foot
        remedy = "All points are moved so that the stem's foot is at 0, 0, 0."
        tree_fault("tree", "the points are on a map", remedy, warning=True)
    _check_gaps(kept, parent, points)
    _check_shape(kept, parent, points)
    amounts = {
        c: np.array([_amount(one.cells, c) for one in kept])
        for c in ("leaf_area_m2", "fruit_kg", "fine_wood_kg")
    }
    cavities = [cavity(one.cells, one.d0) for one in kept]
    reasons = ("", *dict.fromkeys(t for one in kept if (t := one.cells.text("keep"))))
    d0, d1 = np.array([one.d0 for one in kept]), np.array([one.d1 for one in kept])
    states = [STATES.index(one.cells.word("state", STATES, "live")) for one in kept]
    unions = [UNIONS.index(one.cells.word("union", UNIONS, "sound")) for one in kept]
    label = label_limbs([one.cells for one in kept], [o.number for o in kept], parent, d0)
    rows = [one.cells for one in kept]
    limb, limbs = limbs_of(label, parent, points, d0, states, unions, cavities, rows)
    codes: Ints = np.zeros(len(kept), dtype=np.int64)
    bare = "leaf_area_m2" not in table.header
    if bare:
        live = np.array([STATES[i] != "dead" for i in states])
        leaf, fruit = end_leaf_and_fruit(kind, parent, d0, live)
        amounts["leaf_area_m2"] = leaf
        if "fruit_kg" not in table.header:
            amounts["fruit_kg"] = fruit
    told = {name: mask.astype(np.int64) for name, mask in _derived(kept).items() if mask.any()}
    if bare:
        told["leaf_area"] = codes + 2
    rules = (
        "measured",
        "derived: as the table says",
        "derived: leaf by section at the ends (pipe model)",
    )
    provenance = Provenance(rules, told)
    try:
        return Skeleton.build(
            tree=name,
            species=kind,
            parent=parent,
            start_m=points[:, 0],
            end_m=points[:, 1],
            start_diameter_mm=d0,
            end_diameter_mm=d1,
            limb=limb,
            limbs=limbs,
            state=np.array(states, dtype=np.int64) + int(State.LIVE),
            leaf_area_m2=amounts["leaf_area_m2"],
            fruit_kg=amounts["fruit_kg"],
            fine_wood_kg=amounts["fine_wood_kg"],
            union=np.array(unions, dtype=np.int64) + int(Union.SOUND),
            cavity_wall_mm=np.array([np.nan if w is None else w for w, _, _ in cavities]),
            cavity_far_wall_mm=np.array([np.nan if f is None else f for _, f, _ in cavities]),
            cavity_open_deg=np.array([0.0 if o is None else o for _, _, o in cavities]),
            keep=np.array([reasons.index(o.cells.text("keep")) for o in kept], dtype=np.int64),
            keep_reasons=reasons,
            surveyed=np.array(
                [o.cells.word("surveyed", ("yes", "no"), "yes") == "yes" for o in kept]
            ),
            segment_ids=np.array([o.number for o in kept], dtype=np.int64),
            provenance=provenance,
        )
    except LimbwrightError as error:
        tree_fault("tree", f"the tree is left out: {error.message.rstrip('.')}", error.remedy)
        return None


def _derived(kept: list[_Segment]) -> dict[str, Bools]:
    """Return, for each value a rule can give, where the table says that one did."""
    said = [one.cells.text("derived").lower().split() for one in kept]
    for one, words in zip(kept, said, strict=True):
        if not set(words) <= set(DERIVABLE):
            one.cells.fault(
                "derived",
                "not all of it is known here",
                f"Name those of {', '.join(DERIVABLE)} that a rule gave, parted by blanks.",
                warning=True,
            )
    return {name: np.array([name in words for words in said]) for name in DERIVABLE}


def _amount(cells: Cells, column: str) -> float:
    value = cells.number(column)
    if value is not None and not 0.0 <= value <= 1.0e6:
        cells.fault(column, "not a possible amount", "Give 0 or more; read as 0.")
        return 0.0
    return value or 0.0


def _check_shape(kept: list[_Segment], parent: Ints, points: Floats) -> None:
    """Warn of a tree that hangs below its foot, or is too tall for its stem."""
    foot = int(np.flatnonzero(parent == -1)[0])
    height_m = float(points[:, :, 2].max() - points[foot, 0, 2])
    if height_m <= 0.0 or points[foot, 1, 2] < points[foot, 0, 2]:
        said = "the stem goes down from its foot"
        kept[foot].cells.fault("z1_m", said, "z is up, in metres.", warning=True)
        return
    # Squat ones pass: what is left of a tree after hard cuts is no slip.
    slender = height_m * 1000.0 / kept[foot].d0
    if slender > parameters("survey_ranges")["height_over_diameter"].high and len(kept) > 1:
        kept[foot].cells.fault(
            "d0_mm",
            f"hardly the stem of a tree {height_m:.3g} m tall",
            "Diameters are in mm, points in metres.",
            warning=True,
        )


def _check_gaps(kept: list[_Segment], parent: Ints, points: Floats) -> None:
    """Warn of segments that start off their parent's wood."""
    allowed = parameters("survey_ranges")["segment_gap_m"].high
    for k, p in enumerate(parent.tolist()):
        if p < 0:
            continue
        a, b = points[p]
        along = b - a
        t = float(np.clip(np.dot(points[k, 0] - a, along) / np.dot(along, along), 0.0, 1.0))
        gap = float(np.linalg.norm(points[k, 0] - (a + t * along)))
        if gap > allowed + max(kept[p].d0, kept[p].d1) / 2000.0:
            kept[k].cells.fault(
                "x0_m",
                f"starts {gap:.3g} m off its parent {kept[p].number}",
                "Start it on its parent, in metres.",
                warning=True,
            )

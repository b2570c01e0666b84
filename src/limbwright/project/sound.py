"""Whether limbs as a project holds them can still be built: other programs may edit them."""

from __future__ import annotations

from collections.abc import Sequence

from limbwright.model import Fault, Faults, LimbRecord, TreeSurvey
from limbwright.survey.limbs import LIMB_COLUMNS
from limbwright.survey.placed import read_placed_limbs
from limbwright.survey.tables import Row, Table
from limbwright.trade.parameters import parameters

__all__ = ["sound_limbs"]

_NUMBERS = (
    *("diameter_mm", "length_m", "at_m", "end_diameter_mm", "bearing_deg", "rise_deg"),
    *("end_rise_deg", "crown", "cavity_wall_mm", "cavity_far_wall_mm", "cavity_open_deg"),
)


def sound_limbs(tree: TreeSurvey, file: str, faults: Faults, *, lost: int = 0) -> TreeSurvey | None:
    """Return a tree whose limbs hang together, None where none of them can be used.

    Limbs as they were taken in are returned as they are. Where one of them was edited since into
    what no survey may hold, the tree is read anew as a table of limbs would be: what is wrong is
    told, and the limb left out with what it bears.

    Parameters
    ----------
    tree
        A tree as it is kept, the stem first.
    file
        What faults name as the place.
    faults
        Gets what is wrong.
    lost
        How many of its rows could not even be read.
    """
    if not lost and _hang_together(tree.limbs):
        return tree
    station = tree.station
    rows = tuple(
        Row(number, {c: text for c in LIMB_COLUMNS if (text := _cell(limb, c, station.orchard))})
        for number, limb in enumerate(tree.limbs, 1)
    )
    told = Faults()
    table = Table(f"{file}, {station.tree}", LIMB_COLUMNS, rows)
    kind = station.species or "apple"  # any: the species is told elsewhere, and put back below
    found = read_placed_limbs(table, (station,), told, species=kind) if rows else ()
    faults.extend(f for f in told if f.severity == "error")
    if lost:
        fault = f"{lost} of its limbs have no diameter or length that can be read; left out"
        remedy = "Undo the change in the other program, or take the survey in again."
        faults.add(Fault(f"{file}, {station.tree}", 0, "", "", fault, remedy))
    by_name = {limb.limb: limb for limb in tree.limbs}
    kept = tuple(_as_kept(limb, by_name) for one in found for limb in one.limbs)
    return TreeSurvey(station, kept) if kept else None


def _as_kept(limb: LimbRecord, by_name: dict[str, LimbRecord]) -> LimbRecord:
    """Return the limb as it is kept where reading it anew changed nothing that can be built."""
    held = by_name.get(limb.limb)
    return held if held is not None and all(_same(limb, held, c) for c in _COMPARED) else limb


_COMPARED = (*_NUMBERS, "parent")


def _same(one: LimbRecord, other: LimbRecord, column: str) -> bool:
    return bool(getattr(one, column) == getattr(other, column))


def _hang_together(limbs: Sequence[LimbRecord]) -> bool:
    """Return whether limbs are in order, parents first, in range, and each fits its parent."""
    bounds = parameters("survey_ranges")
    thickest, furthest = bounds["thicker_than_parent"].high, bounds["beyond_parent_end"].high
    seen: dict[str, LimbRecord] = {}
    for number, limb in enumerate(limbs):
        parent = seen.get(limb.parent)
        if (parent is None) != (number == 0) or limb.limb in seen or (not number and limb.parent):
            return False
        for column in _NUMBERS:
            value, bound = getattr(limb, column), bounds.get(column)
            if value is not None and bound is not None and not bound.low <= value <= bound.high:
                return False
        if parent is not None:
            if limb.diameter_mm > thickest * parent.diameter_mm:
                return False
            if limb.at_m is not None and limb.at_m > furthest * parent.length_m:
                return False
        seen[limb.limb] = limb
    return bool(seen)


def _cell(limb: LimbRecord, column: str, orchard: str) -> str:
    value = orchard if column == "orchard" else getattr(limb, column)
    return "" if value is None else repr(value) if isinstance(value, float) else str(value)

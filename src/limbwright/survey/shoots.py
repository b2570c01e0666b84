"""The shoots table: one row a shoot of a young tree, its leader among them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from limbwright.model import Faults, ShootRecord, StationRecord, YoungTree
from limbwright.survey.cells import Cells
from limbwright.survey.limbs import STATES
from limbwright.survey.tables import Table

__all__ = ["SHOOT_COLUMNS", "TakenShoot", "read_shoots", "young_trees"]

SHOOT_COLUMNS = (
    *("orchard", "station", "shoot", "parent", "at_m", "length_m", "grown_cm", "diameter_mm"),
    *("bearing_deg", "rise_deg", "state", "keep", "note"),
)
_RANGES = {
    "at_m": (0.0, 8.0, "m"),
    "length_m": (0.01, 8.0, "m"),
    "grown_cm": (0.0, 250.0, "cm"),
    "diameter_mm": (1.0, 400.0, "mm"),
}
"""Bounds of a tree in its forming years; judgement: from a bud's growth to a stem of twenty
years, and no shoot grows more in a season than ``extension_cm`` of the stations allows."""
_SLACK = 1.05
"""How far beyond its parent's end a shoot may sit; judgement: as for limbs, tape slack."""
LEADER = "leader"
"""Name of the leader where its row is missing and nothing names it."""


@dataclass(frozen=True, slots=True)
class TakenShoot:
    """A shoot that can be used, its orchard, and its cells for later faults."""

    orchard: str
    record: ShootRecord
    cells: Cells

    @property
    def tree(self) -> str:
        """The tree it grows on: ``orchard/station``, or the station alone."""
        return f"{self.orchard}/{self.record.station}" if self.orchard else self.record.station


def read_shoots(table: Table, faults: Faults) -> tuple[TakenShoot, ...]:
    """Return the usable shoots; a row without station or shoot is left out, with a fault.

    A measure out of range is left out with a fault, and the shoot is kept.
    """
    found: list[TakenShoot] = []
    for row in table.rows:
        cells = Cells(table, row, faults)
        station = cells.needed("station") and cells.name("station")
        shoot = cells.needed("shoot") and cells.name("shoot")
        record = ShootRecord(
            station=station,
            shoot=shoot,
            parent=cells.name("parent"),
            at_m=_number(cells, "at_m"),
            length_m=_number(cells, "length_m"),
            grown_cm=_number(cells, "grown_cm"),
            diameter_mm=_number(cells, "diameter_mm"),
            bearing_deg=cells.number("bearing_deg"),
            rise_deg=cells.number("rise_deg"),
            state=cells.word("state", STATES, "live"),
            keep=cells.text("keep"),
            note=cells.text("note"),
            extra=cells.extra(SHOOT_COLUMNS),
            file=table.file,
            row=row.number,
        )
        if station and shoot:
            _check_growth(cells, record)
            found.append(TakenShoot(cells.text("orchard"), record, cells))
    return tuple(found)


def _number(cells: Cells, column: str) -> float | None:
    value = cells.number(column, ranged=False)
    if value is None:
        return None
    low, high, unit = _RANGES[column]
    if low <= value <= high:
        return value
    cells.fault(column, f"outside {low:g} to {high:g} {unit}", "Check the value and its unit.")
    return None


def _check_growth(cells: Cells, record: ShootRecord) -> None:
    """Warn where more is said to have grown last season than there is."""
    if record.grown_cm is None or record.length_m is None:
        return
    if record.grown_cm > record.length_m * 100.0 * _SLACK:
        cells.fault(
            "grown_cm",
            f"more than the whole shoot ({record.length_m * 100.0:g} cm)",
            "Length is in m, last season's part of it in cm.",
            warning=True,
        )


def young_trees(
    taken: Iterable[TakenShoot], places: Sequence[StationRecord]
) -> tuple[YoungTree, ...]:
    """Return the young trees, the leader first and every parent before its shoots.

    A shoot that is there twice, or whose chain of parents does not end at the leader, is left
    out with a fault. A tree with no row for its leader gets one without measures.

    Parameters
    ----------
    taken
        The shoots, as `read_shoots` gives them.
    places
        The stations known; a tree not among them gets a station of its own.
    """
    by_tree = {place.tree: place for place in places}
    groups: dict[str, list[TakenShoot]] = {}
    for one in taken:
        groups.setdefault(one.tree, []).append(one)
    trees = []
    for tree, group in groups.items():
        first = group[0]
        station = by_tree.get(tree) or StationRecord(
            station=first.record.station,
            orchard=first.orchard,
            status="new",
            file=first.record.file,
            row=first.record.row,
        )
        shoots = _hung(group)
        if shoots:
            trees.append(YoungTree(station, shoots))
    return tuple(trees)


def _hung(group: Sequence[TakenShoot]) -> tuple[ShootRecord, ...]:
    """Return the shoots of one tree that hang on its leader, in order."""
    named: dict[str, TakenShoot] = {}
    for one in group:
        held = named.setdefault(one.record.shoot, one)
        if held is not one:
            one.cells.fault(
                "shoot",
                f"this shoot is already on row {held.record.row}",
                "Give each shoot of a tree its own number; this row is left out.",
            )
    leaders = [one for one in named.values() if not one.record.parent]
    if leaders:
        leader = leaders[0].record
        for one in leaders[1:]:
            one.cells.fault(
                "parent",
                f"blank as for a leader, but row {leader.row} is the leader",
                "Name the shoot it grows from; it is left out with what it bears.",
            )
    else:
        leader = _leader(named)
    found, queue = [leader], [leader.shoot]
    children: dict[str, list[TakenShoot]] = {}
    for one in named.values():
        children.setdefault(one.record.parent, []).append(one)
    reached = {leader.shoot}
    while queue:
        parent = queue.pop(0)
        for one in children.get(parent, ()):
            if one.record.shoot in reached:
                continue
            reached.add(one.record.shoot)
            queue.append(one.record.shoot)
            found.append(one.record)
            _check_place(one, leader if parent == leader.shoot else named[parent].record)
    for name, one in named.items():
        if name in reached or not one.record.parent:
            continue
        lost = one.record.parent not in named
        fault = "no such shoot" if lost else "its chain of parents does not end at the leader"
        remedy = "Name a shoot of the same tree; it is left out with what it bears."
        one.cells.fault("parent", fault, remedy)
    return tuple(found)


def _leader(named: dict[str, TakenShoot]) -> ShootRecord:
    """Return a leader without measures for a tree whose table has no row for it."""
    first = next(iter(named.values()))
    lost = dict.fromkeys(one.record.parent for one in named.values())
    absent = [name for name in lost if name not in named]
    name = absent[0] if absent else LEADER
    first.cells.fault(
        "parent",
        f"the tree has no row for its leader; {name!r} is taken as one without measures",
        "Add a row for it with a blank parent, its length and its diameter.",
        warning=True,
    )
    return ShootRecord(
        station=first.record.station, shoot=name, file=first.record.file, row=first.record.row
    )


def _check_place(one: TakenShoot, parent: ShootRecord) -> None:
    """Warn of a shoot that sits beyond the end of what bears it."""
    at, length = one.record.at_m, parent.length_m
    if at is None or length is None or at <= length * _SLACK:
        return
    one.cells.fault(
        "at_m",
        f"beyond the end of {parent.shoot} ({length:g} m)",
        "On the leader it is the height above the ground, elsewhere the way along the parent.",
        warning=True,
    )

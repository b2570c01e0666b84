"""Rows of a table by the day and the orchard they belong to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from limbwright.model import Faults
from limbwright.survey.tables import Row, Table
from limbwright.survey.times import day_order, read_time

__all__ = ["Day", "by_day", "on_orchards", "on_trees"]


@dataclass(frozen=True, slots=True)
class Day:
    """When a survey was taken and by whom; ``said`` is false where the day is only assumed."""

    taken_on: date
    who: str = ""
    said: bool = True


def by_day(table: Table, default: Day, faults: Faults) -> list[tuple[Day, Table]]:
    """Return the rows of each day as a table of its own, earliest first.

    A column ``taken_on`` tells the day of a row and ``who`` the surveyor; where it is blank or
    missing, ``default`` does. A row whose day cannot be read is left out with a fault.
    """
    if "taken_on" not in table.header and "who" not in table.header:
        return [(default, table)]
    written = [text for row in table.rows if (text := row.cells.get("taken_on", ""))]
    order = day_order(written)
    header = tuple(c for c in table.header if c not in ("taken_on", "who"))
    days: dict[Day, list[Row]] = {}
    for row in table.rows:
        text = row.cells.get("taken_on", "")
        taken = read_time(text, order) if text else None
        if text and taken is None:
            remedy = "Write it as 2026-01-31; the row is left out."
            faults.add(table.fault(row, "taken_on", "not a date", remedy))
            continue
        who = row.cells.get("who", "") or default.who
        day = Day(taken.at.date(), who) if taken else replace(default, who=who)
        cells = {c: v for c, v in row.cells.items() if c not in ("taken_on", "who")}
        days.setdefault(day, []).append(Row(row.number, cells, row.given))
    return [
        (day, Table(table.file, header, tuple(rows), (), table.sources))
        for day, rows in sorted(days.items(), key=lambda d: (d[0].taken_on, not d[0].said))
    ]


def on_orchards(table: Table, orchard: str) -> Table:
    """Return the table with ``orchard`` in the rows that name none."""
    if not orchard:
        return table
    rows = tuple(
        Row(r.number, {**r.cells, "orchard": r.cells.get("orchard") or orchard}, r.given)
        for r in table.rows
    )
    return Table(table.file, _with_orchard(table), rows, table.faults, table.sources)


def on_trees(
    table: Table, orchard: str, trees: Mapping[str, tuple[str, str]], faults: Faults
) -> Table:
    """Return the table with orchard and station of every row told apart.

    A station written ``orchard/station`` is parted as the project knows it, else at its first
    stroke. A number alone is the one station that bears it; where several do, the row is left
    out with a fault.

    Parameters
    ----------
    table
        Limbs or shoots.
    orchard
        The orchard of rows that name none; may be empty.
    trees
        Orchard and station of each tree known.
    faults
        Gets what cannot be told.
    """
    numbers: dict[str, list[str]] = {}
    for name, station in trees.values():
        numbers.setdefault(station, []).append(name)
    rows: list[Row] = []
    told: set[str] = set()
    for row in table.rows:
        held, station = row.cells.get("orchard", ""), row.cells.get("station", "")
        if not held and station in trees and not orchard:
            held, station = trees[station]
        elif not held and "/" in station:
            first, _, rest = station.partition("/")
            held, station = trees.get(station, (first.strip(), rest.strip()))
        elif not held and orchard:
            held = orchard
        elif not held and len(numbers.get(station, ())) == 1:
            held = numbers[station][0]
        elif not held and station in numbers:
            if station not in told:
                told.add(station)
                fault = "several orchards have a station of this number; its rows are left out"
                remedy = "Write orchard/station, or add a column orchard."
                faults.add(table.fault(row, "station", fault, remedy))
            continue
        cells = {**row.cells, "orchard": held}
        if "station" in row.cells:
            cells["station"] = station
        rows.append(Row(row.number, cells, row.given))
    return Table(table.file, _with_orchard(table), tuple(rows), table.faults, table.sources)


def _with_orchard(table: Table) -> tuple[str, ...]:
    return table.header if "orchard" in table.header else (*table.header, "orchard")

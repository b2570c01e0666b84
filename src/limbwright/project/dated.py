"""Rows of a table by the day and the orchard they belong to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from limbwright.model import Faults
from limbwright.survey.tables import Row, Table
from limbwright.survey.times import day_order, read_time

__all__ = ["Day", "by_day", "on_orchards"]


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


def on_orchards(
    table: Table,
    orchard: str,
    trees: Mapping[str, tuple[str, str]] | None = None,
) -> Table:
    """Return the table with its orchards filled in.

    Parameters
    ----------
    table
        The table.
    orchard
        The orchard of rows that name none; may be empty.
    trees
        Orchard and station of each tree known: a station written ``orchard/station`` is parted
        by it, or else at its first stroke. None leaves stations as they are.
    """
    if not orchard and trees is None:
        return table
    rows = []
    for row in table.rows:
        held, station = row.cells.get("orchard", ""), row.cells.get("station", "")
        if not held and trees is not None and "/" in station:
            first, _, rest = station.partition("/")
            held, station = trees.get(station, (first.strip(), rest.strip()))
        cells = {**row.cells, "orchard": held or orchard}
        if "station" in row.cells:
            cells["station"] = station
        rows.append(Row(row.number, cells, row.given))
    header = table.header if "orchard" in table.header else (*table.header, "orchard")
    return Table(table.file, header, tuple(rows), table.faults, table.sources)

"""Look over what other programs, a GIS above all, left in a project file."""

from __future__ import annotations

from limbwright.model import Fault, Faults
from limbwright.project.plans import is_plan, rules
from limbwright.project.site_ranges import SITE_RANGES, TERRAINS, within
from limbwright.project.store import Project
from limbwright.project.tables import TABLES
from limbwright.survey.stations import STATION_COLUMNS, read_stations
from limbwright.survey.tables import Row, Table

__all__ = ["look_over"]

_SHOWN = 40  # characters of a value that is shown


def look_over(project: Project) -> tuple[Fault, ...]:
    """Return everything in a project file that cannot be used as it stands.

    Values of the wrong type (they read as not recorded), stations without a number, stations
    whose values are out of range as those of a table are, surveys of trees that are no station,
    local rules and plans that cannot be read, and a place that no holding can have.
    """
    faults = Faults()
    name = project.path.name
    for spec in TABLES:
        for number, column, value in project.odd_values(spec.name):
            shown = "" if isinstance(value, bytes) else str(value)[:_SHOWN]
            fault = f"not what the column holds ({_kind(spec.name, column)}); read as not recorded"
            remedy = "Put it right in the program that wrote it."
            faults.add(Fault(f"{name}, {spec.name}", number, column, shown, fault, remedy))
    _holding(project, faults)
    _stations(project, faults)
    _lost_trees(project, faults)
    _plans(project, faults)
    rules(project, faults)
    return tuple(faults)


def _kind(table: str, column: str) -> str:
    spec = next(s for s in TABLES if s.name == table)
    if column not in spec.names:
        return f"a {spec.geometry.lower()}"
    words = {
        "INTEGER": "a whole number",
        "REAL": "a number",
        "BOOLEAN": "yes or no",
        "DATE": "a date as 2026-01-31",
        "DATETIME": "a date and time",
        "JSON": "JSON",
        "TEXT": "text",
        "BLOB": "bytes",
    }
    return words[spec.column(column).type]


def _holding(project: Project, faults: Faults) -> None:
    """Tell of a place that no holding can have, and of a holding without its row."""
    where = f"{project.path.name}, holding"
    rows = project.rows("holding", number=1)
    if not rows:
        fault = "the holding has no row; its name, place and aims are not known"
        remedy = "Undo the change that took it away, or go back to a copy."
        faults.add(Fault(where, 0, "", "", fault, remedy))
        return
    for column, (low, high) in SITE_RANGES.items():
        value = rows[0][column]
        if not within(column, value):
            fault = f"outside {low:g} to {high:g}; read as not recorded"
            faults.add(Fault(where, 1, column, str(value), fault, "Give a value within these."))
    terrain = rows[0]["terrain"]
    if terrain and terrain not in TERRAINS:
        fault, remedy = (
            "not a terrain known here; read as II",
            f"Give one of {', '.join(TERRAINS)}.",
        )
        faults.add(Fault(where, 1, "terrain", str(terrain), fault, remedy))


def _plans(project: Project, faults: Faults) -> None:
    for number, row in enumerate(project.rows("plans"), 1):
        if row["document"] is not None and not is_plan(row["document"]):
            fault = f"the plan of {row['tree']} is no plan (any more); it is left aside"
            remedy = "Undo the change in the other program, or plan the tree again."
            faults.add(Fault(f"{project.path.name}, plans", number, "document", "", fault, remedy))


def _stations(project: Project, faults: Faults) -> None:
    """Read the stations as the table they could have come from, for its faults alone."""
    where = f"{project.path.name}, stations"
    rows = []
    for number, row in enumerate(project.rows("stations"), 1):
        if not row["station"]:
            remedy = "Give it its number in the layer; until then it is left out."
            faults.add(Fault(where, number, "station", "", "a point without a number", remedy))
            continue
        cells = {c: _cell(row.get(c)) for c in STATION_COLUMNS}
        rows.append(Row(number, {c: text for c, text in cells.items() if text}))
    found = Faults()
    read_stations(Table(where, STATION_COLUMNS, tuple(rows)), found)
    faults.extend(found)


def _cell(value: object) -> str:
    return "" if value is None else repr(value) if isinstance(value, float) else str(value)


def _lost_trees(project: Project, faults: Faults) -> None:
    """Tell of surveys, plans and records whose tree is no station (any more)."""
    known = {
        f"{o}/{s}" if o else str(s) for o, s in project.distinct("stations", "orchard", "station")
    }
    moved = {one.before: one.now for one in project.renamed_elsewhere()}
    for before, now in moved.items():
        fault = f"its station is now {now}, by an edit in another program; all else bears this name"
        remedy = f"'limbwright check {project.path.name}' carries it over, where it can be written."
        faults.add(Fault(project.path.name, 0, "tree", before, fault, remedy, "warning"))
    tables: dict[str, list[str]] = {}
    for spec in TABLES:
        if "tree" in spec.names:
            for (tree,) in project.distinct(spec.name, "tree"):
                if tree not in known and tree not in moved:
                    tables.setdefault(str(tree), []).append(spec.name)
    for tree in sorted(tables):
        told = ", ".join(tables[tree])
        remedy = (
            "Put the station back under this name, or undo the change that took it away. If it "
            "was renamed, change the number in its own row, not in a new one."
        )
        fault = f"no station bears this name, yet there are rows of it in {told}"
        faults.add(Fault(project.path.name, 0, "tree", tree, fault, remedy, "warning"))

"""Add what files hold to a project: one change, told row by row, and the same file only once."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path
from typing import cast

import shapely
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry

from limbwright.errors import InputError
from limbwright.model import Fault
from limbwright.project.adding import Adding
from limbwright.project.changes_shown import Added, Altered
from limbwright.project.dated import Day
from limbwright.project.place import SAME_PLACE_M, Placer, shape_crs
from limbwright.project.sources import Part, read_sources
from limbwright.project.store import Project
from limbwright.project.take_records import take_records
from limbwright.project.take_rules import take_rules
from limbwright.project.take_sets import take_limbs, take_segments, take_shoots
from limbwright.project.take_stations import take_stations
from limbwright.survey.cells import Cells
from limbwright.survey.columns import ColumnMap, read_columns
from limbwright.survey.header import check_header
from limbwright.survey.project_columns import ORCHARD_COLUMNS
from limbwright.trade.species import species as find_species

__all__ = ["add_to_project"]

_STEPS = {
    "walks": take_stations,
    "stations": take_stations,
    "limbs": take_limbs,
    "shoots": take_shoots,
    "segments": take_segments,
    "rules": take_rules,
}


def add_to_project(
    project: Project,
    paths: str | os.PathLike[str] | Sequence[str | os.PathLike[str]],
    *,
    kind: str | None = None,
    taken_on: date | None = None,
    who: str = "",
    columns: Path | ColumnMap | None = None,
    species: str | None = None,
    crs: str | None = None,
    orchard: str | None = None,
) -> Added:
    """Add stations, orchards, surveys, records or local rules to a project, in one change.

    What is there already is left as it is; what a row says otherwise is changed and told. A blank
    says nothing. Limbs, shoots and segments are kept by day: a later survey of a tree stands
    beside the earlier one.

    Parameters
    ----------
    project
        The project, open for writing.
    paths
        One file or several, or a folder of them: CSV, XLSX, GeoJSON, GeoPackage.
    kind
        What a table holds (``stations``, ``limbs``, ...), where its columns do not tell.
    taken_on, who
        Day and surveyor of rows that do not tell their own; None: today.
    columns
        A column mapping for tables from elsewhere.
    species
        Species of trees for which no table names one.
    crs
        CRS of x and y, and of shapes whose file names none.
    orchard
        Orchard of rows that name none.

    Returns
    -------
    Added
        What was added, changed, the same, or left out.

    Raises
    ------
    InputError
        A file cannot be read at all, or its positions cannot be put on the project's map; the
        project is then as it was.
    """
    given: Iterable[str | os.PathLike[str]] = (
        [paths] if isinstance(paths, str | os.PathLike) else paths
    )
    listed = [Path(path) for path in given]
    if not listed:
        raise InputError("There is nothing to add.", "Give a file.")
    for path in listed:
        if path.exists() and path.samefile(project.path):
            raise InputError(f"{path.name} is the project itself.", "Give another file.")
    mapping = columns if isinstance(columns, ColumnMap) else ColumnMap()
    if columns is not None and not isinstance(columns, ColumnMap):
        mapping = read_columns(Path(columns))
    kind_of_tree = find_species(species).key if species else ""
    parts = read_sources(listed, mapping, kind=kind)
    if not parts:
        names = ", ".join(path.name for path in listed)
        raise InputError(f"{names} holds nothing that can be added.", "See docs/formats.md.")
    day = Day(taken_on or date.today(), who, taken_on is not None)
    early = taken_on is not None and taken_on > date.today()
    with project.change(f"add {', '.join(path.name for path in listed)}"[:200]):
        placer = Placer(project, crs)
        adding = Adding(project, placer, day, orchard or "", kind_of_tree)
        for part in parts:
            if part.kind == "orchards":
                _take_orchards(adding, part)
            elif part.kind != "records":
                _STEPS[part.kind](adding, part)
        books = [part.book for part in parts if part.kind == "records" and part.book is not None]
        if books:
            take_records(adding, books, mapping)
    tally = adding.tally
    if early:
        told = f"The day {day.taken_on.isoformat()} has not come yet; until then later surveys"
        tally.notes.append(f"{told} count as earlier ones. Check the year.")
    return Added(
        tally.counts,
        tuple(tally.altered),
        tuple(tally.gone),
        tuple(dict.fromkeys(adding.faults)),
        (*placer.notes, *tally.notes),
    )


def _take_orchards(adding: Adding, part: Part) -> None:
    """Add orchards: their boundaries, from shapes or as WKT, and what is noted of them."""
    adding.faults.extend((*part.faults, *part.table.faults))
    check_header(part.table, ORCHARD_COLUMNS, ("orchard",), adding.faults)
    held = {str(row["orchard"]): row for row in adding.project.rows("orchards")}
    seen: set[str] = set()
    put: list[dict[str, object]] = []
    counts = {"added": 0, "changed": 0, "same": 0}
    for row in part.table.rows:
        cells = Cells(part.table, row, adding.faults)
        name = cells.needed("orchard")
        if not name:
            continue
        if name in seen:
            cells.fault("orchard", "this orchard is there already", "Give each its own name.")
            continue
        seen.add(name)
        new: dict[str, object] = {"orchard": name}
        new |= {c: t for c in ("grazed_by", "access", "note") if (t := cells.text(c))}
        if cells.text("people_below"):
            new["people_below"] = cells.word("people_below", ("yes", "no"), "no") == "yes"
        if extra := cells.extra(ORCHARD_COLUMNS):
            new["extra"] = extra
        rings = _rings(adding, cells, part)
        before = held.get(name)
        if rings and not (before and _same_rings(before["rings"], rings)):
            new["rings"] = rings
        told = [
            Altered("orchards", name, field, before.get(field), value)
            for field, value in new.items()
            if before is not None and field != "rings" and before.get(field) != value
        ]
        if before is not None and "rings" in new:
            told.append(Altered("orchards", name, "boundary", *_areas(before["rings"], rings)))
        adding.tally.altered += told
        counts["added" if before is None else "changed" if told else "same"] += 1
        if before is None or told:
            put.append(new)
    adding.project.put("orchards", put)
    adding.tally.count("orchards", **counts)


Rings = list[list[tuple[float, float]]]


def _rings(adding: Adding, cells: Cells, part: Part) -> Rings:
    """Return the boundary of a row on the project's map; none with a fault where it is none."""
    option = adding.placer.option
    shape: BaseGeometry | None = part.shapes.get(cells.row.number)
    source = shape_crs(part.crs, option, part.shapes.values())
    if shape is None and cells.text("boundary"):
        source = option
        try:
            shape = shapely.from_wkt(cells.text("boundary"))
        except GEOSException:
            shape = None
    if shape is None:
        if cells.text("boundary"):
            fault = "not a boundary; the orchard is kept without"
            cells.fault("boundary", fault, "Write it as WKT: POLYGON ((x y, ...)).")
        return []
    if shape.geom_type != "Polygon" or shape.is_empty:
        fault = "not one polygon; the orchard is kept without its boundary"
        cells.fault("boundary", fault, "Draw one boundary an orchard.")
        return []
    if not shape.is_valid:
        fault = "a boundary that crosses itself"
        cells.fault("orchard", fault, "Mend it in a GIS; it is kept as drawn.", warning=True)
    rings: Rings = []
    for ring in (shape.exterior, *shape.interiors):
        points = shapely.get_coordinates(ring)
        x, y = adding.placer.place(points[:, 0], points[:, 1], source)
        if not bool(((x - x == 0.0) & (y - y == 0.0)).all()):
            fault = "a boundary that is nowhere on this map; the orchard is kept without"
            remedy = "Check the order (east or longitude first) and the CRS."
            adding.faults.add(Fault(part.table.file, cells.row.number, "", "", fault, remedy))
            return []
        rings.append(list(zip(x.tolist(), y.tolist(), strict=True)))
    return rings


def _same_rings(before: object, rings: Rings) -> bool:
    """Return whether two boundaries are the same, wherever they begin and however they run."""
    if not before:
        return False
    one, two = _polygon(cast(Rings, before)), _polygon(rings)
    near: bool = one.hausdorff_distance(two) <= SAME_PLACE_M
    return near and len(one.interiors) == len(two.interiors)


def _polygon(rings: Sequence[Sequence[tuple[float, float]]]) -> shapely.Polygon:
    return shapely.Polygon(rings[0], rings[1:])


def _areas(before: object, rings: Rings) -> tuple[str, str]:
    """Return two boundaries by the ground they hold."""
    was = f"of {_polygon(cast(Rings, before)).area / 1e4:.3g} ha" if before else ""
    return was, f"of {_polygon(rings).area / 1e4:.3g} ha"

"""Write what a project holds for other programs, or for another project to add."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from limbwright.errors import InputError
from limbwright.project.crs import WGS84, crs_label, named_crs
from limbwright.project.geojson import geojson_bytes
from limbwright.project.gis_out import geopackage_bytes
from limbwright.project.store import Project
from limbwright.project.tables_out import OUT, OutTable, out_tables
from limbwright.survey.spreadsheet import csv_bytes
from limbwright.survey.whole import write_whole
from limbwright.survey.workbook_out import workbook_bytes

__all__ = ["ALL", "Exported", "export_project"]

ALL = "all"
_LAYERS = ("orchards", "stations")
_READABLE = 0o755
MOST_SHEET_ROWS = 1_048_575
"""Rows below the header that a sheet holds; source: ECMA-376 as spreadsheets implement it."""


@dataclass(frozen=True, slots=True)
class Exported:
    """What was written: the file or folder, rows by table, and what should be known of it."""

    path: Path
    rows: dict[str, int]
    notes: tuple[str, ...] = ()

    def lines(self) -> list[str]:
        """Return it as plain lines."""
        told = ", ".join(f"{n} {name[:-1] if n == 1 else name}" for name, n in self.rows.items())
        return [f"{self.path}: {told or 'nothing'}.", *self.notes]


def export_project(
    project: Project,
    path: str | os.PathLike[str],
    *,
    what: str | Sequence[str] = ALL,
    crs: str | None = None,
    orchard: str | None = None,
) -> Exported:
    """Write tables of a project, whole or not at all, in the columns in which they are read.

    Parameters
    ----------
    project
        The project.
    path
        By its ending: ``.csv`` (one table), ``.xlsx`` (a sheet a table), ``.geojson`` (stations
        and orchards), ``.gpkg`` (layers and tables); without one a new folder of CSV files.
    what
        ``all``, or one or several of `limbwright.project.tables_out.OUT`.
    crs
        CRS of all positions; None: the project's, and longitude and latitude in GeoJSON.
    orchard
        One orchard alone.

    Raises
    ------
    InputError
        There is nothing of the kind, the CRS is not known, or the file cannot be written.
    """
    target = Path(path)
    names = _names(what)
    if target.exists() and target.samefile(project.path):
        raise InputError(f"{target.name} is the project itself.", "Give another name.")
    suffix = target.suffix.lower()
    on_map = _crs(project, crs, geojson=suffix in {".geojson", ".json"})
    if orchard is not None:
        _known_orchard(project, orchard)
    if suffix in {".geojson", ".json"}:
        names = tuple(n for n in names if n in _LAYERS)
        if not names:
            raise InputError("GeoJSON holds stations and orchards.", "Give one of these.")
    tables = out_tables(project, names, orchard=orchard, crs=on_map)
    held = [t for t in tables if t.rows]
    if not held:
        raise InputError(f"{project.path.name} has nothing of {', '.join(names)}.")
    notes: list[str] = []
    try:
        if suffix == ".csv":
            write_whole(target, _csv(_one(held, what)))
        elif suffix == ".xlsx":
            write_whole(target, _workbook(held))
        elif suffix in {".geojson", ".json"}:
            write_whole(target, _geojson(held, on_map, notes))
        elif suffix == ".gpkg":
            target.parent.mkdir(parents=True, exist_ok=True)
            write_whole(target, geopackage_bytes(held, target.parent))
        elif not suffix:
            _folder(target, held)
        else:
            raise InputError(
                f"{suffix} is no format that can be written.",
                "Give .csv, .xlsx, .geojson, .gpkg, or the name of a folder.",
            )
    except OSError as error:
        said = error.strerror or error
        raise InputError(f"{target.name} cannot be written: {said}.") from None
    if on_map and on_map != project.crs and suffix not in {".geojson", ".json"}:
        notes.append(f"Positions are in {on_map} ({named_crs(on_map).name}).")
    return Exported(target, {t.name: len(t.rows) for t in held}, tuple(notes))


def _names(what: str | Sequence[str]) -> tuple[str, ...]:
    asked = (what,) if isinstance(what, str) else tuple(what)
    if ALL in asked:
        return OUT
    wrong = [name for name in asked if name not in OUT]
    if wrong or not asked:
        shown = ", ".join(wrong) or "nothing"
        raise InputError(f"{shown} is no table of a project.", f"Give {ALL}, {', '.join(OUT)}.")
    return asked


def _crs(project: Project, crs: str | None, *, geojson: bool) -> str:
    """Return the CRS positions are written in, empty for a local grid."""
    if not project.crs:
        if crs:
            raise InputError(
                f"The positions of {project.path.name} are metres of a local grid, which has no "
                "place on the earth.",
                "Leave out the CRS.",
            )
        return ""
    if crs:
        return crs_label(crs)
    return WGS84 if geojson else project.crs


def _known_orchard(project: Project, orchard: str) -> None:
    known = {str(r["orchard"]) for t in ("orchards", "stations") for r in project.rows(t)}
    if orchard not in known:
        named = ", ".join(sorted(known - {""})) or "none"
        raise InputError(f"There is no orchard {orchard!r}.", f"There are: {named}.")


def _one(tables: Sequence[OutTable], what: str | Sequence[str]) -> OutTable:
    if what == ALL or len(tables) != 1:
        raise InputError(
            "A CSV file holds one table.",
            f"Say which: {', '.join(t.name for t in tables)}; or give a folder, .xlsx or .gpkg.",
        )
    return tables[0]


def _csv(table: OutTable) -> bytes:
    flat = table.with_shapes_as_cells()
    return csv_bytes(flat.header, flat.body())


def _workbook(tables: Sequence[OutTable]) -> bytes:
    for table in tables:
        if len(table.rows) > MOST_SHEET_ROWS:
            fault = f"{table.name} has {len(table.rows)} rows; a sheet holds {MOST_SHEET_ROWS}."
            raise InputError(fault, "Write .gpkg or a folder of CSV files.")
    flat = [t.with_shapes_as_cells() for t in tables]
    return workbook_bytes({t.name: (t.header, t.body()) for t in flat})


def _geojson(tables: Sequence[OutTable], crs: str, notes: list[str]) -> bytes:
    """Return the layers as features; on a local grid the places stand in the properties."""
    if not crs:
        tables = [t.with_shapes_as_cells() for t in tables]
        notes.append("A local grid has no place on the earth: x and y stand in the properties.")
    elif named_crs(crs) != named_crs(WGS84):
        notes.append(
            f"Positions are in {crs} ({named_crs(crs).name}), as the member crs says; programs "
            "that follow RFC 7946 alone take them for longitude and latitude."
        )
    features = []
    for table in tables:
        shapes = table.shapes or [None] * len(table.rows)
        header = table.header
        for shape, values in zip(shapes, table.body(), strict=True):
            told = {k: v for k, v in zip(header, values, strict=True) if v not in (None, "")}
            features.append((shape, told))
    other = bool(crs) and named_crs(crs) != named_crs(WGS84)
    return geojson_bytes(features, crs=crs if other else "")


def _folder(target: Path, tables: Sequence[OutTable]) -> None:
    """Write a folder of CSV files beside its place, and move it there when it is whole."""
    if target.exists():
        raise InputError(f"{target.name} is there already.", "Give a new folder.")
    target.parent.mkdir(parents=True, exist_ok=True)
    draft = Path(tempfile.mkdtemp(dir=target.parent, prefix="."))
    try:
        for table in tables:
            write_whole(draft / f"{table.name}.csv", _csv(table))
        draft.chmod(_READABLE)
        draft.rename(target)
    except BaseException:
        shutil.rmtree(draft, ignore_errors=True)
        raise

"""What files hold, whichever format they come in: tables of a known kind, shapes beside them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from shapely.geometry.base import BaseGeometry

from limbwright.errors import InputError
from limbwright.model import Fault
from limbwright.project.geojson import read_geojson
from limbwright.project.gis_in import is_database, is_project, read_geopackage
from limbwright.project.layers import Layer, LayerKind, layer
from limbwright.project.store import Project
from limbwright.project.tables_out import OUT, out_tables
from limbwright.survey.columns import Column, ColumnMap, TableMap, apply_columns
from limbwright.survey.project_columns import ORCHARD_COLUMNS
from limbwright.survey.record_columns import RECORD_COLUMNS, record_kind
from limbwright.survey.tables import Book, Table, plain_name, read_book

__all__ = ["KINDS", "Kind", "Part", "read_sources"]

Kind = Literal["orchards", "walks", "stations", "limbs", "shoots", "segments", "rules", "records"]
KINDS = ("orchards", "walks", "stations", "limbs", "shoots", "segments", "rules")
"""What can be added, in the order in which it is: places before what stands on them."""
_TOLD_BY = ("segments", "shoots", "limbs", "stations", "orchards", "rules", *RECORD_COLUMNS)
"""Tables that are told by their columns, in the order in which a column mapping is asked."""
_ORCHARDS_ALONE = ("boundary", "grazed_by", "access", "people_below")
"""Columns that no station has."""
_SUFFIXES = (".csv", ".xlsx", ".xlsm", ".geojson", ".json", ".gpkg", ".txt", ".tsv")


@dataclass(frozen=True, slots=True)
class Part:
    """One table to be added: its kind, its rows, and what shape each row has.

    ``crs`` names the system of the shapes, empty where nobody says. Tables of records stay the
    ``book`` they came in.
    """

    kind: Kind
    table: Table
    shapes: Mapping[int, BaseGeometry] = field(default_factory=dict)
    crs: str = ""
    faults: tuple[Fault, ...] = ()
    book: Book | None = None


def read_sources(
    paths: Iterable[Path], mapping: ColumnMap, *, kind: str | None = None
) -> list[Part]:
    """Return the tables of all files, places before what stands on them.

    Parameters
    ----------
    paths
        Files, or folders of files.
    mapping
        How columns of other names are read.
    kind
        What a table holds; None: its sheet, its shapes or its columns tell.

    Raises
    ------
    InputError
        A file cannot be read at all, or holds nothing that can be added.
    """
    if kind is not None and kind not in KINDS:
        raise InputError(f"{kind!r} is nothing that can be added.", f"Give {', '.join(KINDS)}.")
    parts: list[Part] = []
    for given in paths:
        for path in _files(Path(given)):
            parts += _parts(path, mapping, kind, alone=path == Path(given))
    order = {name: k for k, name in enumerate((*KINDS, "records"))}
    return sorted(parts, key=lambda part: order[part.kind])


def _files(path: Path) -> list[Path]:
    if not path.is_dir():
        return [path]
    found = sorted(p for p in path.iterdir() if p.suffix.lower() in _SUFFIXES and p.is_file())
    if not found:
        raise InputError(f"The folder {path.name} holds no table.", "Give CSV or XLSX files.")
    return found


def _parts(path: Path, mapping: ColumnMap, kind: str | None, *, alone: bool) -> list[Part]:
    """Return the tables of one file; a weather table is none of a project's.

    In a folder it is passed over, named by itself (``alone``) it is refused.
    """
    if is_database(path) or path.suffix.lower() == ".gpkg":
        layers = _of_project(path) if is_project(path) else read_geopackage(path)
        return [part for one in layers for part in _of_layer(one, mapping, kind)]
    if path.suffix.lower() in {".geojson", ".json"} and path.is_file():
        layers = read_geojson(path)
        return [part for one in layers for part in _of_layer(one, mapping, kind)]
    book = read_book(path)
    sheets = [name for name in KINDS if book.has(name)]
    records = any(book.has(name) for name in RECORD_COLUMNS)
    if kind is not None and book.sheets is not None and (sheets or records):
        if kind not in sheets:
            has = ", ".join(book.sheets.names)
            raise InputError(f"{book.file} has no sheet {kind}; it has: {has}.", "Name it so.")
        sheets, records = [kind], False
    if sheets or records:
        found = [_of_table(book, name, mapping, name) for name in sheets]
        return [*found, *([_of_records(book)] if records else [])]
    if kind is None and _is_weather(book):
        if alone:
            raise InputError(
                f"{book.file} is a weather table, which a project does not keep.",
                "See what it says: limbwright weather FILE; limbwright windows SPECIES --weather "
                "FILE.",
            )
        return []
    return [_of_table(book, kind, mapping, kind or "stations")]


def _is_weather(book: Book) -> bool:
    header = book.header("stations")
    return "station" not in header and bool({"temperature_c", "temperature_min_c"} & {*header})


def _of_project(path: Path) -> tuple[Layer, ...]:
    """Return what another project holds, as the layers and tables it would be written as."""
    with Project.open(path, write=False) as project:
        tables = out_tables(project, OUT)
        name = path.name
        kinds: Mapping[str, LayerKind] = {"orchards": "polygons", "stations": "points"}
        return tuple(
            layer(
                f"{name} ({table.name})",
                table.name,
                kinds.get(table.name, "rows"),
                table.header,
                enumerate(table.body(), start=1),
                {n: s for n, s in enumerate(table.shapes or (), start=1) if s is not None},
                project.crs,
            )
            for table in tables
            if table.rows
        )


def _of_records(book: Book) -> Part:
    return Part("records", Table(book.file, (), ()), book=book)


def _of_layer(held: Layer, mapping: ColumnMap, kind: str | None) -> list[Part]:
    if held.kind == "polygons":
        return [_orchards(held, mapping)] if kind in (None, "orchards") else []
    if held.kind == "points" and kind not in (None, "stations", "walks"):
        return []
    header = held.book.header("stations")
    of_kind = kind in (None, plain_name(held.name), _kind(header, mapping))
    if held.kind == "rows" and not of_kind:
        return []
    told: str | None = kind or ("stations" if held.kind == "points" else None)
    if told is None and plain_name(held.name) in KINDS:
        told = plain_name(held.name)
    if told is None and _kind(header, mapping) in ("", "orchards"):
        return []  # a table of some other use beside the layers
    part = _of_table(held.book, told, mapping, told or "stations")
    faults = (*held.faults, *part.faults)
    found = Part(part.kind, part.table, held.shapes, held.crs, faults, part.book)
    return _parted(found) if held.kind == "rows" and kind is None else [found]


def _parted(part: Part) -> list[Part]:
    """Return rows without shapes as stations, and as orchards where no station is named.

    A layer of both on a local grid has no shapes to tell them apart.
    """
    own = [c for c in ORCHARD_COLUMNS if c in part.table.header]
    if part.kind != "stations" or not {"station", "orchard"} <= {*part.table.header}:
        return [part]
    orchards = tuple(
        replace(row, cells={c: row.cells.get(c, "") for c in own})
        for row in part.table.rows
        if not row.cells.get("station") and any(row.cells.get(c) for c in _ORCHARDS_ALONE)
    )
    if not orchards:
        return [part]
    numbers = {row.number for row in orchards}
    rest = tuple(row for row in part.table.rows if row.number not in numbers)
    of_orchards = replace(part.table, header=tuple(own), rows=orchards, faults=())
    stations = [replace(part, table=replace(part.table, rows=rest))] if rest else []
    return [replace(part, kind="orchards", table=of_orchards, faults=()), *stations]


def _of_table(book: Book, kind: str | None, mapping: ColumnMap, sheet: str) -> Part:
    """Return one table of a file, its column mapping applied."""
    if kind is None:
        every = {c for name in _TOLD_BY for c in mapping.known_in(name)}
        header = book.header(sheet, every)
        kind = _kind(header, mapping) or _nearest(header)
        if kind == "records":
            return _of_records(book)
    table = book.table(sheet, mapping.known_in(kind))
    held: Kind = kind  # type: ignore[assignment]
    return Part(held, apply_columns(table, mapping.of(kind)))


def _kind(header: Iterable[str], mapping: ColumnMap) -> str:
    """Return what a table holds by its columns, empty where they do not tell."""
    held = set(header)
    if named := mapping.kind_of(held, _TOLD_BY):
        return "records" if named in RECORD_COLUMNS else named
    if "x0_m" in held:
        return "segments"
    if {"shoot", "station"} <= held:
        return "shoots"
    if {"first_day", "last_day"} <= held:
        return "rules"
    if record_kind(held):
        return "records"
    if "limb" in held:
        return "limbs"
    if "station" in held:
        return "stations"
    return "orchards" if "orchard" in held else ""


def _nearest(header: Iterable[str]) -> str:
    """Return the kind of table whose columns the header is most like."""
    held = set(header)
    return "limbs" if {"diameter_mm", "length_m"} & held else "stations"


def _orchards(held: Layer, mapping: ColumnMap) -> Part:
    """Return a layer of boundaries; a column ``name`` serves where there is no ``orchard``."""
    of_kind = mapping.orchards
    if "orchard" not in of_kind.columns:
        header = held.book.header("orchards")
        source = mapping.stations.columns.get("orchard")
        names = [*(source.names() if source else ()), "orchard", "name"]
        used = next((name for name in names if name in header), "")
        if used and used != "orchard":
            columns = {**of_kind.columns, "orchard": Column(column=used)}
            of_kind = TableMap(columns=columns, known=ORCHARD_COLUMNS)
    table = held.book.table("orchards", {*ORCHARD_COLUMNS, *of_kind.sources()})
    return Part("orchards", apply_columns(table, of_kind), held.shapes, held.crs, held.faults)

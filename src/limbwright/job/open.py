"""Open a survey of limbs, a table of segments or a project file, whichever the file is."""

from __future__ import annotations

from pathlib import Path

from limbwright.errors import InputError
from limbwright.job.open_project import open_project
from limbwright.job.opened import Opened, Tree
from limbwright.model import Fault
from limbwright.project.connect import SUFFIX
from limbwright.survey import read_segments, read_survey
from limbwright.survey.columns import ColumnMap, apply_columns, read_columns
from limbwright.survey.tables import Book, read_book

__all__ = ["Opened", "Tree", "open_trees"]


def open_trees(
    path: Path,
    *,
    stations: Path | None = None,
    columns: Path | None = None,
    species: str | None = None,
    empty: bool = False,
) -> Opened:
    """Read a table of limbs or of segments, or the trees of a project file.

    Parameters
    ----------
    path
        A project file (.gpkg), or CSV or XLSX. A workbook's sheet ``segments``, else a table with
        the column ``x0_m``, is one of segments; else it is of limbs, and a sheet ``stations``
        beside them is read too.
    stations
        The stations table that goes with the limbs, where it is another file.
    columns
        A column-mapping file for tables from elsewhere.
    species
        Species where neither table names it.
    empty
        Whether to return the faults where no tree can be used, and not raise.

    Raises
    ------
    InputError
        A file cannot be read at all, or holds no tree that can be used.
    """
    if path.suffix.lower() == SUFFIX:
        if stations is not None or columns is not None:
            given = "--stations" if stations is not None else "--columns"
            raise InputError(
                f"{path.name} is a project file; {given} goes with a table.",
                f"Take the table into the project first: limbwright add {path.name} FILE.",
            )
        return _needing_trees(open_project(path, species=species), path, empty)
    book = read_book(path)
    mapping = ColumnMap() if columns is None else read_columns(columns)
    if _is_segments(book, mapping):
        table = book.table("segments", mapping.known_in("segments"))
        found = read_segments(apply_columns(table, mapping.segments), species=species)
        faults = [*found.faults, *_unread(book, stations)]
        opened = Opened(tuple(found.skeletons), tuple(faults), {}, found.extra)
    else:
        survey = read_survey(book, stations, columns=mapping, species=species)
        by_tree = {t.station.tree: t.station for t in survey.trees}
        opened = Opened(tuple(survey.trees), tuple(survey.faults), by_tree)
    return _needing_trees(opened, path, empty)


def _needing_trees(opened: Opened, path: Path, empty: bool) -> Opened:
    if not opened.trees and not empty:
        first = next((str(f) for f in opened.faults if f.severity == "error"), "")
        raise InputError(f"{path.name} holds no tree that can be used.", first)
    return opened


def _is_segments(book: Book, mapping: ColumnMap) -> bool:
    """Return whether a file is one of segments: by its sheet, its columns, or its mapping."""
    if book.sheets is not None and (book.has("segments") or book.has("limbs")):
        return book.has("segments")
    header = book.header("limbs", mapping.known_in("segments"))
    return "x0_m" in header or bool(mapping.kind_of(header, ("segments",)))


def _unread(book: Book, stations: Path | None) -> list[Fault]:
    """Return a warning for what is not read where a table of segments is."""
    unread = [f"its sheet {name}" for name in ("limbs", "stations") if book.has(name)]
    unread += [stations.name] if stations is not None else []
    if not unread:
        return []
    fault = f"read for its segments; {' and '.join(unread)} not read"
    return [Fault(book.file, 0, "", "", fault, "Give one or the other.", "warning")]

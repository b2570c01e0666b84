"""Open a survey of limbs or a table of segments, whichever the file holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from limbwright.errors import InputError
from limbwright.model import Fault, Skeleton, StationRecord, TreeSurvey
from limbwright.survey import read_segments, read_survey
from limbwright.survey.columns import ColumnMap, apply_columns, read_columns
from limbwright.survey.segments import SEGMENT_COLUMNS, Extra
from limbwright.survey.tables import Book, read_book

__all__ = ["Opened", "Tree", "open_trees"]

Tree = TreeSurvey | Skeleton
"""A tree as it comes: its limbs by tape, or its whole skeleton."""


@dataclass(frozen=True, slots=True)
class Opened:
    """The trees of a survey, what was wrong with it, and the station of each tree.

    ``extra`` holds, for a table of segments, the unknown columns of each tree.
    """

    trees: tuple[Tree, ...]
    faults: tuple[Fault, ...]
    stations: Mapping[str, StationRecord]
    extra: Mapping[str, Extra] = field(default_factory=dict)


def open_trees(
    path: Path,
    *,
    stations: Path | None = None,
    columns: Path | None = None,
    species: str | None = None,
    empty: bool = False,
) -> Opened:
    """Read a table of limbs or of segments.

    Parameters
    ----------
    path
        CSV or XLSX. A workbook's sheet ``segments``, else a table with the column ``x0_m``, is one
        of segments; else it is of limbs, and a sheet ``stations`` beside them is read too.
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
    book = read_book(path)
    mapping = ColumnMap() if columns is None else read_columns(columns)
    if _is_segments(book, mapping):
        table = book.table("segments", {*SEGMENT_COLUMNS, *mapping.segments.sources()})
        found = read_segments(apply_columns(table, mapping.segments), species=species)
        faults = [*found.faults, *_unread(book, stations)]
        opened = Opened(tuple(found.skeletons), tuple(faults), {}, found.extra)
    else:
        survey = read_survey(book, stations, columns=mapping, species=species)
        by_tree = {t.station.tree: t.station for t in survey.trees}
        opened = Opened(tuple(survey.trees), tuple(survey.faults), by_tree)
    if not opened.trees and not empty:
        first = next((str(f) for f in opened.faults if f.severity == "error"), "")
        raise InputError(f"{path.name} holds no tree that can be used.", first)
    return opened


def _is_segments(book: Book, mapping: ColumnMap) -> bool:
    """Return whether a file is one of segments: by its sheet, its columns, or its mapping."""
    if book.sheets is not None and (book.has("segments") or book.has("limbs")):
        return book.has("segments")
    asked = mapping.segments.sources()
    header = book.header("limbs", {*SEGMENT_COLUMNS, *asked})
    return "x0_m" in header or (bool(asked) and set(asked) <= set(header))


def _unread(book: Book, stations: Path | None) -> list[Fault]:
    """Return a warning for what is not read where a table of segments is."""
    unread = [f"its sheet {name}" for name in ("limbs", "stations") if book.has(name)]
    unread += [stations.name] if stations is not None else []
    if not unread:
        return []
    fault = f"read for its segments; {' and '.join(unread)} not read"
    return [Fault(book.file, 0, "", "", fault, "Give one or the other.", "warning")]

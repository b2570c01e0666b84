"""Open a survey of limbs or a table of segments, whichever the file holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from limbwright.errors import InputError
from limbwright.model import Fault, Skeleton, StationRecord, TreeSurvey
from limbwright.survey import read_segments, read_survey
from limbwright.survey.tables import read_table

__all__ = ["Opened", "Tree", "open_trees"]

Tree = TreeSurvey | Skeleton
"""A tree as it comes: its limbs by tape, or its whole skeleton."""


@dataclass(frozen=True, slots=True)
class Opened:
    """The trees of a survey, what was wrong with it, and the station of each tree."""

    trees: tuple[Tree, ...]
    faults: tuple[Fault, ...]
    stations: Mapping[str, StationRecord]


def tree_key(station: StationRecord) -> str:
    """Return the name a tree bears everywhere: ``orchard/station``, or the station alone."""
    return f"{station.orchard}/{station.station}" if station.orchard else station.station


def open_trees(
    path: Path,
    *,
    stations: Path | None = None,
    columns: Path | None = None,
    species: str | None = None,
) -> Opened:
    """Read a table of limbs or of segments.

    Parameters
    ----------
    path
        CSV or XLSX; a table with the column ``x0_m`` is one of segments.
    stations
        The stations table that goes with the limbs, if there is one.
    columns
        A column-mapping file for tables from elsewhere.
    species
        Species where neither table names it.

    Raises
    ------
    InputError
        A file cannot be read at all, or holds no tree that can be used.
    """
    if columns is None and _is_segments(path):
        found = read_segments(path, species=species)
        opened = Opened(tuple(found.skeletons), tuple(found.faults), {})
    else:
        survey = read_survey(path, stations, columns=columns, species=species)
        by_tree = {tree_key(t.station): t.station for t in survey.trees}
        opened = Opened(tuple(survey.trees), tuple(survey.faults), by_tree)
    if not opened.trees:
        first = next((str(f) for f in opened.faults if f.severity == "error"), "")
        raise InputError(f"{path.name} holds no tree that can be used.", first)
    return opened


def _is_segments(path: Path) -> bool:
    header = read_table(path, "segments").header
    return "x0_m" in header

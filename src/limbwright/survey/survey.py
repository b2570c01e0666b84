"""Read a survey: limbs, and the stations they stand on, into trees ready to be built."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from limbwright.errors import InputError
from limbwright.model import Fault, Faults, StationRecord, TreeSurvey
from limbwright.survey.columns import ColumnMap, apply_columns, read_columns
from limbwright.survey.header import check_header
from limbwright.survey.placed import read_placed_limbs
from limbwright.survey.stations import STATION_COLUMNS, read_stations
from limbwright.survey.tables import Book, Table, read_book
from limbwright.trade.species import species as find_species

__all__ = ["Survey", "read_survey"]


@dataclass(frozen=True, slots=True)
class Survey:
    """The trees that can be built, everything found wrong, and every station of the table."""

    trees: tuple[TreeSurvey, ...]
    faults: tuple[Fault, ...]
    stations: tuple[StationRecord, ...]


def read_survey(
    limbs: Path | Book,
    stations: Path | None = None,
    *,
    columns: Path | ColumnMap | None = None,
    species: str | None = None,
) -> Survey:
    """Read a survey, keeping every good row and reporting every fault at once.

    Parameters
    ----------
    limbs
        Table of limbs, CSV or XLSX; a workbook's sheet ``stations`` is read with it.
    stations
        Table of stations, where it is another file.
    columns
        Column-mapping file (TOML) for tables from elsewhere.
    species
        Species of trees for which neither table names one.

    Raises
    ------
    InputError
        A file cannot be read at all, or the species is not known.
    """
    fallback = find_species(species).key if species else ""
    faults = Faults()
    book = limbs if isinstance(limbs, Book) else read_book(Path(limbs))
    if columns is None or isinstance(columns, ColumnMap):
        mapping = columns or ColumnMap()
    else:
        mapping = read_columns(Path(columns))
    table = apply_columns(book.table("limbs", mapping.known_in("limbs")), mapping.limbs)
    place_table = _place_table(book, stations, mapping, faults)
    places: tuple[StationRecord, ...] = ()
    if place_table is not None:
        faults.extend(place_table.faults)
        check_header(place_table, STATION_COLUMNS, ("station",), faults)
        places = read_stations(place_table, faults)
    known = place_table is not None
    trees = read_placed_limbs(table, places, faults, species=fallback, known=known)
    if not places:
        places = tuple(t.station for t in trees)
    return Survey(trees, tuple(faults), places)


def _place_table(
    book: Book, stations: Path | None, mapping: ColumnMap, faults: Faults
) -> Table | None:
    """Return the stations table: the file given, else the sheet beside the limbs, if any."""
    if stations is None and not book.has("stations"):
        return None
    known = mapping.known_in("stations")
    try:
        source = book if stations is None else read_book(Path(stations))
        return apply_columns(source.table("stations", known), mapping.stations)
    except InputError as error:
        if stations is not None:
            raise
        # A sheet nobody pointed at must not sink the limbs beside it.
        fault = "its sheet stations is left aside"
        faults.add(Fault(book.file, 0, "", "", fault, str(error), "warning"))
        return None

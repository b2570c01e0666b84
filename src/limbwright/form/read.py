"""Read young trees from tables: their shoots, and the stations that go with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from limbwright.model.faults import Fault, Faults
from limbwright.model.records import StationRecord
from limbwright.model.shoots import YoungTree
from limbwright.survey.columns import ColumnMap, apply_columns, read_columns
from limbwright.survey.header import check_header
from limbwright.survey.shoots import SHOOT_COLUMNS, read_shoots, young_trees
from limbwright.survey.stations import STATION_COLUMNS, read_stations
from limbwright.survey.tables import Book, read_book
from limbwright.trade.species import species as find_species

__all__ = ["YoungTrees", "read_young_trees"]


@dataclass(frozen=True, slots=True)
class YoungTrees:
    """Young trees that can be formed, and everything wrong with their tables."""

    trees: tuple[YoungTree, ...]
    faults: tuple[Fault, ...]


def read_young_trees(
    shoots: Path,
    stations: Path | None = None,
    *,
    columns: Path | None = None,
    species: str = "",
) -> YoungTrees:
    """Read a table of shoots with its stations; a tree without a species is left out, with a fault.

    Parameters
    ----------
    shoots
        CSV or XLSX; a workbook's sheet ``shoots``, with a sheet ``stations`` beside it.
    stations
        The stations table where it is another file.
    columns
        A column-mapping file for tables from elsewhere.
    species
        Species of trees for which no station names one.

    Raises
    ------
    InputError
        A file cannot be read at all, or the species is not known.
    """
    fallback = find_species(species).key if species else ""
    faults = Faults()
    book = read_book(shoots)
    mapping = ColumnMap() if columns is None else read_columns(columns)
    table = apply_columns(book.table("shoots", mapping.known_in("shoots")), mapping.shoots)
    faults.extend(table.faults)
    check_header(table, SHOOT_COLUMNS, ("station", "shoot"), faults)
    taken = read_shoots(table, faults)
    places = _places(book, stations, mapping, faults)
    found = []
    for tree in young_trees(taken, places):
        kind = tree.station.species or fallback
        if kind:
            found.append(YoungTree(replace(tree.station, species=kind), tree.shoots))
            continue
        first = tree.shoots[0]
        faults.add(
            Fault(
                first.file,
                first.row,
                "station",
                tree.station.tree,
                "the tree has no species; it is left out",
                "Fill in species in the stations table, or give --species.",
            )
        )
    return YoungTrees(tuple(found), tuple(faults))


def _places(
    book: Book, stations: Path | None, mapping: ColumnMap, faults: Faults
) -> Sequence[StationRecord]:
    if stations is None and not book.has("stations"):
        return ()
    source = book if stations is None else read_book(stations)
    table = apply_columns(source.table("stations", mapping.known_in("stations")), mapping.stations)
    faults.extend(table.faults)
    check_header(table, STATION_COLUMNS, ("station",), faults)
    return read_stations(table, faults)

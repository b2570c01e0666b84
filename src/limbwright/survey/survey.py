"""Read a survey: limbs, and the stations they stand on, into trees ready to be built."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from limbwright.errors import InputError
from limbwright.model import Fault, Faults, LimbRecord, StationRecord, TreeSurvey
from limbwright.survey.check import order_limbs
from limbwright.survey.columns import ColumnMap, apply_columns, read_columns
from limbwright.survey.header import check_header
from limbwright.survey.limbs import FURTHER_COLUMNS, LIMB_COLUMNS, TapedLimb, read_limbs
from limbwright.survey.plausible import check_stems, check_tree, check_units
from limbwright.survey.stations import STATION_COLUMNS, read_stations
from limbwright.survey.tables import Book, Table, read_book
from limbwright.survey.units import as_number
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
    table = book.table("limbs", {*LIMB_COLUMNS, *mapping.limbs.sources()})
    table = apply_columns(table, mapping.limbs)
    faults.extend(table.faults)
    check_header(
        table,
        (*LIMB_COLUMNS, *FURTHER_COLUMNS),
        ("station", "limb", "diameter_mm", "length_m"),
        faults,
    )
    taped, named = read_limbs(table, faults)
    place_table = _place_table(book, stations, mapping, faults)
    places: tuple[StationRecord, ...] = ()
    if place_table is not None:
        faults.extend(place_table.faults)
        check_header(place_table, STATION_COLUMNS, ("station",), faults)
        places = read_stations(place_table, faults)
    slipped = check_units(_raw(table), table.file)
    faults.extend(slipped)
    groups = _by_station(taped, places, faults, known=place_table is not None)
    alive = {f"{one.orchard}/{one.record.station}" for one in taped}
    for name in sorted(named - alive):
        fault = "no row of this tree can be used"
        faults.add(
            Fault(table.file, 0, "station", name.lstrip("/"), fault, "See its rows' faults.")
        )
    trees = []
    hung: list[tuple[list[TapedLimb], tuple[LimbRecord, ...]]] = []
    for station, group in groups:
        kind = station.species or next((o.record.species for o in group if o.record.species), "")
        if not kind and not fallback:
            group[0].cells.fault(
                "species",
                f"the tree at station {station.station} has no species; it is left out",
                "Fill in species in the stations or limbs table, or give --species.",
            )
            continue
        built = order_limbs(group, station, faults)
        if not slipped:
            check_tree(group, built, station)
        hung.append((group, built))
        trees.append(TreeSurvey(replace(station, species=kind or fallback), built))
    check_stems(hung)
    if not places:
        places = tuple(t.station for t in trees)
    return Survey(tuple(trees), tuple(faults), places)


def _place_table(
    book: Book, stations: Path | None, mapping: ColumnMap, faults: Faults
) -> Table | None:
    """Return the stations table: the file given, else the sheet beside the limbs, if any."""
    if stations is None and not book.has("stations"):
        return None
    known = {*STATION_COLUMNS, *mapping.stations.sources()}
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


def _raw(table: Table) -> list[LimbRecord]:
    """Return all rows with numbers, in range or not, for the look at the units."""
    found = []
    for row in table.rows:
        taken = ("diameter_mm", "length_m", "rise_deg", "bearing_deg")
        value = {c: as_number(row.cells.get(c, ""))[0] for c in taken}
        if value["diameter_mm"] and value["length_m"]:
            found.append(
                LimbRecord(
                    station="",
                    limb="",
                    parent=row.cells.get("parent", ""),
                    diameter_mm=value["diameter_mm"],
                    length_m=value["length_m"],
                    rise_deg=value["rise_deg"],
                    bearing_deg=value["bearing_deg"],
                )
            )
    return found


def _by_station(
    taped: tuple[TapedLimb, ...],
    places: tuple[StationRecord, ...],
    faults: Faults,
    *,
    known: bool,
) -> list[tuple[StationRecord, list[TapedLimb]]]:
    """Return each station with its limbs, in the order the limbs name them."""
    by_key: dict[str, StationRecord] = {}
    several: dict[str, int] = {}
    for place in places:
        by_key[f"{place.orchard}/{place.station}"] = place
        several[place.station] = several.get(place.station, 0) + 1
    alone = {p.station: p for p in places if several[p.station] == 1}
    groups: dict[str, tuple[StationRecord, list[TapedLimb]]] = {}
    refused: set[str] = set()
    for one in taped:
        record, name = one.record, one.record.station
        station = by_key.get(f"{one.orchard}/{name}")
        if station is None and not one.orchard:
            station = by_key.get(name) or alone.get(name)
        if station is None:
            if several.get(name, 0) > 1 and not one.orchard:
                one.cells.fault(
                    "station",
                    "several orchards have a station of this number; the limb is left out",
                    "Write orchard/station, or add a column orchard.",
                )
                continue
            station = StationRecord(
                station=name, orchard=one.orchard, file=record.file, row=record.row
            )
            if known and name not in refused:
                refused.add(name)
                one.cells.fault(
                    "station",
                    "not in the stations table",
                    "Add it there; the tree is kept without girth, height and features.",
                    warning=True,
                )
        key = f"{station.orchard}/{station.station}"
        groups.setdefault(key, (station, []))[1].append(one)
    for station, group in groups.values():
        _check_status(station, group)
    return list(groups.values())


def _check_status(station: StationRecord, group: list[TapedLimb]) -> None:
    """Warn, once a tree, of limbs where the stations table says no living tree stands."""
    where = f"row {station.row} of {station.file}"
    if station.status in {"gap", "stump"}:
        group[0].cells.fault(
            "station",
            f"a {station.status} in the stations table, yet it has limbs; read as a standing tree",
            f"Put the status right ({where}), or the station of these limbs.",
            warning=True,
        )
    elif station.status == "dead" and any(o.record.state != "dead" for o in group):
        group[0].cells.fault(
            "station",
            "dead in the stations table, yet not all its limbs are; each is read as its row says",
            f"Put the status right ({where}), or write state dead on each limb.",
            warning=True,
        )

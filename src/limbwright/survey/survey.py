"""Read a survey: limbs, and the stations they stand on, into trees ready to be built."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from limbwright.model import Fault, Faults, LimbRecord, StationRecord, TreeSurvey
from limbwright.survey.cells import as_number
from limbwright.survey.check import check_units, order_limbs
from limbwright.survey.columns import apply_columns, read_columns
from limbwright.survey.limbs import TapedLimb, read_limbs
from limbwright.survey.stations import read_stations
from limbwright.survey.tables import Table, read_table
from limbwright.trade.species import species as find_species

__all__ = ["Survey", "read_survey"]


@dataclass(frozen=True, slots=True)
class Survey:
    """The trees that can be built, everything found wrong, and every station of the table."""

    trees: tuple[TreeSurvey, ...]
    faults: tuple[Fault, ...]
    stations: tuple[StationRecord, ...]


def read_survey(
    limbs: Path,
    stations: Path | None = None,
    *,
    columns: Path | None = None,
    species: str | None = None,
) -> Survey:
    """Read a survey, keeping every good row and reporting every fault at once.

    Parameters
    ----------
    limbs
        Table of limbs, CSV or XLSX.
    stations
        Table of stations; in one workbook the two sheets may be in the same file.
    columns
        Column-mapping file (TOML) for a table of limbs from elsewhere.
    species
        Species of trees for which neither table names one.

    Raises
    ------
    InputError
        A file cannot be read at all, the species is not known, or the table is not of limbs.
    """
    fallback = find_species(species).key if species else ""
    faults = Faults()
    table = read_table(Path(limbs), "limbs")
    if columns is not None:
        table = apply_columns(table, read_columns(Path(columns)))
    faults.extend(table.faults)
    _columns_needed(table, ("station", "limb", "diameter_mm", "length_m"), faults)
    taped, named = read_limbs(table, faults)
    places: tuple[StationRecord, ...] = ()
    if stations is not None:
        place_table = read_table(Path(stations), "stations")
        faults.extend(place_table.faults)
        _columns_needed(place_table, ("station",), faults)
        places = read_stations(place_table, faults)
    faults.extend(check_units(_raw(table), table.file))
    groups = _by_station(taped, places, faults, known=stations is not None)
    alive = {f"{one.orchard}/{one.record.station}" for one in taped}
    for name in sorted(named - alive):
        fault = "no row of this tree can be used"
        faults.add(
            Fault(table.file, 0, "station", name.lstrip("/"), fault, "See its rows' faults.")
        )
    trees = []
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
        trees.append(TreeSurvey(replace(station, species=kind or fallback), built))
    if not places:
        places = tuple(t.station for t in trees)
    return Survey(tuple(trees), tuple(faults), places)


def _columns_needed(table: Table, needed: tuple[str, ...], faults: Faults) -> None:
    for column in needed:
        if column not in table.header and table.rows:
            fault = "there is no such column"
            remedy = f"Name a column {column}, or give a column mapping."
            faults.add(Fault(table.file, 1, column, "", fault, remedy))


def _raw(table: Table) -> list[LimbRecord]:
    """Return all rows with numbers, in range or not, for the look at the units."""
    found = []
    for row in table.rows:
        value = {
            c: as_number(row.cells.get(c, ""))[0] for c in ("diameter_mm", "length_m", "rise_deg")
        }
        if value["diameter_mm"] and value["length_m"]:
            found.append(
                LimbRecord(
                    station="",
                    limb="",
                    parent=row.cells.get("parent", ""),
                    diameter_mm=value["diameter_mm"],
                    length_m=value["length_m"],
                    rise_deg=value["rise_deg"],
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
    return list(groups.values())

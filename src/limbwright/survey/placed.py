"""Read limbs on to the stations that are known, whether of a table or of a project."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from limbwright.model import Fault, Faults, LimbRecord, StationRecord, TreeSurvey
from limbwright.survey.check import order_limbs
from limbwright.survey.header import check_header
from limbwright.survey.limbs import FURTHER_COLUMNS, LIMB_COLUMNS, TapedLimb, read_limbs
from limbwright.survey.plausible import check_stems, check_tree, check_units
from limbwright.survey.tables import Table
from limbwright.survey.units import as_number

__all__ = ["read_placed_limbs"]


def read_placed_limbs(
    table: Table,
    places: Sequence[StationRecord],
    faults: Faults,
    *,
    species: str = "",
    known: bool | None = None,
) -> tuple[TreeSurvey, ...]:
    """Return the trees of a limbs table that can be built.

    Parameters
    ----------
    table
        The limbs, a column mapping already applied.
    places
        The stations known.
    faults
        Gets everything found wrong.
    species
        Species of trees for which neither names one.
    known
        Whether a station that is not among ``places`` is told; None: where there are any.
    """
    faults.extend(table.faults)
    needed = ("station", "limb", "diameter_mm", "length_m")
    check_header(table, (*LIMB_COLUMNS, *FURTHER_COLUMNS), needed, faults)
    taped, named = read_limbs(table, faults)
    slipped = check_units(_raw(table), table.file)
    faults.extend(slipped)
    groups = _by_station(taped, places, faults, known=bool(places) if known is None else known)
    alive = {f"{one.orchard}/{one.record.station}" for one in taped}
    for name in sorted(named - alive):
        fault = "no row of this tree can be used"
        told = Fault(table.file, 0, "station", name.lstrip("/"), fault, "See its rows' faults.")
        faults.add(told)
    trees = []
    hung: list[tuple[list[TapedLimb], tuple[LimbRecord, ...]]] = []
    for station, group in groups:
        kind = station.species or next((o.record.species for o in group if o.record.species), "")
        if not kind and not species:
            group[0].cells.fault(
                "species",
                f"the tree at station {station.tree} has no species; it is left out",
                "Fill in species in the stations or limbs table, or give --species.",
            )
            continue
        built = order_limbs(group, station, faults)
        if not slipped:
            check_tree(group, built, station)
        hung.append((group, built))
        trees.append(TreeSurvey(replace(station, species=kind or species), built))
    check_stems(hung)
    return tuple(trees)


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
    places: Sequence[StationRecord],
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

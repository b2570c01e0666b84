"""Read limbs on to stations that are known already, as a project knows them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from limbwright.model import Fault, Faults, LimbRecord, StationRecord, TreeSurvey
from limbwright.survey.check import order_limbs
from limbwright.survey.header import check_header
from limbwright.survey.limbs import FURTHER_COLUMNS, LIMB_COLUMNS, TapedLimb, read_limbs
from limbwright.survey.plausible import check_stems, check_tree, check_units
from limbwright.survey.survey import _by_station, _raw
from limbwright.survey.tables import Table

__all__ = ["read_placed_limbs"]


def read_placed_limbs(
    table: Table, places: Sequence[StationRecord], faults: Faults, *, species: str = ""
) -> tuple[TreeSurvey, ...]:
    """Return the trees of a limbs table that can be built.

    Parameters
    ----------
    table
        The limbs, a column mapping already applied.
    places
        The stations known; none: any station is taken as it comes.
    faults
        Gets everything found wrong.
    species
        Species of trees for which neither names one.
    """
    faults.extend(table.faults)
    needed = ("station", "limb", "diameter_mm", "length_m")
    check_header(table, (*LIMB_COLUMNS, *FURTHER_COLUMNS), needed, faults)
    taped, named = read_limbs(table, faults)
    slipped = check_units(_raw(table), table.file)
    faults.extend(slipped)
    groups = _by_station(taped, tuple(places), faults, known=bool(places))
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

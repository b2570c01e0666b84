"""The limbs table: one row a limb, the stem among them."""

from __future__ import annotations

from dataclasses import dataclass

from limbwright.model import Faults, LimbRecord
from limbwright.survey.cells import Cells
from limbwright.survey.stations import known_species
from limbwright.survey.tables import Table

__all__ = ["LIMB_COLUMNS", "STATES", "UNIONS", "TapedLimb", "read_limbs"]

STATES = ("live", "dead", "diseased", "broken")
UNIONS = ("sound", "included", "cracked")
LIMB_COLUMNS = (
    *("orchard", "station", "limb", "parent", "at_m", "diameter_mm", "end_diameter_mm"),
    *("length_m", "bearing_deg", "rise_deg", "end_rise_deg", "crown", "state", "union"),
    *("cavity_wall_mm", "keep", "rubs", "species", "note"),
)


@dataclass(frozen=True, slots=True)
class TapedLimb:
    """A limb that can be used, its orchard, and its cells for later faults."""

    orchard: str
    record: LimbRecord
    cells: Cells


def read_limbs(table: Table, faults: Faults) -> tuple[tuple[TapedLimb, ...], frozenset[str]]:
    """Return the usable limbs, and the stations (``orchard/station``) of all rows.

    A row without station, limb, diameter or length is left out, with a fault that says so.
    """
    found: list[TapedLimb] = []
    stations: set[str] = set()
    for row in table.rows:
        cells = Cells(table, row, faults)
        station, limb = cells.needed("station"), cells.needed("limb")
        if station:
            stations.add(f"{cells.text('orchard')}/{station}")
        diameter, length = _measure(cells, "diameter_mm"), _measure(cells, "length_m")
        record = LimbRecord(
            station=station,
            limb=limb,
            parent=cells.text("parent"),
            diameter_mm=diameter or 0.0,
            length_m=length or 0.0,
            at_m=cells.number("at_m"),
            end_diameter_mm=cells.number("end_diameter_mm"),
            bearing_deg=cells.number("bearing_deg"),
            rise_deg=cells.number("rise_deg"),
            end_rise_deg=cells.number("end_rise_deg"),
            crown=cells.number("crown"),
            state=cells.word("state", STATES, "live"),
            union=cells.word("union", UNIONS, "sound"),
            cavity_wall_mm=_wall(cells, diameter),
            keep=cells.text("keep"),
            rubs=cells.text("rubs"),
            species=known_species(cells),
            note=cells.text("note"),
            extra=cells.extra(LIMB_COLUMNS),
            file=table.file,
            row=row.number,
        )
        if station and limb and diameter and length:
            found.append(TapedLimb(cells.text("orchard"), record, cells))
    return tuple(found), frozenset(stations)


def _measure(cells: Cells, column: str) -> float | None:
    """Return a measure no limb can do without."""
    return cells.number(column) if cells.needed(column) else None


def _wall(cells: Cells, diameter_mm: float | None) -> float | None:
    wall = cells.number("cavity_wall_mm")
    if wall is not None and diameter_mm and wall > diameter_mm / 2.0:
        cells.fault(
            "cavity_wall_mm",
            f"thicker than half the limb ({diameter_mm / 2.0:g} mm)",
            "Give the sound wood left between bark and cavity in mm; read as no cavity.",
        )
        return None
    return wall

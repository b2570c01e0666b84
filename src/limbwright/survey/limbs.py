"""The limbs table: one row a limb, the stem among them."""

from __future__ import annotations

from dataclasses import dataclass

from limbwright.model import Faults, LimbRecord
from limbwright.survey.cells import Cells
from limbwright.survey.stations import known_species
from limbwright.survey.tables import Table

__all__ = [
    "FURTHER_COLUMNS",
    "LIMB_COLUMNS",
    "STATES",
    "UNIONS",
    "TapedLimb",
    "cavity",
    "read_limbs",
]

STATES = ("live", "dead", "diseased", "broken")
UNIONS = ("sound", "included", "cracked")
LIMB_COLUMNS = (
    *("orchard", "station", "limb", "parent", "at_m", "diameter_mm", "end_diameter_mm"),
    *("length_m", "bearing_deg", "rise_deg", "end_rise_deg", "crown", "state", "union"),
    *("cavity_wall_mm", "cavity_far_wall_mm", "cavity_open_deg", "keep", "rubs", "species", "note"),
)
FURTHER_COLUMNS = ("taken_at_m",)
"""Columns of limbs kept beside the record, in its ``extra``, where the building finds them."""


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
        station = cells.needed("station") and cells.name("station")
        limb = cells.needed("limb") and cells.name("limb")
        if station:
            stations.add(f"{cells.text('orchard')}/{station}")
        diameter, length = _measure(cells, "diameter_mm"), _measure(cells, "length_m")
        wall, far_wall, opening = cavity(cells, diameter)
        record = LimbRecord(
            station=station,
            limb=limb,
            parent=cells.name("parent"),
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
            cavity_wall_mm=wall,
            cavity_far_wall_mm=far_wall,
            cavity_open_deg=opening,
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


def cavity(
    cells: Cells, diameter_mm: float | None
) -> tuple[float | None, float | None, float | None]:
    """Return the thinnest wall of a cavity, the wall across from it and how far it is open.

    Of a segment or a limb; what does not fit the others is left out, with a fault.
    """
    wall, far = cells.number("cavity_wall_mm"), cells.number("cavity_far_wall_mm")
    opening = cells.number("cavity_open_deg")
    if wall is not None and diameter_mm and wall > diameter_mm / 2.0:
        cells.fault(
            "cavity_wall_mm",
            f"thicker than half the limb ({diameter_mm / 2.0:g} mm)",
            "Give the sound wood left between bark and cavity in mm; read as no cavity.",
        )
        return None, None, None
    if wall is None:
        for column, given in (("cavity_far_wall_mm", far), ("cavity_open_deg", opening)):
            if given and not cells.text("cavity_wall_mm"):
                cells.fault(
                    column,
                    "a cavity without its thinnest wall; read as no cavity",
                    "Give that wall in cavity_wall_mm.",
                )
        return None, None, None
    if far is not None and far < wall:
        cells.fault(
            "cavity_far_wall_mm",
            f"thinner than the thinnest wall ({wall:g} mm)",
            "Give the wall across from the thinnest; read as the same all round.",
        )
        far = None
    if far is not None and diameter_mm and wall + far >= diameter_mm:
        cells.fault(
            "cavity_far_wall_mm",
            f"leaves no cavity in a limb of {diameter_mm:g} mm; read as the same all round",
            "Give the sound wood alone in mm.",
        )
        far = None
    return wall, far, opening

"""The stations table: one row a planting place."""

from __future__ import annotations

from limbwright.errors import LimbwrightError
from limbwright.model import Fault, Faults, StationRecord
from limbwright.survey.cells import Cells
from limbwright.survey.tables import Table
from limbwright.trade.parameters import parameters
from limbwright.trade.species import species as find_species

__all__ = ["CONDITIONS", "STATION_COLUMNS", "STATUSES", "read_stations"]

STATUSES = ("living", "dead", "stump", "gap", "new")
CONDITIONS = ("good", "fair", "poor", "dead")
STATION_COLUMNS = (
    *("orchard", "station", "species", "cultivar", "x", "y", "lon", "lat", "status", "planted"),
    *("form", "stock", "girth_cm", "girth_at_m", "height_m", "spread_m", "spread_ns_m"),
    *("spread_ew_m", "clear_stem_m", "lean_deg", "lean_bearing_deg", "condition"),
    *("extension_cm", "dead_pct", "features", "faults", "note"),
)


def read_stations(table: Table, faults: Faults) -> tuple[StationRecord, ...]:
    """Return the stations of a table; a station named twice keeps its first row."""
    found: dict[tuple[str, str], StationRecord] = {}
    for row in table.rows:
        cells = Cells(table, row, faults)
        name = cells.needed("station") and cells.name("station")
        if not name:
            continue
        key = (cells.text("orchard"), name)
        if key in found:
            cells.fault(
                "station",
                f"this station is already on row {found[key].row}",
                "Give each station of an orchard its own number; this row is left out.",
            )
            continue
        station = _station(cells, key)
        _check_girth(cells, station)
        found[key] = station
    _check_shares(table, tuple(found.values()), faults)
    return tuple(found.values())


def _check_shares(table: Table, found: tuple[StationRecord, ...], faults: Faults) -> None:
    """Warn where percentages look like fractions, as cells shown as percent hold them."""
    shares = [s.dead_pct for s in found if s.dead_pct]
    if shares and max(shares) <= 1.0 and any(s != 1.0 for s in shares):
        faults.add(
            Fault(
                table.file,
                0,
                table.sources.get("dead_pct", "dead_pct"),
                f"{max(shares):g}",
                "no share is above this; they look like fractions or cells shown as percent",
                'Give 10 for 10 %, or let a column mapping do it: unit = "fraction".',
                "warning",
            )
        )


def _station(cells: Cells, key: tuple[str, str]) -> StationRecord:
    spread = cells.number("spread_m")
    planted = cells.number("planted")
    return StationRecord(
        station=key[1],
        orchard=key[0],
        species=known_species(cells),
        cultivar=cells.text("cultivar"),
        x=cells.number("x"),
        y=cells.number("y"),
        lon_deg=_globe(cells, "lon", 180.0),
        lat_deg=_globe(cells, "lat", 90.0),
        status=cells.word("status", STATUSES, "living"),
        planted=None if planted is None else int(planted),
        form=cells.text("form"),
        stock=cells.text("stock"),
        girth_cm=cells.number("girth_cm"),
        girth_at_m=cells.number("girth_at_m"),
        height_m=cells.number("height_m"),
        spread_ns_m=_first(cells.number("spread_ns_m"), spread),
        spread_ew_m=_first(cells.number("spread_ew_m"), spread),
        clear_stem_m=cells.number("clear_stem_m"),
        lean_deg=cells.number("lean_deg"),
        lean_bearing_deg=cells.number("lean_bearing_deg"),
        condition=cells.word("condition", CONDITIONS, ""),
        extension_cm=cells.number("extension_cm"),
        dead_pct=cells.number("dead_pct"),
        features=cells.text("features"),
        faults=cells.text("faults"),
        note=cells.text("note"),
        extra=cells.extra(STATION_COLUMNS),
        file=cells.table.file,
        row=cells.row.number,
    )


def _first(a: float | None, b: float | None) -> float | None:
    return b if a is None else a


def _globe(cells: Cells, column: str, limit: float) -> float | None:
    value = cells.number(column)
    if value is not None and abs(value) > limit:
        cells.fault(column, f"outside -{limit:g} to {limit:g} deg", "Map coordinates go in x, y.")
        return None
    return value


def known_species(cells: Cells) -> str:
    """Return the species of a row as written, empty with a fault where it is not known."""
    text = cells.text("species")
    if not text:
        return ""
    try:
        find_species(text)
    except LimbwrightError as error:
        cells.fault("species", "not a species known here", error.remedy)
        return ""
    return text


def _check_girth(cells: Cells, station: StationRecord) -> None:
    if station.girth_cm is None or station.height_m is None or station.status != "living":
        return
    bound = parameters("survey_ranges")["height_over_diameter"]
    ratio = station.height_m * 100.0 / (station.girth_cm / 3.141592653589793)
    if not bound.low <= ratio <= bound.high:
        cells.fault(
            "girth_cm",
            f"hardly the girth of a tree {station.height_m:g} m tall",
            "Girth is in cm around the stem, height in m.",
            warning=True,
        )

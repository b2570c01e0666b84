"""Between the model's records and rows of the project file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from datetime import date
from functools import cache
from typing import cast

from limbwright.model import (
    CutDone,
    Holding,
    LimbRecord,
    Orchard,
    Photo,
    Response,
    ShootRecord,
    Site,
    StationRecord,
    Visit,
)
from limbwright.project.geometry import Rings
from limbwright.project.site_ranges import TERRAINS, within
from limbwright.project.tables import table_spec
from limbwright.survey.stations import CONDITIONS, STATUSES

__all__ = [
    "Row",
    "cut_of",
    "cut_row",
    "holding_of",
    "holding_row",
    "limb_of",
    "limb_row",
    "orchard_of",
    "orchard_row",
    "photo_of",
    "photo_row",
    "response_of",
    "response_row",
    "shoot_of",
    "shoot_row",
    "station_of",
    "station_row",
    "visit_of",
    "visit_row",
]

Row = Mapping[str, object]

_SITE = {f.name: "site_name" if f.name == "name" else f.name for f in fields(Site)}
"""Column of each field of the site."""
_HOLDING = ("name", "owner", "crs", "aims", "marked", "note")
_STATES = ("live", "dead", "diseased", "broken")
_UNIONS = ("sound", "included", "cracked")


def _fields_of(kind: type, table: str) -> tuple[str, ...]:
    """Return the fields of a record that are columns of the table as they stand."""
    columns = set(table_spec(table).values)
    return tuple(f.name for f in fields(kind) if f.name in columns)


def _given(row: Row, names: tuple[str, ...]) -> dict[str, object]:
    """Return the values of a row that say something; what is left out keeps its default."""
    return {n: row[n] for n in names if row.get(n) not in (None, "")}


def _word(given: dict[str, object], name: str, words: tuple[str, ...]) -> None:
    """Leave out a word that is none of those known, as another program may have left it."""
    if given.get(name) not in words:
        given.pop(name, None)


@cache
def _known(table: str) -> frozenset[str]:
    return frozenset(table_spec(table).values)


def _extra(row: Row, table: str) -> dict[str, str]:
    """Return the unknown columns, of the surveys and of other programs alike, as text."""
    kept = row.get("extra")
    extra = {str(k): str(v) for k, v in kept.items()} if isinstance(kept, dict) else {}
    for name in row.keys() - _known(table):
        value = row[name]
        if value not in (None, "") and not isinstance(value, bytes):
            extra[name] = str(value)
    return extra


def _day(value: object) -> date:
    return date.fromisoformat(cast(str, value))


_STATION = _fields_of(StationRecord, "stations")
_LIMB = _fields_of(LimbRecord, "limbs")
_SHOOT = _fields_of(ShootRecord, "shoots")
_VISIT = _fields_of(Visit, "visits")
_CUT = _fields_of(CutDone, "cuts_done")
_RESPONSE = _fields_of(Response, "responses")
_PHOTO = _fields_of(Photo, "photos")


def holding_row(holding: Holding) -> dict[str, object]:
    """Return the holding as its row, without its orchards."""
    row: dict[str, object] = {"number": 1}
    row |= {n: getattr(holding, n) for n in _HOLDING} | {"aims": list(holding.aims)}
    return row | {column: getattr(holding.site, n) for n, column in _SITE.items()}


def holding_of(row: Row, crs: str, orchards: tuple[Orchard, ...]) -> Holding:
    """Return the holding of its row."""
    site = {n: row[c] for n, c in _SITE.items() if row.get(c) not in (None, "")}
    site = {n: value for n, value in site.items() if within(n, value)}
    _word(site, "terrain", TERRAINS)
    aims = row.get("aims")
    return Holding(
        name=str(row.get("name", "")),
        owner=str(row.get("owner", "")),
        site=Site(**site),  # type: ignore[arg-type]
        crs=crs,
        aims=tuple(str(a) for a in aims) if isinstance(aims, list) else (),
        marked=str(row.get("marked", "")),
        orchards=orchards,
        note=str(row.get("note", "")),
    )


def orchard_row(orchard: Orchard) -> dict[str, object]:
    """Return an orchard as its row."""
    return {
        "orchard": orchard.name,
        "grazed_by": orchard.grazed_by,
        "access": orchard.access,
        "people_below": orchard.people_below,
        "note": orchard.note,
        "rings": (orchard.boundary,) if orchard.boundary else None,
    }


def orchard_of(row: Row) -> Orchard:
    """Return the orchard of a row; its boundary is the outer ring."""
    rings = cast("Rings | None", row["rings"])
    return Orchard(
        name=str(row["orchard"]),
        boundary=rings[0] if rings else (),
        grazed_by=str(row["grazed_by"]),
        access=str(row["access"]),
        people_below=bool(row["people_below"]),
        note=str(row["note"]),
    )


def station_row(station: StationRecord) -> dict[str, object]:
    """Return a station as its row; longitude and latitude have to be x and y by now."""
    return {n: getattr(station, n) for n in _STATION} | {"extra": dict(station.extra)}


def station_of(row: Row, table: str = "stations") -> StationRecord:
    """Return the station of a row of stations or of a walk."""
    given = {n: row[n] for n in _STATION if n in row}  # empty text and None are the defaults
    if given["status"] not in STATUSES:
        del given["status"]
    if given["condition"] not in CONDITIONS:
        del given["condition"]
    if given["row"] is None:
        del given["row"]
    given["extra"] = _extra(row, table)
    return StationRecord(**given)  # type: ignore[arg-type]


def limb_row(limb: LimbRecord, survey: int, tree: str, number: int) -> dict[str, object]:
    """Return a limb as its row; ``number`` is its place in the tree's order."""
    row = {n: getattr(limb, n) for n in _LIMB} | {"extra": dict(limb.extra)}
    return row | {"survey": survey, "tree": tree, "number": number}


def limb_of(row: Row, station: str) -> LimbRecord | None:
    """Return the limb of a row, None where its diameter or length is gone."""
    given = _given(row, _LIMB)
    if "diameter_mm" not in given or "length_m" not in given:
        return None
    _word(given, "state", _STATES)
    _word(given, "union", _UNIONS)
    given |= {"station": station, "limb": row["limb"], "parent": row["parent"]}
    return LimbRecord(**given | {"extra": _extra(row, "limbs")})  # type: ignore[arg-type]


def shoot_row(shoot: ShootRecord, survey: int, tree: str, number: int) -> dict[str, object]:
    """Return a shoot as its row; ``number`` is its place in the tree's order."""
    row = {n: getattr(shoot, n) for n in _SHOOT} | {"extra": dict(shoot.extra)}
    return row | {"survey": survey, "tree": tree, "number": number}


def shoot_of(row: Row, station: str) -> ShootRecord:
    """Return the shoot of a row."""
    given = _given(row, _SHOOT)
    _word(given, "state", _STATES)
    given |= {"station": station, "shoot": row["shoot"]}
    return ShootRecord(**given | {"extra": _extra(row, "shoots")})  # type: ignore[arg-type]


def visit_row(visit: Visit) -> dict[str, object]:
    """Return a visit as its row, without its cuts."""
    return {n: getattr(visit, n) for n in _VISIT}


def visit_of(row: Row, cuts: tuple[CutDone, ...]) -> Visit:
    """Return the visit of a row and its cuts."""
    given = _given(row, _VISIT) | {"season": row["season"], "done_on": _day(row["done_on"])}
    return Visit(**given | {"tree": row["tree"], "cuts": cuts})  # type: ignore[arg-type]


def cut_row(cut: CutDone, visit: Visit, number: int) -> dict[str, object]:
    """Return a cut of a visit as its row; ``number`` is its place in the record."""
    row = {n: getattr(cut, n) for n in _CUT} | {"on_card": cut.order}
    return row | {"tree": visit.tree, "done_on": visit.done_on, "number": number}


def cut_of(row: Row) -> CutDone:
    """Return the cut of a row."""
    order = row["on_card"]
    given = _given(row, _CUT) | {"order": order if isinstance(order, int) else 0}
    return CutDone(**given | {"limb": row["limb"]})  # type: ignore[arg-type]


def response_row(response: Response) -> dict[str, object]:
    """Return a response as its row."""
    row = {n: getattr(response, n) for n in _RESPONSE}
    return row | {"limbs_lost": list(response.limbs_lost)}


def response_of(row: Row) -> Response:
    """Return the response of a row."""
    lost = row["limbs_lost"]
    given = _given(row, _RESPONSE) | {"tree": row["tree"], "seen_on": _day(row["seen_on"])}
    given["limbs_lost"] = tuple(str(n) for n in lost) if isinstance(lost, list) else ()
    _word(given, "condition", CONDITIONS)
    return Response(**given)  # type: ignore[arg-type]


def photo_row(photo: Photo) -> dict[str, object]:
    """Return a photo as its row, without the picture itself."""
    return {n: getattr(photo, n) for n in _PHOTO}


def photo_of(row: Row) -> Photo:
    """Return the photo of a row."""
    given = _given(row, _PHOTO) | {"tree": row["tree"], "file": row["file"]}
    taken_on = row["taken_on"]
    given["taken_on"] = _day(taken_on) if taken_on else date.min
    return Photo(**given)  # type: ignore[arg-type]

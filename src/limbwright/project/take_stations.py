"""Stations from a table or a layer into the project: the latest state, and the walk it is of."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from limbwright.model import Fault, StationRecord
from limbwright.project.adding import Adding, Key, content_sha256
from limbwright.project.changes_shown import Altered
from limbwright.project.crs import WGS84, named_crs
from limbwright.project.dated import Day, by_day, on_orchards
from limbwright.project.place import far_ones, same_place, shape_crs
from limbwright.project.sources import Part
from limbwright.project.tables import table_spec
from limbwright.survey.header import check_header
from limbwright.survey.stations import STATION_COLUMNS, read_stations

__all__ = ["merge_stations", "take_stations"]

FIELDS = tuple(
    name
    for name in table_spec("stations").names
    if name not in {"orchard", "station", "extra", "file", "row"}
)
"""The values of a station, its place aside."""
_OTHER_TREE = frozenset(("gap", "stump", "new"))
"""At a station that becomes one of these, what was known of its tree holds no longer."""
_MANY = 5
"""Rows with the same fault told one by one; judgement: beyond it they are counted."""

Given = dict[str, object]
Place = tuple[float, float]


def take_stations(adding: Adding, part: Part) -> None:
    """Add a table or a layer of stations."""
    adding.faults.extend((*part.faults, *part.table.faults))
    known = (*STATION_COLUMNS, "taken_on", "who")
    check_header(part.table, known, ("station",), adding.faults)
    for day, table in by_day(part.table, adding.day, adding.faults):
        placed = on_orchards(table, adding.orchard)
        records = read_stations(placed, adding.faults)
        with_status = {r.number for r in placed.rows if r.cells.get("status")}
        found = {(r.orchard, r.station): _given(r, r.row in with_status) for r in records}
        places = _places(adding, records, part)
        content = content_sha256([[*k, v, places.get(k)] for k, v in found.items()])
        if _held(adding, day, content, found):
            adding.tally.count("stations", same=len(found))
            continue
        rows = {(r.orchard, r.station): (r.file, r.row) for r in records}
        known_places = [
            (key, (float(x), float(y)))
            for key, row in adding.stations.items()
            if key not in places
            and isinstance(x := row["x"], float)
            and isinstance(y := row["y"], float)
        ]
        adding.faults.extend(far_ones(adding.project.crs, places, known_places, rows))
        altered = merge_stations(adding, day, found, places, rows)
        walked = found if day.said else {k: v for k, v in found.items() if k in altered}
        _walk(adding, day, walked, rows, content if len(walked) == len(found) else "")


def _given(record: StationRecord, status: bool) -> Given:
    """Return what a row says of its station; blanks say nothing."""
    values = {name: getattr(record, name) for name in FIELDS}
    given: Given = {name: v for name, v in values.items() if v is not None and v != ""}
    if not status:
        given.pop("status", None)
    if record.extra:
        given["extra"] = dict(record.extra)
    return given


def _held(adding: Adding, day: Day, content: str, found: Mapping[Key, Given]) -> bool:
    """Return whether a survey of the same content is there, and its stations still are."""
    surveys = adding.surveys_of("walk", day.taken_on if day.said else None)
    same = any(s["content_sha256"] == content for s in surveys)
    return same and all(key in adding.stations for key in found)


def _places(adding: Adding, records: Sequence[StationRecord], part: Part) -> dict[Key, Place]:
    """Return where the stations stand, on the project's map: by shape, else x and y, else lon."""
    placer = adding.placer
    option = placer.option
    on_globe = option if option and named_crs(option).is_geographic else WGS84
    of_shapes = shape_crs(part.crs, option, part.shapes.values())
    groups: dict[str, list[tuple[StationRecord, float, float]]] = {}
    for one in records:
        shape = part.shapes.get(one.row)
        if shape is not None:
            groups.setdefault(of_shapes, []).append((one, shape.x, shape.y))
        elif one.x is not None and one.y is not None:
            groups.setdefault(option, []).append((one, one.x, one.y))
        elif one.lon_deg is not None and one.lat_deg is not None:
            groups.setdefault(on_globe, []).append((one, one.lon_deg, one.lat_deg))
        elif _half(one):
            fault = "half a position; the station is kept without"
            remedy = "Give both x and y, or both lon and lat."
            adding.faults.add(Fault(one.file, one.row, "station", one.station, fault, remedy))
    places: dict[Key, Place] = {}
    lost: list[StationRecord] = []
    for source, group in groups.items():
        xs, ys = placer.place([x for _, x, _ in group], [y for _, _, y in group], source)
        for (one, _, _), x, y in zip(group, xs.tolist(), ys.tolist(), strict=True):
            if math.isfinite(x) and math.isfinite(y):
                places[one.orchard, one.station] = (x, y)
            else:
                lost.append(one)
    _tell_lost(adding, lost)
    return places


def _half(one: StationRecord) -> bool:
    return any(v is not None for v in (one.x, one.y, one.lon_deg, one.lat_deg))


def _tell_lost(adding: Adding, lost: Sequence[StationRecord]) -> None:
    fault = "a position that is nowhere on this map; the station is kept without"
    remedy = "Check the order (east or longitude first) and the CRS."
    for one in lost[:_MANY]:
        adding.faults.add(Fault(one.file, one.row, "station", one.station, fault, remedy))
    if len(lost) > _MANY:
        more = f"and {len(lost) - _MANY} more stations with {fault}"
        adding.faults.add(Fault(lost[0].file, 0, "", "", more, remedy))


def merge_stations(
    adding: Adding,
    day: Day,
    found: Mapping[Key, Given],
    places: Mapping[Key, Place],
    rows: Mapping[Key, tuple[str, int]],
) -> set[Key]:
    """Bring the latest state of stations up to date, and return those added or changed.

    What a row does not say stays as it was. An earlier walk than the last one of a station fills
    only what is blank.
    """
    adding.orchards_named([key[0] for key in found])
    later = _walked_after(adding, day)
    put: list[dict[str, object]] = []
    touched: set[Key] = set()
    added = 0
    for key, given in found.items():
        file, row = rows[key]
        held = adding.stations.get(key)
        if held is None:
            new = {**dict.fromkeys(FIELDS), "status": "living", "extra": {}, **given}
            x, y = places.get(key, (None, None))
            new |= {"orchard": key[0], "station": key[1], "x": x, "y": y}
            added += 1
        else:
            new = _merged(held, given, places.get(key), fill_only=key in later)
            altered = list(_altered(key, held, new))
            if not altered:
                continue
            adding.tally.altered.extend(altered)
        new |= {"file": file, "row": row}
        put.append(new)
        touched.add(key)
        adding.stations[key] = {**(held or {}), **new}
    adding.project.put("stations", put)
    changed = len(put) - added
    adding.tally.count("stations", added=added, changed=changed, same=len(found) - len(put))
    return touched


def _walked_after(adding: Adding, day: Day) -> set[Key]:
    """Return the stations that a later walk has seen."""
    after = [
        s["survey"]
        for s in adding.surveys_of("walk")
        if str(s["taken_on"] or "") > day.taken_on.isoformat()
    ]
    if not after:
        return set()
    rows = adding.project.rows("walks", survey=after)
    return {(str(r["orchard"]), str(r["station"])) for r in rows}


def _merged(
    held: Mapping[str, object], given: Given, place: Place | None, *, fill_only: bool
) -> dict[str, object]:
    """Return the state of a station after a row that says ``given`` of it."""
    now = {name: held.get(name) for name in FIELDS}
    extra = held.get("extra")
    told = dict(extra) if isinstance(extra, dict) else {}
    more = given.get("extra")
    said = dict(more) if isinstance(more, dict) else {}
    values = {name: v for name, v in given.items() if name != "extra"}
    if fill_only:
        values = {name: v for name, v in values.items() if now[name] in (None, "")}
        told = said | told
    else:
        status = values.get("status")
        if status in _OTHER_TREE and status != now["status"]:
            now, told = dict.fromkeys(FIELDS), {}
        told |= said
    new: dict[str, object] = {**now, **values, "extra": told}
    x, y = held["x"], held["y"]
    keeps = place is None or same_place((x, y), place) or (fill_only and x is not None)
    new["x"], new["y"] = (x, y) if keeps or place is None else place
    return {"orchard": held["orchard"], "station": held["station"], **new}


def _altered(key: Key, held: Mapping[str, object], new: Mapping[str, object]) -> list[Altered]:
    """Return what a station's row says otherwise than before."""
    name = f"{key[0]}/{key[1]}" if key[0] else key[1]
    found = [
        Altered("stations", name, field, held.get(field), new[field])
        for field in FIELDS
        if not _alike(held.get(field), new[field])
    ]
    before, after = held.get("extra") or {}, new["extra"] or {}
    if isinstance(before, dict) and isinstance(after, dict):
        for field in dict.fromkeys((*before, *after)):
            if before.get(field) != after.get(field):
                told = Altered("stations", name, field, before.get(field), after.get(field))
                found.append(told)
    if (held["x"], held["y"]) != (new["x"], new["y"]):
        found.append(Altered("stations", name, "position", _at(held), _at(new)))
    return found


def _alike(a: object, b: object) -> bool:
    return a == b or (a in (None, "") and b in (None, ""))


def _at(row: Mapping[str, object]) -> str:
    x, y = row["x"], row["y"]
    return f"{x:.10g}, {y:.10g}" if isinstance(x, float) and isinstance(y, float) else ""


def _walk(
    adding: Adding,
    day: Day,
    found: Mapping[Key, Given],
    rows: Mapping[Key, tuple[str, int]],
    content: str,
) -> None:
    """Write down what a walk found; a row of the same station and day is put right."""
    if not found:
        return
    surveys = [s["survey"] for s in adding.surveys_of("walk", day.taken_on)]
    of_day = {
        (str(r["orchard"]), str(r["station"])): r["survey"]
        for r in (adding.project.rows("walks", survey=surveys) if surveys else ())
    }
    number: int | None = None
    put = []
    for key, given in found.items():
        survey = of_day.get(key)
        if survey is None:
            if number is None:
                number = adding.new_survey("walk", day, rows[key][0], content)
            survey = number
        status = given.get("status") or adding.stations[key]["status"]
        blank: dict[str, object] = {**dict.fromkeys(FIELDS), "extra": {}, **given}
        blank |= {"survey": survey, "orchard": key[0], "station": key[1], "status": status}
        put.append(blank | {"file": rows[key][0], "row": rows[key][1]})
    adding.project.put("walks", put)

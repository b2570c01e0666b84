"""Limbs, shoots and segments into the project: by tree and day, the earlier sets kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from limbwright.model import StationRecord
from limbwright.project.adding import Adding, Key, content_sha256
from limbwright.project.changes_shown import Altered, Gone
from limbwright.project.dated import Day, by_day, on_trees
from limbwright.project.rows import limb_row, shoot_row
from limbwright.project.sources import Part
from limbwright.project.tables import table_spec
from limbwright.project.take_stations import merge_stations
from limbwright.survey.header import check_header
from limbwright.survey.placed import read_placed_limbs
from limbwright.survey.segments import SEGMENT_COLUMNS, read_segments
from limbwright.survey.shoots import SHOOT_COLUMNS, read_shoots, young_trees
from limbwright.survey.tables import Table
from limbwright.survey.units import as_number

__all__ = ["take_limbs", "take_segments", "take_shoots"]

Row = dict[str, object]
_NAME = {"limbs": "limb", "shoots": "shoot", "segments": "segment"}
"""The column that tells the rows of one tree apart."""
_NOT_TOLD = frozenset(("survey", "tree", "number", "file", "row"))
"""Columns that are no value of a limb."""


@dataclass(frozen=True, slots=True)
class _Held:
    """The rows of one tree as one survey found them, by name."""

    survey: int
    taken_on: str
    rows: dict[object, Row]


def take_limbs(adding: Adding, part: Part) -> None:
    """Add a table of limbs."""
    adding.faults.extend((*part.faults, *part.table.faults))
    for day, table in _tables(adding, part):
        plain = replace(table, faults=())
        trees = read_placed_limbs(plain, adding.records(), adding.faults, species=adding.species)
        stations = [t.station for t in trees]
        sets = {
            t.station.tree: [
                limb_row(one, 0, t.station.tree, k) for k, one in enumerate(t.limbs, 1)
            ]
            for t in trees
        }
        _add(adding, "limbs", day, sets, stations, table)


def take_shoots(adding: Adding, part: Part) -> None:
    """Add a table of shoots of young trees."""
    adding.faults.extend((*part.faults, *part.table.faults))
    known = (*SHOOT_COLUMNS, "taken_on", "who")
    check_header(part.table, known, ("station", "shoot"), adding.faults)
    for day, table in _tables(adding, part):
        trees = young_trees(read_shoots(table, adding.faults), adding.records())
        stations = [t.station for t in trees]
        sets = {
            t.station.tree: [
                shoot_row(one, 0, t.station.tree, k) for k, one in enumerate(t.shoots, 1)
            ]
            for t in trees
        }
        _add(adding, "shoots", day, sets, stations, table)


def take_segments(adding: Adding, part: Part) -> None:
    """Add a table of segments: whole skeletons."""
    adding.faults.extend((*part.faults, *part.table.faults))
    known, named = adding.trees(), adding.namer()
    for day, table in by_day(part.table, adding.day, adding.faults):
        found = read_segments(replace(table, faults=()), species=adding.species or None)
        adding.faults.extend(found.faults)
        sets: dict[str, list[Row]] = {}
        stations = []
        for one in found.skeletons:
            kept = {int(n) for n in one.segment_ids.tolist()}
            more = found.extra.get(one.tree, {})
            tree = named(one.tree)
            rows = _segment_rows(table, one.tree, kept, more)
            sets[tree] = [{**row, "tree": tree} for row in rows]
            orchard, _, station = tree.rpartition("/")
            key = known.get(tree, (orchard, station))
            stations.append(
                StationRecord(station=key[1], orchard=key[0], species=one.species, file=table.file)
            )
        _add(adding, "segments", day, sets, stations, table)


def _tables(adding: Adding, part: Part) -> list[tuple[Day, Table]]:
    trees = adding.trees()
    return [
        (day, on_trees(table, adding.orchard, trees, adding.faults))
        for day, table in by_day(part.table, adding.day, adding.faults)
    ]


def _segment_rows(
    table: Table, tree: str, kept: set[int], extra: Mapping[int, Mapping[str, str]]
) -> list[Row]:
    """Return the rows of one tree as they were given, those left out aside."""
    spec = table_spec("segments")
    rows: list[Row] = []
    seen: set[int] = set()
    for row in table.rows:
        number = as_number(row.cells.get("segment", ""))[0]
        if row.cells.get("tree") != tree or number is None or int(number) not in kept - seen:
            continue
        seen.add(int(number))
        values: Row = {"tree": tree, "extra": dict(extra.get(int(number), {}))}
        for name in SEGMENT_COLUMNS[1:]:
            text = row.cells.get(name, "")
            value = as_number(text)[0] if spec.column(name).type != "TEXT" else None
            if spec.column(name).type == "TEXT":
                values[name] = text
            elif spec.column(name).type == "INTEGER":
                values[name] = None if value is None else int(value)
            else:
                values[name] = value
        rows.append(values)
    return rows


def _add(
    adding: Adding,
    table: str,
    day: Day,
    sets: Mapping[str, Sequence[Row]],
    stations: Sequence[StationRecord],
    source: Table,
) -> None:
    """Add the sets of one day, tree by tree, and the stations they stand on."""
    _stations(adding, day, stations)
    held = _held(adding, table, sets)
    kind = table
    number: int | None = None
    put: list[Row] = []
    named = {(r.cells.get("station", ""), r.cells.get(_NAME[table], "")) for r in source.rows}
    content = content_sha256({tree: [_values(r) for r in rows] for tree, rows in sets.items()})
    for tree, rows in sets.items():
        by_name = {row[_NAME[table]]: row for row in rows}
        earlier = held.get(tree, [])
        of_day = [h for h in earlier if h.taken_on == day.taken_on.isoformat()]
        if any(_same(h.rows, by_name) for h in (of_day if day.said and of_day else earlier)):
            adding.tally.count(table, same=len(rows))
            continue
        before = of_day[-1] if of_day else _last_before(earlier, day)
        if of_day:
            survey = of_day[-1].survey
            lost = [name for name in of_day[-1].rows if name not in by_name]
            adding.project.remove(table, [(survey, tree, name) for name in lost])
            _corrected(adding, survey)
        else:
            if number is None:
                number = adding.new_survey(kind, day, source.file, content)
            survey = number
        _tell(adding, table, tree, before, by_name, corrected=bool(of_day), named=named)
        put += [{**row, "survey": survey} for row in rows]
    adding.project.put(table, put)


def _stations(adding: Adding, day: Day, stations: Sequence[StationRecord]) -> None:
    """Write down the stations of trees that are not known yet, and species not known before."""
    found: dict[Key, dict[str, object]] = {}
    rows: dict[Key, tuple[str, int]] = {}
    for one in stations:
        key = (one.orchard, one.station)
        held = adding.stations.get(key)
        if held is None:
            status = {"status": one.status} if one.status != "living" else {}
            found[key] = {**({"species": one.species} if one.species else {}), **status}
        elif one.species and not held.get("species"):
            found[key] = {"species": one.species}
        rows[key] = (one.file, one.row)
    if found:
        merge_stations(adding, day, found, {}, rows)


def _held(adding: Adding, table: str, trees: Mapping[str, object]) -> dict[str, list[_Held]]:
    """Return the sets of these trees that the project holds, earliest first."""
    days = {s["survey"]: str(s["taken_on"] or "") for s in adding.surveys_of(table)}
    if not days:
        return {}
    found: dict[tuple[str, int], _Held] = {}
    for row in adding.project.rows(table):
        tree, survey = str(row["tree"]), row["survey"]
        if tree in trees and isinstance(survey, int):
            one = found.setdefault((tree, survey), _Held(survey, days.get(survey, ""), {}))
            one.rows[row[_NAME[table]]] = row
    sets: dict[str, list[_Held]] = {}
    for (tree, _), one in sorted(found.items(), key=lambda f: (f[1].taken_on, f[1].survey)):
        sets.setdefault(tree, []).append(one)
    return sets


def _values(row: Mapping[str, object]) -> Row:
    """Return what a row says of its limb, blanks left out."""
    return {k: v for k, v in row.items() if k not in _NOT_TOLD and v not in (None, "", {})}


def _same(held: Mapping[object, Row], rows: Mapping[object, Row]) -> bool:
    return held.keys() == rows.keys() and all(
        _values(held[name]) == _values(row) for name, row in rows.items()
    )


def _last_before(earlier: Sequence[_Held], day: Day) -> _Held | None:
    before = [h for h in earlier if h.taken_on <= day.taken_on.isoformat()]
    return before[-1] if before else None


def _corrected(adding: Adding, survey: int) -> None:
    """Take the hash off a survey whose rows are put right: it is no longer that file's."""
    adding.project.put("surveys", [{"survey": survey, "content_sha256": ""}])


def _tell(
    adding: Adding,
    table: str,
    tree: str,
    before: _Held | None,
    rows: Mapping[object, Row],
    *,
    corrected: bool,
    named: set[tuple[str, str]],
) -> None:
    """Count the rows of a tree against the set before, and tell what differs."""
    if before is None:
        adding.tally.count(table, added=len(rows))
        return
    added = changed = 0
    for name, row in rows.items():
        held = before.rows.get(name)
        if held is None:
            added += 1
            continue
        was, now = _values(held), _values(row)
        fields = [f for f in dict.fromkeys((*was, *now)) if was.get(f) != now.get(f)]
        changed += bool(fields)
        if table != "segments":  # far too many to list; they are counted
            what = f"{tree}, {_NAME[table]} {name}"
            adding.tally.altered += [
                Altered(table, what, f, was.get(f), now.get(f)) for f in fields
            ]
    adding.tally.count(table, added=added, changed=changed, same=len(rows) - added - changed)
    if table == "segments":
        return
    station = tree.rpartition("/")[2]
    for name in before.rows:
        if name not in rows and (station, str(name)) not in named:
            gone = Gone(table, tree, str(name), before.taken_on, corrected)
            adding.tally.gone.append(gone)

"""Read the surveys of a project file: the latest of each tree, or as of a day."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from limbwright.model import Faults, ShootRecord, StationRecord, TreeSurvey, YoungTree
from limbwright.model.numbered import in_order
from limbwright.project.put import Counts
from limbwright.project.records import stations
from limbwright.project.rows import (
    limb_of,
    limb_row,
    shoot_of,
    shoot_row,
    station_of,
    station_row,
)
from limbwright.project.sound import sound_limbs
from limbwright.project.store import Project

__all__ = [
    "SurveyTaken",
    "latest",
    "save_limbs",
    "save_shoots",
    "save_walk",
    "surveys",
    "surveys_taken",
    "walk",
    "young_trees",
]


@dataclass(frozen=True, slots=True)
class SurveyTaken:
    """One survey: its number in the file, its kind (walk, limbs, shoots, segments), day, origin."""

    number: int
    kind: str
    taken_on: date | None = None
    who: str = ""
    file: str = ""
    content_sha256: str = ""
    note: str = ""


def surveys_taken(project: Project, kind: str = "") -> tuple[SurveyTaken, ...]:
    """Return the surveys, of one kind or all, oldest first; those without a day come first."""
    rows = project.rows("surveys", **({"kind": kind} if kind else {}))
    found = []
    for row in rows:
        number, day = row["survey"], row["taken_on"]
        if isinstance(number, int):
            texts = (str(row[n]) for n in ("who", "file", "content_sha256", "note"))
            taken_on = date.fromisoformat(str(day)) if day else None
            found.append(SurveyTaken(number, str(row["kind"]), taken_on, *texts))
    return tuple(sorted(found, key=lambda s: (s.taken_on or date.min, s.number)))


def latest(project: Project, table: str, as_of: date | None = None) -> dict[str, int]:
    """Return the number of the latest survey of each tree in limbs, shoots or segments.

    Parameters
    ----------
    as_of
        Leave out surveys taken later than this day.
    """
    order = {
        s.number: place
        for place, s in enumerate(surveys_taken(project, table))
        if as_of is None or s.taken_on is None or s.taken_on <= as_of
    }
    found: dict[str, int] = {}
    for survey, tree in project.distinct(table, "survey", "tree"):
        number, name = survey, str(tree)
        if isinstance(number, int) and number in order:
            held = found.get(name)
            if held is None or order[held] < order[number]:
                found[name] = number
    return found


def _latest_rows(
    project: Project, table: str, as_of: date | None
) -> dict[str, list[dict[str, object]]]:
    """Return the rows of the latest survey of each tree, in the tree's own order."""
    chosen = latest(project, table, as_of)
    found: dict[str, list[dict[str, object]]] = {}
    for row in project.rows(table, survey=set(chosen.values())):
        tree = str(row["tree"])
        if chosen[tree] == row["survey"]:
            found.setdefault(tree, []).append(row)
    for rows in found.values():
        rows.sort(key=lambda r: (r["number"] is None, r["number"] or 0))
    return {tree: found[tree] for tree in sorted(found, key=in_order)}


def _station_for(known: dict[str, StationRecord], tree: str) -> StationRecord:
    """Return the station of a tree, a bare one where it is gone from the layer."""
    if tree in known:
        return known[tree]
    orchard, _, station = tree.rpartition("/")
    return StationRecord(station, orchard)


def surveys(
    project: Project, as_of: date | None = None, faults: Faults | None = None
) -> tuple[TreeSurvey, ...]:
    """Return the latest limbs of each tree taped, with its station as it is now.

    Parameters
    ----------
    as_of
        Leave out surveys taken later than this day.
    faults
        Gets what other programs made of limbs that no survey may hold; these are left out.
    """
    with project.reading():
        known = {s.tree: s for s in stations(project)}
        rows = _latest_rows(project, "limbs", as_of)
    found = []
    told = Faults() if faults is None else faults
    file = f"{project.path.name}, limbs"
    for tree, own in rows.items():
        station = _station_for(known, tree)
        limbs = tuple(limb for r in own if (limb := limb_of(r, station.station)) is not None)
        species = station.species or next((one.species for one in limbs if one.species), "")
        taped = TreeSurvey(replace(station, species=species), limbs)
        sound = sound_limbs(taped, file, told, lost=len(own) - len(limbs))
        if sound is not None:
            found.append(sound)
    return tuple(found)


def young_trees(project: Project, as_of: date | None = None) -> tuple[YoungTree, ...]:
    """Return the latest shoots of each young tree, with its station as it is now."""
    with project.reading():
        known = {s.tree: s for s in stations(project)}
        rows = _latest_rows(project, "shoots", as_of)
    found = []
    for tree, own in rows.items():
        station = _station_for(known, tree)
        shoots: tuple[ShootRecord, ...] = tuple(shoot_of(r, station.station) for r in own)
        found.append(YoungTree(station, shoots))
    return tuple(found)


def walk(project: Project, survey: int) -> tuple[StationRecord, ...]:
    """Return the stations as one walk found them, without their positions."""
    found = [station_of(r, "walks") for r in project.rows("walks", survey=survey)]
    return tuple(sorted(found, key=lambda s: (in_order(s.orchard), in_order(s.station))))


def save_walk(project: Project, survey: int, found: Iterable[StationRecord]) -> Counts:
    """Write the stations as a walk found them; their latest state is `save_stations`."""
    rows = [station_row(s) | {"survey": survey} for s in found]
    for row in rows:
        del row["x"], row["y"]
    return project.put("walks", rows)


def save_limbs(project: Project, survey: int, found: Iterable[TreeSurvey]) -> Counts:
    """Write the limbs of trees under the number of a survey."""
    return project.put(
        "limbs",
        [
            limb_row(limb, survey, one.station.tree, number)
            for one in found
            for number, limb in enumerate(one.limbs, 1)
        ],
    )


def save_shoots(project: Project, survey: int, found: Iterable[YoungTree]) -> Counts:
    """Write the shoots of young trees under the number of a survey."""
    return project.put(
        "shoots",
        [
            shoot_row(shoot, survey, one.station.tree, number)
            for one in found
            for number, shoot in enumerate(one.shoots, 1)
        ],
    )

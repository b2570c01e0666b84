"""Read and write the model's records in a project file: the place, surveys, plans and work."""

from __future__ import annotations

import hashlib
import mimetypes
from collections.abc import Iterable

from limbwright.errors import InputError
from limbwright.model import Holding, Orchard, Photo, Response, StationRecord, Visit
from limbwright.model.numbered import in_order
from limbwright.project.put import Counts
from limbwright.project.rows import (
    cut_of,
    cut_row,
    holding_of,
    holding_row,
    orchard_of,
    orchard_row,
    photo_of,
    photo_row,
    response_of,
    response_row,
    station_of,
    station_row,
    visit_of,
    visit_row,
)
from limbwright.project.store import Project

__all__ = [
    "holding",
    "orchards",
    "photos",
    "picture",
    "responses",
    "save_holding",
    "save_orchards",
    "save_photos",
    "save_picture",
    "save_responses",
    "save_stations",
    "save_visits",
    "stations",
    "visits",
]


def holding(project: Project) -> Holding:
    """Return the holding with its orchards."""
    found = project.rows("holding", number=1)
    return holding_of(found[0] if found else {}, project.crs, orchards(project))


def save_holding(project: Project, new: Holding) -> Counts:
    """Write the holding and the orchards it names; other orchards stay.

    Raises
    ------
    InputError
        Its CRS is another one than that of the positions.
    """
    if new.crs and new.crs != project.crs:
        project.set_crs(new.crs)
    with project.change("change the holding"):
        row = holding_row(new) | {"crs": project.crs}
        return project.put("holding", [row]) + save_orchards(project, new.orchards)


def orchards(project: Project) -> tuple[Orchard, ...]:
    """Return the orchards by name, those too that stations alone name."""
    found = {str(r["orchard"]): orchard_of(r) for r in project.rows("orchards") if r["orchard"]}
    for (name,) in project.distinct("stations", "orchard"):
        if name and str(name) not in found:
            found[str(name)] = Orchard(str(name))
    return tuple(found[n] for n in sorted(found, key=in_order))


def save_orchards(project: Project, new: Iterable[Orchard]) -> Counts:
    """Add or change orchards; holes that were drawn in a boundary stay as long as it does.

    Raises
    ------
    InputError
        A boundary has fewer than three points.
    """
    drawn = {r["orchard"]: orchard_of(r).boundary for r in project.rows("orchards")}
    rows = []
    for orchard in new:
        if orchard.boundary and len(set(orchard.boundary)) < 3:
            raise InputError(
                f"The boundary of {orchard.name} has fewer than three points.",
                "Give its corners in order, or leave it out.",
            )
        row = orchard_row(orchard)
        if _open(orchard.boundary) == _open(drawn.get(orchard.name, ())):
            del row["rings"]
        rows.append(row)
    return project.put("orchards", rows)


def _open(ring: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    return ring[:-1] if len(ring) > 1 and ring[0] == ring[-1] else ring


def stations(project: Project, orchard: str | None = None) -> tuple[StationRecord, ...]:
    """Return the stations in their latest state, by orchard and number.

    Stations without a number, as a GIS may leave them, are left out; `look_over` tells of them.
    """
    where = {} if orchard is None else {"orchard": orchard}
    found = [station_of(r) for r in project.rows("stations", **where) if r["station"]]
    return tuple(sorted(found, key=lambda s: (in_order(s.orchard), in_order(s.station))))


def save_stations(project: Project, new: Iterable[StationRecord]) -> Counts:
    """Add stations, or change their latest state; x and y are in the project's CRS."""
    return project.put("stations", [station_row(s) for s in new])


def visits(
    project: Project, *, tree: str | None = None, season: str | None = None
) -> tuple[Visit, ...]:
    """Return the visits, oldest first, each with its cuts."""
    where = {k: v for k, v in (("tree", tree), ("season", season)) if v is not None}
    of_tree = {} if tree is None else {"tree": tree}
    with project.reading():
        rows = project.rows("visits", **where)
        cut_rows = project.rows("cuts_done", **of_tree)
    cuts: dict[tuple[object, object], list[dict[str, object]]] = {}
    for row in cut_rows:
        cuts.setdefault((row["tree"], row["done_on"]), []).append(row)
    found = [
        visit_of(r, tuple(map(cut_of, cuts.get((r["tree"], r["done_on"]), ()))))
        for r in rows
        if r["done_on"]
    ]
    return tuple(sorted(found, key=lambda v: (v.done_on, in_order(v.tree))))


def save_visits(project: Project, new: Iterable[Visit]) -> Counts:
    """Write visits and their cuts; a visit of the same tree and day is replaced."""
    told = Counts()
    with project.change("record visits"):
        for visit in new:
            day = visit.done_on.isoformat()
            told += project.put("visits", [visit_row(visit)])
            rows = [cut_row(c, visit, n) for n, c in enumerate(visit.cuts, 1)]
            project.put("cuts_done", rows)
            before = project.rows("cuts_done", tree=visit.tree, done_on=day)
            gone = [r["number"] for r in before if r["number"] not in range(1, len(rows) + 1)]
            project.remove("cuts_done", [(visit.tree, day, n) for n in gone])
    return told


def responses(project: Project, *, tree: str | None = None) -> tuple[Response, ...]:
    """Return how trees answered, oldest first."""
    rows = project.rows("responses", **({} if tree is None else {"tree": tree}))
    found = [response_of(r) for r in rows if r["seen_on"]]
    return tuple(sorted(found, key=lambda r: (r.seen_on, in_order(r.tree))))


def save_responses(project: Project, new: Iterable[Response]) -> Counts:
    """Write how trees answered; what was seen of the same tree on the same day is replaced."""
    return project.put("responses", [response_row(r) for r in new])


def photos(project: Project, *, tree: str | None = None) -> tuple[Photo, ...]:
    """Return the photos, oldest first."""
    rows = project.rows("photos", **({} if tree is None else {"tree": tree}))
    found = [photo_of(r) for r in rows]
    return tuple(sorted(found, key=lambda p: (p.taken_on, in_order(p.tree), p.file)))


def save_photos(project: Project, new: Iterable[Photo]) -> Counts:
    """Write where photos lie and what they show."""
    return project.put("photos", [photo_row(p) for p in new])


def save_picture(project: Project, photo: Photo, data: bytes) -> None:
    """Write a photo with its picture; the same picture is kept once, whatever it is called."""
    digest = hashlib.sha256(data).hexdigest()
    media_type = mimetypes.guess_type(photo.file)[0] or "application/octet-stream"
    about = {"file_sha256": digest, "size_bytes": len(data)}
    with project.change(f"take in the picture {photo.file}"):
        kept = {"file_sha256": digest, "media_type": media_type, "picture": data}
        project.put("pictures", [kept])
        project.put("photos", [photo_row(photo) | about])


def picture(project: Project, photo: Photo) -> bytes | None:
    """Return the picture of a photo, None where it was not taken in."""
    for row in project.rows("photos", tree=photo.tree, file=photo.file):
        for kept in project.rows("pictures", file_sha256=row["file_sha256"] or "-"):
            data = kept["picture"]
            return data if isinstance(data, bytes) else None
    return None

"""Records into the project: what was done, how trees answered, which photos were taken."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from limbwright.model import Visit
from limbwright.project.adding import Adding
from limbwright.project.changes_shown import Altered
from limbwright.project.doubts import doubts
from limbwright.project.records import visits as visits_of
from limbwright.project.rows import cut_row, photo_row, response_row, visit_row
from limbwright.project.tables import table_spec
from limbwright.survey.columns import ColumnMap
from limbwright.survey.record_tables import read_records
from limbwright.survey.tables import Book

__all__ = ["take_records"]


def take_records(adding: Adding, books: Sequence[Book], mapping: ColumnMap) -> None:
    """Add tables of records; a row of the same tree and day changes what it says otherwise."""
    known = visits_of(adding.project)
    found = read_records(books, known=known, columns=mapping)
    adding.faults.extend(found.faults)
    before = {(v.tree, v.done_on): v for v in known}
    named = adding.namer()
    visits = [replace(v, tree=named(v.tree)) for v in found.visits]
    visits = [_filled(v, before.get((v.tree, v.done_on))) for v in visits]
    seen = [replace(r, tree=named(r.tree)) for r in found.responses]
    photos = [replace(p, tree=named(p.tree)) for p in found.photos]
    _put(adding, "visits", [visit_row(v) for v in visits])
    cuts = [cut_row(c, v, n) for v in visits for n, c in enumerate(v.cuts, 1)]
    _put(adding, "cuts_done", cuts)
    _put(adding, "responses", [response_row(r) for r in seen])
    _put(adding, "photos", [photo_row(p) for p in photos])
    trees = {v.tree for v in visits} | {r.tree for r in seen} | {p.tree for p in photos}
    unknown = sorted(trees - adding.trees().keys())
    if unknown:
        listed = ", ".join(unknown[:5]) + (", ..." if len(unknown) > 5 else "")
        adding.tally.notes.append(f"No station is known for {listed}; the records are kept.")
    adding.tally.notes += doubts(adding.project, visits, seen, photos, date.today())


def _filled(visit: Visit, before: Visit | None) -> Visit:
    """Return a visit with what its row leaves blank as it was."""
    if before is None:
        return visit
    return replace(
        visit,
        season=visit.season or before.season,
        who=visit.who or before.who,
        hours=before.hours if visit.hours is None else visit.hours,
        brash_hours=before.brash_hours if visit.brash_hours is None else visit.brash_hours,
        found=visit.found or before.found,
        note=visit.note or before.note,
    )


def _put(adding: Adding, table: str, rows: Iterable[Mapping[str, object]]) -> None:
    """Put the rows of a table, and tell what they change."""
    spec = table_spec(table)
    new = {tuple(_plain(row[k]) for k in spec.key): dict(row) for row in rows}
    if not new:
        return
    held = {tuple(row[k] for k in spec.key): row for row in adding.project.rows(table)}
    counts = {"added": 0, "changed": 0, "same": 0}
    put: list[dict[str, object]] = []
    for key, row in new.items():
        before = held.get(key)
        told = []
        for field, value in row.items():
            after = _plain(value)
            if before is None or after in (None, "", []):
                continue  # a blank says nothing
            if before.get(field) != after:
                what = " ".join(str(k) for k in key)
                told.append(Altered(table, what, field, before.get(field), after))
        adding.tally.altered += told
        counts["added" if before is None else "changed" if told else "same"] += 1
        if before is None or told:
            put.append({k: v for k, v in row.items() if before is None or v not in (None, "", [])})
    adding.project.put(table, put)
    adding.tally.count(table, **counts)


def _plain(value: object) -> object:
    return value.isoformat() if isinstance(value, date) else value

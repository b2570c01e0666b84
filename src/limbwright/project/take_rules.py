"""Rules of one's own place into the project: what may be done when, by which scheme."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from limbwright.project.adding import Adding
from limbwright.project.changes_shown import Altered
from limbwright.project.plans import rules, save_rules
from limbwright.project.sources import Part
from limbwright.project.tables import table_spec
from limbwright.survey.header import check_header
from limbwright.survey.local_rules import NEEDED, RULE_COLUMNS, local_rules, rule_rows
from limbwright.survey.tables import Row, Table
from limbwright.trade.seasons.days import axis, inside
from limbwright.trade.seasons.local import LocalRule

__all__ = ["take_rules"]

Key = tuple[str, ...]
YEAR = axis(date(2000, 1, 1), date(2000, 12, 31))  # a leap year has every day


def take_rules(adding: Adding, part: Part) -> None:
    """Add a table of local rules.

    A row is known by its job, species, scheme, place and days. Where its days are moved, the one
    rule of that job, species, scheme, place and strength that shares days with it is the rule as
    it was, unless the table has that one as well. Other rules stay.
    """
    adding.faults.extend((*part.faults, *part.table.faults))
    check_header(part.table, RULE_COLUMNS, NEEDED, adding.faults)
    if not set(NEEDED) <= set(part.table.header):
        return
    read = local_rules(_with_notes(replace(part.table, faults=())), adding.faults)
    new = {_key(one): one for one in read}
    held = {_key(one): one for one in rules(adding.project)}
    counts = {"added": 0, "changed": 0, "same": 0}
    gone: list[Key] = []
    put: list[LocalRule] = []
    for key, given in new.items():
        before = held.get(key) or _moved(given, held, new, gone)
        one = given if before is None else _filled(given, before)
        told = [] if before is None else _altered(before, one)
        if before is not None and _key(before) != key:
            gone.append(_key(before))
        adding.tally.altered += told
        counts["added" if before is None else "changed" if told else "same"] += 1
        if before is None or told:
            put.append(one)
            adding.tally.notes.append(one.words)
    adding.project.remove("rules", gone)
    save_rules(adding.project, put)
    adding.tally.count("rules", **counts)


def _with_notes(table: Table) -> Table:
    """Return a table with columns that are not known here put into its notes."""

    def noted(row: Row) -> Row:
        more = [f"{c}: {v}" for c, v in row.cells.items() if c not in RULE_COLUMNS and v.strip()]
        told = [t for t in (row.cells.get("note", ""), *more) if t]
        return replace(row, cells={**row.cells, "note": "; ".join(told)})

    return replace(table, rows=tuple(noted(row) for row in table.rows))


def _filled(one: LocalRule, before: LocalRule) -> LocalRule:
    """Return a rule with what its row leaves blank as it was."""
    return replace(
        one,
        dated=one.dated or before.dated,
        source=one.source or before.source,
        note=one.note or before.note,
    )


def _row(one: LocalRule) -> Mapping[str, str]:
    return rule_rows([one])[0]


def _key(one: LocalRule) -> Key:
    row = _row(one)
    return tuple(row[name] for name in table_spec("rules").key)


def _moved(
    one: LocalRule, held: Mapping[Key, LocalRule], new: Mapping[Key, LocalRule], gone: list[Key]
) -> LocalRule | None:
    """Return the rule that a new one is with its days moved, None where none is sure to be."""
    found = [
        other
        for key, other in held.items()
        if key not in new and key not in gone and _alike(one, other)
    ]
    return found[0] if len(found) == 1 else None


def _alike(one: LocalRule, other: LocalRule) -> bool:
    names = ("job", "species", "scheme", "place", "strength")
    if any(getattr(one, name) != getattr(other, name) for name in names):
        return False
    shared = inside(one.first, one.last, YEAR) & inside(other.first, other.last, YEAR)
    return bool(shared.any())


def _altered(before: LocalRule, after: LocalRule) -> list[Altered]:
    """Return what a rule says otherwise."""
    was, now = _row(before), _row(after)
    where = ", ".join(part for part in (after.scheme, after.place) if part)
    job = "all jobs" if after.job == "all" else after.job
    kind = "all species" if after.species == "all" else after.species
    what = f"{where}: {job}, {kind}"
    return [
        Altered("rules", what, field, was[field], now[field])
        for field in RULE_COLUMNS
        if was[field] != now[field]
    ]

"""Stations that another program renamed: what hangs on the old name goes with them.

A GIS changes a station's number in its row. The row is the same one (its ``fid`` is), and the
journal holds it as it was, so that it is certain which name became which. A row taken away and
another one added tell nothing of the kind.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

from limbwright.model import StationRecord
from limbwright.project.connect import quoted
from limbwright.project.journal import last_claimed
from limbwright.project.tables import TABLES
from limbwright.project.values import to_json

__all__ = ["Renamed", "carry_over", "renamed_stations"]

_BY_TREE = tuple(spec.name for spec in TABLES if "tree" in spec.names)
"""Tables whose rows name a tree."""
_PART_WAY = "\x1f"
"""Stands before a name on its way, so that two stations can take each other's; no name holds it."""


@dataclass(frozen=True, slots=True)
class Renamed:
    """A station by its orchard and number, as it was and as it is now."""

    was: tuple[str, str]
    is_now: tuple[str, str]

    @property
    def before(self) -> str:
        """The name its tree had."""
        return _tree(self.was)

    @property
    def now(self) -> str:
        """The name its tree has."""
        return _tree(self.is_now)


def _tree(name: tuple[str, str]) -> str:
    orchard, station = name
    return StationRecord(station, orchard).tree


def renamed_stations(connection: sqlite3.Connection) -> tuple[Renamed, ...]:
    """Return the stations that edits no change claims yet gave another name, where it is certain.

    A station is left out where no row bears its old name, where another one bears that name now,
    or where rows of its new name are there already: nobody can tell then whose they are.
    """
    found = connection.execute(
        "SELECT j.fid, w.orchard, w.station, s.orchard, s.station FROM limbwright_journal j "
        "JOIN limbwright_was_stations w ON w.limbwright_seq = j.seq "
        "JOIN stations s ON s.fid = j.fid "
        "WHERE j.seq > :last AND j.table_name = 'stations' AND j.op = '~' AND j.seq = ("
        "SELECT min(k.seq) FROM limbwright_journal k WHERE k.table_name = 'stations' "
        "AND k.fid = j.fid AND k.seq > :last) ORDER BY j.fid",
        {"last": last_claimed(connection)},
    ).fetchall()
    moved = [
        Renamed((str(o or ""), str(s or "")), (str(to or ""), str(ts or "")))
        for _, o, s, to, ts in found
        if s and ts and (o or "", s) != (to or "", ts)
    ]
    while True:  # one that is left out may leave no way for the next
        freed = {one.was for one in moved}
        taken = {one.is_now for one in moved}
        sure = [
            one
            for one in moved
            if _bears_rows(connection, one.was)
            and (one.is_now in freed or not _bears_rows(connection, one.is_now))
            and (one.was in taken or not _is_station(connection, one.was))
        ]
        if len(sure) == len(moved):
            return tuple(sure)
        moved = sure


def _is_station(connection: sqlite3.Connection, name: tuple[str, str]) -> bool:
    asked = "SELECT 1 FROM stations WHERE ifnull(orchard, '') = ? AND station = ? LIMIT 1"
    return connection.execute(asked, name).fetchone() is not None


def _bears_rows(connection: sqlite3.Connection, name: tuple[str, str]) -> bool:
    """Return whether a row of any table but the stations bears the name."""
    tree = (_tree(name),)
    for table in _BY_TREE:
        asked = f"SELECT 1 FROM {quoted(table)} WHERE tree = ? LIMIT 1"
        if connection.execute(asked, tree).fetchone():
            return True
    asked = "SELECT 1 FROM walks WHERE ifnull(orchard, '') = ? AND station = ? LIMIT 1"
    return connection.execute(asked, name).fetchone() is not None


def carry_over(connection: sqlite3.Connection, renamed: Sequence[Renamed]) -> None:
    """Give all rows of renamed stations their new names, within a transaction."""
    for one in renamed:
        o, s = one.was
        _move(connection, one.before, _PART_WAY + one.now, one.was, (o, _PART_WAY + s))
    for one in renamed:
        o, s = one.was
        _move(connection, _PART_WAY + one.now, one.now, (o, _PART_WAY + s), one.is_now)
        _name_in_plans(connection, one)


def _move(
    connection: sqlite3.Connection,
    tree: str,
    to_tree: str,
    station: tuple[str, str],
    to_station: tuple[str, str],
) -> None:
    for table in _BY_TREE:
        sql = f"UPDATE {quoted(table)} SET tree = ? WHERE tree = ?"
        connection.execute(sql, (to_tree, tree))
    connection.execute(
        "UPDATE walks SET orchard = ?, station = ? WHERE ifnull(orchard, '') = ? AND station = ?",
        (*to_station, *station),
    )


def _name_in_plans(connection: sqlite3.Connection, one: Renamed) -> None:
    """Put the new name into the documents of the station's plans, wherever they name the tree."""
    asked = "SELECT fid, document FROM plans WHERE tree = ?"
    for fid, text in connection.execute(asked, (one.now,)).fetchall():
        with suppress(ValueError, TypeError):  # what is no JSON says nothing of a tree
            document = to_json(_named(json.loads(text), one))
            connection.execute("UPDATE plans SET document = ? WHERE fid = ?", (document, fid))


def _named(value: object, one: Renamed) -> object:
    if isinstance(value, dict):
        return {
            k: one.now if k == "tree" and v == one.before else _named(v, one)
            for k, v in value.items()
        }
    return [_named(v, one) for v in value] if isinstance(value, list) else value

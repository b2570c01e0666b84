"""The journal of a project file: every row as it was before each change, and so undo and redo.

Triggers in the file write it, so that edits of other programs, a GIS above all, are kept as well.
``limbwright_journal`` has a line for each row touched, in order; ``limbwright_was_<table>`` the row
as it was before. ``limbwright_changes`` names stretches of the journal; lines that no change
claims were made elsewhere. To take a change back is to go through its lines from the last to the
first; the triggers meanwhile write the lines that make it again.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

from limbwright.project.connect import quoted

__all__ = [
    "JOURNAL_TABLES",
    "KEPT",
    "Change",
    "changes",
    "claim",
    "claim_others",
    "last_claimed",
    "redo",
    "reset",
    "tables_since",
    "undo",
    "unwatched",
    "watch",
    "what_others_did",
]

KEPT = 100
"""Judgement: how many changes can be taken back; older ones stay in the history by name alone."""
FIRST = 1
"""The number of the change that made the project: without the holding's own row there is none."""

JOURNAL_TABLES = (
    """CREATE TABLE limbwright_journal (
  seq INTEGER PRIMARY KEY AUTOINCREMENT,
  table_name TEXT NOT NULL,
  fid INTEGER NOT NULL,
  op TEXT NOT NULL)""",
    """CREATE TABLE limbwright_changes (
  number INTEGER PRIMARY KEY AUTOINCREMENT,
  what TEXT NOT NULL,
  made_at TEXT NOT NULL,
  state TEXT NOT NULL,
  elsewhere INTEGER NOT NULL,
  first_seq INTEGER NOT NULL,
  last_seq INTEGER NOT NULL,
  touched INTEGER NOT NULL)""",
)
"""``op`` is + (added), ~ (changed) or - (removed); ``state`` is done, undone, or past, which is
done and can no longer be taken back."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change of the file: what was done, when (UTC, ISO 8601), and how many rows it touched.

    ``undone``: it is taken back and can be made again. ``past``: it can no longer be taken back.
    ``elsewhere``: another program, such as a GIS, made it. ``number`` is 0 for such edits as long
    as nothing was changed here since.
    """

    number: int
    what: str
    made_at: str
    undone: bool = False
    past: bool = False
    elsewhere: bool = False
    touched: int = 0


def _was(table: str) -> str:
    return quoted(f"limbwright_was_{table}")


def _columns(connection: sqlite3.Connection, table: str) -> list[str]:
    """Return the columns of a table in the file, whoever added them, without its row number."""
    found = connection.execute(f"PRAGMA table_info({quoted(table)})")
    return [row[1] for row in found if row[1] != "fid"]


def _triggers(table: str, columns: Iterable[str]) -> dict[str, str]:
    """Return the SQL of the three triggers by name."""
    names = [quoted(c) for c in columns]
    note = (
        "INSERT INTO limbwright_journal (table_name, fid, op) "
        f"VALUES ('{table}', {{row}}.fid, '{{op}}');"
    )
    keep = (
        f"INSERT INTO {_was(table)} (limbwright_seq, {', '.join(names)}) "
        f"VALUES (last_insert_rowid(), {', '.join('OLD.' + n for n in names)});"
    )
    differs = " OR ".join(f"OLD.{n} IS NOT NEW.{n}" for n in names)
    bodies = {
        "added": ("INSERT", "", note.format(row="NEW", op="+")),
        "changed": ("UPDATE", f"WHEN {differs} ", note.format(row="OLD", op="~") + " " + keep),
        "removed": ("DELETE", "", note.format(row="OLD", op="-") + " " + keep),
    }
    return {
        f"limbwright_{name}_{table}": (
            f"CREATE TRIGGER {quoted(f'limbwright_{name}_{table}')} AFTER {event} "
            f"ON {quoted(table)} {when}BEGIN {body} END"
        )
        for name, (event, when, body) in bodies.items()
    }


def unwatched(connection: sqlite3.Connection, table: str) -> bool:
    """Tell whether the triggers of a table are not those that its columns ask for."""
    wanted = _triggers(table, _columns(connection, table))
    found = connection.execute(
        "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?", (table,)
    ).fetchall()
    return any(dict(found).get(name) != sql for name, sql in wanted.items())


def watch(connection: sqlite3.Connection, table: str) -> None:
    """Make, or make anew, what journals the changes of a table."""
    columns = _columns(connection, table)
    has = _columns(connection, f"limbwright_was_{table}")
    if not has:
        listed = ", ".join(quoted(c) for c in columns)
        connection.execute(
            f"CREATE TABLE {_was(table)} (limbwright_seq INTEGER PRIMARY KEY, {listed})"
        )
    for column in [c for c in columns if has and c not in has]:
        connection.execute(f"ALTER TABLE {_was(table)} ADD COLUMN {quoted(column)}")
    for name, sql in _triggers(table, columns).items():
        connection.execute(f"DROP TRIGGER IF EXISTS {quoted(name)}")
        connection.execute(sql)


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


def last_claimed(connection: sqlite3.Connection) -> int:
    """Return the last line that a change claims; what comes after was done elsewhere."""
    found = connection.execute("SELECT max(last_seq) FROM limbwright_changes").fetchone()[0]
    return int(found or 0)


def _stretch_after(connection: sqlite3.Connection, seq: int) -> tuple[int, int, int] | None:
    """Return first and last line after ``seq`` and their number, None where there is none."""
    first, last, count = connection.execute(
        "SELECT min(seq), max(seq), count(*) FROM limbwright_journal WHERE seq > ?", (seq,)
    ).fetchone()
    return (first, last, count) if count else None


def what_others_did(connection: sqlite3.Connection, seq: int) -> str:
    """Return in words what the lines after one did, all of them by another program."""
    found = connection.execute(
        "SELECT table_name, count(DISTINCT fid) FROM limbwright_journal WHERE seq > ? "
        "GROUP BY table_name ORDER BY table_name",
        (seq,),
    )
    told = ", ".join(f"{n} {'row' if n == 1 else 'rows'} of {t}" for t, n in found)
    return f"edited in another program: {told}"


def changes(connection: sqlite3.Connection) -> tuple[Change, ...]:
    """Return the changes, oldest first, with edits made elsewhere that no change claims yet."""
    found = [
        Change(number, what, made_at, state == "undone", state == "past", bool(elsewhere), touched)
        for number, what, made_at, state, elsewhere, touched in connection.execute(
            "SELECT number, what, made_at, state, elsewhere, touched FROM limbwright_changes "
            "ORDER BY number"
        )
    ]
    seq = last_claimed(connection)
    if (stretch := _stretch_after(connection, seq)) is not None:
        what = what_others_did(connection, seq)
        found.append(Change(0, what, "", elsewhere=True, touched=stretch[2]))
    return tuple(found)


def claim(connection: sqlite3.Connection, what: str, *, elsewhere: bool = False) -> Change | None:
    """Name all lines that no change claims as one change; None where there is none.

    What was undone before can then not be made again.
    """
    stretch = _stretch_after(connection, last_claimed(connection))
    if stretch is None:
        return None
    first, last, touched = stretch
    made_at = _now()
    for number, a, b in connection.execute(
        "SELECT number, first_seq, last_seq FROM limbwright_changes WHERE state = 'undone'"
    ).fetchall():
        _forget(connection, a, b)
        connection.execute("DELETE FROM limbwright_changes WHERE number = ?", (number,))
    done = connection.execute(
        "INSERT INTO limbwright_changes (what, made_at, state, elsewhere, first_seq, last_seq, "
        "touched) VALUES (?, ?, 'done', ?, ?, ?, ?)",
        (what, made_at, int(elsewhere), first, last, touched),
    )
    number = int(done.lastrowid or 0)
    for old, a, b in connection.execute(
        "SELECT number, first_seq, last_seq FROM limbwright_changes WHERE state = 'done' "
        "ORDER BY number DESC LIMIT -1 OFFSET ?",
        (KEPT,),
    ).fetchall():
        _forget(connection, a, b)
        connection.execute("UPDATE limbwright_changes SET state = 'past' WHERE number = ?", (old,))
    return Change(number, what, made_at, elsewhere=elsewhere, touched=touched)


def claim_others(connection: sqlite3.Connection) -> Change | None:
    """Name the edits made elsewhere since the last change as one change of their own."""
    seq = last_claimed(connection)
    if _stretch_after(connection, seq) is None:
        return None
    return claim(connection, what_others_did(connection, seq), elsewhere=True)


def _forget(connection: sqlite3.Connection, first: int, last: int) -> None:
    """Drop a stretch of the journal and the rows it kept."""
    tables = connection.execute(
        "SELECT DISTINCT table_name FROM limbwright_journal WHERE seq BETWEEN ? AND ?",
        (first, last),
    ).fetchall()
    for (table,) in tables:
        connection.execute(
            f"DELETE FROM {_was(table)} WHERE limbwright_seq BETWEEN ? AND ?", (first, last)
        )
    connection.execute("DELETE FROM limbwright_journal WHERE seq BETWEEN ? AND ?", (first, last))


def tables_since(connection: sqlite3.Connection) -> list[str]:
    """Return the tables with changes that no change claims yet."""
    found = connection.execute(
        "SELECT DISTINCT table_name FROM limbwright_journal WHERE seq > ? ORDER BY table_name",
        (last_claimed(connection),),
    )
    return [row[0] for row in found]


def reset(connection: sqlite3.Connection) -> None:
    """Give up all that could be undone or made again: the tables are not what they were."""
    connection.execute("DELETE FROM limbwright_changes WHERE state = 'undone'")
    connection.execute("UPDATE limbwright_changes SET state = 'past'")
    kept = connection.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name LIKE 'limbwright!_was!_%' "
        "ESCAPE '!'"
    ).fetchall()
    for (table,) in kept:
        connection.execute(f"DELETE FROM {quoted(table)}")
    connection.execute("DELETE FROM limbwright_journal")


def _go_back(connection: sqlite3.Connection, first: int, last: int) -> tuple[int, int]:
    """Undo a stretch of the journal, and return the stretch that this wrote."""
    lines = connection.execute(
        "SELECT seq, table_name, fid, op FROM limbwright_journal WHERE seq BETWEEN ? AND ? "
        "ORDER BY seq DESC",
        (first, last),
    ).fetchall()
    sql: dict[tuple[str, str], str] = {}
    for table in {line[1] for line in lines}:
        has = set(_columns(connection, table))
        columns = [c for c in _columns(connection, f"limbwright_was_{table}") if c in has]
        listed = ", ".join(quoted(c) for c in columns)
        kept = f"FROM {_was(table)} WHERE limbwright_seq = :seq"
        sql[table, "+"] = f"DELETE FROM {quoted(table)} WHERE fid = :fid"
        sql[table, "~"] = (
            f"UPDATE {quoted(table)} SET ({listed}) = (SELECT {listed} {kept}) WHERE fid = :fid"
        )
        sql[table, "-"] = (
            f"INSERT INTO {quoted(table)} (fid, {listed}) SELECT :fid, {listed} {kept}"
        )
    for seq, table, fid, op in lines:
        connection.execute(sql[table, op], {"seq": seq, "fid": fid})
    written = _stretch_after(connection, last_claimed(connection))
    _forget(connection, first, last)
    return (written[0], written[1]) if written else (first, last)


def _turn(connection: sqlite3.Connection, from_state: str, order: str) -> Change | None:
    found = connection.execute(
        "SELECT number, what, made_at, elsewhere, first_seq, last_seq, touched "
        "FROM limbwright_changes WHERE state = ? AND NOT (state = 'done' AND number = ?) "
        f"ORDER BY number {order} LIMIT 1",
        (from_state, FIRST),
    ).fetchone()
    if found is None:
        return None
    number, what, made_at, elsewhere, first, last, touched = found
    first, last = _go_back(connection, first, last)
    undone = from_state == "done"
    connection.execute(
        "UPDATE limbwright_changes SET state = ?, first_seq = ?, last_seq = ? WHERE number = ?",
        ("undone" if undone else "done", first, last, number),
    )
    return Change(number, what, made_at, undone, False, bool(elsewhere), touched)


def undo(connection: sqlite3.Connection) -> Change | None:
    """Take back the last change that is done, within a transaction; others' edits are claimed.

    The change that made the project stays.
    """
    return _turn(connection, "done", "DESC")


def redo(connection: sqlite3.Connection) -> Change | None:
    """Make the first undone change again, within a transaction; others' edits are claimed."""
    return _turn(connection, "undone", "ASC")

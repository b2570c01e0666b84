"""Open the database of a project file, and tell in words what goes wrong with it."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from limbwright.errors import InputError
from limbwright.project.geometry import add_functions

__all__ = ["NOT_UTF8", "SUFFIX", "connect", "explain", "may_write", "quoted", "told"]

SUFFIX = ".gpkg"
WAIT_S = 5.0
"""Judgement: how long to wait for another program; a change of 10 000 rows takes under 1 s."""
CACHE_KIB = 65536
"""Judgement: room for a change of some 100 000 rows, so that nothing is written before its end."""

NOT_UTF8 = "Could not decode to UTF-8"
"""How Python's sqlite3 begins its fault for text in another encoding."""

_IN_USE = ("SQLITE_BUSY", "SQLITE_LOCKED")
_CUT_SHORT = ("SQLITE_READONLY_ROLLBACK", "SQLITE_READONLY_RECOVERY", "SQLITE_BUSY_RECOVERY")


def may_write(path: Path) -> bool:
    """Return whether a file and its folder, where the journal comes to lie, may be written."""
    return os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)


def quoted(name: str) -> str:
    """Return a name as SQL writes one."""
    return '"' + name.replace('"', '""') + '"'


def damaged(path: Path) -> InputError:
    """Return what to say of a file that is damaged."""
    return InputError(
        f"{path.name} is damaged; it may have been copied while in use, or only in part.",
        "Go back to a copy of it.",
    )


def explain(error: sqlite3.Error, path: Path) -> InputError:
    """Return a fault of the database as a sentence with what to do."""
    code = getattr(error, "sqlite_errorname", "")
    name = path.name
    if code in _CUT_SHORT:
        return InputError(
            f"A change of {name} was cut short and cannot be cleared up here.",
            "Open it once where it can be written, with the files beside it that bear its name.",
        )
    if code.startswith(_IN_USE):
        return InputError(
            f"{name} is in use by another program, and nothing was changed.",
            "Wait until the other program has finished or stop editing there, then try again.",
        )
    if code == "SQLITE_FULL":
        return InputError(
            f"There is no room left on the disk for {name}; nothing of this change was kept.",
            "Make room, then do it again.",
        )
    if code.startswith("SQLITE_READONLY") or code == "SQLITE_PERM":
        return InputError(
            f"{name} cannot be written: the file or its folder is read-only.",
            "Copy it to a folder of your own, or open it for reading only.",
        )
    if code.startswith("SQLITE_CANTOPEN"):
        return InputError(
            f"{name} cannot be opened.",
            "Look whether you may read it and write in its folder, and that it is on this machine.",
        )
    if code == "SQLITE_NOTADB":
        return InputError(
            f"{name} is not a project file.", "Give the .gpkg file of a holding, or make a new one."
        )
    if code.startswith("SQLITE_CORRUPT") or NOT_UTF8 in str(error):
        return damaged(path)
    if code.startswith("SQLITE_CONSTRAINT"):
        return InputError(
            f"{name} does not take this change ({error}); nothing of it was kept.",
            "Look whether another program changed the same rows.",
        )
    if code.startswith("SQLITE_IOERR"):
        return InputError(
            f"The disk failed while {name} was read or written; nothing of this change was kept.",
            "Look at the disk and the room on it; keep the file on this machine, not on a share.",
        )
    return InputError(f"{name} cannot be used: {error}.", "Go back to a copy of it.")


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn the database's faults into `InputError`."""
    try:
        yield
    except sqlite3.Error as error:
        raise explain(error, path) from error
    except UnicodeDecodeError as error:  # the database's own message quotes broken bytes
        raise damaged(path) from error


def connect(path: Path, *, write: bool, new: bool = False) -> sqlite3.Connection:
    """Return a connection to an existing file, or to a new one, set up as every one here is.

    The rollback journal leaves one file behind, opens on read-only media, and is the mode in
    which GeoPackages are exchanged; ``synchronous = FULL`` makes a finished change outlive a
    loss of power. No page is written before the end of a change, so readers keep reading.
    """
    if not write:
        _clear_up(path)
    mode = "rwc" if new else "rw" if write else "ro"
    connection = sqlite3.connect(
        f"{path.resolve().as_uri()}?mode={mode}", uri=True, timeout=WAIT_S, isolation_level=None
    )
    try:
        connection.execute("PRAGMA trusted_schema = ON")  # the functions below run in triggers
        connection.execute("PRAGMA recursive_triggers = OFF")
        connection.execute("PRAGMA temp_store = MEMORY")
        connection.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
        if write:
            connection.execute("PRAGMA cache_spill = OFF")
            connection.execute("PRAGMA synchronous = FULL")
            _set_journal(connection)
        add_functions(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def _set_journal(connection: sqlite3.Connection) -> None:
    """Leave write-ahead logging, which some GIS turn on, unless such a one has the file open."""
    mode = connection.execute("PRAGMA journal_mode").fetchone()[0]
    if mode == "delete":
        return
    try:
        connection.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.OperationalError as error:
        if not getattr(error, "sqlite_errorname", "").startswith(_IN_USE):
            raise


def _clear_up(path: Path) -> None:
    """Roll a change back that a killed program left half made: a reader alone may not."""
    journal = path.with_name(path.name + "-journal")
    if not journal.exists():
        return
    try:
        with closing(connect(path, write=True)) as connection:
            connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.Error:
        return  # where this cannot be written, the reader's own fault says so

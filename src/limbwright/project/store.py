"""The project file: one GeoPackage that holds a holding, its surveys, plans and records."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import TypeVar

from limbwright.errors import InputError
from limbwright.model import Holding
from limbwright.project import journal, schema
from limbwright.project.blocks import plain_rows
from limbwright.project.connect import NOT_UTF8, connect, may_write, quoted, told
from limbwright.project.files import beside, check_name, move_new, refuse_existing
from limbwright.project.journal import Change
from limbwright.project.put import Counts, put_rows
from limbwright.project.query import further_columns, odd_values, where_sql
from limbwright.project.renamed import Renamed, carry_over, renamed_stations
from limbwright.project.rows import holding_row, orchard_row
from limbwright.project.srs import project_system, system_names
from limbwright.project.tables import TABLES, table_spec
from limbwright.project.values import encode, stored_names

__all__ = ["Change", "Counts", "Project"]

Read = TypeVar("Read")
WHAT_LETTERS = 200
"""Letters of a change's words that are kept; judgement: two lines of a screen."""


class Project:
    """A project file, open. Use it as a context manager, or close it.

    One object serves one thread. Several programs may have the same file open: each change is
    made whole or not at all, one after the other.

    Attributes
    ----------
    path
        Where the file is.
    mended
        True where another program had made a table anew, so that nothing before can be undone.
    renamed
        Stations that another program had renamed, and whose limbs, plans and records were carried
        over to the new name as the file was opened.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection, *, write: bool) -> None:
        self.path = path
        self.writes = write
        self.mended = False
        self.renamed: tuple[Renamed, ...] = ()
        self._db = connection
        self._depth = 0

    @classmethod
    def create(cls, path: str | os.PathLike[str], holding: Holding) -> Project:
        """Make a new project file with the holding and its orchards in it, and open it.

        Raises
        ------
        InputError
            The file exists, cannot be written, is not named .gpkg, or the CRS will not do.
        """
        target = Path(path)
        check_name(target)
        refuse_existing(target)
        system = project_system(holding.crs)
        with beside(target) as draft:
            with told(target), closing(connect(draft, write=True)) as connection:
                schema.lay_out(connection, system)
                project = cls(draft, connection, write=True)
                with project.change("make the project"):
                    project.put("holding", [holding_row(holding) | {"crs": project.crs}])
                    project.put("orchards", [orchard_row(o) for o in holding.orchards])
            move_new(draft, target)
        return cls.open(target)

    @classmethod
    def open(cls, path: str | os.PathLike[str], *, write: bool = True) -> Project:
        """Open a project file; an older one is brought up to date where it may be written.

        Raises
        ------
        InputError
            It is not there, is no project file, is damaged, read-only or in use, or a newer
            version of Limbwright made it.
        """
        target = Path(path)
        if not target.exists():
            raise InputError(
                f"There is no {target}.", "Give the .gpkg file of a holding, or make a new one."
            )
        if target.is_dir():
            raise InputError(
                f"{target} is a folder, not a project file.", "Give the .gpkg file of a holding."
            )
        if write and not may_write(target):
            raise InputError(
                f"{target.name} cannot be written: the file or its folder is read-only.",
                "Copy it to a folder of your own, or open it for reading only.",
            )
        with told(target):
            connection = connect(target, write=write)
            try:
                project = cls(target, connection, write=write)
                if write:
                    schema.update(connection, target.name)
                schema.check_file(connection, target.name)
                if write:
                    project.mended = schema.mend(connection, target.name)
                    project.renamed = project._carry_over()
            except BaseException:
                connection.close()
                raise
        return project

    def close(self) -> None:
        """Close the file; a change that was not finished is gone."""
        self._db.close()

    def __enter__(self) -> Project:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    @property
    def crs(self) -> str:
        """The CRS of all x and y, such as ``EPSG:27700``; empty: a local grid in metres."""
        with told(self.path):
            return next(iter(system_names(self._db, self._srs())), "")

    def _srs(self) -> int:
        found = self._db.execute(
            "SELECT srs_id FROM gpkg_geometry_columns WHERE table_name = 'stations'"
        ).fetchone()
        return int(found[0])

    def set_crs(self, crs: str) -> None:
        """Name the CRS of a file in which nothing has a position yet.

        Raises
        ------
        InputError
            Something has a position already, or the CRS will not do.
        """
        system = project_system(crs)
        with self.change(f"set the CRS to {crs or 'a local grid'}"):
            for table in ("stations", "orchards"):
                sql = f"SELECT 1 FROM {table} WHERE geom IS NOT NULL LIMIT 1"
                if self._db.execute(sql).fetchone():
                    raise InputError(
                        f"The {table} of {self.path.name} have positions, so its CRS stays "
                        f"{self.crs or 'a local grid'}.",
                        "Export the project in another CRS, and make a new one of that.",
                    )
            schema.set_system(self._db, system)
            self.put("holding", [{"number": 1, "crs": self.crs}])

    @contextmanager
    def change(self, what: str) -> Iterator[None]:
        """Make one change of all that is put and removed within: all of it or nothing.

        A change within a change is part of the outer one. Where nothing changed, nothing is told
        in the history.

        Parameters
        ----------
        what
            What is done, in a few words, for the history.

        Raises
        ------
        InputError
            The file is open for reading only, in use by another program, or cannot be written;
            nothing was changed.
        """
        if not self.writes:
            raise InputError(
                f"{self.path.name} is open for reading only.", "Open it for writing to change it."
            )
        inner = self._depth > 0
        begin, end, back = ("BEGIN IMMEDIATE", "COMMIT", "ROLLBACK")
        if inner:
            begin, end, back = ("SAVEPOINT part", "RELEASE part", "ROLLBACK TO part")
        if inner and not self._db.in_transaction:  # a full disk takes all of it back at once
            raise InputError(
                f"An earlier part of this change of {self.path.name} failed, and all of it was "
                "given up.",
                "Do it again from the start.",
            )
        with told(self.path):
            self._db.execute(begin)
        self._depth += 1
        try:
            with told(self.path):
                if not inner:
                    journal.claim_others(self._db)
            yield
            with told(self.path):
                if not inner:
                    self._tell_layers(journal.tables_since(self._db))
                    journal.claim(self._db, what)
                self._db.execute(end)
        except BaseException:
            with suppress(sqlite3.Error):  # the database may have gone back by itself
                self._db.execute(back)
                if inner:
                    self._db.execute(end)
            raise
        finally:
            self._depth -= 1

    def renamed_elsewhere(self) -> tuple[Renamed, ...]:
        """Return stations renamed by another program whose limbs and plans bear the old name."""
        with told(self.path):
            return renamed_stations(self._db)

    def _carry_over(self) -> tuple[Renamed, ...]:
        """Carry the rows of renamed stations over to their new names, in one change with that."""
        if not self.renamed_elsewhere():
            return ()
        with schema.whole(self._db):
            found = renamed_stations(self._db)  # another program may have been here meanwhile
            what = journal.what_others_did(self._db, journal.last_claimed(self._db))
            carry_over(self._db, found)
            names = ", ".join(f"{one.before} now {one.now}" for one in found)
            self._tell_layers(journal.tables_since(self._db))
            journal.claim(self._db, f"{what}; {names}"[:WHAT_LETTERS], elsewhere=True)
        return found

    def _tell_layers(self, names: Iterable[str]) -> None:
        """Tell readers of the layers that they changed; their extent is then looked up anew."""
        self._db.executemany(
            "UPDATE gpkg_contents SET last_change = strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), "
            "min_x = NULL, min_y = NULL, max_x = NULL, max_y = NULL WHERE table_name = ?",
            [(name,) for name in names],
        )

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Read the file as of one moment; other programs wait with their changes meanwhile."""
        if self._db.in_transaction:
            yield
            return
        with told(self.path):
            self._db.execute("BEGIN")
        try:
            yield
        finally:
            if self._db.in_transaction:
                with told(self.path):
                    self._db.execute("COMMIT")

    def rows(self, table: str, **where: object) -> list[dict[str, object]]:
        """Return rows as plain values in the order of the key.

        Text is never None (empty then), dates are ISO text, JSON is plain values, a point is
        ``x`` and ``y``, a polygon ``rings``. Columns that another program added come last. A value
        of the wrong type, as another program may leave it, is None.

        Parameters
        ----------
        table
            A table of `limbwright.project.tables.TABLES`.
        where
            Column and value; a list, tuple or set of values stands for any of them.

        Raises
        ------
        KeyError
            There is no such table or column.
        """
        spec = table_spec(table)
        with told(self.path):
            further = further_columns(self._db, spec)
        listed = ", ".join(quoted(n) for n in (*stored_names(spec), *further))
        condition, given = where_sql(spec, where)
        order = ", ".join(quoted(n) for n in spec.key)
        sql = f"SELECT {listed} FROM {quoted(table)}{condition} ORDER BY {order}"
        fetched = self._reading_text(lambda: self._db.execute(sql, given).fetchall())
        return plain_rows(spec, fetched, further)

    def _reading_text(self, work: Callable[[], Read]) -> Read:
        """Do what reads text, once more where some of it is not in UTF-8: that is then replaced."""
        with told(self.path):
            try:
                return work()
            except sqlite3.OperationalError as error:
                if NOT_UTF8 not in str(error):
                    raise
                self._db.text_factory = lambda data: data.decode("utf-8", "replace")
                return work()

    def distinct(self, table: str, *columns: str) -> list[tuple[object, ...]]:
        """Return each set of values of some columns once, as the database holds them, in order."""
        spec = table_spec(table)
        if unknown := set(columns) - set(spec.names):
            raise KeyError(f"{table} has no column {sorted(unknown)}")
        listed = ", ".join(quoted(c) for c in columns)
        sql = f"SELECT DISTINCT {listed} FROM {quoted(table)} ORDER BY {listed}"
        return self._reading_text(lambda: self._db.execute(sql).fetchall())

    def odd_values(self, table: str) -> list[tuple[int, str, object]]:
        """Return row number, column and value of each value that is not of its column's type.

        Other programs may leave such values; `rows` reads them as none.
        """
        spec = table_spec(table)
        return self._reading_text(lambda: odd_values(self._db, spec))

    def put(self, table: str, rows: Iterable[Mapping[str, object]]) -> Counts:
        """Add rows, or change those whose key is there.

        A row that says nothing new is not touched; columns that are not given stay as they are.
        Outside a `change` it is one by itself.

        Raises
        ------
        KeyError
            A row lacks its key or has a column that the table does not.
        ValueError
            A value does not fit its column.
        """
        spec = table_spec(table)
        new = list(rows)
        with self.change(f"change {table}"):
            srs = self._srs() if spec.geometry else 0
            return self._reading_text(lambda: put_rows(self._db, spec, new, srs))

    def remove(self, table: str, keys: Iterable[object]) -> int:
        """Remove rows by key (a tuple, or the value where the key is one), and count them."""
        spec = table_spec(table)
        condition = " AND ".join(f"{quoted(n)} = ?" for n in spec.key)
        sql = f"DELETE FROM {quoted(table)} WHERE {condition}"
        columns = [spec.column(n) for n in spec.key]
        count = 0
        with self.change(f"remove from {table}"), told(self.path):
            for key in keys:
                parts = key if isinstance(key, tuple) else (key,)
                given = [encode(spec, c, v) for c, v in zip(columns, parts, strict=True)]
                count += self._db.execute(sql, given).rowcount
        return count

    def history(self) -> tuple[Change, ...]:
        """Return the changes, oldest first; edits that another program made last are among them."""
        with told(self.path):
            return journal.changes(self._db)

    def undo(self) -> Change | None:
        """Take back the last change, whoever made it, and return it; None where there is none.

        The change that made the project cannot be taken back.
        """
        return self._turn(redo=False)

    def redo(self) -> Change | None:
        """Make the change undone last again, and return it; None where there is none."""
        return self._turn(redo=True)

    def _turn(self, *, redo: bool) -> Change | None:
        if self._depth:
            raise RuntimeError("undo and redo cannot be part of a change")
        turned: Change | None = None
        with self.change(""), told(self.path):
            turned = journal.redo(self._db) if redo else journal.undo(self._db)
            told_crs = self.rows("holding")
            if turned is not None and told_crs:
                schema.set_system(self._db, project_system(str(told_crs[0]["crs"])))
                self._tell_layers(spec.name for spec in TABLES)
        return turned

    def copy_to(
        self, path: str | os.PathLike[str], *, replace: bool = False, history: bool = True
    ) -> Path:
        """Write a copy as of now, whole or not at all, while others may have the file open.

        Parameters
        ----------
        replace
            Write over a file that is there.
        history
            Keep what can be undone; without it the copy holds only the present state.

        Raises
        ------
        InputError
            The target is there, or cannot be written.
        """
        target = Path(path)
        if target.exists() and target.samefile(self.path):
            raise InputError(f"{target} is the project file itself.", "Give another name.")
        if not replace:
            refuse_existing(target)
        with beside(target) as draft:
            with told(target), closing(connect(draft, write=True)) as copy:
                self._db.backup(copy)
                copy.execute("PRAGMA journal_mode = DELETE")
                if not history:
                    journal.reset(copy)
                    copy.execute("VACUUM")
            if replace:
                draft.replace(target)
            else:
                move_new(draft, target)
        return target

"""The project file: one GeoPackage that holds a holding, its surveys, plans and records."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

from limbwright.model import Holding

__all__ = ["Change", "Counts", "Project"]


@dataclass(frozen=True, slots=True)
class Counts:
    """How many rows of a table were added, changed, and the same already."""

    added: int = 0
    changed: int = 0
    same: int = 0

    def __add__(self, other: Counts) -> Counts:
        """Return the sum."""
        return Counts(
            self.added + other.added, self.changed + other.changed, self.same + other.same
        )


@dataclass(frozen=True, slots=True)
class Change:
    """One change of the file: what was done, when (UTC, ISO 8601), and whether it is undone.

    ``elsewhere`` is true for rows that another program, such as a GIS, changed.
    """

    number: int
    what: str
    made_at: str
    undone: bool = False
    elsewhere: bool = False


class Project:
    """A project file, open. Use it as a context manager, or close it."""

    path: Path

    @classmethod
    def create(cls, path: str | os.PathLike[str], holding: Holding) -> Project:
        """Make a new project file and open it."""
        raise NotImplementedError

    @classmethod
    def open(cls, path: str | os.PathLike[str], *, write: bool = True) -> Project:
        """Open a project file."""
        raise NotImplementedError

    def close(self) -> None:
        """Close the file."""

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
        """The CRS of all x and y, as ``EPSG:27700``; empty: a local grid in metres."""
        raise NotImplementedError

    def set_crs(self, crs: str) -> None:
        """Name the CRS of a file whose stations and orchards have no position yet."""
        raise NotImplementedError

    def change(self, what: str) -> AbstractContextManager[None]:
        """Make one change of all that is put and removed within: all or nothing.

        A change within a change is part of the outer one. Where nothing changed, nothing is told.
        """
        raise NotImplementedError

    def rows(self, table: str, **where: object) -> list[dict[str, object]]:
        """Return rows as plain values in key order; ``where`` takes a value, or a list of them.

        Text is never None (empty then), dates are ISO text, JSON is plain values.
        """
        raise NotImplementedError

    def put(self, table: str, rows: Iterable[Mapping[str, object]]) -> Counts:
        """Add rows, or change those whose key is there; columns not given are left as they are."""
        raise NotImplementedError

    def remove(self, table: str, keys: Iterable[tuple[object, ...]]) -> int:
        """Remove rows by key, and return how many were there."""
        raise NotImplementedError

    def history(self) -> tuple[Change, ...]:
        """Return the changes, oldest first."""
        raise NotImplementedError

    def undo(self) -> Change | None:
        """Take back the last change, and return it; None where there is none."""
        raise NotImplementedError

    def redo(self) -> Change | None:
        """Make the last undone change again, and return it; None where there is none."""
        raise NotImplementedError

    def copy_to(self, path: str | os.PathLike[str]) -> Path:
        """Write a copy as of now, whole or not at all."""
        raise NotImplementedError

"""Which options go with a table, which with a project file, and what an orchard is called."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from limbwright.errors import InputError

__all__ = ["is_project_name", "known_orchard", "only_for_projects", "only_for_tables"]


def is_project_name(path: Path) -> bool:
    """Return whether a file is named as project files are."""
    from limbwright.project.connect import SUFFIX

    return path.suffix.lower() == SUFFIX


def only_for_tables(path: Path, given: Mapping[str, object], remedy: str = "") -> None:
    """Raise an `InputError` where options that go with a table are given with a project file."""
    if named := _named(given):
        raise InputError(
            f"{path.name} is a project file; {named} with a table.",
            remedy or f"Take the table into the project first: limbwright add {path} FILE.",
        )


def only_for_projects(path: Path, given: Mapping[str, object]) -> None:
    """Raise an `InputError` where options that go with a project file are given with a table."""
    if named := _named(given):
        raise InputError(
            f"{path.name} is a table; {named} with a project file.",
            "Leave that out, or make a project: limbwright new holding.gpkg.",
        )


def _named(given: Mapping[str, object]) -> str:
    """Return the options that are given, with their verb; empty where none is."""
    names = [option for option, value in given.items() if value not in (None, False, "")]
    if not names:
        return ""
    return f"{' and '.join(names)} {'goes' if len(names) == 1 else 'go'}"


def known_orchard(orchard: str | None, names: Iterable[str]) -> None:
    """Raise an `InputError` where a project has no orchard of a name."""
    known = sorted(set(names) - {""})
    if orchard is not None and orchard not in known:
        listed = ", ".join(known)
        raise InputError(
            f"There is no orchard {orchard!r}.",
            f"There are: {listed}." if known else "No station of the project names its orchard.",
        )

"""What the steps of one adding share: the project, its stations as they come to be, the tally."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date

from limbwright.model import Faults, StationRecord
from limbwright.project.changes_shown import Tally
from limbwright.project.dated import Day
from limbwright.project.place import Placer
from limbwright.project.rows import station_of
from limbwright.project.store import Project
from limbwright.project.values import to_json

__all__ = ["Adding", "Key", "content_sha256"]

Key = tuple[str, str]
"""Orchard and station."""


def content_sha256(values: object) -> str:
    """Return a hash of plain values: the same values, the same hash."""
    return hashlib.sha256(to_json(values).encode("utf-8", "replace")).hexdigest()


@dataclass(slots=True)
class Adding:
    """One adding while it runs, within one change of the project."""

    project: Project
    placer: Placer
    day: Day
    orchard: str = ""
    species: str = ""
    faults: Faults = field(default_factory=Faults)
    tally: Tally = field(default_factory=Tally)
    stations: dict[Key, dict[str, object]] = field(default_factory=dict)
    surveys: list[dict[str, object]] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Take in what the project holds."""
        for row in self.project.rows("stations"):
            if row["station"]:
                self.stations[str(row["orchard"]), str(row["station"])] = row
        self.surveys = self.project.rows("surveys")

    def trees(self) -> dict[str, Key]:
        """Return orchard and station of each tree known."""
        return {f"{o}/{s}" if o else s: (o, s) for o, s in self.stations}

    def namer(self) -> Callable[[str], str]:
        """Return what tells the tree that a name means: itself, or the one of that number."""
        known = self.trees()
        of_number: dict[str, list[str]] = {}
        for tree, (_, station) in known.items():
            of_number.setdefault(station, []).append(tree)

        def named(name: str) -> str:
            if name in known or "/" in name:
                return name
            if self.orchard:
                return f"{self.orchard}/{name}"
            found = of_number.get(name, [])
            return found[0] if len(found) == 1 else name

        return named

    def records(self) -> tuple[StationRecord, ...]:
        """Return the stations as records."""
        return tuple(station_of(row) for row in self.stations.values())

    def surveys_of(self, kind: str, day: date | None = None) -> list[dict[str, object]]:
        """Return the surveys of a kind, of one day where that is given."""
        wanted = None if day is None else day.isoformat()
        return [s for s in self.surveys if s["kind"] == kind and wanted in (None, s["taken_on"])]

    def new_survey(self, kind: str, day: Day, file: str, content: str = "") -> int:
        """Write a survey down, and return its number."""
        number = 1 + max((_number(s["survey"]) for s in self.surveys), default=0)
        row: dict[str, object] = {
            "survey": number,
            "kind": kind,
            "taken_on": day.taken_on.isoformat(),
            "who": day.who,
            "file": file,
            "content_sha256": content,
        }
        self.project.put("surveys", [row])
        self.surveys.append(row)
        return number

    def orchards_named(self, names: Sequence[str]) -> None:
        """Write down orchards that are named and not there yet."""
        held = {row["orchard"] for row in self.project.rows("orchards")}
        new = [name for name in dict.fromkeys(names) if name and name not in held]
        if new:
            self.project.put("orchards", [{"orchard": name} for name in new])
            self.tally.count("orchards", added=len(new))
        alike = {" ".join(str(name).casefold().split()): name for name in held if name}
        for name in new:
            other = alike.get(" ".join(name.casefold().split()))
            if other is not None:
                told = f"The orchard {name!r} is new; {other!r} is there already. Is it the same?"
                self.tally.notes.append(told)


def _number(value: object) -> int:
    return value if isinstance(value, int) else 0

"""Faults found in a person's data: collected, never raised one by one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Literal

__all__ = ["Fault", "Faults", "Severity"]

Severity = Literal["error", "warning"]
"""An error keeps its row (or its value) out; a warning lets it through."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with one value.

    ``row`` is the row a spreadsheet shows (header is 1), 0 where the fault is the file's.
    """

    file: str
    row: int
    column: str
    value: str
    fault: str
    remedy: str
    severity: Severity = "error"

    def __str__(self) -> str:
        """Return the fault as one line: where, what, and what would be right."""
        where = self.file
        if self.row:
            where += f", row {self.row}"
        if self.column:
            where += f", {self.column}"
        shown = f" is {self.value!r}" if self.value else ""
        return f"{where}{shown}: {self.fault}. {self.remedy}".strip()

    def to_dict(self) -> dict[str, object]:
        """Return the fault as plain values."""
        return {
            "file": self.file,
            "row": self.row,
            "column": self.column,
            "value": self.value,
            "fault": self.fault,
            "remedy": self.remedy,
            "severity": self.severity,
        }


@dataclass(slots=True)
class Faults:
    """A growing list of faults, shared by the readers of one survey."""

    items: list[Fault] = field(default_factory=list)

    def add(self, fault: Fault) -> None:
        """Add one fault."""
        self.items.append(fault)

    def extend(self, faults: Iterable[Fault]) -> None:
        """Add several faults."""
        self.items.extend(faults)

    def __iter__(self) -> Iterator[Fault]:
        """Iterate over the faults in the order they were found."""
        return iter(self.items)

    def __len__(self) -> int:
        """Return the number of faults."""
        return len(self.items)

    @property
    def errors(self) -> list[Fault]:
        """The faults that kept something out."""
        return [f for f in self.items if f.severity == "error"]

    @property
    def warnings(self) -> list[Fault]:
        """The faults that let the value through."""
        return [f for f in self.items if f.severity == "warning"]

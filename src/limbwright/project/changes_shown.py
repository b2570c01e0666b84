"""What adding a file changed, told in plain lines."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from limbwright.model import Fault
from limbwright.project.put import Counts

__all__ = ["Added", "Altered", "Gone", "Tally"]

WORDS = {
    "orchards": ("orchard", "orchards"),
    "stations": ("station", "stations"),
    "limbs": ("limb", "limbs"),
    "shoots": ("shoot", "shoots"),
    "segments": ("segment", "segments"),
    "visits": ("visit", "visits"),
    "cuts_done": ("cut", "cuts"),
    "responses": ("response", "responses"),
    "photos": ("photo", "photos"),
    "rules": ("local rule", "local rules"),
}
"""What one row of each table is called, and several."""
SHOWN = 12
"""Changes and limbs shown before the rest are counted; judgement: half a screen."""


@dataclass(frozen=True, slots=True)
class Altered:
    """One field of one row that says something else than before; ``what`` names the row."""

    table: str
    what: str
    field: str
    before: object
    after: object

    def __str__(self) -> str:
        """Return the change as one line."""
        return f"{self.what}: {self.field} {_shown(self.before)}, now {_shown(self.after)}"


@dataclass(frozen=True, slots=True)
class Gone:
    """A limb or shoot of an earlier survey that a later one of the same tree lacks.

    ``corrected`` is true where the survey of the same day was put right, and so lost the row.
    """

    table: str
    tree: str
    name: str
    seen_on: str
    corrected: bool = False

    def __str__(self) -> str:
        """Return it as one line."""
        what = WORDS[self.table][0]
        if self.corrected:
            return f"{self.tree}: {what} {self.name} is taken out of the survey of {self.seen_on}"
        day = f" of {self.seen_on}" if self.seen_on else ""
        return (
            f"{self.tree}: {what} {self.name} of the survey{day} is not in this one: "
            "cut or lost since?"
        )


@dataclass(slots=True)
class Tally:
    """What is being added, as it grows."""

    counts: dict[str, Counts] = field(default_factory=dict)
    altered: list[Altered] = field(default_factory=list)
    gone: list[Gone] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def count(self, table: str, *, added: int = 0, changed: int = 0, same: int = 0) -> None:
        """Count rows of a table."""
        self.counts[table] = self.counts.get(table, Counts()) + Counts(added, changed, same)


@dataclass(frozen=True, slots=True)
class Added:
    """What was added to a project.

    ``counts`` tells by table how many rows are new, changed, and the same as before;
    ``left_out`` how many rows a fault kept out.
    """

    counts: Mapping[str, Counts]
    altered: tuple[Altered, ...] = ()
    gone: tuple[Gone, ...] = ()
    faults: tuple[Fault, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def left_out(self) -> int:
        """Rows with a fault that kept them, or a value of theirs, out."""
        return len({(f.file, f.row) for f in self.faults if f.severity == "error" and f.row})

    @property
    def changes_nothing(self) -> bool:
        """Whether the project already held all of it."""
        return not any(c.added or c.changed for c in self.counts.values()) and not any(
            g.corrected for g in self.gone
        )

    def lines(self, *, shown: int | None = SHOWN) -> list[str]:
        """Return the whole as plain lines.

        Parameters
        ----------
        shown
            How many changes and missing limbs to list before counting the rest; None: all.
        """
        return [
            *(_counted(table, counts) for table, counts in self.counts.items()),
            *self.notes,
            *_some(self.altered, shown, "changes"),
            *_some(self.gone, shown, "missing"),
            *self._faults(),
        ]

    def _faults(self) -> Iterator[str]:
        errors = sum(f.severity == "error" for f in self.faults)
        warnings = len(self.faults) - errors
        if errors:
            rows = self.left_out
            where = f" on {rows} {'row' if rows == 1 else 'rows'}" if rows else ""
            yield f"{errors} {'fault' if errors == 1 else 'faults'}{where}, left out or mended."
        if warnings:
            yield f"{warnings} {'warning' if warnings == 1 else 'warnings'}."

    def to_dict(self) -> dict[str, object]:
        """Return the whole as plain values."""
        return {
            "counts": {
                table: {"added": c.added, "changed": c.changed, "same": c.same}
                for table, c in self.counts.items()
            },
            "changes": [
                {
                    "table": a.table,
                    "what": a.what,
                    "field": a.field,
                    "before": _plain(a.before),
                    "after": _plain(a.after),
                }
                for a in self.altered
            ],
            "missing": [
                {
                    "table": g.table,
                    "tree": g.tree,
                    "name": g.name,
                    "seen_on": g.seen_on,
                    "corrected": g.corrected,
                }
                for g in self.gone
            ],
            "notes": list(self.notes),
            "faults": [f.to_dict() for f in self.faults],
        }


def _counted(table: str, counts: Counts) -> str:
    total = counts.added + counts.changed + counts.same
    name = WORDS[table][total != 1]
    parts = [
        f"{n} {word}"
        for n, word in (
            (counts.added, "added"),
            (counts.changed, "changed"),
            (counts.same, "the same"),
        )
        if n
    ]
    return f"{total} {name}: {', '.join(parts) or 'none'}."


def _some(items: Iterable[object], shown: int | None, what: str) -> Iterator[str]:
    listed = [str(item) for item in items]
    yield from listed[:shown]
    if shown is not None and len(listed) > shown:
        yield f"and {len(listed) - shown} more {what}."


def _shown(value: object) -> str:
    if value is None or value == "":
        return "not taken"
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def _plain(value: object) -> object:
    return list(value) if isinstance(value, tuple) else value

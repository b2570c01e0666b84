"""Rules of one's own place, which come before the general ones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from limbwright.trade.seasons.days import YearDay, say_span
from limbwright.trade.seasons.rules import Job

__all__ = ["LOCAL_STRENGTHS", "LocalRule", "LocalStrength"]

LocalStrength = Literal["forbid", "only", "allow", "look first"]
LOCAL_STRENGTHS: dict[LocalStrength, str] = {
    "forbid": "not in these days",
    "only": "in these days alone",
    "allow": "in these days too",
    "look first": "in these days only after looking",
}
"""How a local rule binds, the strictest first."""


@dataclass(frozen=True, slots=True)
class LocalRule:
    """A rule of a scheme, a law or a custom, in days as they stand where it holds.

    ``job`` is a key of `trade.seasons.rules.JOBS` or ``all``; ``species`` a species, ``pome``,
    ``stone`` or ``all``. ``first`` may lie after ``last``: the rule then runs over the new year.
    ``forbid`` shuts, ``only`` narrows, ``allow`` widens. ``dated`` is the day or year the rule was
    read or made.
    """

    job: str
    species: str
    first: YearDay
    last: YearDay
    strength: LocalStrength
    scheme: str
    place: str = ""
    dated: str = ""
    source: str = ""
    note: str = ""

    def concerns(self, job: Job, species: str, group: str) -> bool:
        """Return whether the rule speaks of a job on a species, given by its key."""
        return self.job in ("all", job.key) and self.species in ("all", species, group)

    @property
    def words(self) -> str:
        """The rule in a line: what it binds, when, and where it comes from."""
        where = ", ".join(part for part in (self.scheme, self.place, self.dated) if part)
        note = f" {self.note}" if self.note else ""
        span = say_span(self.first, self.last)
        return f"{where}: {LOCAL_STRENGTHS[self.strength]}, {span}.{note}"

"""The rules of the seasons: what may be done when, and what is then about, with their sources.

They stand in ``data/season_rules.csv`` as days of the year in the temperate north. A *window* is
the time for a job, a *disturbance* something that meets it. ``first`` and ``last`` are what is
used, the low and high beside them what other sources give.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

from limbwright.errors import InputError
from limbwright.trade.seasons.days import YearDay, year_day

__all__ = ["CONDITIONS", "JOBS", "Group", "Job", "Rule", "find_job", "season_rules"]

Group = Literal["pome", "stone"]
Kind = Literal["window", "disturbance"]
KINDS: tuple[Kind, ...] = ("window", "disturbance")
Season = Literal["dormant", "growth", "hot", ""]
SEASONS: tuple[Season, ...] = ("dormant", "growth", "hot", "")
"""What of a climate a rule moves with: its dormant season, its growing one, its hot days, none."""
Strength = Literal["must", "should", "look first"]
STRENGTHS: tuple[Strength, ...] = ("must", "should", "look first")
"""How a rule binds: never otherwise; not otherwise without good reason; look before each tree."""

CONDITIONS = {
    "roost": "a crack, hole, ivy or loose bark that bats could use",
    "silver leaf": "silver leaf in the orchard",
    "canker": "canker in the tree",
    "fire blight": "fire blight in the orchard",
    "ewes": "ewes near lambing in the orchard",
    "hard frost": "winters with hard frost",
}
"""What may be so of a tree or an orchard; rules that need it count only then."""


@dataclass(frozen=True, slots=True)
class Job:
    """One kind of work; ``crown`` is True where it is done among the branches."""

    key: str
    words: str
    crown: bool


JOBS = {
    job.key: job
    for job in (
        Job("structural", "structural pruning", True),
        Job("summer", "summer pruning", True),
        Job("formative", "formative pruning", True),
        Job("canker", "cutting out canker", True),
        Job("fire-blight", "cutting out fire blight", True),
        Job("silver-leaf", "cutting out silver leaf", True),
        Job("watershoots", "rubbing out watershoots", True),
        Job("planting", "bare-root planting", False),
        Job("grafting-wood", "cutting grafting wood", True),
        Job("mistletoe", "cutting mistletoe", True),
        Job("ground", "ground work and guards", False),
    )
}


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule of the seasons, in days of the temperate north.

    ``jobs`` are keys of `JOBS`, with ``crown`` for all done among the branches; ``kinds`` groups or
    species, or ``all``. ``first`` and ``last`` are the low end of their range, the day used, and
    the high end. ``season`` is what of a climate the days move with, empty where they go by the
    calendar. ``needs`` is one of `CONDITIONS`, or empty.
    """

    key: str
    kind: Kind
    jobs: tuple[str, ...]
    kinds: tuple[str, ...]
    first: tuple[YearDay, YearDay, YearDay]
    last: tuple[YearDay, YearDay, YearDay]
    season: Season
    strength: Strength
    needs: str
    name: str
    reason: str
    scheme: str
    place: str
    dated: str
    source: str

    def touches(self, job: Job) -> bool:
        """Return whether the rule speaks of a job."""
        return job.key in self.jobs or (job.crown and "crown" in self.jobs)

    def speaks_of(self, species: str, group: str) -> bool:
        """Return whether the rule speaks of a species, by its key or its group."""
        return bool({species, group, "all"} & set(self.kinds))


@cache
def season_rules() -> tuple[Rule, ...]:
    """Return every rule of the seasons, windows first.

    Raises
    ------
    ValueError
        A row of the table has no source, or a day that is none.
    """
    text = files("limbwright.trade").joinpath("data", "season_rules.csv").read_text("utf-8")
    return tuple(_rule(row) for row in csv.DictReader(text.splitlines()))


def _rule(row: dict[str, str]) -> Rule:
    if not row["source"].strip():
        raise ValueError(f"season_rules.csv: {row['key']} has no source")

    def day(column: str) -> YearDay:
        found = year_day(row[column])
        if found is None:
            raise ValueError(f"season_rules.csv: {row['key']}, {column} is no day")
        return found

    kind = next((one for one in KINDS if one == row["kind"]), None)
    strength = next((one for one in STRENGTHS if one == row["strength"]), None)
    season = next((one for one in SEASONS if one == row["season"]), None)
    if kind is None or strength is None or season is None:
        raise ValueError(f"season_rules.csv: {row['key']} has a word that is not known")
    return Rule(
        key=row["key"],
        kind=kind,
        jobs=tuple(row["job"].split(";")),
        kinds=tuple(row["group"].split(";")),
        first=(day("first_low"), day("first"), day("first_high")),
        last=(day("last_low"), day("last"), day("last_high")),
        season=season,
        strength=strength,
        needs=row["needs"],
        name=row["name"],
        reason=row["reason"],
        scheme=row["scheme"],
        place=row["place"],
        dated=row["dated"],
        source=row["source"],
    )


def find_job(name: str) -> Job:
    """Return a job by its key or its words, in any case.

    Raises
    ------
    InputError
        The job is not known; the message lists those that are.
    """
    plain = " ".join(name.casefold().replace("-", " ").replace("_", " ").split())
    for job in JOBS.values():
        if plain in (job.key.replace("-", " "), job.words.replace("-", " ")):
            return job
    raise InputError(f"The job {name.strip()!r} is not known.", f"Give one of: {', '.join(JOBS)}.")

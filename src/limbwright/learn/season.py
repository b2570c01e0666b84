"""One tree and one season of work: what was planned, who came, what was seen after."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from limbwright.errors import InputError
from limbwright.model import Response, StationRecord, Visit
from limbwright.trade.species import species as known_species

__all__ = ["Girth", "Planned", "TreeSeason", "season_document", "seasons_of"]


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan as it was kept: its tree and first season, the day it was made, the whole of it."""

    tree: str
    season: str
    made_on: date | None
    document: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Girth:
    """The girth of a stem on a day [cm]."""

    girth_cm: float
    taken_on: date


@dataclass(frozen=True, slots=True)
class TreeSeason:
    """One tree in one season.

    ``plan`` is the plan of that season alone, None where none was kept; ``made_on`` its day.
    ``visits`` are those of the season, ``responses`` what was seen from then until the next work,
    both oldest first. ``station`` is the record as it was before the work, ``girth`` the girth
    before, where its day is known.
    """

    tree: str
    season: str
    plan: Mapping[str, Any] | None = None
    made_on: date | None = None
    visits: tuple[Visit, ...] = ()
    responses: tuple[Response, ...] = ()
    station: StationRecord | None = None
    girth: Girth | None = None

    @property
    def species(self) -> str:
        """The key of the species, empty where neither station nor plan says, or it is unknown."""
        of_plan = "" if self.plan is None else str(self.plan.get("species", ""))
        said = (self.station.species if self.station else "") or of_plan
        try:
            return known_species(said).key if said else ""
        except InputError:
            return ""

    @property
    def worked_on(self) -> date | None:
        """The last day of the season's work, None where nobody came."""
        return max((v.done_on for v in self.visits), default=None)


def season_document(document: Mapping[str, Any], season: str) -> Mapping[str, Any] | None:
    """Return the part of a plan that is of one season.

    A plan of one season (``limbwright.plan/1``, one tree of it) is all of it. A plan of several
    has them under ``seasons``; the one with the same words is taken, None where it has none.
    """
    seasons = document.get("seasons")
    if not isinstance(seasons, list):
        return document
    for one in seasons:
        if isinstance(one, Mapping) and _same(str(one.get("season", "")), season):
            whole = {k: v for k, v in document.items() if k != "seasons"}
            return {**whole, **one}
    return None


def _same(one: str, other: str) -> bool:
    return " ".join(one.lower().split()) == " ".join(other.lower().split())


def seasons_of(
    plans: Iterable[Planned],
    visits: Iterable[Visit],
    responses: Iterable[Response],
    *,
    station_on: Callable[[str, date], StationRecord | None] = lambda tree, day: None,
    girth_on: Callable[[str, date], Girth | None] = lambda tree, day: None,
) -> tuple[TreeSeason, ...]:
    """Return records and plans tree by tree and season by season.

    A visit belongs to the plan of its season's words; where it names no season, to the plan of
    that tree made last before it. A response belongs to the last work before it, or to the plan
    made last before it where nobody came. The order of what is given does not matter.

    Parameters
    ----------
    plans, visits, responses
        What is kept, of any trees.
    station_on
        Gives the record of a tree as it was before a day.
    girth_on
        Gives the last girth of a tree taken before a day.
    """
    found: dict[tuple[str, str], TreeSeason] = {}
    by_tree: dict[str, list[Planned]] = {}
    for plan in sorted(plans, key=lambda p: (p.tree, p.made_on or date.min, p.season)):
        by_tree.setdefault(plan.tree, []).append(plan)
        for season in _seasons(plan):
            document = season_document(plan.document, season)
            key = plan.tree, " ".join(season.lower().split())
            found[key] = TreeSeason(plan.tree, season, document, plan.made_on)
    for visit in sorted(visits, key=lambda v: (v.done_on, v.tree)):
        season = visit.season
        if not season:
            before = [
                p
                for p in by_tree.get(visit.tree, ())
                if p.made_on is not None and p.made_on <= visit.done_on
            ]
            season = before[-1].season if before else f"work of {visit.done_on.year}"
        key = visit.tree, " ".join(season.lower().split())
        held = found.get(key) or TreeSeason(visit.tree, season)
        found[key] = replace(held, visits=(*held.visits, visit))
    _give(found, responses)
    whole = []
    for one in found.values():
        day = min((v.done_on for v in one.visits), default=one.made_on)
        if day is None:
            continue
        whole.append(replace(one, station=station_on(one.tree, day), girth=girth_on(one.tree, day)))
    return tuple(sorted(whole, key=lambda s: (s.tree, _begun(s), s.season)))


def _seasons(plan: Planned) -> Sequence[str]:
    seasons = plan.document.get("seasons")
    if not isinstance(seasons, list):
        return (plan.season,)
    named = [str(one.get("season", "")) for one in seasons if isinstance(one, Mapping)]
    return [name for name in named if name]


def _begun(one: TreeSeason) -> date:
    """Return the day from which a tree is watched for this season."""
    return one.worked_on or one.made_on or date.max


def _give(found: dict[tuple[str, str], TreeSeason], responses: Iterable[Response]) -> None:
    """Give each response to the last work, or else the last plan, before it."""
    of_tree: dict[str, list[tuple[str, str]]] = {}
    for key in found:
        of_tree.setdefault(key[0], []).append(key)
    for seen in sorted(responses, key=lambda r: (r.seen_on, r.tree)):
        mine = [k for k in of_tree.get(seen.tree, ()) if _begun(found[k]) <= seen.seen_on]
        worked = [k for k in mine if found[k].visits]
        if mine:
            key = max(worked or mine, key=lambda k: (_begun(found[k]), k))
            found[key] = replace(found[key], responses=(*found[key].responses, seen))
        else:
            key = seen.tree, f"seen {seen.seen_on.isoformat()}"
            found[key] = TreeSeason(seen.tree, "", None, seen.seen_on, responses=(seen,))

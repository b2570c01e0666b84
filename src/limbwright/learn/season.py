"""One tree and one season of work: what was planned, who came, what was seen after."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from limbwright.errors import InputError
from limbwright.model import Response, StationRecord, Visit
from limbwright.trade.species import species as known_species

__all__ = ["Girth", "Planned", "TreeSeason", "season_document", "seasons_of"]

YEARS = re.compile(r"(?P<year>\d{4})(?P<next>[-/]\d{2,4})?\s*$")


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

    One tree of ``limbwright.plan/1`` is all of it. One tree of ``limbwright.years/1`` has a plan
    of the same kind for each of its ``seasons``; the season with the same words is taken, without
    cuts where it rests, None where it has none. A document of many trees is no plan of one.
    """
    seasons = document.get("seasons")
    if not isinstance(seasons, list):
        return document
    named = [one for one in seasons if isinstance(one, Mapping)]
    for one in named:
        if _words(str(one.get("season", ""))) == _words(season):
            own = one.get("plan")
            part = dict(own) if isinstance(own, Mapping) else {**one, "cuts": one.get("cuts", [])}
            part.setdefault("species", document.get("species", ""))
            target = document.get("target")
            if one is named[0] and isinstance(target, Mapping):
                part.setdefault("leaf_m2", target.get("leaf_now_m2"))
            return part
    return None


def _words(season: str) -> str:
    """Return the words of a season as they are compared: case and spaces do not count."""
    return " ".join(season.lower().split())


def _covers(season: str, day: date) -> bool:
    """Whether a season, such as ``winter 2026-27`` or ``summer 2027``, can hold a day."""
    named = YEARS.search(season)
    if named is None:
        return False
    first = int(named["year"])
    if named["next"] is None:
        return day.year == first
    return date(first, 7, 1) <= day < date(first + 1, 7, 1)


def seasons_of(
    plans: Iterable[Planned],
    visits: Iterable[Visit],
    responses: Iterable[Response],
    *,
    station_on: Callable[[str, date], StationRecord | None] = lambda tree, day: None,
    girth_on: Callable[[str, date], Girth | None] = lambda tree, day: None,
) -> tuple[TreeSeason, ...]:
    """Return records and plans tree by tree and season by season.

    A visit belongs to the plan of its season's words; where it names no season or one that no plan
    has, to the season of a plan of that tree that can hold its day, else to its own words. A
    response belongs to the last work before it, or to the plan made last before it where nobody
    came. The order of what is given does not matter.

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
    named: dict[str, list[str]] = {}
    for plan in sorted(plans, key=lambda p: (p.tree, p.made_on or date.min, p.season)):
        for season in _seasons(plan):
            document = season_document(plan.document, season)
            found[plan.tree, _words(season)] = TreeSeason(plan.tree, season, document, plan.made_on)
            named.setdefault(plan.tree, []).append(season)
    for visit in sorted(visits, key=lambda v: (v.done_on, v.tree)):
        season = visit.season or f"work of {visit.done_on.year}"
        if (visit.tree, _words(season)) not in found:
            fit = [one for one in named.get(visit.tree, ()) if _covers(one, visit.done_on)]
            season = fit[-1] if fit else season
        key = visit.tree, _words(season)
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

"""What in a record may be a slip of the pen: told, and kept all the same."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date

from limbwright.model import Photo, Response, Visit
from limbwright.project.plans import plans
from limbwright.project.store import Project
from limbwright.project.surveys import surveys_taken

__all__ = ["doubts"]

SHOWN = 5
"""Names listed before the rest are counted; judgement: one line of a screen."""
_YEARS = re.compile(r"\b((?:19|20|21)\d\d)(?:\s*[-/]\s*(\d\d))?\b")


def doubts(
    project: Project,
    visits: Sequence[Visit],
    seen: Sequence[Response],
    photos: Sequence[Photo],
    today: date,
) -> list[str]:
    """Return sentences on days to come, seasons that do not fit, and limbs and cuts nobody knows.

    Parameters
    ----------
    visits, seen, photos
        Records as they are taken in, their trees named in full.
    today
        No work was done after this day.
    """
    days = [(v.tree, v.done_on) for v in visits] + [(r.tree, r.seen_on) for r in seen]
    days += [(p.tree, p.taken_on) for p in photos]
    later = [f"{tree} {day.isoformat()}" for tree, day in days if day > today]
    odd = [f"{v.tree} {v.done_on.isoformat()} ({v.season})" for v in visits if not _fits(v)]
    told = [
        (later, "Days that have not come yet; check the year"),
        (odd, "Seasons that do not fit their day; write them as on the plan, such as winter "
         "2026-27"),
        (_strange_limbs(project, visits, seen), "Limbs that no survey of their tree has; check "
         "their names"),
        (_strange_numbers(project, visits), "Numbers that are on no card of their tree"),
    ]  # fmt: skip
    return [f"{words}: {_listed(names)}. They are kept." for names, words in told if names]


def _listed(names: Iterable[str]) -> str:
    found = list(dict.fromkeys(names))
    more = f" and {len(found) - SHOWN} more" if len(found) > SHOWN else ""
    return ", ".join(found[:SHOWN]) + more


def _fits(visit: Visit) -> bool:
    """Return whether the season of a visit, where one is given, is of its day's year."""
    if not visit.season:
        return True
    found = _YEARS.search(visit.season)
    if found is None:
        return False
    first = int(found[1])
    years = {first} if found[2] is None else {first, first + 1}
    return visit.done_on.year in years


def _strange_limbs(
    project: Project, visits: Sequence[Visit], seen: Sequence[Response]
) -> list[str]:
    """Return limbs that no survey has, of trees whose limbs were surveyed before that day.

    A limb cut before the first survey is in none, and nothing is amiss.
    """
    days = {s.number: s.taken_on for s in surveys_taken(project)}
    held: dict[str, set[str]] = {}
    first: dict[str, date] = {}
    for survey, tree, limb in project.distinct("limbs", "survey", "tree", "limb"):
        name = str(tree)
        held.setdefault(name, set()).add(str(limb))
        day = days.get(survey) if isinstance(survey, int) else None
        first[name] = min(first.get(name, date.max), day or date.max)
    named = [(v.tree, v.done_on, cut.limb) for v in visits for cut in v.cuts]
    named += [(r.tree, r.seen_on, limb) for r in seen for limb in r.limbs_lost]
    return [
        f"{tree}:{limb}"
        for tree, day, limb in named
        if tree in held and first[tree] <= day and limb not in held[tree]
    ]


def _strange_numbers(project: Project, visits: Sequence[Visit]) -> list[str]:
    """Return numbers of cuts beyond the last one of any card of their tree."""
    most: dict[str, int] = {}
    for stored in plans(project, every=True):
        document = stored.document
        seasons = document.get("seasons", [document])
        for season in seasons if isinstance(seasons, list) else []:
            plan = season.get("plan", season) or {}
            cuts = plan.get("cuts", []) if isinstance(plan, dict) else []
            most[stored.tree] = max(most.get(stored.tree, 0), len(cuts))
    return [
        f"{v.tree}: {cut.order}"
        for v in visits
        for cut in v.cuts
        if v.tree in most and cut.order > most[v.tree]
    ]

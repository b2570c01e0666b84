"""Two seasons of invented work: who came, what was cut and found, and how the trees answered.

Hours and growth are drawn about the forecast, times the factors named here, so that there is
something to learn and what should be learnt is known.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import exp

import numpy as np

from limbwright.cuts.weights import Settings
from limbwright.demo.answered import answered
from limbwright.demo.earlier import FIRST_WALK, earlier
from limbwright.demo.names import MARK, invent_people
from limbwright.demo.planned import past_plan
from limbwright.demo.sketches import sketched
from limbwright.learn.done import WorkDone, work_done
from limbwright.learn.season import Planned, TreeSeason
from limbwright.model import CutDone, Holding, LimbRecord, Photo, Response, StationRecord, Visit
from limbwright.needs.kinds import AT_WORK
from limbwright.needs.need import Need, needs
from limbwright.trade.species import species

__all__ = ["HOURS_FACTOR", "Past", "invent_past"]

HOURS_FACTOR = 1.25
"""Hours the invented crews take over those foretold, in the tree and for the brash."""
HOURS_SPREAD, BRASH_SPREAD = 0.25, 0.35
"""Standard deviation of the logarithm from tree to tree; judgement, as learn.csv foresees."""


@dataclass(frozen=True, slots=True)
class _Season:
    """One season's work: how many trees, from which day on, over how many days."""

    words: str
    group: str
    trees: int
    planned_on: date
    first: date
    days: int


SEASONS = (
    _Season("winter 2024-25", "pome", 9, date(2024, 11, 20), date(2025, 1, 8), 60),
    _Season("summer 2025", "stone", 4, date(2025, 5, 20), date(2025, 7, 3), 30),
    _Season("winter 2025-26", "pome", 9, date(2025, 11, 18), date(2026, 1, 7), 60),
    _Season("summer 2026", "stone", 3, date(2026, 5, 19), date(2026, 7, 2), 30),
)
TAPED_SHARE = 0.25
"""Share of the trees worked on whose limbs are taped today; judgement."""
LOST = ("A9", "C9")
"""Limbs that broke in two of the trees since; none of the survey or of a cut list is called so."""
FOUND = (
    *("", "", "", ""),
    "nest in a fork of B, left alone",
    "hollow where an old limb left the stem; no droppings",
    "droppings at a hole in A: stopped there, asked for advice",
    "more dead wood on the north side than the walk saw",
    "woolly aphid on old wounds",
)
NOT_DONE = ("ran out of daylight", "a bird sat near, left for next year", "owner wants it kept")


@dataclass(frozen=True, slots=True)
class Past:
    """What went before today: the walk of two autumns ago, plans, visits and answers.

    ``photos`` are of drawings, see `limbwright.demo.sketches`; ``walker`` is who walked and
    measured, then and now.
    """

    stations: tuple[StationRecord, ...] = ()
    plans: tuple[Planned, ...] = ()
    visits: tuple[Visit, ...] = ()
    responses: tuple[Response, ...] = ()
    photos: tuple[Photo, ...] = ()
    walker: str = ""


def invent_past(
    seed: int,
    place: Holding,
    stations: tuple[StationRecord, ...],
    limbs: Sequence[LimbRecord],
) -> Past:
    """Return two years of invented work and its records on a holding.

    Parameters
    ----------
    seed
        The same seed gives the same past.
    stations, limbs
        The holding as it is today.
    """
    rng = np.random.default_rng([seed, 3])
    standing: dict[str, set[str]] = {}
    for limb in limbs:
        standing.setdefault(limb.station, set()).add(limb.limb)
    chosen = _chosen(rng, place, stations, standing)
    before = earlier(seed, stations, {name for names in chosen.values() for name in names})
    then, now = {s.tree: s for s in before}, {s.tree: s for s in stations}
    walker, *crews = invent_people(rng)
    settings = Settings()
    plans: list[Planned] = []
    visits: list[Visit] = []
    responses: list[Response] = []
    for season in SEASONS:
        named = chosen[season.words]
        for k, need in enumerate(_needs([then[n] for n in named], place, season.first.year)):
            labels = standing.get(need.station.station, set())
            plan = past_plan(rng, need, season.words, season.planned_on, labels, settings)
            day = season.first + timedelta(days=season.days * k // season.trees)
            visit, work = _visit(rng, plan, day, crews[k % len(crews)], need.station, settings)
            plans.append(plan)
            visits.append(visit)
            responses += answered(rng, work, plan, (then[need.tree], now[need.tree]), walker)
    told = _with_losses(rng, responses)
    return Past(before, tuple(plans), tuple(visits), told, sketched(visits), walker)


def _with_losses(rng: np.random.Generator, responses: Sequence[Response]) -> tuple[Response, ...]:
    """Return the answers, a limb lost in some of them."""
    found = list(responses)
    for k, limb in zip(rng.choice(len(found), len(LOST), replace=False), LOST, strict=True):
        found[int(k)] = replace(found[int(k)], limbs_lost=(limb,))
    return tuple(found)


def _needs(stations: Sequence[StationRecord], place: Holding, year: int) -> tuple[Need, ...]:
    named = {o.name: o for o in place.orchards}
    return tuple(needs(tuple(stations), year=year, orchards=named, site=place.site))


def _chosen(
    rng: np.random.Generator,
    place: Holding,
    stations: Sequence[StationRecord],
    standing: Mapping[str, set[str]],
) -> dict[str, list[str]]:
    """Return the trees worked on in each season; none comes twice."""
    fit = {n.tree for n in _needs(stations, place, FIRST_WALK.year) if n.kind.value in AT_WORK}
    free = [
        s
        for s in stations
        if s.tree in fit and s.girth_cm and s.girth_cm >= 60.0 and "fallen" not in s.features
    ]
    taken: set[str] = set()
    found: dict[str, list[str]] = {}
    for season in SEASONS:
        mine = [s for s in free if s.tree not in taken and species(s.species).group == season.group]
        weight = np.array([TAPED_SHARE if s.station in standing else 1.0 for s in mine])
        drawn = rng.choice(len(mine), season.trees, replace=False, p=weight / weight.sum())
        found[season.words] = [mine[int(i)].tree for i in drawn]
        taken |= set(found[season.words])
    return found


def _visit(
    rng: np.random.Generator,
    plan: Planned,
    day: date,
    who: str,
    station: StationRecord,
    settings: Settings,
) -> tuple[Visit, WorkDone]:
    """Return a visit, the list ticked, with hours about those foretold for the cuts made."""
    bare = Visit(
        tree=plan.tree,
        season=plan.season,
        done_on=day,
        who=who,
        cuts=tuple(_ticked(rng, plan.document["cuts"])),
        found=str(rng.choice(FOUND)),
        note=MARK,
    )
    one = TreeSeason(plan.tree, plan.season, plan.document, plan.made_on, (bare,), (), station)
    work = work_done(one, settings)
    hours = HOURS_FACTOR * work.hours_base * exp(float(rng.normal(0.0, HOURS_SPREAD)))
    brash = HOURS_FACTOR * work.brash_base * exp(float(rng.normal(0.0, BRASH_SPREAD)))
    noted = replace(bare, hours=_quarter(hours), brash_hours=_tenth(brash))
    return noted, work


def _quarter(hours: float) -> float:
    """Return hours as a crew notes them, in quarters, at least one."""
    return max(round(4.0 * hours) / 4.0, 0.25)


def _tenth(hours: float) -> float:
    return max(round(hours, 1), 0.1)


def _ticked(rng: np.random.Generator, rows: Sequence[Mapping[str, object]]) -> list[CutDone]:
    """Return the rows of a cut list as ticked, now and then one left, otherwise or besides.

    The first of them is marked as invented, and with it the list.
    """
    found = []
    for row in rows:
        order, limb, cut = int(str(row["order"])), str(row["limb"]), str(row["cut"])
        luck = float(rng.uniform())
        if luck < 0.07:
            found.append(CutDone(order, limb, cut, "no", note=str(rng.choice(NOT_DONE))))
        elif luck < 0.13:
            across = 5.0 * round(float(str(row["diameter_mm"])) * 1.15 / 5.0)
            note = "further in, to sound wood"
            found.append(CutDone(order, limb, cut, "other", diameter_mm=across, note=note))
        else:
            found.append(CutDone(order, limb, cut))
    if float(rng.uniform()) < 0.25:
        found.append(CutDone(0, "E1", diameter_mm=45.0, note="torn since the plan"))
    first = found[0].note
    found[0] = replace(found[0], note=f"{first}; {MARK}" if first else MARK)
    return found

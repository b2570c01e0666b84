"""Plan a whole holding for several seasons, into its project file, tree by tree."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import limbwright
from limbwright.errors import LimbwrightError
from limbwright.form.care import season_year
from limbwright.form.plan import form_plan
from limbwright.form.results import FormPlan
from limbwright.job.learnt_hours import hours_factors
from limbwright.job.open_project import trees_of
from limbwright.job.pool import spread
from limbwright.job.tree_years import Asked, YearsDone, YearsOrder, asked_of, plan_tree
from limbwright.job.work import tree_of
from limbwright.model import Fault, Faults, Orchard, StationRecord
from limbwright.needs.need import Need, needs
from limbwright.needs.order import rank
from limbwright.project.plans import StoredPlan, plans, rules, save_plan
from limbwright.project.records import orchards, stations
from limbwright.project.store import Project
from limbwright.project.surveys import young_trees
from limbwright.trade.species import species

__all__ = ["Prepared", "plan_forms", "plan_holding", "prepare"]

EVERY_S = 5.0
"""Judgement: seconds of finished work that a stop may lose; each writing takes some 20 ms."""


@dataclass(frozen=True, slots=True)
class Prepared:
    """What is asked of a holding: the trees to plan, the pressing first, and those planned before.

    ``kept`` are plans made of the very same survey, settings and seasons; ``agreed`` those that
    were agreed or worked on, which are left as they are. ``failed`` says by tree why nothing can
    be asked of it.
    """

    asked: tuple[Asked, ...]
    kept: tuple[StoredPlan, ...]
    agreed: tuple[StoredPlan, ...]
    needs: tuple[Need, ...]
    faults: tuple[Fault, ...]
    failed: Mapping[str, str]


def prepare(
    project: Project,
    order: YearsOrder,
    *,
    again: bool = False,
    only: Callable[[StationRecord], bool] | None = None,
) -> Prepared:
    """Return what is to be planned in a project, and what was planned before as it would be now.

    Orchards and local rules are the project's where the order gives none.

    Parameters
    ----------
    again
        Plan those trees too whose plan would come out the same.
    only
        Trees of these stations alone.
    """
    faults = Faults()
    with project.reading():
        places = {s.tree: s for s in stations(project)}
        items = trees_of(project, faults)
        held = {p.tree: p for p in plans(project, kind="years")}
        order = replace(
            order,
            orchards=order.orchards or {o.name: o for o in orchards(project)},
            local_rules=order.local_rules or rules(project, faults),
        )
    found = needs(
        tuple(places.values()),
        year=order.today.year,
        orchards=order.orchards,
        site=order.site,
        settings=order.settings,
        local_rules=order.local_rules,
        hours_factors=hours_factors(order.factors),
    )
    pressing = {one.need.tree: one.place for one in rank(found)}
    small_steps = {one.tree for one in found if one.kind.value == "retrench"}
    asked, kept, agreed, failed = [], [], [], {}
    for item in sorted(items, key=lambda i: pressing.get(tree_of(i), 0)):
        name = tree_of(item)
        station = places.get(name)
        if only is not None and (station is None or not only(station)):
            continue
        try:
            # a veteran is known by its record; weak old trees by what they need
            one = asked_of(item, station, order, retrench=True if name in small_steps else None)
        except LimbwrightError as error:
            failed[name] = str(error)
            continue
        before = held.get(name)
        current = before is not None and before.season == one.seasons[0]
        if before is not None and current and before.status != "proposed":
            agreed.append(before)
        elif (
            before is not None
            and current
            and not again
            and before.settings_sha256 == one.inputs_sha256
        ):
            kept.append(before)
        else:
            asked.append(one)
    return Prepared(tuple(asked), tuple(kept), tuple(agreed), tuple(found), tuple(faults), failed)


def plan_holding(
    project: Project,
    asked: Sequence[Asked],
    order: YearsOrder,
    *,
    workers: int | None = None,
    on_progress: Callable[[int, str], None] | None = None,
) -> Iterator[YearsDone]:
    """Yield each tree planned, writing the plans into the project as they come.

    A stop at any moment, or closing the iterator, loses at most the last seconds of work: what is
    written is kept, and `prepare` leaves it out the next time.
    """
    waiting: list[YearsDone] = []
    written = time.monotonic()
    try:
        for count, done in enumerate(spread(plan_tree, asked, workers=workers, few=2), 1):
            waiting.append(done)
            if time.monotonic() - written >= EVERY_S:
                _write(project, waiting, order)
                waiting, written = [], time.monotonic()
            if on_progress is not None:
                on_progress(count, done.tree)
            yield done
    finally:
        _write(project, waiting, order)


def _write(project: Project, done: Sequence[YearsDone], order: YearsOrder) -> None:
    planned = [one for one in done if one.plan is not None]
    if not planned:
        return
    trees = "1 tree" if len(planned) == 1 else f"{len(planned)} trees"
    seasons = "1 season" if order.years == 1 else f"{order.years} seasons"
    with project.change(f"plan {trees} over {seasons}"):
        for one in planned:
            assert one.plan is not None
            save_plan(
                project,
                one.tree,
                one.plan.seasons[0].season,
                "years",
                one.plan.to_dict(),
                made_on=order.today,
                version=limbwright.__version__,
                settings_sha256=one.inputs_sha256,
            )


def plan_forms(
    project: Project,
    order: YearsOrder,
    *,
    only: Callable[[StationRecord], bool] | None = None,
) -> tuple[tuple[FormPlan, ...], Mapping[str, str]]:
    """Plan the forming of the young trees of a project, write it down and return it.

    Parameters
    ----------
    project, order
        Where they stand, and the day and place they are planned for.
    only
        Trees of these stations alone.

    Returns
    -------
    plans
        One a young tree that can be formed.
    failed
        By tree, why it cannot.
    """
    with project.reading():
        young = [t for t in young_trees(project) if only is None or only(t.station)]
        named = {o.name: o for o in orchards(project)}
        local = order.local_rules or rules(project, Faults())
    found, failed = [], {}
    for tree in young:
        name = tree.station.tree
        orchard = named.get(tree.station.orchard, Orchard(tree.station.orchard))
        try:
            kind = species(tree.station.species)
            year = season_year(kind, order.site, order.today, local)
            found.append(form_plan(tree, orchard, order.site, year=year, local_rules=local))
        except LimbwrightError as error:
            failed[name] = str(error)
    if not found:
        return (), failed
    with project.change(f"plan the forming of {len(found)} young trees"):
        for one in found:
            save_plan(
                project,
                one.tree,
                one.season,
                "form",
                one.to_dict(),
                made_on=order.today,
                version=limbwright.__version__,
            )
    return tuple(found), failed

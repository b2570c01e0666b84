"""Take trees one by one from survey to plan, on as many cores as there are."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from limbwright.cuts.plan import plan
from limbwright.cuts.results import Plan
from limbwright.cuts.weights import Settings
from limbwright.errors import LimbwrightError
from limbwright.job.opened import Tree
from limbwright.job.order import Order
from limbwright.job.pool import spread
from limbwright.job.season import next_season
from limbwright.light.tree import TreeLight, light_air
from limbwright.model import Fault, Skeleton, StationRecord, TreeSurvey
from limbwright.statics.assess import Assessment, assess
from limbwright.survey.build import build_skeleton
from limbwright.trade.species import species

__all__ = ["Done", "assessed_to_dict", "build", "tree_of", "work_all", "work_one"]

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

    Part = TypeVar("Part", bound=DataclassInstance)


@dataclass(frozen=True, slots=True)
class Done:
    """One tree worked through; ``plan`` is None where only an assessment was asked for.

    ``light`` is None where light and air were not asked for. ``failed`` says in a sentence why a
    tree could not be worked through.
    """

    tree: str
    station: StationRecord | None
    assessment: Assessment | None
    plan: Plan | None
    faults: tuple[Fault, ...]
    failed: str = ""
    light: TreeLight | None = None


def tree_of(item: Tree) -> str:
    """Return the name of a tree."""
    return item.tree if isinstance(item, Skeleton) else item.station.tree


def build(item: Tree, *, seed: int = 0) -> tuple[Skeleton, tuple[Fault, ...]]:
    """Return the skeleton of a tree, building it where only limbs were taped."""
    return (item, ()) if isinstance(item, Skeleton) else build_skeleton(item, seed=seed)


def work_one(item: Tree, order: Order, *, with_plan: bool = True) -> Done:
    """Assess one tree and, if asked, plan its cuts; a fault of the tree is told, not raised."""
    name = tree_of(item)
    station = item.station if isinstance(item, TreeSurvey) else None
    faults: tuple[Fault, ...] = ()
    try:
        skeleton, faults = build(item, seed=order.seed)
        found = assess(
            skeleton,
            order.site,
            only=order.only or None,
            green_density_kg_m3=order.green_density_kg_m3,
        )
        lit = light_air(skeleton, order.site) if order.light else None
        planned = None
        if with_plan:
            kind = species(skeleton.species)
            season = next_season(kind, order.site, order.today, order.local_rules)
            planned = plan(
                found,
                station,
                order.wishes_for(name),
                season=season,
                settings=Settings(order.settings),
                engine="fast" if order.engine == "fast" else "proof",
                orchard=None if station is None else order.orchards.get(station.orchard),
                local_rules=order.local_rules,
            )
    except LimbwrightError as error:
        return Done(name, station, None, None, faults, str(error))
    if planned is not None or not order.vectors:
        found = slim(found)
    return Done(name, station, found, planned, faults, light=lit)


def assessed_to_dict(one: Done) -> dict[str, Any] | None:
    """Return one assessed tree for JSON, its light and air with it; None where it failed."""
    if one.assessment is None:
        return None
    tree = one.assessment.to_dict()
    if one.light is not None:
        tree["light"] = one.light.to_dict()
    return tree


def slim(assessment: Assessment) -> Assessment:
    """Return an assessment without its vectors: enough for cards and summaries.

    A tree's forces and moments in forty load cases are most of its memory; a survey of many trees
    keeps one of these for each.
    """
    loads = _emptied(assessment.loads)
    return replace(
        assessment,
        loads=loads,
        resultants=replace(_emptied(assessment.resultants), loads=loads),
        sections=_emptied(assessment.sections),
        strength=_emptied(assessment.strength),
        yearly=_emptied(assessment.yearly),
        worst=_emptied(assessment.worst),
        belief=_emptied(assessment.belief),
        bending_strength_mpa=assessment.bending_strength_mpa[:0].copy(),
        shear_strength_mpa=assessment.shear_strength_mpa[:0].copy(),
        utilisation=assessment.utilisation.max(axis=0, keepdims=True),
    )


def _emptied(part: Part) -> Part:
    """Return a dataclass with each of its arrays empty."""
    arrays = {
        f.name: value[:0].copy()
        for f in fields(part)
        if isinstance(value := getattr(part, f.name), np.ndarray)
    }
    return replace(part, **arrays)


def work_all(
    trees: Sequence[Tree],
    order: Order,
    *,
    with_plan: bool = True,
    workers: int | None = None,
    on_progress: Callable[[int, str], None] | None = None,
) -> Iterator[Done]:
    """Yield every tree worked through, in the order given.

    ``workers`` processes share the work (all cores by default, none for a few trees);
    ``on_progress(done, tree)`` is called after each tree. Closing the iterator stops the work.
    """
    task = partial(work_one, order=order, with_plan=with_plan)
    for at, done in enumerate(spread(task, trees, workers=workers), 1):
        if on_progress is not None:
            on_progress(at, done.tree)
        yield done

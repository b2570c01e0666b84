"""One tree of a holding over the years: from its survey to a plan of several seasons."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from datetime import date
from typing import Any

import numpy as np

import limbwright
from limbwright.cuts.results import Wishes
from limbwright.cuts.weights import Settings
from limbwright.errors import LimbwrightError
from limbwright.job.opened import Tree
from limbwright.job.season import next_season
from limbwright.job.work import build, slim, tree_of
from limbwright.learn.factors import Factors, with_lessons
from limbwright.model import Fault, Orchard, Site, Skeleton, StationRecord, TreeSurvey
from limbwright.stages.plan_years import plan_years
from limbwright.stages.results import YearsPlan
from limbwright.stages.seasons import following
from limbwright.statics.assess import assess
from limbwright.trade.seasons.local import LocalRule
from limbwright.trade.seasons.rules import JOBS
from limbwright.trade.species import species

__all__ = ["Asked", "YearsDone", "YearsOrder", "asked_of", "plan_tree"]


def _none() -> Mapping[str, Any]:
    return {}


@dataclass(frozen=True, slots=True)
class YearsOrder:
    """One run over the trees of a holding, for several seasons.

    ``settings`` are weights and limits in place of the tables', without what was learnt, which is
    in ``factors``. ``wishes`` are by tree, ``every`` holds for those without their own; ``before``
    gives the doses of the seasons gone by, by tree, earliest first. ``proof`` asks for a proof
    over all seasons at once, ``compare`` for the other ways beside the plan. ``orchards`` are by
    name, for who grazes and who walks below; ``local_rules`` say when work may be done here.
    """

    site: Site = field(default_factory=Site)
    today: date = date(2026, 1, 1)
    years: int = 5
    settings: Settings = field(default_factory=Settings)
    factors: Factors = field(default_factory=Factors)
    every: Wishes = field(default_factory=Wishes)
    wishes: Mapping[str, Wishes] = field(default_factory=_none)
    before: Mapping[str, tuple[float, ...]] = field(default_factory=_none)
    proof: bool = False
    compare: bool = True
    seed: int = 0
    orchards: Mapping[str, Orchard] = field(default_factory=_none)
    local_rules: tuple[LocalRule, ...] = ()


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of one tree: all that its plan depends on, and the hash of it.

    ``retrench`` asks for small steps of retrenchment beside the cuts; None: if it is a veteran.
    """

    tree: str
    item: Tree
    station: StationRecord | None
    order: YearsOrder
    seasons: tuple[str, ...]
    inputs_sha256: str
    retrench: bool | None = None


@dataclass(frozen=True, slots=True)
class YearsDone:
    """One tree planned; ``plan`` keeps no vectors. ``failed`` says why there is none."""

    tree: str
    station: StationRecord | None
    plan: YearsPlan | None
    faults: tuple[Fault, ...]
    inputs_sha256: str
    failed: str = ""


def asked_of(
    item: Tree,
    station: StationRecord | None,
    order: YearsOrder,
    *,
    retrench: bool | None = None,
) -> Asked:
    """Return what is asked of one tree.

    ``retrench`` asks for small steps of retrenchment; None: if it is a veteran.

    Raises
    ------
    InputError
        Its species is not known.
    """
    name = tree_of(item)
    kind = species(_kind(item))
    first = next_season(kind, order.site, order.today, order.local_rules)
    seasons = following(first, order.years)
    own = replace(
        order,
        # plain dicts, which pass between processes
        settings=Settings(dict(order.settings.overrides)),
        factors=Factors(dict(order.factors.by_name)),
        wishes={name: order.wishes[name]} if name in order.wishes else {},
        before={name: order.before[name]} if name in order.before else {},
        orchards=_own_orchard(station, order),
        local_rules=tuple(
            r for r in order.local_rules if r.concerns(JOBS["structural"], kind.key, kind.group)
        ),
    )
    told = {
        "version": limbwright.__version__,
        "seasons": seasons,
        "station": _plain(station),
        "item": _plain(item),
        "order": _plain(replace(own, today=date.min)),
        "retrench": retrench,
    }
    text = json.dumps(told, sort_keys=True, default=_more)
    found = hashlib.sha256(text.encode()).hexdigest()
    return Asked(name, item, station, own, seasons, found, retrench)


def _own_orchard(station: StationRecord | None, order: YearsOrder) -> Mapping[str, Orchard]:
    """Return the orchard of a tree by name; where its boundary runs changes no plan."""
    found = None if station is None else order.orchards.get(station.orchard)
    return {} if found is None else {found.name: replace(found, boundary=())}


def plan_tree(asked: Asked) -> YearsDone:
    """Assess one tree and plan its seasons; a fault of the tree is told, not raised."""
    order, name = asked.order, asked.tree
    faults: tuple[Fault, ...] = ()
    try:
        skeleton, faults = build(asked.item, seed=order.seed)
        kind = species(skeleton.species).key
        found = plan_years(
            assess(skeleton, order.site),
            asked.station,
            order.wishes.get(name, order.every),
            seasons=asked.seasons,
            settings=with_lessons(order.settings, order.factors, species=kind),
            before=order.before.get(name, ()),
            multipliers=order.factors.growth(kind),
            proof=order.proof,
            compare=order.compare,
            orchard=next(iter(order.orchards.values()), None),
            local_rules=order.local_rules,
            retrench=asked.retrench,
        )
    except LimbwrightError as error:
        return YearsDone(name, asked.station, None, faults, asked.inputs_sha256, str(error))
    return YearsDone(name, asked.station, _without_vectors(found), faults, asked.inputs_sha256)


def _without_vectors(plan: YearsPlan) -> YearsPlan:
    """Return the plan with trees enough for cards, and no forces and moments."""
    seasons = tuple(
        one if one.assessment is None else replace(one, assessment=slim(one.assessment))
        for one in plan.seasons
    )
    return replace(plan, seasons=seasons)


def _kind(item: Tree) -> str:
    return item.species if isinstance(item, Skeleton) else item.station.species


def _plain(value: object) -> object:
    """Return plain values of a record, where it came from aside."""
    if isinstance(value, TreeSurvey):
        return [_plain(value.station), *(_plain(limb) for limb in value.limbs)]
    if isinstance(value, StationRecord) or hasattr(value, "limb"):
        own = {f.name: getattr(value, f.name) for f in fields(value)}  # type: ignore[arg-type]
        return {k: v for k, v in own.items() if k not in ("file", "row")}
    return value


def _more(value: object) -> object:
    """Return what JSON does not know: arrays, sets, records, days."""
    if isinstance(value, np.ndarray):
        return hashlib.sha256(np.ascontiguousarray(value).tobytes()).hexdigest()
    if isinstance(value, frozenset | set):
        return sorted(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, np.generic):
        return value.item()
    if hasattr(value, "__dataclass_fields__"):
        return {f: getattr(value, f) for f in value.__dataclass_fields__}
    raise TypeError(f"{type(value).__name__} cannot be told")

"""Cut cards from plans that a project keeps: the trees as they stand when each season comes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from itertools import islice
from typing import Any

from limbwright.cuts.results import Plan
from limbwright.cuts.stored import plan_of_document
from limbwright.errors import LimbwrightError, PlanError
from limbwright.job.opened import Tree
from limbwright.job.tree_years import YearsOrder
from limbwright.job.work import build, slim, tree_of
from limbwright.learn.season import season_document
from limbwright.model import StationRecord
from limbwright.project.plans import StoredPlan
from limbwright.stages.replay_document import (
    cuts_of_document,
    rates_of_document,
    trees_before,
)
from limbwright.statics.assess import Assessment, assess
from limbwright.statics.results import Belief

__all__ = ["card_item"]

Item = tuple[Assessment, Plan, StationRecord | None]


def card_item(
    stored: StoredPlan, item: Tree, station: StationRecord | None, order: YearsOrder, season: str
) -> Item | None:
    """Return what a card of one season is made from, None where the season cuts nothing.

    Parameters
    ----------
    stored
        A plan of kind ``years``.
    item
        The tree as surveyed.
    season
        One of the plan's seasons; the tree is cut and grown up to it as the plan foresaw.

    Raises
    ------
    LimbwrightError
        The plan is not for the tree as surveyed now, or has no such season.
    """
    told = list(stored.document.get("seasons", []))  # type: ignore[call-overload]
    names = [str(one.get("season", "")) for one in told]
    if season not in names:
        raise LimbwrightError(
            f"The plan of {tree_of(item)} has no {season}.", f"It has {', '.join(names)}."
        )
    at = names.index(season)
    document = season_document(stored.document, season)
    if document is None or not (document.get("cuts") or document.get("lesser")):
        return None
    skeleton, _ = build(item, seed=order.seed)
    first = assess(skeleton, order.site)
    standing = first if at == 0 else _grown(first, stored.document, told, at)
    return slim(standing), plan_of_document(document, standing), station


def _grown(
    first: Assessment, document: Mapping[str, object], told: Sequence[Mapping[str, Any]], at: int
) -> Assessment:
    """Return the tree as it is forecast to stand before season ``at``.

    What it has proven by standing is known still, and taught by no lighter load.
    """
    s = first.skeleton
    try:
        cuts = [cuts_of_document(one.get("plan")) for one in told[:at]]
        rates = rates_of_document(document)
    except (KeyError, TypeError, ValueError) as error:
        raise PlanError(
            f"The plan of {s.tree} cannot be read: {error}.", "Plan it again."
        ) from None
    now, _ = next(islice(trees_before(s, cuts, rates, at + 1), at, None))
    place = {number: k for k, number in enumerate(s.segment_ids.tolist())}
    index = [place[number] for number in now.segment_ids.tolist()]
    known = first.belief
    belief = Belief(**{one.name: getattr(known, one.name)[index] for one in fields(Belief)})
    return assess(now, first.site, belief=belief)

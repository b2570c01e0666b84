"""Cut cards from plans that a project keeps: the trees as they stand when each season comes."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice

import numpy as np

from limbwright.cuts.limits import tree_state
from limbwright.cuts.results import Plan
from limbwright.cuts.stored import plan_of_document
from limbwright.errors import LimbwrightError
from limbwright.growth.rates import rates
from limbwright.growth.response import CutKind
from limbwright.job.opened import Tree
from limbwright.job.tree_years import YearsOrder
from limbwright.job.work import build, slim, tree_of
from limbwright.learn.season import season_document
from limbwright.model import StationRecord
from limbwright.model.skeleton import Bools, Skeleton
from limbwright.project.plans import StoredPlan
from limbwright.stages.build import cut_in
from limbwright.stages.replay import scenes
from limbwright.stages.seasons import year_of
from limbwright.statics.assess import Assessment, assess
from limbwright.trade.species import species

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
    standing = first if at == 0 else _grown(first, station, order, told, at)
    return slim(standing), plan_of_document(document, standing), station


def _grown(
    first: Assessment,
    station: StationRecord | None,
    order: YearsOrder,
    told: Sequence[dict[str, object]],
    at: int,
) -> Assessment:
    """Return the tree as it is forecast to stand before season ``at``."""
    s = first.skeleton
    kind = species(s.species)
    year = year_of(str(told[0]["season"]))
    grows = rates(
        kind,
        station,
        year=year,
        multipliers=order.factors.growth(kind.key),
        state=tree_state(station, year=year).key,
        stem_mm=float(s.start_diameter_mm[0]),
    )
    gone, kinds = _gone(s, told[:at]), _kinds(s, told[:at])
    played = scenes(first, gone, grows, at + 1, season=cut_in(kind.group), kinds=kinds)
    return next(islice(played, at, at + 1)).before


def _gone(s: Skeleton, told: Sequence[dict[str, object]]) -> Bools:
    """Return ``(Y, n)`` True for segments gone after each season."""
    rows, so_far = [], np.zeros(s.n, dtype=np.bool_)
    for one in told:
        document = one.get("plan")
        numbers = document.get("gone_segments", []) if isinstance(document, dict) else []
        so_far = so_far | np.isin(s.segment_ids, np.asarray(numbers, dtype=np.int64))
        rows.append(so_far)
    # the last row stands for all later years
    return np.asarray([*rows, rows[-1]])


def _kinds(s: Skeleton, told: Sequence[dict[str, object]]) -> dict[int, CutKind]:
    """Return the kind of the cut at the base of each segment that is cut."""
    place = {int(number): k for k, number in enumerate(s.segment_ids)}
    found: dict[int, CutKind] = {}
    for one in told:
        document = one.get("plan")
        for row in document.get("cuts", []) if isinstance(document, dict) else []:
            found[place[int(row["segment"])]] = row["cut"]
    return found

"""The trees of a plan over years grown again from what it keeps: its cuts and its rates."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from limbwright.errors import PlanError
from limbwright.growth.ranges import Range
from limbwright.growth.rates import Rates
from limbwright.growth.response import CutKind
from limbwright.growth.season import GrownTree, season_on
from limbwright.model.skeleton import Bools, Skeleton
from limbwright.stages.build import cut_in
from limbwright.stages.results import SeasonOfYears
from limbwright.trade.species import species

__all__ = [
    "SeasonCuts",
    "cuts_of_document",
    "cuts_of_season",
    "marks_on",
    "rates_of_document",
    "trees_before",
]

CUT_KINDS: dict[str, CutKind] = {
    "remove": "remove",
    "shorten": "shorten",
    "head": "head",
    "thin": "thin",
}


@dataclass(frozen=True, slots=True)
class SeasonCuts:
    """What one season takes: the numbers of the segments gone, and of those cut at their base.

    ``kinds`` is by segment number; what is gone and not in it is removed.
    """

    gone: tuple[int, ...] = ()
    kinds: Mapping[int, CutKind] | None = None


def cuts_of_document(plan: Mapping[str, Any] | None) -> SeasonCuts:
    """Return the cuts of one season as kept, one tree of ``limbwright.plan/1``; None takes nothing.

    Raises
    ------
    KeyError, TypeError, ValueError
        It is no such plan.
    """
    if not plan:
        return SeasonCuts()
    return SeasonCuts(
        tuple(int(number) for number in plan.get("gone_segments", ())),
        {
            int(cut["segment"]): CUT_KINDS.get(str(cut.get("cut")), "remove")
            for cut in plan.get("cuts", ())
        },
    )


def cuts_of_season(season: SeasonOfYears) -> SeasonCuts:
    """Return the cuts of a season as planned."""
    plan, held = season.plan, season.assessment
    if plan is None or held is None:
        return SeasonCuts()
    ids = held.skeleton.segment_ids
    return SeasonCuts(
        tuple(ids[np.asarray(plan.gone, dtype=np.bool_)].tolist()),
        {int(ids[c.segment]): CUT_KINDS.get(c.cut, "remove") for c in plan.cuts},
    )


def rates_of_document(document: Mapping[str, Any]) -> Rates:
    """Return the rates of growth as a plan over years keeps them.

    Raises
    ------
    KeyError
        One is missing.
    """
    held = document["rates"]
    values: dict[str, Any] = {
        one.name: Range(**held[one.name]) if isinstance(held[one.name], Mapping) else held[one.name]
        for one in fields(Rates)
    }
    return Rates(**values)


def marks_on(tree: Skeleton, cuts: SeasonCuts) -> tuple[Bools, dict[int, CutKind]]:
    """Return ``(n,)`` what a season takes of a tree, and the kind of each cut by segment.

    Raises
    ------
    PlanError
        The tree does not have the wood.
    """
    at = {number: k for k, number in enumerate(tree.segment_ids.tolist())}
    gone = np.zeros(tree.n, dtype=np.bool_)
    try:
        gone[[at[number] for number in cuts.gone]] = True
        return gone, {at[number]: kind for number, kind in (cuts.kinds or {}).items()}
    except KeyError:
        raise PlanError(
            f"The plan of {tree.tree} is not for the tree as surveyed now.", "Plan it again."
        ) from None


def trees_before(
    skeleton: Skeleton, seasons: Sequence[SeasonCuts], rates: Rates, years: int
) -> Iterator[tuple[Skeleton, Bools]]:
    """Yield the tree before the cuts of each year, and ``(n,)`` what of it they take.

    The same growth is let run as the plan was checked by. Nothing is assessed or lit.

    Parameters
    ----------
    skeleton
        The tree as surveyed, of which the plan was made.
    seasons
        The cuts of the first years; later ones take nothing.
    rates
        Those of the plan.
    years
        How many; each is grown only when it is asked for.

    Raises
    ------
    PlanError
        A season takes wood that the tree does not have.
    """
    when = cut_in(species(skeleton.species).group)
    tree = GrownTree.standing(skeleton)
    for y in range(years):
        cuts = seasons[y] if y < len(seasons) else SeasonCuts()
        now = tree.skeleton
        gone, kinds = marks_on(now, cuts)
        yield now, gone
        if y + 1 < years:
            tree = season_on(tree, gone, rates, kinds=kinds, season=when)

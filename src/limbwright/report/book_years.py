"""The years of a tree drawn from its kept plan: replayed on the tree as surveyed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import fields
from typing import Any

import numpy as np

from limbwright.errors import LimbwrightError
from limbwright.growth.ranges import Range
from limbwright.growth.rates import Rates
from limbwright.growth.response import CutKind
from limbwright.growth.season import GrownTree, season_on
from limbwright.model.skeleton import Bools, Skeleton
from limbwright.report.years_drawing import Stand, tree_years
from limbwright.stages.build import cut_in
from limbwright.trade.species import species

__all__ = ["STRIP_WIDTH_MM", "plan_strip", "rates_from"]

STRIP_WIDTH_MM, STRIP_HEIGHT_MM = 196.5, 56.0
"""Wide enough for six pictures abreast; set at 190 mm its smallest words are 7.1 pt."""
FEW = 2
HEIGHT = re.compile(r'height="([\d.]+)mm"')
CUT_KINDS: dict[str, CutKind] = {
    "remove": "remove",
    "shorten": "shorten",
    "head": "head",
    "thin": "thin",
}


def plan_strip(
    document: Mapping[str, Any],
    skeleton: Skeleton,
    *,
    width_mm: float = STRIP_WIDTH_MM,
    most_height_mm: float = STRIP_HEIGHT_MM,
) -> str:
    """Return the years of a kept plan as a strip of small pictures (SVG); empty where it has none.

    One season is one picture, with what goes. Over years the tree grows between the seasons by the
    rates kept with the plan. A tree too wide for all its seasons side by side is drawn for those
    that cut, and at the end.

    Parameters
    ----------
    document
        One tree of ``limbwright.plan/1`` or ``limbwright.years/1``.
    skeleton
        The tree as surveyed when the plan was made. Where its segments are others the pictures
        would be wrong, so there are none.
    """
    try:
        stands = _stands(document, skeleton)
    except (KeyError, TypeError, ValueError, LimbwrightError):
        return ""
    if not stands:
        return ""
    drawn = tree_years(stands, width_mm=width_mm, most_height_mm=most_height_mm)
    if _height_mm(drawn) > most_height_mm and len(stands) > FEW:
        cut = [one for one in stands[:-1] if one.gone is not None]
        drawn = tree_years([*cut, stands[-1]], width_mm=width_mm, most_height_mm=most_height_mm)
    return drawn


def _height_mm(drawn: str) -> float:
    found = HEIGHT.search(drawn)
    return 0.0 if found is None else float(found[1])


def rates_from(document: Mapping[str, Any]) -> Rates:
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


def _stands(document: Mapping[str, Any], skeleton: Skeleton) -> list[Stand]:
    seasons = document.get("seasons")
    if seasons is None:
        gone, _ = _cuts(document, skeleton)
        return [Stand(str(document["season"]), skeleton, gone if bool(gone.any()) else None)]
    when = cut_in(species(str(document["species"])).group)
    rates = rates_from(document)
    tree, out = GrownTree.standing(skeleton), []
    for one in seasons:
        now = tree.skeleton
        plan = one.get("plan")
        gone, kinds = _cuts(plan or {}, now)
        note = "rest" if one.get("rest") else "" if plan else "no cuts"
        out.append(Stand(str(one["season"]), now, gone if bool(gone.any()) else None, note))
        tree = season_on(tree, gone, rates, kinds=kinds, season=when)
    out.append(Stand("a year later", tree.skeleton))
    return out


def _cuts(plan: Mapping[str, Any], now: Skeleton) -> tuple[Bools, dict[int, CutKind]]:
    """Return what a plan takes from the tree as it stands, and the kind of each cut.

    Raises
    ------
    KeyError
        A segment of the plan is not in the tree.
    """
    at = {int(number): k for k, number in enumerate(now.segment_ids.tolist())}
    gone = np.zeros(now.n, dtype=np.bool_)
    for number in _numbers(plan.get("gone_segments", ())):
        gone[at[number]] = True
    kinds = {
        at[int(cut["segment"])]: CUT_KINDS.get(str(cut.get("cut")), "remove")
        for cut in plan.get("cuts", ())
    }
    return gone, kinds


def _numbers(values: Iterable[Any]) -> list[int]:
    return [int(value) for value in values]

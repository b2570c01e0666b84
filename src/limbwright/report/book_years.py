"""The years of a tree drawn from its kept plan: replayed on the tree as surveyed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from limbwright.errors import LimbwrightError
from limbwright.model.skeleton import Skeleton
from limbwright.report.years_drawing import Stand, tree_years
from limbwright.stages.replay_document import (
    cuts_of_document,
    marks_on,
    rates_of_document,
    trees_before,
)

__all__ = ["STRIP_WIDTH_MM", "plan_strip"]

STRIP_WIDTH_MM, STRIP_HEIGHT_MM = 196.5, 56.0
"""Wide enough for six pictures abreast; set at 190 mm its smallest words are 7.1 pt."""
FEW = 2
HEIGHT = re.compile(r'height="([\d.]+)mm"')


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


def _stands(document: Mapping[str, Any], skeleton: Skeleton) -> list[Stand]:
    seasons = document.get("seasons")
    if seasons is None:
        gone, _ = marks_on(skeleton, cuts_of_document(document))
        return [Stand(str(document["season"]), skeleton, gone if bool(gone.any()) else None)]
    cuts = [cuts_of_document(one.get("plan")) for one in seasons]
    trees = trees_before(skeleton, cuts, rates_of_document(document), len(cuts) + 1)
    out = []
    for one, (now, gone) in zip(seasons, trees, strict=False):
        note = "rest" if one.get("rest") else "" if one.get("plan") else "no cuts"
        out.append(Stand(str(one["season"]), now, gone if bool(gone.any()) else None, note))
    return [*out, Stand("a year later", next(trees)[0])]

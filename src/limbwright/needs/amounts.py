"""How much: the dose a state allows, the wounds a stem allows, hours, and when to look again."""

from __future__ import annotations

import math

from limbwright.cuts.limits import DOSE_OF
from limbwright.cuts.weights import Settings
from limbwright.needs.judgement import Judgement
from limbwright.needs.kinds import AT_WORK, is_failing, sureness
from limbwright.needs.walk import Walk
from limbwright.trade.parameters import Parameter, parameters

__all__ = ["AS_USUAL", "CUTS_CM", "dose_of", "hours_of", "review_year", "wound_counts", "wounds_of"]

CUTS_CM = (5, 10, 15)
"""Diameters of cut for which the number allowed is told [cm]."""

AS_USUAL = 1.0, 1.0
"""Factors of the hours in the tree and for the brash where no records taught others."""

LEAST = 1e-6
"""Room for a third that is written with ten digits."""

HALF_STANDARD_M = 1.5
"""Clear stem below which a tree is worked from the ground or a short ladder; common practice: AT
and DE half-standards 1.2 to 1.5 m, standards from 1.8 m, English grant 1.5 m for plums."""

LARGE_KINDS = frozenset({"perry-pear", "cherry"})
"""Kinds that grow big; common practice."""


def dose_of(walk: Walk, kind: str, settings: Settings) -> Judgement[float] | None:
    """Return the share of the live crown one season may take; None where no crown is cut.

    The state and the table are those of the plan, so that a card never allows more than this.
    """
    if kind not in AT_WORK:
        return None
    name = DOSE_OF[walk.state.key]
    because, one = f"{walk.state.key} tree ({walk.state.because})", settings.parameter(name)
    value, low, high = settings[name], one.low, one.high
    stone = settings.parameter("dose_stone")
    if walk.kind is None:
        because += "; as for pome fruit, since the species was not taken"
    elif walk.kind.group == "stone" and settings["dose_stone"] < value:
        value, low, high = settings["dose_stone"], min(low, stone.low), min(high, stone.high)
        because += ", and stone fruit bears little cutting"
    ceiling = settings["dose_ceiling"]
    base = "default" if "otherwise" in walk.state.because else "measured"
    if "says" in walk.state.because:
        base = "said"
    return Judgement(
        min(value, ceiling),
        because,
        sureness(walk, base, "species", "condition", "last season's growth", "dead share"),
        min(low, value),
        min(max(high, value), ceiling),
        one.source,
    )


def wound_counts(stem_mm: float, share: float = 1.0 / 3.0) -> tuple[int, ...]:
    """Return how many cuts of 5, 10 and 15 cm a stem allows in one season.

    ``floor((D / d)^2 share)``: the sum of the cut areas stays within a share of the stem's section.
    A stem of 600 mm allows 48, 12 and 5 (and 3 of 20 cm), as Helliwell prints it.
    """
    return tuple(math.floor((stem_mm / (10.0 * d)) ** 2 * share + LEAST) for d in CUTS_CM)


def wounds_of(walk: Walk, kind: str, settings: Settings) -> Judgement[tuple[int, ...]] | None:
    """Return how many cuts of each of `CUTS_CM` the stem allows; None where it was not taped."""
    girth = walk.station.girth_cm
    if kind not in AT_WORK or girth is None or girth <= 0.0:
        return None
    stem_mm = 10.0 * girth / math.pi
    share = settings["wound_share"]
    because = f"a stem {stem_mm / 10:.0f} cm across, cut area at most {100 * share:.0f} % of it"
    largest = None if walk.kind is None else walk.kind.largest_cut_mm.value
    if largest is not None:
        because += f"; no single cut above {largest / 10:.0f} cm without need"
    return Judgement(
        wound_counts(stem_mm, share),
        because,
        sureness(walk, "measured", "species"),
        source=settings.parameter("wound_share").source,
    )


def hours_of(walk: Walk, kind: str, taught: tuple[float, float] = AS_USUAL) -> Judgement[float]:
    """Return the person-hours of the next visit, brash cleared, with a range.

    ``taught`` are what records make of the usual hours in the tree, and of those for the brash;
    planting and looking stay as they are.
    """
    table = parameters("work_hours")
    if kind in ("restock", "replace"):
        both = table["plant"].value, table["plant"].low, table["plant"].high
        because = "planting and a guard against stock"
        if kind == "replace":
            fell = table["fell_small"]
            both = (both[0] + fell.value, both[1] + fell.low, both[2] + fell.high)
            because = "taking it down, planting and a guard"
        return Judgement(
            both[0], because, sureness(walk, "default"), both[1], both[2], table["plant"].source
        )
    if kind in ("leave standing", "leave for wildlife"):
        one = table["look"]
        because = "only a look at it"
        return Judgement(one.value, because, sureness(walk, "said"), one.low, one.high, one.source)
    row, words = _row(walk, kind)
    size = _size(walk)
    at = 0.5 if size is None else size
    hours = row.low ** (1.0 - at) * row.high**at
    wide = table["spread"].value
    low, high = hours / wide, hours * wide
    if size is None:
        low, high = min(low, row.low / wide), max(high, row.high * wide)
    in_tree, for_brash = taught
    brash = table["brash"]
    because = f"{words}, {in_tree * hours:.1f} h"
    if kind == "form":
        more = (0.0, 0.0, 0.0)
    else:
        more = (for_brash * brash.low, for_brash * brash.value, for_brash * brash.high)
        same = for_brash == in_tree
        again = "as much again" if same else f"{more[1] * hours:.1f} h"
        because += f" in the tree and {again} for the brash"
    low, hours, high = (
        value * (in_tree + share) for value, share in zip((low, hours, high), more, strict=True)
    )
    if taught != AS_USUAL:
        because += f"; records make it {in_tree:.2g} times the usual hours in the tree"
        because += "" if kind == "form" else f" and {for_brash:.2g} times those for the brash"
    if size is None:
        because += "; its size was not taken"
    sure = sureness(walk, "default", "height", "girth", "spread")
    return Judgement(hours, because, sure, low, high, row.source)


def _row(walk: Walk, kind: str) -> tuple[Parameter, str]:
    table, s = parameters("work_hours"), walk.station
    if kind == "form":
        return table["form"], "forming a young tree"
    if kind == "retrench":
        return table["retrench"], "a step of retrenchment"
    if kind == "maintain" and (walk.state.frail or is_failing(walk)):
        return table["light_work"], "dead and sick wood only"
    form = s.form.lower()
    half = "half" in form or "bush" in form
    if not form and s.clear_stem_m is not None:
        half = s.clear_stem_m < HALF_STANDARD_M
    name = "half" if half else "standard"
    said = "half-standard or bush" if half else "standard"
    if kind == "maintain":
        return table[f"maintain_{name}"], f"upkeep of a {said}"
    big = table["large_height"]
    bound = big.low if walk.kind is not None and walk.kind.key in LARGE_KINDS else big.value
    if s.height_m is not None and s.height_m >= bound:
        return table["restore_large"], "renovation of a big tree, by climbers or a lift"
    return table[f"restore_{name}"], f"renovation of a {said}"


def _size(walk: Walk) -> float | None:
    """Return how large the tree is, 0 to 1, from the measures taken; None where none was."""
    table, s = parameters("work_hours"), walk.station
    taken = (("height", s.height_m), ("spread", s.spread_m), ("girth", s.girth_cm))
    shares = []
    for name, value in taken:
        if value is not None:
            small, large = table[f"small_{name}"].value, table[f"large_{name}"].value
            shares.append(min(max((value - small) / (large - small), 0.0), 1.0))
    return sum(shares) / len(shares) if shares else None


LOOK = {
    "form": "form",
    "maintain": "maintain",
    "restore": "restore",
    "retrench": "retrench",
    "leave for wildlife": "wildlife",
    "leave standing": "wildlife",
    "replace": "form",
    "restock": "form",
}


def review_year(walk: Walk, kind: str, *, at_once: bool, people_below: bool) -> Judgement[int]:
    """Return the year in which the tree is to be looked at again."""
    years = parameters("needs")[f"look_years_{LOOK[kind]}"]
    if at_once:
        return Judgement(walk.year, "it should be looked at now", 0.9, walk.year, walk.year,
                         "judgement")  # fmt: skip
    wait, because = years.value, f"every {years.value:.0f} years for this kind of work"
    if years.value == 1.0:
        because = "every year for this kind of work"
    if people_below and LOOK[kind] == "wildlife":
        wait, because = years.low, "yearly, since people are often below"
    sure = sureness(walk, "default")
    return Judgement(
        walk.year + round(wait), because, sure, walk.year + years.low, walk.year + years.high,
        years.source,
    )  # fmt: skip

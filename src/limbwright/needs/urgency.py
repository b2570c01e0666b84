"""How urgent the work is: what a year of waiting is expected to cost, and for whose sake."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from limbwright.cuts.weights import Settings
from limbwright.needs.judgement import Judgement
from limbwright.needs.kinds import AT_WORK, is_failing, is_old, sureness
from limbwright.needs.walk import STANDING, Walk
from limbwright.trade.parameters import Parameter, parameters

__all__ = ["TIERS", "URGENCIES", "Cost", "at_once", "costs_of_waiting", "tier_of", "urgency_of"]

URGENCIES = ("now", "this season", "within two years", "within five years", "when there is time")
"""Classes of urgency, the most pressing first."""

TIERS = ("instability", "graft rescue", "young tree", "the rest")
"""What comes first in an orchard: common practice (Natural England TIN018; RHS and orchard charity
advice to graft the old and rare first; young trees in the years in which their frame is made)."""


@dataclass(frozen=True, slots=True)
class Cost:
    """One part of what a year of waiting costs [h], with its range and why."""

    hours: float
    low: float
    high: float
    because: str


def at_once(walk: Walk) -> bool:
    """Whether somebody should look at the tree now, whatever the season."""
    if walk.station.status not in (*STANDING, "dead"):
        return False
    return any(sign in walk for sign in ("heaving", "cracked", "hanging"))


def _leans(walk: Walk) -> bool:
    lean = walk.station.lean_deg
    if lean is None:
        return "leans" in walk
    return abs(lean) >= parameters("needs")["leaning"].value


def _unstable(walk: Walk) -> bool:
    carries = "hollow stem" in walk and ("heavy" in walk or "leans" in walk)
    return at_once(walk) or _leans(walk) or carries


def _to_rescue(walk: Walk, only_one: bool) -> bool:
    """Whether a cultivar may soon be lost with this tree."""
    if not (only_one or walk.unknown_cultivar) or walk.station.status not in STANDING:
        return False
    frail = walk.state.frail or is_failing(walk)
    return frail or _unstable(walk) or is_old(walk)


def tier_of(walk: Walk, kind: str, *, only_one: bool) -> str:
    """Return which of `TIERS` a tree belongs to; ``only_one``: no other tree of its cultivar."""
    if walk.station.status in (*STANDING, "dead") and _unstable(walk):
        return TIERS[0]
    if _to_rescue(walk, only_one):
        return TIERS[1]
    return TIERS[2] if kind == "form" else TIERS[3]


def costs_of_waiting(
    walk: Walk,
    kind: str,
    *,
    only_one: bool,
    gain: tuple[float, float, float] | None,
    settings: Settings,
) -> tuple[Cost, ...]:
    """Return what a year of waiting is expected to cost, part by part, the dearest first.

    ``gain`` is what work on its limbs is expected to gain over the horizon [h]: mean, low, high;
    each year of waiting loses its share. None for trees whose crown is not worked on.
    """
    table = parameters("needs")
    value = settings["tree_value"]
    found: list[Cost] = []

    def add(one: Parameter, because: str, times: float = 1.0) -> None:
        found.append(Cost(one.value * times, one.low * times, one.high * times, because))

    if kind in AT_WORK and gain is not None:
        years = max(settings["horizon"], 1.0)
        words = f"work on its limbs would gain about {gain[0]:.0f} h over {years:.0f} years"
        if gain[0] > 0.0:
            found.append(Cost(gain[0] / years, gain[1] / years, gain[2] / years, words))
    if walk.station.status in STANDING:
        if "heaving" in walk:
            add(table["chance_heaving"], f"it may fall ({walk.told('heaving')})", value)
        elif _leans(walk):
            add(table["chance_leaning"], "it leans and may fall", value)
        if "broken" in walk:
            add(table["hanging"], f"{walk.told('broken')}")
        if "diseased" in walk and kind not in ("leave for wildlife", "replace"):
            add(table["disease_year"], f"it spreads ({walk.told('diseased')})")
        if _to_rescue(walk, only_one):
            name = "failing" if is_failing(walk) else "weak" if walk.state.frail else "lost"
            what = "no other tree of its cultivar" if only_one else "its cultivar is not known"
            times = settings["tree_value"] / settings.parameter("tree_value").value
            worth = table["cultivar_value"].value * times
            add(table[f"chance_{name}"], f"{what}, and the tree may die", worth)
        if kind == "form":
            add(table["form_year"], "its frame is made in these years")
            if "guard" in walk:
                add(table["guard_year"], f"{walk.told('guard')}")
    if kind in ("restock", "replace", "leave standing"):
        add(table["gap_year"], "a place that bears nothing")
    return tuple(sorted(found, key=lambda c: -c.hours))


def urgency_of(walk: Walk, costs: Sequence[Cost], over_people: str = "") -> Judgement[str]:
    """Return one of `URGENCIES`; low and high are the range of the price of waiting [h a year].

    ``over_people`` says what is to be done where a dead tree stands over people.
    """
    table = parameters("needs")
    total = sum(c.hours for c in costs)
    low, high = sum(c.low for c in costs), sum(c.high for c in costs)
    why = "; ".join(c.because for c in costs[:2]) or "nothing presses"
    if at_once(walk):
        words = walk.told("heaving", "cracked", "hanging")
        because = f"the survey says {words}: have it looked at before anything else"
        return Judgement(URGENCIES[0], because, sureness(walk, "said"), low, high, "judgement")
    if over_people:
        return Judgement(
            URGENCIES[0], over_people, sureness(walk, "said"), low, high, "common practice"
        )
    bounds = (table["this_season"], table["two_years"], table["five_years"])
    at = next((k for k, b in enumerate(bounds, 1) if total >= b.value), len(bounds) + 1)
    because = f"waiting a year costs about {total:.1f} h: {why}" if total >= 0.05 else why
    sure = sureness(walk, "default", "girth", "height", "spread", "lean", "condition")
    return Judgement(URGENCIES[at], because, sure, low, high, "judgement")

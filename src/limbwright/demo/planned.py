"""Plans of seasons gone by, as the project file keeps them: invented cuts, forecasts as ever.

Which limbs were cut is invented. What each cut takes, weighs and costs, and the chance that a limb
fails, are reckoned by the same rules as any forecast, so that what is learnt from the records is
learnt about those rules.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date
from math import pi
from typing import Any

import numpy as np

from limbwright.cuts.build_problem import work_hours
from limbwright.cuts.order import tool_words
from limbwright.cuts.weights import Settings
from limbwright.demo.names import MARK
from limbwright.demo.old_crown import limb_length_m
from limbwright.learn.season import Planned
from limbwright.model import StationRecord
from limbwright.needs.need import Need
from limbwright.survey.allometry import carried_wood, section_cm2
from limbwright.trade.parameters import parameters
from limbwright.trade.species import species

__all__ = ["past_plan"]

CHANCE_LEFT = 0.6
"""Share of the chance of failure that a season's cuts leave; judgement, invented for the demo."""
MOST_CUTS = 9
DEAD_SHARE = 0.12
"""Judgement: one cut in eight is of dead wood."""
REASONS = {
    "remove": (
        "grows across the middle and rubs",
        "upright through the middle, takes the light",
        "long and heavy over a weak union",
    ),
    "shorten": ("overextended, heavy at the end", "reaches down to the grass, in the stock's way"),
}
DEAD_REASON = "dead and over the path of the stock"


def past_plan(
    rng: np.random.Generator,
    need: Need,
    season: str,
    made_on: date,
    standing: Collection[str],
    settings: Settings,
) -> Planned:
    """Return a plan of one season for a tree that was walked past.

    Parameters
    ----------
    need
        What the tree needed then, which has its dose, window and chance of failure.
    standing
        Labels of limbs that stand today, which were not removed.
    """
    station = need.station
    kind = species(station.species)
    stem_cm2 = (station.girth_cm or 0.0) ** 2 / (4.0 * pi)
    limit = 0.0 if need.dose is None else need.dose.value
    cuts = _cuts(rng, station, stem_cm2, limit, standing, settings)
    dose = sum(c["dose"] for c in cuts)
    hours = sum(c["hours"] for c in cuts)
    chance = 0.0 if need.chance is None else need.chance.value
    leaf_m2 = stem_cm2 * parameters("allometry")["leaf_area_per_section"].value
    document: dict[str, Any] = {
        "tree": need.tree,
        "season": season,
        "species": kind.key,
        "state": need.kind.value,
        "summary": f"{len(cuts)} cuts, {dose:.0%} of the live crown, {hours:.1f} h ({MARK})",
        "dose": round(dose, 4),
        "dose_limit": round(limit, 4),
        "lesser_dose": 0.0,
        "wound_share": round(sum(c["wound_area_cm2"] for c in cuts) / stem_cm2, 4),
        "wound_limit": settings["wound_share"],
        "binding": [],
        "cuts": cuts,
        "lesser": [],
        "left": [],
        "keep": [],
        "cautions": list(need.cautions),
        "window": need.window.value,
        "hours": round(hours, 2),
        "chance_before": round(chance, 6),
        "chance_after": round(CHANCE_LEFT * chance, 6),
        "leaf_m2": round(leaf_m2, 2),
        "next_best": [],
        "marked": MARK,
    }
    return Planned(need.tree, season, made_on, document)


def _cuts(
    rng: np.random.Generator,
    station: StationRecord,
    stem_cm2: float,
    limit: float,
    standing: Collection[str],
    settings: Settings,
) -> list[dict[str, Any]]:
    """Return rows of a cut list within the dose, the highest first as the work goes."""
    surplus = parameters("allometry")["section_surplus_as_given"].value
    found: list[dict[str, Any]] = []
    taken = 0.0
    gone: set[str] = set()
    for _ in range(4 * MOST_CUTS):
        if len(found) == MOST_CUTS:
            break
        across = 5.0 * round(float(rng.uniform(30.0, 100.0)) / 5.0)
        dead = float(rng.uniform()) < DEAD_SHARE
        area = section_cm2(across)
        dose = 0.0 if dead else area / (surplus * stem_cm2)
        if taken + dose > 0.95 * limit or (across / 10.0) ** 2 > 0.2 * stem_cm2:
            continue
        cut = "remove" if dead or float(rng.uniform()) < 0.65 else "shorten"
        label = _label(rng, cut, standing, gone)
        if not label:
            continue
        gone.add(label)
        taken += dose
        reason = DEAD_REASON if dead else str(rng.choice(REASONS[cut]))
        found.append(_row(rng, station, label, cut, across, dose, dead, reason, settings))
    found.sort(key=lambda c: -float(c["height_m"]))
    return [{"order": k, **row} for k, row in enumerate(found, 1)]


def _label(
    rng: np.random.Generator, cut: str, standing: Collection[str], gone: Collection[str]
) -> str:
    """Return a limb to cut: one that is not there today, or to shorten one that may be."""
    letters: Sequence[str] = "ABCD"
    names = [f"{letter}{n}" for letter in letters for n in range(2, 9)]
    free = [n for n in names if n not in gone and (cut == "shorten" or n not in standing)]
    return str(rng.choice(free)) if free else ""


def _row(
    rng: np.random.Generator,
    station: StationRecord,
    label: str,
    cut: str,
    across: float,
    dose: float,
    dead: bool,
    reason: str,
    settings: Settings,
) -> dict[str, Any]:
    kind = species(station.species)
    top = station.height_m or 6.0
    height = round(float(rng.uniform(1.6, max(0.75 * top, 1.8))), 1)
    length = limb_length_m(station.species, across)
    if cut == "shorten":
        length *= 0.6
    kg = carried_wood(kind.key, across, length, taken_at_m=0.0).green_kg
    hours = work_hours(across, height, settings, piece_kg=kg)
    return {
        "cut": cut,
        "limb": label,
        "at_m": 0.0 if cut == "remove" else round(float(rng.uniform(0.8, 2.0)), 1),
        "height_m": height,
        "diameter_mm": across,
        "bearing_deg": 5.0 * int(rng.integers(0, 72)),
        "piece_kg": round(kg, 2),
        "piece_length_m": round(length, 1),
        "dose": round(dose, 5),
        "wound_area_cm2": 0.0 if dead else round(section_cm2(across), 2),
        "to_lateral": "" if cut == "remove" else f"to {label}a",
        "tool": tool_words(across, height, kg, length, settings),
        "hours": round(hours, 4),
        "reason": reason,
        "effect": "",
    }

"""Plans, visits and simulated holdings for the tests of records; all invented."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np

from limbwright.learn.compared import Observation
from limbwright.learn.quantities import Prior
from limbwright.learn.season import Planned
from limbwright.model import CutDone, Response, StationRecord, Visit

TREE = "Sloe Bank/4"
SEASON = "winter 2026-27"
WORKED = date(2027, 1, 20)
SEEN = date(2027, 8, 12)
PRIOR = Prior(holding=0.4, species=0.1, crew=0.2, scatter=0.3)


def row(order: int, limb: str, **more: Any) -> dict[str, Any]:
    """One row of a cut list."""
    held: dict[str, Any] = {
        "order": order,
        "cut": "remove",
        "limb": limb,
        "diameter_mm": 100.0,
        "height_m": 2.0,
        "piece_kg": 25.0,
        "dose": 0.05,
        "wound_area_cm2": 78.5,
        "hours": 0.2585,
        **more,
    }
    return held


def document(**more: Any) -> dict[str, Any]:
    """One tree of ``limbwright.plan/1``, its first two cuts alike, the third dead wood."""
    rows = [row(1, "a"), row(2, "b"), row(3, "c", dose=0.0, wound_area_cm2=0.0)]
    return {
        "tree": TREE,
        "season": SEASON,
        "species": "apple",
        "cuts": rows,
        "lesser": [],
        "dose": 0.1,
        "wound_share": 0.2,
        "chance_before": 0.1,
        "chance_after": 0.04,
        **more,
    }


def planned(**more: Any) -> Planned:
    return Planned(TREE, SEASON, date(2026, 11, 2), document(**more))


def visit(*cuts: CutDone, **more: Any) -> Visit:
    held: dict[str, Any] = {
        "tree": TREE,
        "season": SEASON,
        "done_on": WORKED,
        "who": "Ada",
        "hours": 0.7,
        "brash_hours": 0.4,
        **more,
    }
    return Visit(cuts=cuts, **held)


def seen(**more: Any) -> Response:
    held: dict[str, Any] = {"tree": TREE, "seen_on": SEEN, **more}
    return Response(**held)


def station(**more: Any) -> StationRecord:
    held: dict[str, Any] = {"girth_cm": 126.0, "extension_cm": None, "condition": "fair", **more}
    return StationRecord("4", "Sloe Bank", species="apple", **held)


def observation(log_ratio: float, k: int = 0, **more: Any) -> Observation:
    held: dict[str, Any] = {
        "quantity": "hours",
        "sd": 0.3,
        "tree": f"Sloe Bank/{k}",
        "day": WORKED,
        "foretold": 2.0,
        "found": 2.0 * float(np.exp(log_ratio)),
        **more,
    }
    return Observation(log_ratio=log_ratio, **held)


def holding(
    rng: np.random.Generator, many: int, prior: Prior = PRIOR, key: str = "hours"
) -> tuple[list[Observation], float, dict[str, float], dict[str, float]]:
    """A holding drawn from the prior: its records, its factor, those of species and of crews."""
    mu = rng.normal(0.0, prior.holding)
    kinds = {s: mu + rng.normal(0.0, prior.species) for s in ("apple", "pear", "plum")}
    crews = {c: mu + rng.normal(0.0, prior.crew) for c in ("Ada", "Wyn")}
    told = []
    for k in range(many):
        kind, who = list(kinds)[k % 3], list(crews)[k % 2]
        y = kinds[kind] + crews[who] - mu + rng.normal(0.0, prior.scatter)
        told.append(observation(y, k, species=kind, who=who, quantity=key, sd=prior.scatter))
    return told, mu, kinds, crews

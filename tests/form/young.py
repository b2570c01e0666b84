"""Young trees for the tests, invented."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from limbwright.form.choice import Candidate
from limbwright.model.records import StationRecord
from limbwright.model.shoots import ShootRecord, YoungTree

YEAR = 2026


def leader(length_m: float = 2.9, grown_cm: float = 60.0, **more: Any) -> ShootRecord:
    values = {"length_m": length_m, "grown_cm": grown_cm, "diameter_mm": 36.0, "rise_deg": 90.0}
    return ShootRecord("1", "leader", **(values | more))


def shoot(
    name: str,
    at_m: float | None,
    bearing_deg: float | None = 0.0,
    rise_deg: float = 40.0,
    length_m: float = 0.6,
    *,
    parent: str = "leader",
    **more: Any,
) -> ShootRecord:
    values: dict[str, Any] = {
        "at_m": at_m,
        "bearing_deg": bearing_deg,
        "rise_deg": rise_deg,
        "length_m": length_m,
        "grown_cm": 100.0 * length_m,
        "diameter_mm": 10.0,
    }
    return ShootRecord("1", name, parent, **(values | more))


def station(species: str = "apple", **more: Any) -> StationRecord:
    return replace(StationRecord("1", species=species, planted=2023, form="standard"), **more)


def tree(*shoots: ShootRecord, species: str = "apple", **more: Any) -> YoungTree:
    every = shoots if shoots and not shoots[0].parent else (leader(), *shoots)
    return YoungTree(station(species, **more), every)


GOOD = (
    shoot("a", 1.85, 10.0),
    shoot("b", 2.0, 100.0),
    shoot("c", 2.15, 190.0),
    shoot("d", 2.3, 280.0),
)
"""Four shoots, even round the stem, 15 cm apart and well off it."""


def candidate(name: str, at_m: float, bearing_deg: float, **more: Any) -> Candidate:
    values: dict[str, Any] = {"angle_deg": 50.0, "diameter_mm": 10.0, "stem_mm": 25.0}
    return Candidate(name, at_m, bearing_deg, **(values | more))

"""How the invented trees answered their cuts, drawn about the growth foretold."""

from __future__ import annotations

from datetime import date
from math import exp

import numpy as np

from limbwright.demo.earlier import FIRST_WALK, LAST_WALK, RING_FACTOR
from limbwright.demo.names import MARK
from limbwright.growth.rates import Rates, rates
from limbwright.growth.response import CutKind, watershoots
from limbwright.learn.answer import growing_seasons
from limbwright.learn.done import WorkDone
from limbwright.learn.season import Planned
from limbwright.model import Response, StationRecord

__all__ = ["EXTENSION_FACTOR", "SHOOTS_FACTOR", "SHOOT_LENGTH_FACTOR", "answered"]

SHOOTS_FACTOR, SHOOT_LENGTH_FACTOR, EXTENSION_FACTOR = 0.8, 1.1, 1.0
"""Watershoots, their length and the growth of outer shoots on this holding over those foretold;
invented, for records to find."""
SPREAD = {"shoots": 0.4, "length": 0.2, "extension": 0.2, "wound": 0.2}
"""Standard deviation of the logarithm from tree to tree; judgement."""
GIRTH_ERROR_CM = 0.5
"""Judgement: one taping of a rough stem."""
KINDS: tuple[CutKind, ...] = ("remove", "shorten", "head", "thin")
SEEN = (date(2025, 9, 6), date(2026, 9, 5))
"""Days of the looks after the work."""


def answered(
    rng: np.random.Generator,
    work: WorkDone,
    plan: Planned,
    station: tuple[StationRecord, StationRecord],
    who: str,
) -> list[Response]:
    """Return the looks at a tree after a season's work.

    The first comes after the first growing season. Of trees seen a year later still, some are.

    Parameters
    ----------
    station
        The record before the work, and today's.
    """
    if work.worked_on is None:
        return []
    found: list[Response] = []
    for day in SEEN:
        after = growing_seasons(work.worked_on, day)
        if day <= work.worked_on or after == 0 or (found and float(rng.uniform()) < 0.6):
            continue
        found.append(_look(rng, work, plan, station, who, day, after))
    return found


def _drawn(rng: np.random.Generator, value: float, factor: float, what: str) -> float:
    return value * factor * exp(float(rng.normal(0.0, SPREAD[what])))


def _look(
    rng: np.random.Generator,
    work: WorkDone,
    plan: Planned,
    station: tuple[StationRecord, StationRecord],
    who: str,
    day: date,
    after: int,
) -> Response:
    before, now = station
    grows = rates(before.species, before, year=day.year)
    outer = _drawn(rng, grows.extension_cm.value, EXTENSION_FACTOR, "extension")
    wound = max((c.wound_cm2 or 0.0 for c in work.cuts if c.counts), default=0.0)
    across = 2.0 * (wound / np.pi) ** 0.5 * 10.0
    closed = 2.0 * after * grows.ring_mm.value * RING_FACTOR * grows.closing.value
    closed = min(_drawn(rng, closed, 1.0, "wound"), across)
    long = _drawn(rng, 100.0 * grows.shoot_length_m.value, SHOOT_LENGTH_FACTOR, "length")
    first = after == 1
    return Response(
        tree=work.tree,
        seen_on=day,
        who=who,
        shoots=_shoots(rng, work, plan, grows) if first else None,
        shoot_length_cm=float(max(round(long), 1)) if first else None,
        extension_cm=float(max(round(outer), 1)),
        girth_cm=_girth(rng, before, now, day),
        wound_mm=float(round(across)) if across >= 30.0 else None,
        wound_closed_mm=float(round(closed)) if across >= 30.0 else None,
        condition=now.condition,
        note=MARK,
    )


def _shoots(rng: np.random.Generator, work: WorkDone, plan: Planned, grows: Rates) -> int:
    """Return a count of watershoots about the one foretold for the cuts made, kind by kind."""
    leaf = float(plan.document["leaf_m2"])
    dose = min(work.dose_taken or 0.0, 1.0)
    season = "summer" if "summer" in plan.season else "winter"
    count = 0.0
    for kind in KINDS:
        part = sum(c.dose or 0.0 for c in work.cuts if c.counts and c.cut == kind)
        if part > 0.0:
            count += watershoots(grows, dose, part * leaf, season=season, kind=kind).count.value  # type: ignore[arg-type]
    return int(rng.poisson(_drawn(rng, count, SHOOTS_FACTOR, "shoots")))


def _girth(
    rng: np.random.Generator, before: StationRecord, now: StationRecord, day: date
) -> float | None:
    """Return the girth on a day between two walks, as a tape reads it."""
    if before.girth_cm is None or now.girth_cm is None or float(rng.uniform()) < 0.3:
        return None
    gone = (day - FIRST_WALK).days / (LAST_WALK - FIRST_WALK).days
    girth = before.girth_cm + gone * (now.girth_cm - before.girth_cm)
    return round(2.0 * (girth + float(rng.normal(0.0, GIRTH_ERROR_CM)))) / 2.0

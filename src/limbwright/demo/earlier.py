"""The walk of two autumns ago: the invented stations as they were then."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import date
from math import pi

import numpy as np

from limbwright.demo.names import MARK
from limbwright.demo.walked import LAST_YEAR
from limbwright.growth.rates import rates
from limbwright.model import StationRecord

__all__ = ["FIRST_WALK", "LAST_WALK", "RING_FACTOR", "YEARS_BETWEEN", "earlier"]

FIRST_WALK, LAST_WALK = date(2024, 10, 12), date(2026, 10, 17)
YEARS_BETWEEN = LAST_WALK.year - FIRST_WALK.year
RING_FACTOR = 0.9
"""How much wider the stems of this holding grow than is foretold; invented, for records to find."""
LEAST_GIRTH_CM = 6.0
"""Judgement: a tree as it comes from the nursery."""
TAKEN_DOWN_M = 0.5
"""Judgement: how much height two seasons of work have taken."""


def earlier(
    seed: int, stations: tuple[StationRecord, ...], worked: Collection[str]
) -> tuple[StationRecord, ...]:
    """Return the stations as the walk two years ago found them.

    What was planted since was a gap then, what is dead now was dying, stems were thinner by the
    rings foretold for them times `RING_FACTOR`, and crowns worked on since were taller.

    Parameters
    ----------
    worked
        Trees that were worked on since, as ``orchard/station``.
    """
    return tuple(
        _then(np.random.default_rng([seed, 2, k]), one, one.tree in worked)
        for k, one in enumerate(stations)
    )


def _then(rng: np.random.Generator, now: StationRecord, worked: bool) -> StationRecord:
    bare = StationRecord(now.station, now.orchard, x=now.x, y=now.y, note=MARK)
    if not now.species:
        return replace(bare, status=now.status)
    if now.planted is not None and now.planted > FIRST_WALK.year:
        return replace(bare, status="gap")
    then = now
    if now.status == "dead":
        then = replace(now, status="living", condition="poor")
    young = now.planted is not None and LAST_YEAR - now.planted <= 12
    height, girth = now.height_m, now.girth_cm
    if girth is not None:
        ring = rates(now.species, now, year=LAST_YEAR).ring_mm.value * RING_FACTOR
        gain = 2.0 * pi * ring * YEARS_BETWEEN / 10.0
        girth = max(float(round(girth - gain)), min(LEAST_GIRTH_CM, girth))
    if height is not None:
        if young:
            height = max(round(0.7 * height, 1), 1.0)
        elif worked:
            height += TAKEN_DOWN_M
    dead = then.dead_pct
    if dead is not None and not young and then.status == now.status:
        dead = max(dead + float(rng.integers(-3, 4)), 0.0)
    grown = then.extension_cm
    if grown is not None and not young and then.status == now.status:
        grown = max(grown + float(rng.integers(-3, 4)), 1.0)
    status = "new" if young and now.planted == FIRST_WALK.year else then.status
    clear = now.clear_stem_m
    if young and clear is not None and height is not None and clear > 0.6 * height:
        clear = None
    return replace(
        then,
        status=status,
        girth_cm=girth,
        height_m=height,
        clear_stem_m=clear,
        dead_pct=dead,
        extension_cm=grown,
        spread_ns_m=None if young else now.spread_ns_m,
        spread_ew_m=None if young else now.spread_ew_m,
        faults="" if young else then.faults,
    )

"""The walk as numbers: what a forecast of loads and gains can be made from before the tape."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from limbwright.model.site import Site
from limbwright.model.skeleton import Floats
from limbwright.needs.walk import Walk
from limbwright.statics.wind import peak_pressure_pa

__all__ = ["FEATURES", "MEASURED", "features"]

MEASURED = ("girth", "height", "spread", "dead", "lean")
"""Features that are measures and may not have been taken; they come first."""

SIGNS = (
    "cracked",
    "included",
    "heavy",
    "hollow",
    "hollow stem",
    "broken",
    "congested",
    "rubbing",
    "diseased",
)
WEAK_POINTS = ("cracked", "included", "hollow", "hollow stem")
STATES = ("frail", "long forgotten", "overgrown", "routine")
FEATURES = (
    *MEASURED,
    *SIGNS,
    "weak and heavy",
    "poor",
    "good",
    *STATES,
    "stone",
    "leader",
    "wind",
    "years",
    "stake",
)
"""Names of the columns, in order."""

USUAL_GIRTH_CM, USUAL_HEIGHT_M, USUAL_SPREAD_M = 120.0, 7.0, 8.0
USUAL_PRESSURE_PA = 500.0
USUAL_YEARS = 10.0
CROWN_AT_M = 5.0
"""Origins of the columns; any would do, they only shift the constant of a fit."""

LEADER = frozenset({"pear", "perry-pear"})
"""Kinds that mostly keep a leader; common practice."""


def features(walks: Sequence[Walk], site: Site, *, stake: float = 1.0) -> Floats:
    """Return ``(n, F)`` the features of live trees; NaN where a measure was not taken.

    Parameters
    ----------
    walks
        Records as read; gaps and stumps have no place here.
    site
        Wind, shelter and the years the trees have stood.
    stake
        What a tree is worth over the horizon, in units of the table of weights.
    """
    pressure = float(peak_pressure_pa(CROWN_AT_M, site))
    place = (
        math.log(pressure / USUAL_PRESSURE_PA),
        math.log(max(site.years_stood, 1.0) / USUAL_YEARS),
        math.log(max(stake, 1e-3)),
    )
    rows = [(*_measures(w), *_words(w), *place) for w in walks]
    return np.asarray(rows, dtype=np.float64).reshape(len(rows), len(FEATURES))


def _measures(walk: Walk) -> tuple[float, ...]:
    s = walk.station
    return (
        _log(s.girth_cm, USUAL_GIRTH_CM),
        _log(s.height_m, USUAL_HEIGHT_M),
        _log(s.spread_m, USUAL_SPREAD_M),
        math.nan if s.dead_pct is None else min(s.dead_pct, 60.0) / 10.0,
        math.nan if s.lean_deg is None else min(abs(s.lean_deg), 40.0) / 10.0,
    )


def _words(walk: Walk) -> tuple[float, ...]:
    state = walk.state
    held = ("frail" if state.frail else state.key) if state.key else ""
    kind = walk.kind
    return (
        *(float(sign in walk) for sign in SIGNS),
        float("heavy" in walk and any(sign in walk for sign in WEAK_POINTS)),
        float(walk.station.condition == "poor"),
        float(walk.station.condition == "good"),
        *(float(held == one) for one in STATES),
        float(kind is not None and kind.group == "stone"),
        float(kind is not None and kind.key in LEADER),
    )


def _log(value: float | None, usual: float) -> float:
    return math.nan if value is None or value <= 0.0 else math.log(value / usual)

"""The right dozen for one day: which trees to tape, and in which order to walk to them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from limbwright.errors import InputError
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Floats
from limbwright.needs.tape import TapeValue
from limbwright.trade.parameters import parameters

__all__ = ["Day", "pick_day"]

EARTH_M = 6_371_000.0
"""Mean radius of the earth (IUGG)."""
MOST_WEIGHED = 80
"""Judgement: trees of least worth beyond this many are not weighed for one day."""
LEAST_H = 1e-9


@dataclass(frozen=True, slots=True)
class Day:
    """Trees to tape in one day, in walking order.

    ``gain_h`` is what they are expected to bring in all, ``minutes`` what they take with the
    walking, ``walked_m`` how far, None where coordinates are not known for all of them.
    """

    trees: tuple[TapeValue, ...]
    gain_h: float
    minutes: float
    walked_m: float | None

    def to_dict(self) -> dict[str, Any]:
        """Return the day as plain values, units in the keys."""
        return {
            "trees": [one.to_dict() for one in self.trees],
            "gain_h": round(self.gain_h, 3),
            "minutes": round(self.minutes, 1),
            "walked_m": None if self.walked_m is None else round(self.walked_m, 1),
        }


def pick_day(
    values: Sequence[TapeValue], *, minutes: float = 180.0, most: int | None = None
) -> Day:
    """Return the trees whose taping brings most within a day's minutes, walking included.

    Trees are taken one by one, each time the one that brings most for the minutes it adds at the
    best place of the round; then trees are swapped for as long as that brings more. Where a tree
    has no coordinates, finding it is all the walking that is counted.

    Parameters
    ----------
    values
        As `tape_value` gives them; those not worth their cost are left out.
    minutes
        Time for taping and walking from tree to tree.
    most
        At most so many trees.

    Raises
    ------
    InputError
        There is no time at all.
    """
    if not (math.isfinite(minutes) and minutes > 0.0):
        raise InputError(f"A day of {minutes:g} minutes was given.", "Give more than 0.")
    worth = [v for v in values if v.net_h > 0.0][:MOST_WEIGHED]
    where = _places([v.station for v in worth])
    pace = parameters("needs")["walk_m_a_min"].value
    apart = np.nan_to_num(np.linalg.norm(where[:, None] - where[None], axis=-1)) / pace
    gain = np.asarray([v.gain_h for v in worth])
    each = np.asarray([v.minutes for v in worth])
    limit = len(worth) if most is None else most
    tour = _filled([], gain, each, apart, minutes, limit)
    tour = _swapped(tour, gain, each, apart, minutes, limit)
    known = not bool(np.isnan(where[tour]).any())
    return Day(
        tuple(worth[k] for k in tour),
        float(gain[tour].sum()) if tour else 0.0,
        _minutes(tour, each, apart),
        pace * _walk(tour, apart) if known else None,
    )


def _places(stations: Sequence[StationRecord]) -> Floats:
    """Return ``(n, 2)`` places [m] on a level map, NaN where not known."""
    rows = []
    lat = next((s.lat_deg for s in stations if s.lat_deg is not None), 0.0)
    east = math.radians(1.0) * EARTH_M * math.cos(math.radians(lat))
    for s in stations:
        if s.x is not None and s.y is not None:
            rows.append((s.x, s.y))
        elif s.lon_deg is not None and s.lat_deg is not None:
            rows.append((s.lon_deg * east, math.radians(s.lat_deg) * EARTH_M))
        else:
            rows.append((math.nan, math.nan))
    return np.asarray(rows, dtype=np.float64).reshape(len(rows), 2)


def _walk(tour: Sequence[int], apart: Floats) -> float:
    return float(sum(apart[a, b] for a, b in pairwise(tour)))


def _minutes(tour: Sequence[int], each: Floats, apart: Floats) -> float:
    return float(each[list(tour)].sum()) + _walk(tour, apart) if tour else 0.0


def _inserted(tour: list[int], k: int, apart: Floats) -> tuple[float, int]:
    """Return the minutes of walking a tree adds at its best place, and the place."""
    if not tour:
        return 0.0, 0
    added = [apart[k, tour[0]]]
    added += [apart[a, k] + apart[k, b] - apart[a, b] for a, b in pairwise(tour)]
    added.append(apart[tour[-1], k])
    at = int(np.argmin(added))
    return float(added[at]), at


def _filled(
    tour: list[int], gain: Floats, each: Floats, apart: Floats, minutes: float, limit: int
) -> list[int]:
    """Return a round with trees added, each time the one that brings most a minute."""
    tour = list(tour)
    used = _minutes(tour, each, apart)
    while len(tour) < limit:
        best: tuple[float, int, int, float] | None = None
        for k in range(gain.size):
            if k in tour:
                continue
            walk, at = _inserted(tour, k, apart)
            takes = float(each[k]) + walk
            if used + takes <= minutes + LEAST_H:
                rate = float(gain[k]) / max(takes, LEAST_H)
                if best is None or rate > best[0]:
                    best = (rate, k, at, takes)
        if best is None:
            break
        tour.insert(best[2], best[1])
        used += best[3]
    return tour


def _swapped(
    tour: list[int], gain: Floats, each: Floats, apart: Floats, minutes: float, limit: int
) -> list[int]:
    """Return a round after all swaps of one tree for others that bring more."""
    better = True
    while better:
        better = False
        total = float(gain[tour].sum()) if tour else 0.0
        for out in list(tour):
            rest = [k for k in tour if k != out]
            for new in np.argsort(-gain):
                k = int(new)
                if k in tour:
                    continue
                walk, at = _inserted(rest, k, apart)
                takes = _minutes(rest, each, apart) + float(each[k]) + walk
                if takes > minutes + LEAST_H:
                    continue
                trial = [*rest[:at], k, *rest[at:]]
                trial = _filled(trial, gain, each, apart, minutes, limit)
                if float(gain[trial].sum()) > total + LEAST_H:
                    tour, better = trial, True
                    break
            if better:
                break
    return tour

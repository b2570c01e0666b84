"""The exact price of sequences of cuts, worked out from the loads themselves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix

from limbwright.cuts.evaluate import SLACK, cuts_of, section_loads, section_risk, use_of_loads
from limbwright.cuts.problem import LIMITS, Problem
from limbwright.cuts.reach import grouped
from limbwright.model.skeleton import Bools, Floats
from limbwright.stages.years import Years

__all__ = [
    "Priced",
    "Sequences",
    "grown_again",
    "new_cuts",
    "price",
    "prices",
    "sections_use",
    "standing_leaf_m2",
    "taken_leaf_m2",
]


@dataclass(frozen=True, slots=True)
class Sequences:
    """Many sequences: prices ``(B,)`` [h], limits broken ``(B, Y, 7)``, cuts ``(B, Y, N)``.

    ``standing_m2``, ``taken_m2``, ``wound_cm2`` ``(B, Y)``: live leaf before each season, what the
    season takes of it, and its live wounds. ``section_h`` ``(B, Y, S)`` prices of risk.
    """

    objective_h: Floats
    risk_h: Floats
    work_h: Floats
    gain_h: Floats
    pairs_h: Floats
    broken: Bools
    cuts: Bools
    standing_m2: Floats
    taken_m2: Floats
    wound_cm2: Floats
    section_h: tuple[Floats, ...]


@dataclass(frozen=True, slots=True)
class Priced:
    """One sequence: its price by terms [h], what each season takes, and the limits it breaks."""

    objective_h: float
    terms: Mapping[str, float]
    cuts: Bools
    standing_m2: Floats
    taken_m2: Floats
    wound_cm2: Floats
    violated: tuple[tuple[int, str], ...]

    @property
    def dose(self) -> Floats:
        """``(Y,)`` share of the live leaf then standing that each season takes."""
        return np.asarray(self.taken_m2 / np.maximum(self.standing_m2, 1e-9))


def new_cuts(years: Years, gone: Bools) -> Bools:
    """Return ``(..., Y, N)`` True where a season makes a cut; ``gone`` is after each season."""
    cuts = cuts_of(years.seasons[0], gone)
    cuts[..., 1:, :] &= ~gone[..., :-1, :]
    return cuts


def grown_again(years: Years, gone: Bools, y: int) -> Floats:
    """Return ``(..., N)`` share of each piece's leaf that is back at its cut in state ``y``."""
    back: Floats = np.einsum("t,...tn->...n", years.back[y], gone.astype(np.float64))
    return back


def standing_leaf_m2(years: Years, gone: Bools) -> Floats:
    """Return ``(..., Y)`` live leaf before each season, with what has grown again."""
    out = np.empty(gone.shape[:-1])
    for y in range(years.count):
        left = 1.0 + grown_again(years, gone, y)
        if y:
            left -= gone[..., y - 1, :]
        out[..., y] = left @ years.leaf_m2[y]
    return out


def taken_leaf_m2(years: Years, gone: Bools) -> Floats:
    """Return ``(..., Y)`` live leaf each season takes, earlier cuts' new growth with it.

    What has grown again on wood that is cut counts at the most it can have come to by then.
    """
    parent = np.maximum(years.seasons[0].parent, 0)
    out = np.empty(gone.shape[:-1])
    for y in range(years.count):
        before = gone[..., y - 1, :] if y else np.zeros_like(gone[..., 0, :])
        fresh = gone[..., y, :] & ~before
        out[..., y] = fresh @ years.leaf_m2[y]
        if y:
            carried = before & fresh[..., parent]
            out[..., y] += years.regrown[y] * (carried @ years.leaf_beyond_m2[y])
    return out


def _use(problem: Problem, leafy: Problem, kept: Floats, again: Floats) -> Floats:
    """Utilisation ``(B, C, S)`` with pieces ``kept`` ``(B, N)`` and new growth ``again``."""
    force, moment = section_loads(problem, kept)
    if bool(again.any()):
        more_force, more_moment = section_loads(leafy, again)
        force, moment = force + more_force, moment + more_moment
    return use_of_loads(problem, force, moment)


def sections_use(years: Years, gone: Bools, y: int) -> Floats:
    """Return the utilisation ``(B, C, S)`` of every section after season ``y``."""
    kept = 1.0 - gone[:, y].astype(np.float64)
    return _use(years.seasons[y], years.leafy[y], kept, grown_again(years, gone, y))


def prices(
    years: Years, gone: Bools, doses: Floats | None = None, *, risk_h: Floats | None = None
) -> Sequences:
    """Return the exact price of many sequences, ``gone`` ``(B, Y, N)`` after each season.

    ``doses`` ``(Y,)``, if given, in place of the years' own; a season of dose 0 is a rest: no cut.
    ``risk_h`` ``(B,)`` is their risk where it is known already; then ``section_h`` is empty. What
    would hang in the air, or come back, breaks the limit ``keep``.
    """
    doses = years.dose if doses is None else doses
    batch, count = gone.shape[0], years.count
    parent = np.maximum(years.seasons[0].parent, 0)
    up = gone[..., parent]
    up[..., 0] = False
    cut_now = gone & ~up
    cut_now[..., 0] = False
    cuts = cut_now.copy()
    cuts[:, 1:] &= ~gone[:, :-1]
    sums = _summed(gone, years.gone_sums)
    standing, taken, dead, kept_gone, east, north = sums[:, 2:].reshape(batch, 6, -1).swapaxes(0, 1)
    standing = standing + years.leaf_m2.sum(axis=1)
    if bool((years.regrown > 0.0).any()):
        carried = gone[:, :-1] & up[:, 1:] & ~up[:, :-1]
        taken = taken.copy()
        many, at, node = np.nonzero(carried)
        more = years.regrown[at + 1] * years.leaf_beyond_m2[at + 1, node]
        np.add.at(taken, (many, at + 1), more)
    made = _summed(cuts, years.cut_sums).reshape(batch, count, 3)
    wound = made[..., 1]
    broken = np.zeros((batch, count, len(LIMITS)), dtype=np.bool_)
    most = doses * standing
    broken[..., 0] = taken > most * (1 + SLACK) + SLACK
    broken[..., 0] |= (doses <= 0.0) & (made[..., 2] > 0.0)
    broken[..., 5] = (kept_gone > 0.5) | (up & ~gone).any(axis=2)
    broken[:, 1:, 5] |= (gone[:, :-1] & ~gone[:, 1:]).any(axis=2)
    broken[:, -1, 5] |= (~gone[:, -1] & years.seasons[-1].forced).any(axis=1)
    risk, pairs = np.zeros(batch), np.zeros(batch)
    section_h = []
    for y, p in enumerate(years.seasons):
        each = np.zeros((batch, 0))
        lasts = float(years.worth[y] * years.weight[y])
        if risk_h is None and p.sections:
            kept = 1.0 - gone[:, y].astype(np.float64)
            use = _use(p, years.leafy[y], kept, grown_again(years, gone, y))
            each = section_risk(p, use, kept)
            risk += lasts * grouped(p, each).sum(axis=1)
        section_h.append(lasts * each)
        if p.pairs.size:
            stand = ~(gone[:, y, p.pairs[:, 0]] | gone[:, y, p.pairs[:, 1]])
            pairs += lasts * (stand @ p.pair_cost_h)
        broken[:, y, 1] = wound[:, y] > p.wound_limit_cm2 * (1 + SLACK) + SLACK
        whole = p.balance_kg_m.sum(axis=0)
        balance = np.hypot(whole[0] - east[:, y], whole[1] - north[:, y])
        broken[:, y, 2] = balance > p.balance_limit_kg_m * (1 + SLACK) + SLACK
        left = float(p.deadwood_kg.sum()) - dead[:, y]
        broken[:, y, 3] = left < p.deadwood_min_kg * (1 - SLACK) - SLACK
        broken[:, y, 4] = False if p.max_cuts is None else made[:, y, 2] > p.max_cuts
        ruled, table = p.heir_table
        if ruled.size:
            heir_stands = (~gone[:, y, np.maximum(table, 0)] & (table >= 0)).any(axis=2)
            broken[:, y, 6] = (cut_now[:, y, ruled] & ~heir_stands).any(axis=1)
    risk = risk if risk_h is None else risk_h
    gain, work = sums[:, 0], made[..., 0].sum(axis=1) + sums[:, 1]
    return Sequences(
        objective_h=risk + work - gain + pairs,
        risk_h=risk,
        work_h=work,
        gain_h=gain,
        pairs_h=pairs,
        broken=broken,
        cuts=cuts,
        standing_m2=standing,
        taken_m2=taken,
        wound_cm2=wound,
        section_h=tuple(section_h),
    )


def _summed(marks: Bools, factors: Floats) -> Floats:
    """Return ``(B, K)`` the sums of ``factors`` ``(M, K)`` over marks ``(B, ...)`` of M places.

    Few places are marked; a BLAS of several threads waits longer than these sums take.
    """
    if marks.shape[0] == 1:
        return np.asarray(factors[marks.ravel()].sum(axis=0)[None])
    flat = marks.reshape(marks.shape[0], factors.shape[0])
    batch, place = np.nonzero(flat)
    start = np.searchsorted(batch, np.arange(flat.shape[0] + 1))
    table = csr_matrix((np.ones(place.size), place, start), shape=flat.shape)
    return np.asarray(table @ factors)


def price(years: Years, gone: Bools, doses: Floats | None = None) -> Priced:
    """Return the exact price of one sequence, ``gone`` ``(Y, N)`` after each season."""
    one = prices(years, gone[None], doses)
    return Priced(
        objective_h=float(one.objective_h[0]),
        terms={
            "risk": float(one.risk_h[0]),
            "work": float(one.work_h[0]),
            "gain": float(one.gain_h[0]),
            "pairs": float(one.pairs_h[0]),
        },
        cuts=one.cuts[0],
        standing_m2=one.standing_m2[0],
        taken_m2=one.taken_m2[0],
        wound_cm2=one.wound_cm2[0],
        violated=tuple((int(y), LIMITS[k]) for y, k in np.argwhere(one.broken[0])),
    )

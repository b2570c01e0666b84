"""The exact price of sequences of cuts, worked out from the loads themselves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from limbwright.cuts.evaluate import SLACK, cuts_of, section_loads, section_risk
from limbwright.cuts.problem import LIMITS, Problem
from limbwright.cuts.reach import grouped
from limbwright.model.skeleton import Bools, Floats
from limbwright.stages.years import Years
from limbwright.statics.stress import stress, utilisation

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
    p = problem
    force, moment = section_loads(p, kept)
    if bool(again.any()):
        more_force, more_moment = section_loads(leafy, again)
        force, moment = force + more_force, moment + more_moment
    parts = stress(force, moment, p.axis, p.area_m2, p.modulus_m3, p.torsion_modulus_m3)
    use = utilisation(parts, p.bending_strength_mpa, p.shear_strength_mpa)
    if p.split_per_n_m is not None:
        use = np.maximum(use, np.einsum("bcsk,csk->bcs", moment, p.split_per_n_m))
    return use


def sections_use(years: Years, gone: Bools, y: int) -> Floats:
    """Return the utilisation ``(B, C, S)`` of every section after season ``y``."""
    kept = 1.0 - gone[:, y].astype(np.float64)
    return _use(years.seasons[y], years.leafy[y], kept, grown_again(years, gone, y))


def prices(
    years: Years, gone: Bools, doses: Floats | None = None, *, risk_h: Floats | None = None
) -> Sequences:
    """Return the exact price of many sequences, ``gone`` ``(B, Y, N)`` after each season.

    ``doses`` ``(Y,)``, if given, in place of the years' own; a season of dose 0 is a rest: no cut.
    ``risk_h`` ``(B,)`` is their risk where it is known already; then ``section_h`` is empty.
    """
    doses = years.dose if doses is None else doses
    batch = gone.shape[0]
    went = gone.astype(np.float64)
    cuts = new_cuts(years, gone)
    standing, taken = standing_leaf_m2(years, gone), taken_leaf_m2(years, gone)
    risk, work, gain, pairs = (np.zeros(batch) for _ in range(4))
    wound = np.empty((batch, years.count))
    broken = np.zeros((batch, years.count, len(LIMITS)), dtype=np.bool_)
    section_h = []
    for y, p in enumerate(years.seasons):
        state, before = gone[:, y], gone[:, y - 1] if y else np.zeros_like(gone[:, 0])
        worth, lasts = float(years.worth[y]), float(years.weight[y])
        kept = 1.0 - went[:, y]
        if risk_h is not None:
            each = np.zeros((batch, 0))
        elif p.sections:
            use = _use(p, years.leafy[y], kept, grown_again(years, gone, y))
            each = section_risk(p, use, kept)
            risk += worth * lasts * grouped(p, each).sum(axis=1)
        else:
            each = np.zeros((batch, 0))
        section_h.append(worth * lasts * each)
        fresh = (state & ~before).astype(np.float64)
        work += worth * (cuts[:, y] @ p.cut_cost_h + fresh @ years.once_h[y])
        gain += went[:, y] @ years.gain_h[y]
        stand = ~(state[:, p.pairs[:, 0]] | state[:, p.pairs[:, 1]])
        pairs += worth * lasts * (stand @ p.pair_cost_h)
        wound[:, y] = cuts[:, y] @ p.cut_area_cm2
        broken[:, y] = _broken(p, state, before, cuts[:, y], wound[:, y], last=y == years.count - 1)
        most = doses[y] * standing[:, y]
        broken[:, y, 0] = taken[:, y] > most * (1 + SLACK) + SLACK
        if doses[y] <= 0.0:
            broken[:, y, 0] |= cuts[:, y].any(axis=1)
    risk = risk if risk_h is None else risk_h
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


def _broken(
    p: Problem, state: Bools, before: Bools, cuts: Bools, wound: Floats, *, last: bool
) -> Bools:
    """Limits of one season broken, ``(B, 7)``, the dose left out.

    What would hang in the air, or come back, breaks the limit ``keep``.
    """
    out = np.zeros((state.shape[0], len(LIMITS)), dtype=np.bool_)
    out[:, 1] = wound > p.wound_limit_cm2 * (1 + SLACK) + SLACK
    left = p.balance_kg_m.sum(axis=0) - state @ p.balance_kg_m
    out[:, 2] = np.hypot(left[:, 0], left[:, 1]) > p.balance_limit_kg_m * (1 + SLACK) + SLACK
    dead = float(p.deadwood_kg.sum()) - state @ p.deadwood_kg
    out[:, 3] = dead < p.deadwood_min_kg * (1 - SLACK) - SLACK
    out[:, 4] = False if p.max_cuts is None else cuts.sum(axis=1) > p.max_cuts
    out[:, 5] = (state & p.kept_by_rule).any(axis=1) | (before & ~state).any(axis=1)
    out[:, 5] |= (state[:, p.parent[1:]] & ~state[:, 1:]).any(axis=1)
    if last:
        out[:, 5] |= (~state & p.forced).any(axis=1)
    ruled, table = p.heir_table
    if ruled.size:
        shortened = cuts_of(p, state)[:, ruled]
        heir_stands = (~state[:, np.maximum(table, 0)] & (table >= 0)).any(axis=2)
        out[:, 6] = (shortened & ~heir_stands).any(axis=1)
    return out


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

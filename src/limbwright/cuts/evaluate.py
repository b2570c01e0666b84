"""The exact price of a set of cuts, one set or many at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from limbwright.cuts.problem import LIMITS, Problem
from limbwright.cuts.reach import grouped
from limbwright.model.skeleton import Bools, Floats
from limbwright.statics.stress import stress, utilisation

__all__ = [
    "Evaluation",
    "Prices",
    "cuts_of",
    "evaluate",
    "prices",
    "section_loads",
    "section_risk",
    "section_use",
    "use_of_loads",
]

SLACK = 1e-9
"""Relative room when a plan is held against a limit: sums of floats, not a real excess."""


@dataclass(frozen=True, slots=True)
class Evaluation:
    """One set of cuts: its price by terms [h], what it takes, and the limits it breaks."""

    objective_h: float
    terms: Mapping[str, float]
    cuts: Bools
    leaf_m2: float
    wound_cm2: float
    balance_kg_m: float
    deadwood_kg: float
    violated: tuple[str, ...]
    utilisation: Floats
    section_cost: Floats


@dataclass(frozen=True, slots=True)
class Prices:
    """Many sets of cuts: ``(B,)`` objective and terms, ``(B, 7)`` limits broken."""

    objective_h: Floats
    risk_h: Floats
    work_h: Floats
    gain_h: Floats
    pairs_h: Floats
    broken: Bools
    cuts: Bools
    leaf_m2: Floats
    wound_cm2: Floats
    balance_kg_m: Floats
    deadwood_kg: Floats


def section_loads(problem: Problem, kept: Floats) -> tuple[Floats, Floats]:
    """Return force and moment at every section, ``(B, C, S, 3)`` each, moment about the section.

    ``kept`` ``(B, N)`` is 1 where a node stands; parts between serve the relaxation.
    """
    p = problem
    batch, cases = kept.shape[0], p.force_n.shape[0]
    both = np.concatenate([p.force_n, p.moment_n_m], axis=2)
    prefix = np.zeros((batch, cases, p.nodes + 1, 6))
    np.cumsum(kept[:, None, :, None] * both[None], axis=2, out=prefix[:, :, 1:])
    at = prefix[:, :, p.section_hi] - prefix[:, :, p.section_lo]
    own = np.concatenate([p.own_force_n, p.own_moment_n_m], axis=2)
    at += kept[:, None, p.section_node, None] * own[None]
    force = at[..., :3]
    return force, at[..., 3:] - np.cross(p.point_m, force)


def section_use(problem: Problem, kept: Floats) -> Floats:
    """Return the utilisation ``(B, C, S)`` of every section."""
    p = problem
    if p.sections == 0:
        return np.zeros((kept.shape[0], p.force_n.shape[0], 0))
    return use_of_loads(p, *section_loads(p, kept))


def use_of_loads(problem: Problem, force: Floats, moment: Floats) -> Floats:
    """Return the utilisation ``(B, C, S)`` by force and moment ``(B, C, S, 3)`` at the sections."""
    p = problem
    parts = stress(force, moment, p.axis, p.area_m2, p.modulus_m3, p.torsion_modulus_m3)
    use = utilisation(parts, p.bending_strength_mpa, p.shear_strength_mpa)
    if p.split_per_n_m is not None:
        use = np.maximum(use, np.einsum("bcsk,csk->bcs", moment, p.split_per_n_m))
    return use


def section_risk(problem: Problem, use: Floats, kept: Floats | None = None) -> Floats:
    """Return the yearly risk price ``(B, S)`` [h] from utilisations ``(B, C, S)``.

    ``kept`` ``(B, N)``, if given: a section whose piece is gone costs nothing, whatever its lines.
    """
    p = problem
    if p.sections == 0:
        return np.zeros((use.shape[0], 0))
    worst = np.zeros((use.shape[0], p.sections))
    slope, intercept = p.slope.transpose(1, 0, 2), p.intercept.transpose(1, 0, 2)
    for k in range(p.slope.shape[2]):
        np.maximum(worst, (use * slope[..., k] + intercept[..., k]).max(axis=1), out=worst)
    if kept is not None:
        worst *= kept[:, p.section_node] > 0.0
    return np.asarray(worst * p.section_cost_h)


def cuts_of(problem: Problem, gone: Bools) -> Bools:
    """Return ``(..., N)`` True where a cut is made: gone, and what carries it is not."""
    cuts = gone.copy()
    cuts[..., 1:] &= ~gone[..., problem.parent[1:]]
    cuts[..., 0] = False
    return cuts


def prices(problem: Problem, gone: Bools, risk_h: Floats | None = None) -> Prices:
    """Return the exact price of many sets of cuts, ``gone`` ``(B, N)``.

    ``risk_h`` ``(B,)`` is their risk where it is known already, such as from
    `limbwright.cuts.reach.risk_of_changes`.
    """
    p = problem
    cuts = cuts_of(p, gone)
    went = gone.astype(np.float64)
    if risk_h is None:
        kept = 1.0 - went
        risk_h = grouped(p, section_risk(p, section_use(p, kept), kept)).sum(axis=1)
    # einsum, as a BLAS of several threads waits longer than these sums take
    gain, leaf, dead_gone, x, y = np.einsum("bn,kn->kb", went, p.gone_sums)
    work, wound = np.einsum("bn,kn->kb", cuts.astype(np.float64), p.cut_sums)
    stand = ~(gone[:, p.pairs[:, 0]] | gone[:, p.pairs[:, 1]])
    pairs = stand @ p.pair_cost_h
    whole = p.balance_kg_m.sum(axis=0)
    balance = np.hypot(whole[0] - x, whole[1] - y)
    dead = float(p.deadwood_kg.sum()) - dead_gone
    broken = np.zeros((gone.shape[0], 7), dtype=np.bool_)
    broken[:, 0] = leaf > p.dose_limit_m2 * (1 + SLACK) + SLACK
    broken[:, 1] = wound > p.wound_limit_cm2 * (1 + SLACK) + SLACK
    broken[:, 2] = balance > p.balance_limit_kg_m * (1 + SLACK) + SLACK
    broken[:, 3] = dead < p.deadwood_min_kg * (1 - SLACK) - SLACK
    broken[:, 4] = False if p.max_cuts is None else cuts.sum(axis=1) > p.max_cuts
    broken[:, 5] = (gone & p.kept_by_rule).any(axis=1) | (~gone & p.forced).any(axis=1)
    ruled, table = p.heir_table
    if ruled.size:
        heir_stands = (~gone[:, np.maximum(table, 0)] & (table >= 0)).any(axis=2)
        broken[:, 6] = (cuts[:, ruled] & ~heir_stands).any(axis=1)
    return Prices(
        objective_h=risk_h + work - gain + pairs,
        risk_h=risk_h,
        work_h=work,
        gain_h=gain,
        pairs_h=np.asarray(pairs),
        broken=broken,
        cuts=cuts,
        leaf_m2=leaf,
        wound_cm2=wound,
        balance_kg_m=balance,
        deadwood_kg=dead,
    )


def evaluate(problem: Problem, gone: Bools) -> Evaluation:
    """Return the exact price of one set of cuts, ``gone`` ``(N,)``."""
    kept = (~gone[None]).astype(np.float64)
    use = section_use(problem, kept)
    section_cost = section_risk(problem, use, kept)
    one = prices(problem, gone[None], grouped(problem, section_cost).sum(axis=1))
    return Evaluation(
        objective_h=float(one.objective_h[0]),
        terms={
            "risk": float(one.risk_h[0]),
            "work": float(one.work_h[0]),
            "gain": float(one.gain_h[0]),
            "pairs": float(one.pairs_h[0]),
        },
        cuts=one.cuts[0],
        leaf_m2=float(one.leaf_m2[0]),
        wound_cm2=float(one.wound_cm2[0]),
        balance_kg_m=float(one.balance_kg_m[0]),
        deadwood_kg=float(one.deadwood_kg[0]),
        violated=tuple(n for n, b in zip(LIMITS, one.broken[0], strict=True) if b),
        utilisation=use[0],
        section_cost=section_cost[0],
    )

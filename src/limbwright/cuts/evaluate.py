"""The exact price of a set of cuts, one set or many at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from limbwright.cuts.problem import LIMITS, Problem
from limbwright.model.skeleton import Bools, Floats, Ints
from limbwright.statics.stress import stress, utilisation

__all__ = [
    "Evaluation",
    "Prices",
    "evaluate",
    "prices",
    "section_loads",
    "section_risk",
    "section_use",
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
    force, moment = section_loads(p, kept)
    parts = stress(force, moment, p.axis, p.area_m2, p.modulus_m3, p.torsion_modulus_m3)
    return utilisation(parts, p.bending_strength_mpa, p.shear_strength_mpa)


def section_risk(problem: Problem, use: Floats) -> Floats:
    """Return the yearly risk price ``(B, S)`` [h] from utilisations ``(B, C, S)``."""
    p = problem
    if p.sections == 0:
        return np.zeros((use.shape[0], 0))
    worst = np.full((use.shape[0], p.sections), -np.inf)
    slope, intercept = p.slope.transpose(1, 0, 2), p.intercept.transpose(1, 0, 2)
    for k in range(p.slope.shape[2]):
        np.maximum(worst, (use * slope[..., k] + intercept[..., k]).max(axis=1), out=worst)
    return np.asarray(np.maximum(worst, 0.0) * p.section_cost_h)


def prices(problem: Problem, gone: Bools, risk_h: Floats | None = None) -> Prices:
    """Return the exact price of many sets of cuts, ``gone`` ``(B, N)``.

    ``risk_h`` ``(B,)`` is their risk where it is known already, such as from `risk_of_more`.
    """
    p = problem
    kept = (~gone).astype(np.float64)
    cuts = gone.copy()
    cuts[:, 1:] &= ~gone[:, p.parent[1:]]
    cuts[:, 0] = False
    if risk_h is None:
        risk_h = section_risk(p, section_use(p, kept)).sum(axis=1)
    work = cuts @ p.cut_cost_h
    gain = gone @ p.gone_gain_h
    stand = ~(gone[:, p.pairs[:, 0]] | gone[:, p.pairs[:, 1]])
    pairs = stand @ p.pair_cost_h
    leaf, wound = gone @ p.leaf_m2, cuts @ p.cut_area_cm2
    balance = np.linalg.norm(kept @ p.balance_kg_m, axis=1)
    dead = kept @ p.deadwood_kg
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
        work_h=np.asarray(work),
        gain_h=np.asarray(gain),
        pairs_h=np.asarray(pairs),
        broken=broken,
        cuts=cuts,
        leaf_m2=np.asarray(leaf),
        wound_cm2=np.asarray(wound),
        balance_kg_m=np.asarray(balance),
        deadwood_kg=np.asarray(dead),
    )


def risk_of_more(problem: Problem, gone: Bools, nodes: Ints) -> Floats:
    """Return the risk [h] when one node more is gone, ``(J,)`` for each of ``nodes``.

    Only sections that carry the node change; they lose its load, and sections on it are gone. So
    many single changes cost little more than one whole evaluation.
    """
    p = problem
    kept = (~gone).astype(np.float64)
    if p.sections == 0:
        return np.zeros(nodes.size)
    force, moment = (a[0] for a in section_loads(p, kept[None]))
    parts = stress(force, moment, p.axis, p.area_m2, p.modulus_m3, p.torsion_modulus_m3)
    now = section_risk(p, utilisation(parts, p.bending_strength_mpa, p.shear_strength_mpa)[None])[0]
    both = np.concatenate([p.force_n, p.moment_n_m], axis=2) * kept[None, :, None]
    prefix = np.zeros((both.shape[0], p.nodes + 1, 6))
    np.cumsum(both, axis=1, out=prefix[:, 1:])
    piece = prefix[:, p.end[nodes]] - prefix[:, nodes]
    on_it = (p.section_node >= nodes[:, None]) & (p.section_node < p.end[nodes][:, None])
    total = now.sum() - on_it @ now
    carries = (p.section_lo <= nodes[:, None]) & (nodes[:, None] < p.section_hi) & (now > 0.0)
    row, at = np.nonzero(carries & ~on_it)
    lighter = force[:, at] - piece[:, row, :3]
    about = piece[:, row, 3:] - np.cross(p.point_m[at], piece[:, row, :3])
    parts = stress(
        lighter,
        moment[:, at] - about,
        p.axis[at],
        p.area_m2[at],
        p.modulus_m3[at],
        p.torsion_modulus_m3[at],
    )
    use = utilisation(parts, p.bending_strength_mpa[:, at], p.shear_strength_mpa[:, at])
    lines = p.slope[at] * use.T[:, :, None] + p.intercept[at]
    after = np.maximum(lines.max(axis=(1, 2)), 0.0) * p.section_cost_h[at]
    np.add.at(total, row, after - now[at])
    return np.asarray(total)


def evaluate(problem: Problem, gone: Bools) -> Evaluation:
    """Return the exact price of one set of cuts, ``gone`` ``(N,)``."""
    one = prices(problem, gone[None])
    use = section_use(problem, (~gone[None]).astype(np.float64))
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
        section_cost=section_risk(problem, use)[0],
    )

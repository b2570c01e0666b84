"""What each piece does in each section it loads, as one table: all that the engines price with.

A section's stresses are sums over the pieces beyond it. With the force turned into the section's
own directions and divided by its strength, a row of the table is six shares; summed over what
stands they give the utilisation as two lengths. Where sections may split, a seventh is the share
by that. A change of the plan then costs only the rows it
touches. `limbwright.cuts.evaluate` prices plans from the loads themselves, without this table.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix

from limbwright.cuts.problem import Problem
from limbwright.model.skeleton import Bools, Floats, Ints

__all__ = [
    "Held",
    "Reach",
    "gradients",
    "grouped",
    "hold",
    "risk_of_changes",
    "section_prices",
    "uses",
]

TINY = 1e-300  # keeps directions of a section without load finite
MOST_PAIRS = 60_000  # pairs of a plan and a section priced at once: some 30 MB


@dataclass(frozen=True, slots=True)
class Reach:
    """Every pair of a section and a piece beyond it, in order of the sections.

    ``section``, ``node`` ``(Q,)``; ``share`` ``(Q, C, K)``, K of 6 or 7: axial, two of bending,
    torsion, two of shear, splitting, each as a share of strength. Section s has the rows from
    ``start[s]``, its own piece first. ``of_node[node_start[n]:node_start[n + 1]]`` are those of
    node n.
    """

    section: Ints
    node: Ints
    share: Floats
    start: Ints
    of_node: Ints
    node_start: Ints

    @classmethod
    def of(cls, problem: Problem) -> Reach:
        """Return the table of a problem."""
        p = problem
        beyond = p.section_hi - p.section_lo
        start = np.concatenate([[0], np.cumsum(1 + beyond)]).astype(np.int64)
        section = np.repeat(np.arange(p.sections), 1 + beyond)
        within = np.arange(start[-1]) - start[section]
        own = within == 0
        node = np.where(own, p.section_node[section], p.section_lo[section] + within - 1)
        loads = np.concatenate([p.force_n, p.moment_n_m], axis=2)[:, node]
        loads[:, own] = np.concatenate([p.own_force_n, p.own_moment_n_m], axis=2)
        turned = np.matmul(_turn(p)[section], loads.transpose(1, 2, 0))
        turned = turned.transpose(0, 2, 1)
        share = turned * _per_strength(p)[section]
        if p.split_per_n_m is not None:
            apart = np.einsum("csk,sjk->scj", p.split_per_n_m, _frame(p))[section]
            split = np.einsum("qcj,qcj->qc", turned[..., [3, 1, 2]], apart)
            share = np.concatenate([share, split[..., None]], axis=2)
        of_node = np.argsort(node, kind="stable")
        node_start = np.searchsorted(node[of_node], np.arange(p.nodes + 1))
        return cls(section, node, np.ascontiguousarray(share), start[:-1], of_node, node_start)

    def parts(self, kept: Floats) -> Floats:
        """Return the summed shares ``(S, C, K)``; ``kept`` ``(N,)`` is 1 where a node stands."""
        if not self.start.size:
            return np.zeros((0, *self.share.shape[1:]))
        flat = self.share.reshape(self.share.shape[0], -1) * kept[self.node][:, None]
        return np.asarray(np.add.reduceat(flat, self.start).reshape(-1, *self.share.shape[1:]))

    def rows_of(self, sections: Ints) -> tuple[Ints, Ints, Ints]:
        """Return the rows ``(R,)`` of ``sections`` ``(M,)``.

        First the place among ``sections`` that each is of, then its number in the table; last
        where those of each section begin ``(M,)``.
        """
        length = np.diff(self.start, append=self.section.size)[sections]
        first = np.cumsum(length) - length
        whose = np.repeat(np.arange(sections.size), length)
        return whose, self.start[sections][whose] + np.arange(whose.size) - first[whose], first


def _frame(p: Problem) -> Floats:
    """Return a section's own directions ``(S, 3, 3)``: its axis and two across it."""
    # what is crossed with the axis must not lie along it: the coordinate axis least along it
    other = np.eye(3)[np.argmin(np.abs(p.axis), axis=1)]
    one = np.cross(p.axis, other)
    one /= np.maximum(np.linalg.norm(one, axis=1), TINY)[:, None]
    return np.stack([p.axis, one, np.cross(p.axis, one)], axis=1)


def _turn(p: Problem) -> Floats:
    """Matrices ``(S, 6, 6)`` from force and moment about the origin to a section's directions."""
    frame = _frame(p)
    cross = np.zeros((p.sections, 3, 3))
    x, y, z = p.point_m.T
    cross[:, 0, 1], cross[:, 0, 2], cross[:, 1, 2] = -z, y, -x
    cross[:, 1, 0], cross[:, 2, 0], cross[:, 2, 1] = z, -y, x
    turn = np.zeros((p.sections, 6, 6))
    about = -frame @ cross
    turn[:, 0, :3], turn[:, 4:, :3] = frame[:, 0], frame[:, 1:]
    turn[:, 3, :3], turn[:, 1:3, :3] = about[:, 0], about[:, 1:]
    turn[:, 3, 3:], turn[:, 1:3, 3:] = frame[:, 0], frame[:, 1:]
    return turn


def _per_strength(p: Problem) -> Floats:
    """Factors ``(S, C, 6)`` from loads to shares of strength, as in `statics.stress`."""
    normal, shear = 1e-6 / p.bending_strength_mpa.T, 1e-6 / p.shear_strength_mpa.T
    area, torsion = p.area_m2[:, None], shear / p.torsion_modulus_m3[:, None]
    bending, across = normal / p.modulus_m3[:, None], 4.0 / 3.0 * shear / area
    return np.stack([normal / area, bending, bending, torsion, across, across], axis=2)


def uses(parts: Floats) -> Floats:
    """Return the utilisation ``(...)`` from summed shares ``(..., K)``: the worse mode's."""
    normal = np.abs(parts[..., 0]) + np.hypot(parts[..., 1], parts[..., 2])
    tangential = np.abs(parts[..., 3]) + np.hypot(parts[..., 4], parts[..., 5])
    use = np.hypot(normal, tangential)
    return np.asarray(use if parts.shape[-1] == 6 else np.maximum(use, parts[..., 6]))


def gradients(parts: Floats) -> Floats:
    """Return a (sub)gradient of the utilisation, shaped like the shares; times them it is u."""
    bend, across = np.hypot(parts[..., 1], parts[..., 2]), np.hypot(parts[..., 4], parts[..., 5])
    normal, tangential = np.abs(parts[..., 0]) + bend, np.abs(parts[..., 3]) + across
    u = np.maximum(np.hypot(normal, tangential), TINY)
    out = np.empty_like(parts)
    out[..., 0] = np.sign(parts[..., 0])
    out[..., 1:3] = parts[..., 1:3] / np.maximum(bend, TINY)[..., None]
    out[..., 3] = np.sign(parts[..., 3])
    out[..., 4:6] = parts[..., 4:6] / np.maximum(across, TINY)[..., None]
    out[..., :3] *= (normal / u)[..., None]
    out[..., 3:6] *= (tangential / u)[..., None]
    if parts.shape[-1] == 7:
        splits = parts[..., 6] > u
        out[..., 6] = 0.0
        out[splits] = np.eye(7)[6]
    return out


def grouped(problem: Problem, section_h: Floats) -> Floats:
    """Return the price ``(..., G)`` of groups, the greatest of their sections' ``(..., S)``."""
    if problem.section_group is None or not problem.sections:
        return section_h
    order, start = problem.group_order
    return np.asarray(np.maximum.reduceat(section_h[..., order], start, axis=-1))


@dataclass(frozen=True, slots=True)
class Held:
    """A plan with the shares ``(S, C, K)`` and prices ``(S,)`` [h] of its sections worked out."""

    gone: Bools
    parts: Floats
    section_h: Floats


def hold(problem: Problem, reach: Reach, gone: Bools) -> Held:
    """Work out the sections of one plan, ``gone`` ``(N,)``."""
    parts = reach.parts((~gone).astype(np.float64))
    section_h = section_prices(problem, parts, np.arange(problem.sections))
    section_h[gone[problem.section_node]] = 0.0
    return Held(gone, parts, section_h)


def section_prices(problem: Problem, parts: Floats, at: Ints) -> Floats:
    """Return the price ``(P,)`` [h] of sections ``at`` with summed shares ``(P, C, K)``."""
    p, u = problem, uses(parts)
    worst = np.zeros(at.size)  # no load costs nothing, whatever the lines say
    for k in range(p.slope.shape[2]):
        lines = p.slope[at, :, k] * u + p.intercept[at, :, k]
        np.maximum(worst, lines.max(axis=1), out=worst)
    return np.asarray(worst * p.section_cost_h[at])


def risk_of_changes(problem: Problem, reach: Reach, held: Held, tries: Bools) -> Floats:
    """Return the risk [h] ``(B,)`` of plans ``(B, N)`` that differ a little from the one held.

    Only sections that bear a piece which comes or goes are reckoned again.
    """
    p, s = problem, problem.sections
    if s == 0 or not tries.shape[0]:
        return np.zeros(tries.shape[0])
    most = max(1, MOST_PAIRS // s)
    if tries.shape[0] > most:
        blocks = [tries[k : k + most] for k in range(0, tries.shape[0], most)]
        return np.concatenate([risk_of_changes(p, reach, held, one) for one in blocks])
    plan, node = np.nonzero(tries ^ held.gone)
    sign = np.where(tries[plan, node], -1.0, 1.0)
    first, count = reach.node_start[node], np.diff(reach.node_start)[node]
    back = np.repeat(np.arange(node.size), count)
    rows = reach.of_node[np.arange(back.size) - (np.cumsum(count) - count - first)[back]]
    at = reach.section[rows]
    down = tries[:, p.section_node]
    stands = ~down[plan[back], at]
    back, rows = back[stands], rows[stands]
    key = plan[back] * s + at[stands]
    touched = np.zeros(tries.shape[0] * s, dtype=np.bool_)
    touched[key] = True
    pairs = np.flatnonzero(touched)
    place = np.cumsum(touched) - 1
    size = (pairs.size, reach.section.size)
    change = csr_matrix((sign[back], (place[key], rows)), shape=size) @ reach.share.reshape(
        reach.section.size, -1
    )
    where = pairs % s
    parts = held.parts[where] + np.asarray(change).reshape(-1, *reach.share.shape[1:])
    values = np.tile(held.section_h, (tries.shape[0], 1))
    values.reshape(-1)[pairs] = section_prices(p, parts, where)
    values[down] = 0.0
    return np.asarray(grouped(p, values).sum(axis=1))

"""From one tree and its candidate cuts to the arrays the solver works on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limbwright.cuts.candidates import Candidate
from limbwright.cuts.crossing import Crossing
from limbwright.cuts.limits import Limits, thick_dead
from limbwright.cuts.motives import Motives
from limbwright.cuts.problem import Problem
from limbwright.cuts.weights import Settings
from limbwright.model.skeleton import Bools, Floats, Ints, Skeleton, State
from limbwright.statics.assess import Assessment, hazard_lines
from limbwright.statics.stress import stress, utilisation
from limbwright.trade.species import Species

__all__ = [
    "Built",
    "build_problem",
    "for_cases",
    "problem_for_cases",
    "telling_cases",
    "work_hours",
]

PIECES = 5  # judgement: lines a convex hazard curve is drawn with, 6 % off at most
MOST_SECTIONS = 80  # judgement: the sections that would cost most
NEGLIGIBLE_H = 1e-4  # judgement: a load case that can never cost more than this anywhere is dropped
TELLING_SHARE = 0.5  # judgement: cases this near the worst at some section are taken at first


@dataclass(frozen=True, slots=True)
class Built:
    """A problem and how to read it back.

    ``node_of`` ``(n,)`` the node each segment belongs to; ``base`` ``(N,)`` first segment of each
    node; ``candidates[k]`` is node k + 1; ``section_segment`` ``(S,)``; ``case_index`` the load
    cases kept, as indices into the assessment's.
    """

    problem: Problem
    node_of: Ints
    base: Ints
    candidates: tuple[Candidate, ...]
    section_segment: Ints
    case_index: Ints

    def gone_segments(self, gone: Bools) -> Bools:
        """Return ``(n,)`` True for the segments of nodes that are gone."""
        return np.asarray(gone[self.node_of])


def work_hours(
    diameter_mm: float, height_m: float, settings: Settings, *, piece_kg: float = 0.0
) -> float:
    """Return the hours one cut takes, brash of ``piece_kg`` included."""
    area_dm2 = np.pi * (diameter_mm / 200.0) ** 2
    above = max(0.0, height_m - settings["ground_reach"])
    hours = (settings["work_setup"] + settings["work_saw"] * area_dm2) * (
        1.0 + settings["work_height"] * above
    )
    if height_m > settings["ladder_reach"]:
        hours += settings["work_climb"]
    return float(hours + settings["work_brash"] * piece_kg)


def _wound_hours(cut: Candidate, kind: Species, weak: bool, settings: Settings) -> float:
    if cut.dead:
        return 0.0
    area_dm2 = np.pi * (cut.diameter_mm / 200.0) ** 2
    beyond = max(0.0, cut.diameter_mm / kind.largest_cut_mm.value - 1.0)
    factor = settings["wound_weak_factor"] if weak else 1.0
    return float(settings["wound"] * area_dm2 * (1.0 + 2.0 * beyond) * factor)


def _node_sum(values: Floats, node_of: Ints, count: int) -> Floats:
    """Sum ``(..., n, k)`` over the segments of each node to ``(..., N, k)``."""
    starts_sorted = np.argsort(node_of, kind="stable")
    ordered = np.take(values, starts_sorted, axis=-2)
    first = np.searchsorted(node_of[starts_sorted], np.arange(count))
    return np.asarray(np.add.reduceat(ordered, first, axis=-2))


def _sections(assessment: Assessment, offered: Sequence[Candidate], settings: Settings) -> Ints:
    """Segments whose base section is reckoned: union and worst place of each thick limb."""
    s = assessment.skeleton
    thick = s.start_diameter_mm >= settings["section_from"]
    wanted: dict[int, float] = {0: np.inf}
    peak = assessment.utilisation.max(axis=0)
    for one in assessment.limbs:
        first = s.limbs[one.limb].first_segment
        for segment in (first, one.section):
            if thick[segment]:
                wanted[segment] = float(peak[segment])
    if bool(s.surveyed.all()):
        for cut in offered:
            if thick[cut.segment]:
                wanted[cut.segment] = float(peak[cut.segment])
    most = sorted(wanted, key=lambda i: wanted[i], reverse=True)[:MOST_SECTIONS]
    return np.asarray(sorted(most), dtype=np.int64)


def build_problem(
    assessment: Assessment,
    offered: tuple[Candidate, ...],
    forbidden: Bools,
    crossing: tuple[Crossing, ...],
    speaks: Motives,
    bounds: Limits,
    kind: Species,
    settings: Settings,
    *,
    segments: Ints | None = None,
) -> Built:
    """Return the solver's problem for one tree and one season.

    Node 0 is the wood no candidate cuts; node k + 1 the wood whose nearest cut towards the ground
    is candidate k. Everything is a sum over the segments of a node, so nothing is lost by
    working on nodes. ``segments`` ``(S,)``: the sections to reckon, in place of those that would
    cost most.
    """
    s = assessment.skeleton
    base = np.asarray([0, *(c.segment for c in offered)], dtype=np.int64)
    count = base.size
    own = np.full(s.n, -1, dtype=np.int64)
    own[base] = np.arange(count)
    node_of = own.copy()
    for i in range(1, s.n):
        if node_of[i] < 0:
            node_of[i] = node_of[s.parent[i]]
    parent = np.asarray([-1, *(int(node_of[s.parent[c.segment]]) for c in offered)])
    end = np.searchsorted(base, s.subtree_end[base])
    wood = assessment.loads.wood_kg
    live_leaf = np.where(s.state == State.DEAD, 0.0, s.leaf_area_m2)
    middle = 0.5 * (s.start_m + s.end_m)[:, :2]
    net = speaks.total - settings["work_brash"] * wood
    each = np.column_stack(
        [live_leaf, net, np.where(thick_dead(s, settings), wood, 0.0), wood[:, None] * middle]
    )
    sums = _node_sum(each, node_of, count)
    weak = bounds.state.frail
    area, cost = np.zeros(count), np.zeros(count)
    heirs: list[tuple[int, ...]] = [()]
    for k, cut in enumerate(offered, start=1):
        area[k] = 0.0 if cut.dead else np.pi * (cut.diameter_mm / 20.0) ** 2
        height = float(s.start_m[cut.segment, 2])
        # what gains less than the least worth a cut must not make a plan longer
        cost[k] = work_hours(cut.diameter_mm, height, settings) + settings["least_gain"]
        cost[k] += _wound_hours(cut, kind, weak, settings)
        nodes = {int(node_of[i]) for i in cut.laterals}
        # a lateral on the wood that carries this cut stays whenever the cut is made
        heirs.append(() if int(parent[k]) in nodes else tuple(sorted(nodes)))
    pairs, pair_cost = _pairs(crossing, node_of, settings)
    if segments is None:
        segments = _sections(assessment, offered, settings)
    force, moment = assessment.loads.force_n, assessment.loads.moment_n_m
    own_force, own_moment = _own(s, segments, node_of, force, moment)
    slope, intercept = hazard_lines(assessment, segments, PIECES)
    share = s.subtree_sum(live_leaf)[segments] / max(float(live_leaf.sum()), 1e-9)
    torn = np.clip(settings["failure_tear"] * np.maximum(share, 0.01), 0.0, 1.0)
    at = assessment.sections
    problem = Problem(
        parent=parent,
        end=np.asarray(end, dtype=np.int64),
        leaf_m2=sums[:, 0],
        cut_area_cm2=area,
        cut_cost_h=cost,
        gone_gain_h=np.concatenate([[0.0], sums[1:, 1]]),
        pairs=pairs,
        pair_cost_h=pair_cost,
        forced=np.asarray([False, *(c.forced for c in offered)]),
        forbidden=np.asarray(forbidden[base]),
        heirs=tuple(heirs),
        dose_limit_m2=bounds.dose * bounds.live_leaf_m2,
        wound_limit_cm2=bounds.wound_cm2,
        max_cuts=bounds.max_cuts,
        balance_kg_m=sums[:, 3:5],
        balance_limit_kg_m=bounds.balance_kg_m * (1 + 1e-6),
        deadwood_kg=sums[:, 2],
        deadwood_min_kg=bounds.deadwood_kg * (1 - 1e-6),
        force_n=_node_sum(force, node_of, count),
        moment_n_m=_node_sum(moment, node_of, count),
        section_node=node_of[segments],
        section_lo=np.searchsorted(base, segments + 1),
        section_hi=np.searchsorted(base, s.subtree_end[segments]),
        own_force_n=own_force,
        own_moment_n_m=own_moment,
        point_m=at.point_m[segments],
        axis=at.axis[segments],
        area_m2=at.area_m2[segments],
        modulus_m3=at.modulus_m3[segments],
        torsion_modulus_m3=at.torsion_modulus_m3[segments],
        bending_strength_mpa=assessment.bending_strength_mpa[:, segments],
        shear_strength_mpa=assessment.shear_strength_mpa[:, segments],
        slope=slope,
        intercept=intercept,
        section_cost_h=settings["tree_value"] * settings["horizon"] * torn,
        split_per_n_m=assessment.split_per_n_m(segments),
        section_group=_one_failure_first(assessment, segments),
    )
    cases = np.arange(force.shape[0])
    built = Built(problem, node_of, base, offered, segments, cases)
    return for_cases(built, np.flatnonzero(_can_matter(problem)))


def _one_failure_first(assessment: Assessment, segments: Ints) -> Ints:
    """Return ``(S,)`` the group of each section: union and worst place of a limb are one risk.

    They bear the same load in the same wood, and the limb fails at one of them first.
    """
    s = assessment.skeleton
    at = {int(segment): k for k, segment in enumerate(segments)}
    group = np.arange(segments.size)
    for one in assessment.limbs:
        union, place = at.get(s.limbs[one.limb].first_segment), at.get(one.section)
        if union is not None and place is not None:
            group[place] = group[union]
    return group


def _pairs(
    crossing: tuple[Crossing, ...], node_of: Ints, settings: Settings
) -> tuple[Ints, Floats]:
    rows, cost = [], []
    for pair in crossing:
        a, b = int(node_of[pair.segment_a]), int(node_of[pair.segment_b])
        if a != b:
            rows.append((a, b))
            cost.append(settings["rub"] * pair.confidence)
    return np.asarray(rows, dtype=np.int64).reshape(-1, 2), np.asarray(cost, dtype=np.float64)


def _own(
    s: Skeleton, segments: Ints, node_of: Ints, force: Floats, moment: Floats
) -> tuple[Floats, Floats]:
    """Load beyond each section of the piece the section lies in itself, ``(C, S, 3)`` twice."""
    cases = force.shape[0]
    f, m = np.zeros((cases, segments.size, 3)), np.zeros((cases, segments.size, 3))
    for k, i in enumerate(segments.tolist()):
        inside = np.arange(i, int(s.subtree_end[i]))
        mine = inside[node_of[inside] == node_of[i]]
        f[:, k], m[:, k] = force[:, mine].sum(axis=1), moment[:, mine].sum(axis=1)
    return f, m


def _most(problem: Problem) -> Floats:
    """Upper bound ``(C, S)`` of the utilisation over all plans.

    The utilisation is convex and in proportion to the load, hence at most the sum of what each
    node's load would make alone.
    """
    p = problem

    def alone(force: Floats, moment: Floats, k: int) -> Floats:
        about = moment - np.cross(p.point_m[k], force)
        one = slice(k, k + 1)
        parts = stress(
            force[..., None, :],
            about[..., None, :],
            p.axis[one],
            p.area_m2[one],
            p.modulus_m3[one],
            p.torsion_modulus_m3[one],
        )
        strength = p.bending_strength_mpa[:, None, one], p.shear_strength_mpa[:, None, one]
        use = utilisation(parts, *strength)[..., 0]
        if p.split_per_n_m is not None:
            use = np.maximum(use, np.einsum("cmk,ck->cm", about, p.split_per_n_m[:, k]))
        return use

    bound = np.zeros((p.force_n.shape[0], p.section_node.size))
    for k in range(p.section_node.size):
        mine = alone(p.own_force_n[:, k : k + 1], p.own_moment_n_m[:, k : k + 1], k)
        reach = slice(int(p.section_lo[k]), int(p.section_hi[k]))
        others = alone(p.force_n[:, reach], p.moment_n_m[:, reach], k)
        bound[:, k] = mine.sum(axis=1) + others.sum(axis=1)
    return bound


def _hazard(problem: Problem, u: Floats) -> Floats:
    """Chance a year ``(C, S)`` by the lines, for utilisations ``(C, S)``."""
    lines = problem.slope * u.T[:, :, None] + problem.intercept
    return np.asarray(np.maximum(lines.max(axis=-1), 0.0).T)


def _can_matter(problem: Problem) -> Bools:
    """Load cases ``(C,)`` that could cost something at some section under some plan."""
    worst = _hazard(problem, _most(problem)) * problem.section_cost_h
    keep = worst.max(axis=1) > NEGLIGIBLE_H
    if not bool(keep.any()):
        keep[int(np.argmax(worst.max(axis=1)))] = True
    return np.asarray(keep)


def telling_cases(built: Built, utilisation_now: Floats) -> Ints:
    """Return indices (into the built problem) of the cases worst, or nearly so, somewhere.

    ``utilisation_now`` ``(C, S)`` of the problem's cases and sections.
    """
    cost = _hazard(built.problem, utilisation_now) * built.problem.section_cost_h
    worst = cost.max(axis=0)
    near = (cost >= TELLING_SHARE * worst) & (worst > NEGLIGIBLE_H)
    chosen = np.flatnonzero(near.any(axis=1))
    return chosen if chosen.size else np.asarray([int(np.argmax(cost.max(axis=1)))])


def for_cases(built: Built, index: Ints) -> Built:
    """Return the same problem with only the load cases ``index`` (into the built problem)."""
    problem = problem_for_cases(built.problem, index)
    return replace(built, case_index=built.case_index[index], problem=problem)


def problem_for_cases(p: Problem, index: Ints) -> Problem:
    """Return a problem with only the load cases ``index``."""
    return replace(
        p,
        force_n=p.force_n[index],
        moment_n_m=p.moment_n_m[index],
        own_force_n=p.own_force_n[index],
        own_moment_n_m=p.own_moment_n_m[index],
        bending_strength_mpa=p.bending_strength_mpa[index],
        shear_strength_mpa=p.shear_strength_mpa[index],
        slope=p.slope[:, index],
        intercept=p.intercept[:, index],
        split_per_n_m=None if p.split_per_n_m is None else p.split_per_n_m[index],
    )

"""Random choices of cuts with every rule on, of the size of real ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbwright.cuts.problem import Problem

__all__ = ["every_plan", "linear_problem", "random_problem", "renumbered", "two_modes"]


def random_problem(seed: int, nodes: int = 12, cases: int = 6, *, rules: bool = True) -> Problem:
    """Return an invented problem of ``nodes`` candidates; the same for the same seed."""
    rng = np.random.default_rng(seed)
    n = nodes + 1
    parent = np.full(n, -1, dtype=np.int64)
    stack = [0]
    for i in range(1, n):  # preorder: each node hangs on one of the open chain
        keep = int(rng.integers(max(1, len(stack) - 3), len(stack) + 1))
        stack = stack[:keep]
        parent[i] = stack[-1]
        stack.append(i)
    end = np.arange(1, n + 1)
    for i in range(n - 1, 0, -1):
        end[parent[i]] = max(end[parent[i]], end[i])
    mass = rng.uniform(5.0, 60.0, n)
    spot = rng.normal(0.0, 2.0, (n, 3)) + np.array([0.0, 0.0, 4.0])
    weight = np.zeros((cases, n, 3))
    weight[:, :, 2] = -9.81 * mass * rng.uniform(1.0, 2.5, (cases, 1))
    for c in range(1, cases):
        angle = 2 * np.pi * c / cases
        push = rng.uniform(20.0, 120.0, n)
        weight[c, :, 0] += push * np.cos(angle)
        weight[c, :, 1] += push * np.sin(angle)
    moment = np.cross(spot, weight)
    node = np.arange(n)
    share = rng.uniform(0.2, 1.0, n)
    point = spot - np.array([0.0, 0.0, 0.8])
    axis = rng.normal(0.0, 1.0, (n, 3)) + np.array([0.0, 0.0, 1.5])
    axis /= np.linalg.norm(axis, axis=1)[:, None]
    radius = rng.uniform(0.03, 0.06, n) * np.sqrt(end - node)
    slope = np.tile(np.array([0.05, 0.4, 1.2]), (n, cases, 1))
    intercept = np.tile(np.array([0.0, -0.15, -0.6]), (n, cases, 1))
    some = rng.random(n)
    heirs: list[tuple[int, ...]] = [()] * n
    for i in range(1, n):
        kin = [int(j) for j in range(1, n) if parent[j] == parent[i] and j != i]
        if rules and kin and rng.random() < 0.5:
            heirs[i] = tuple(kin[:2])
    pairs = rng.integers(1, n, (3, 2))
    pairs = pairs[pairs[:, 0] != pairs[:, 1]]
    forbidden = (some < 0.06) & (node > 0) & rules
    forced = np.zeros(n, dtype=np.bool_)
    if rules and seed % 4 == 0:
        last = n - 1
        forced[last] = not forbidden[last]
    leaf = rng.uniform(0.2, 6.0, n)
    area = np.concatenate([[0.0], rng.uniform(5.0, 80.0, n - 1)])
    dead = np.where(rng.random(n) < 0.2, mass, 0.0)
    balance = mass[:, None] * spot[:, :2]
    return Problem(
        parent=parent,
        end=end,
        leaf_m2=leaf,
        cut_area_cm2=area,
        cut_cost_h=np.concatenate([[0.0], rng.uniform(0.1, 1.2, n - 1)]),
        gone_gain_h=np.concatenate([[0.0], rng.normal(0.0, 0.5, n - 1)]),
        pairs=pairs,
        pair_cost_h=rng.uniform(0.2, 2.0, pairs.shape[0]),
        forced=forced,
        forbidden=forbidden,
        heirs=tuple(heirs),
        dose_limit_m2=0.35 * float(leaf.sum()),
        wound_limit_cm2=0.5 * float(area.sum()),
        max_cuts=4 if rules else None,
        balance_kg_m=balance,
        balance_limit_kg_m=1.15 * float(np.linalg.norm(balance.sum(axis=0))) if rules else 1e9,
        deadwood_kg=dead,
        deadwood_min_kg=0.3 * float(dead.sum()) if rules else 0.0,
        force_n=weight,
        moment_n_m=moment,
        section_node=node,
        section_lo=node + 1,
        section_hi=end,
        own_force_n=weight * share[None, :, None],
        own_moment_n_m=moment * share[None, :, None],
        point_m=point,
        axis=axis,
        area_m2=np.pi * radius**2,
        modulus_m3=np.pi * radius**3 / 4,
        torsion_modulus_m3=np.pi * radius**3 / 2,
        bending_strength_mpa=np.full((cases, n), 30.0),
        shear_strength_mpa=np.full((cases, n), 8.0),
        slope=slope,
        intercept=intercept,
        section_cost_h=rng.uniform(2.0, 15.0, n),
    )


def linear_problem(seed: int, nodes: int) -> Problem:
    """Return a problem with one limit, the dose, and gains alone: a knapsack on a tree."""
    p = random_problem(seed, nodes, 1, rules=False)
    rng = np.random.default_rng(seed + 1)
    return replace(
        p,
        leaf_m2=np.concatenate([[0.0], rng.integers(1, 9, nodes).astype(float)]),
        dose_limit_m2=float(3 * nodes // 2),
        wound_limit_cm2=1e9,
        gone_gain_h=np.concatenate([[0.0], rng.normal(0.3, 1.0, nodes)]),
        section_cost_h=np.zeros(nodes + 1),
        pair_cost_h=np.zeros(p.pairs.shape[0]),
    )


def two_modes(problem: Problem, seed: int) -> Problem:
    """Return the problem with sections that count once together, and some that may split."""
    rng = np.random.default_rng(seed + 2)
    cases = problem.force_n.shape[0]
    group = rng.integers(0, max(1, problem.sections // 2), problem.sections)
    split = rng.normal(0.0, 1.0, (problem.sections, 3)) / (30.0e6 * problem.modulus_m3)[:, None]
    split[rng.random(problem.sections) < 0.5] = 0.0
    return replace(problem, section_group=group, split_per_n_m=np.tile(split, (cases, 1, 1)) * 1.5)


def renumbered(problem: Problem, seed: int) -> tuple[Problem, np.ndarray]:
    """Return the same tree with its siblings in another order, and the old number of each node."""
    p, rng = problem, np.random.default_rng(seed)
    order: list[int] = []
    stack = [0]
    while stack:
        node = stack.pop()
        order.append(node)
        stack.extend(rng.permutation(np.flatnonzero(p.parent == node)).tolist())
    old = np.asarray(order)
    new = np.argsort(old)
    end = new + (p.end - np.arange(p.nodes))  # a subtree keeps its size
    section = p.section_node

    def moved(values: np.ndarray) -> np.ndarray:
        return values[:, old] if values.ndim == 3 else values[old]

    return (
        replace(
            p,
            parent=np.concatenate([[-1], new[p.parent[old[1:]]]]),
            end=end[old],
            **{
                name: moved(getattr(p, name))
                for name in (
                    "leaf_m2",
                    "cut_area_cm2",
                    "cut_cost_h",
                    "gone_gain_h",
                    "forced",
                    "forbidden",
                    "balance_kg_m",
                    "deadwood_kg",
                    "force_n",
                    "moment_n_m",
                )
            },
            pairs=new[p.pairs],
            heirs=tuple(tuple(int(new[h]) for h in p.heirs[i]) for i in old),
            section_node=new[section],
            section_lo=new[section] + 1,
            section_hi=end[section],
        ),
        old,
    )


def every_plan(problem: Problem) -> np.ndarray:
    """Return every set of nodes closed towards the tips, ``(B, N)``."""
    n = problem.nodes
    plans = [np.zeros(n, dtype=np.bool_)]

    def grow(i: int, gone: np.ndarray) -> None:
        for j in range(i, n):
            if not gone[j]:
                one = gone.copy()
                one[j : problem.end[j]] = True
                plans.append(one)
                grow(int(problem.end[j]), one)

    grow(1, plans[0])
    return np.asarray(plans)

"""A limb fails at one place first: how the risks of its two places make up one.

Union and worst place of a limb bear the same load in the same wood. Its risk is the greater of
the two, not their sum. The greater of two is no sum, though, and the solver wants one; so each
gets a share, fitted such that the shared sum comes nearest to the greater for the tree as it
stands and after every single cut. Where one place governs throughout, it keeps all.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.optimize import lsq_linear

from limbwright.cuts.evaluate import section_risk, section_use
from limbwright.cuts.problem import Problem
from limbwright.model.skeleton import Floats, Ints

__all__ = ["one_place"]

BATCH = 40  # plans priced at once, to bound the memory of trees with many pieces
MOST_PLANS = 60  # single cuts tried at most, those with most leaf first
WEIGHT_NOW = 3.0  # judgement: the tree as it stands counts as much as three cuts
EMPTY_SHARE = 0.02  # a place with less of its risk than this says nothing


def one_place(problem: Problem, pairs: Sequence[tuple[int, int]]) -> Floats:
    """Return ``(S,)`` the share of each section's risk that counts.

    Parameters
    ----------
    problem
        The tree's pieces, with both sections of each pair.
    pairs
        Union and worst place of a limb, as indices of sections; a section is in one pair at most.

    Returns
    -------
    share
        Between 0 and 1; 1 for sections in no pair.
    """
    share = np.ones(problem.sections)
    if not pairs:
        return share
    risk = _risks(problem)
    weight = np.ones(risk.shape[0])
    weight[0] = WEIGHT_NOW
    for pair in pairs:
        both = risk[:, pair]
        worse = both.max(axis=1)
        if float(worse.max()) <= 0.0:
            continue
        fit = lsq_linear(both * weight[:, None], worse * weight, bounds=(0.0, 1.0), method="bvls")
        share[list(pair)] = np.where(fit.x < EMPTY_SHARE, 0.0, fit.x)
    return share


def _risks(problem: Problem) -> Floats:
    """Return ``(B, S)`` risks [h] of the tree as it stands and after single cuts."""
    nodes = np.arange(1, problem.nodes)
    carried = np.array([problem.leaf_m2[i : problem.end[i]].sum() for i in nodes])
    tried: Ints = nodes[np.argsort(-carried, kind="stable")][:MOST_PLANS]
    kept = np.ones((tried.size + 1, problem.nodes))
    for row, i in enumerate(tried, start=1):
        kept[row, i : problem.end[i]] = 0.0
    parts = [
        section_risk(problem, section_use(problem, kept[k : k + BATCH]))
        for k in range(0, kept.shape[0], BATCH)
    ]
    return np.concatenate(parts)

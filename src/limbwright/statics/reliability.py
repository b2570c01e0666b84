"""From utilisation to a chance of failure in a year.

Two kinds of not knowing are kept apart. What differs from year to year (wind, crop, snow) is a
lognormal annual load effect, fitted for each load case through two quantiles: its median and the
level of the case. What is fixed but unknown (the wood, the union, the drag) is one number e a
section, the logarithm of true over computed reserve, normal with mean ``mu`` and deviation
``zeta``. In a year the section stands hazard h with Phi((e - ln u_med_h) / zeta_h), hazards
being independent from each other, and the chance of failure is 1 - E[prod_h Phi(...)] over e.

Within a hazard the worst case (direction, level) counts. Gusts in leaf and gusts bare share the
one greatest wind of the year, so they are one hazard here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from limbwright.model.skeleton import Floats, Ints
from limbwright.trade.parameters import parameters

__all__ = [
    "NODES",
    "PRIOR",
    "YearlyLoad",
    "annual_chance",
    "hazard_groups",
    "load_cov",
    "lognormal_chance",
    "normal_chance",
    "stand_a_year",
    "weaker",
    "worst_of_hazards",
    "yearly_load",
]

NODES: Floats = np.linspace(-5.0, 7.0, 48)
"""Grid for e in deviations. Reaches further up, where survival moves it. Equal steps: the sum is
then exact to better than 1e-3 for every integrand at least 0.6 of a step wide."""

PRIOR: Floats = np.exp(-0.5 * NODES**2) / np.exp(-0.5 * NODES**2).sum()
"""Weight of each node before anything is learnt."""

NEVER = -50.0
"""ln of a median utilisation too small to matter (no load, or a cut segment)."""


def lognormal_chance(
    mean_strength: Floats | float,
    cov_strength: Floats | float,
    mean_load: Floats | float,
    cov_load: Floats | float,
) -> Floats:
    """Return P(load > strength) of two independent lognormals, in closed form.

    Any broadcasting shapes; means in the same unit. Source: standard result, e.g. Melchers & Beck,
    Structural Reliability Analysis and Prediction (from memory).
    """
    vr, vs = np.square(cov_strength) + 1.0, np.square(cov_load) + 1.0
    margin = np.log(np.divide(mean_strength, mean_load) * np.sqrt(vs / vr))
    return np.asarray(ndtr(-margin / np.sqrt(np.log(vr * vs))))


def normal_chance(
    mean_strength: Floats | float,
    sd_strength: Floats | float,
    mean_load: Floats | float,
    sd_load: Floats | float,
) -> Floats:
    """Return P(load > strength) of two independent normals, in closed form."""
    beta = np.subtract(mean_strength, mean_load) / np.hypot(sd_strength, sd_load)
    return np.asarray(ndtr(-beta))


@dataclass(frozen=True, slots=True)
class YearlyLoad:
    """Annual load effect over strength as a lognormal: ``ln_median`` and ``zeta``, like u."""

    ln_median: Floats
    zeta: Floats


def yearly_load(median: Floats, level: Floats, quantile: Floats) -> YearlyLoad:
    """Fit the annual load effect of each case through its median and its level.

    Parameters
    ----------
    median
        ``(C, n)`` utilisation in the median year.
    level
        ``(C, n)`` utilisation at the level of the case.
    quantile
        ``(C,)`` chance that a year stays below the level; 1 for a load that is always there,
        0.5 for one that is the median itself (both then get the least yearly scatter).
    """
    least = parameters("reliability")["least_yearly_scatter"].value
    q = np.asarray(quantile, dtype=np.float64)
    varies = (q > 0.5) & (q < 1.0)
    score = np.where(varies, ndtri(np.where(varies, q, 0.9)), 1.0)[:, None]
    typical = np.where(varies[:, None], median, level)
    loaded = typical > 1e-20
    ln_median = np.where(loaded, np.log(np.where(loaded, typical, 1.0)), NEVER)
    grown = np.log(np.maximum(level, 1e-20) / np.where(loaded, typical, 1e-20))
    # no load in the median year (no snow): fit it to the level with a generous spread
    bare = ~loaded & (level > 1e-20)
    ln_median = np.where(bare, np.log(np.maximum(level, 1e-20)) - score, ln_median)
    zeta = np.where(bare, 1.0, np.where(varies[:, None] & loaded, grown / score, 0.0))
    return YearlyLoad(ln_median, np.maximum(zeta, least))


def hazard_groups(hazards: Sequence[str]) -> tuple[tuple[str, ...], Ints]:
    """Return the independent hazards and ``(C,)`` the index of each case among them."""
    plain = ["gust" if h.startswith("gust") else h for h in hazards]
    names = tuple(dict.fromkeys(plain))
    return names, np.array([names.index(h) for h in plain], dtype=np.int64)


def load_cov(hazards: Sequence[str]) -> Floats:
    """Return ``(C,)`` what is unknown about the load of each case, as coefficient of variation."""
    table = parameters("reliability")
    return np.array([(table.get(h) or table["other"]).value for h in hazards])


def worst_of_hazards(
    load: YearlyLoad, groups: Ints, number: int, zeta: Floats
) -> tuple[YearlyLoad, Ints]:
    """Return the load of the worst case of each hazard, ``(G, n)``, and that case's index.

    ``zeta`` is what is unknown of each section, ``(n,)`` or ``(C, n)``. The worst case is that
    with the least reserve ln u / sqrt(zeta_load^2 + zeta^2), the closed form for one case alone.
    After learning a neighbouring direction may be the worse by a few per cent (6 % on the trees
    tested); the chance stays that of the case chosen here.
    """
    reserve = -load.ln_median / np.sqrt(load.zeta**2 + zeta**2)
    n = reserve.shape[1]
    ln_median, spread = np.empty((number, n)), np.empty((number, n))
    case = np.empty((number, n), dtype=np.int64)
    every = np.arange(n)
    for g in range(number):
        members = np.flatnonzero(groups == g)
        worst = members[np.argmin(reserve[members], axis=0)]
        case[g] = worst
        ln_median[g], spread[g] = load.ln_median[worst, every], load.zeta[worst, every]
    return YearlyLoad(ln_median, spread), case


def weaker(load: YearlyLoad, share: Floats) -> YearlyLoad:
    """Return the load of sections ``(n,)`` whose strength is only a share of what was told."""
    return YearlyLoad(load.ln_median - np.log(share), load.zeta)


def stand_a_year(load: YearlyLoad, mu: Floats, zeta: Floats) -> Floats:
    """Return ``(n, K)`` the chance to stand a year of all hazards ``(G, n)`` at each node of e."""
    e = mu[:, None] + zeta[:, None] * NODES
    stands = np.ones_like(e)
    for ln_median, spread in zip(load.ln_median, load.zeta, strict=True):
        real = ln_median > NEVER + 1.0
        if real.all():
            stands *= ndtr((e - ln_median[:, None]) / spread[:, None])
        elif real.any():
            stands[real] *= ndtr((e[real] - ln_median[real, None]) / spread[real, None])
    return stands


def annual_chance(stands: Floats, weights: Floats) -> Floats:
    """Return ``(n,)`` chance of failure in a year.

    ``stands`` is ``(n, K)`` from `stand_a_year`, ``weights`` ``(n, K)`` or ``(K,)``.
    """
    fails = 1.0 - stands
    if weights.ndim == 1:
        return np.asarray(np.clip(fails @ weights, 0.0, 1.0))
    return np.asarray(np.clip(np.einsum("nk,nk->n", fails, weights), 0.0, 1.0))

"""What is to be expected of a tree before its limbs are taped: chance of failure, risk, gains.

Straight lines through many invented trees whose limbs are known, walked past, worked by eye,
taped and planned (``benchmarks/tape_prior.py``). Logarithms of chance and risk, and signed square
roots of gains, are linear in what the walk saw; gains also in the root of the risk foretold, since
what a plan gains is first of all risk spared. The scatter round the line is how little the walk
tells. A measure not taken is filled in from the others, and its own scatter is added.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from limbwright.cuts.weights import Settings
from limbwright.model.site import Site
from limbwright.model.skeleton import Bools, Floats
from limbwright.needs.evsi import signed_square
from limbwright.needs.features import FEATURES, MEASURED, features
from limbwright.needs.walk import Walk
from limbwright.trade.parameters import parameters

__all__ = [
    "EIGHT_OF_TEN",
    "TARGETS",
    "WAYS",
    "Prior",
    "Spread",
    "completed",
    "prior",
    "root_risk",
    "stake_of",
]

WAYS = ("eye", "heavy", "tape")
"""Ways of working: by eye within the state's dose, heavily by eye, by a plan on taped limbs."""
SHIFTED = ("chance", "risk")
TARGETS = (*SHIFTED, *WAYS)
EIGHT_OF_TEN = 1.2816
"""Standard deviations that hold eight of ten of a normal to both sides."""
MOST_CHANCE = 0.95


@dataclass(frozen=True, slots=True)
class Spread:
    """A forecast for each tree, ``(n,)`` each: its mean, and the bounds eight of ten keep to."""

    mean: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class Prior:
    """Forecasts for n trees.

    ``chance`` that any limb fails within a year, ``log_chance`` and ``log_chance_sd`` ``(n,)`` the
    normal of its logarithm. ``gain_h`` and ``gain_sd_h`` ``(3, n)``: what
    each of `WAYS` is expected to gain over leaving the tree, and its scatter. ``rho`` ties the
    scatter by eye to that of heavy work.
    ``pull_h`` ``(3, n, F)`` is about how much of that each feature brings, beside a usual tree;
    ``beside`` ``(n, F)`` how far it lies from that of a usual tree. ``outside`` ``(n,)`` marks
    trees with a measure beyond those the forecast was made from: it is held at their edge.
    """

    log_chance: Floats
    log_chance_sd: Floats
    chance: Spread
    gain_h: Floats
    gain_sd_h: Floats
    rho: float
    pull_h: Floats
    beside: Floats
    outside: Bools


@dataclass(frozen=True)
class _Fit:
    """The table as arrays: ``line`` ``(T, F + 1)``, ``sd`` ``(T,)``, and the measures' scatter.

    ``root`` ``(3,)`` is what each way of working gains with the root of the risk foretold.
    """

    line: Floats
    root: Floats
    sd: Floats
    mean: Floats
    low: Floats
    high: Floats
    cov: Floats
    rho: float


@cache
def _fit() -> _Fit:
    table = parameters("tape")
    plain = [name.replace(" ", "_") for name in ("one", *FEATURES)]
    line = [[table[f"{target}.{name}"].value for name in plain] for target in TARGETS]
    cov = [[table[f"cov.{min(a, b)}.{max(a, b)}"].value for b in MEASURED] for a in MEASURED]
    return _Fit(
        np.asarray(line),
        np.asarray([table[f"{way}.root_risk"].value for way in WAYS]),
        np.asarray([table[f"{target}.sd"].value for target in TARGETS]),
        np.asarray([table[f"mean.{name}"].value for name in MEASURED]),
        np.asarray([table[f"mean.{name}"].low for name in MEASURED]),
        np.asarray([table[f"mean.{name}"].high for name in MEASURED]),
        np.asarray(cov),
        table["rho.eye.heavy"].value,
    )


def completed(x: Floats, mean: Floats, cov: Floats) -> tuple[Floats, Floats]:
    """Return measures filled in from those taken, and the scatter left of those that were not.

    Parameters
    ----------
    x
        ``(n, M)`` measures, NaN where not taken.
    mean, cov
        ``(M,)`` and ``(M, M)`` of all trees.

    Returns
    -------
    tuple
        ``(n, M)`` without NaN, by the conditional mean of a joint normal; ``(n, M, M)`` the
        conditional covariance, 0 where taken.
    """
    filled = x.copy()
    left = np.zeros((len(x), mean.size, mean.size))
    gaps = np.isnan(x)
    for pattern in np.unique(gaps, axis=0):
        if not pattern.any():
            continue
        rows = np.flatnonzero((gaps == pattern).all(axis=1))
        known = np.flatnonzero(~pattern)
        lost = np.flatnonzero(pattern)
        share = cov[np.ix_(lost, known)] @ np.linalg.pinv(cov[np.ix_(known, known)])
        filled[np.ix_(rows, lost)] = mean[lost] + (x[np.ix_(rows, known)] - mean[known]) @ share.T
        rest = cov[np.ix_(lost, lost)] - share @ cov[np.ix_(known, lost)]
        block = np.zeros((mean.size, mean.size))
        block[np.ix_(lost, lost)] = rest
        left[rows] = block
    return filled, left


def stake_of(settings: Settings) -> float:
    """Return what a tree is worth over the horizon, in units of the table of weights."""
    usual = settings.parameter("tree_value").value * settings.parameter("horizon").value
    return settings["tree_value"] * settings["horizon"] / usual


def prior(walks: Sequence[Walk], site: Site, settings: Settings, *, shift: float = 0.0) -> Prior:
    """Return what is to be expected of live trees before their limbs are taped.

    ``shift`` is added to the logarithms of chance and risk: what the taped trees of the same
    holding have shown, see `limbwright.needs.taped`.
    """
    fit = _fit()
    x = features(walks, site, stake=stake_of(settings))
    count = len(MEASURED)
    taken = x[:, :count]
    outside = np.any((taken < fit.low) | (taken > fit.high), axis=1)
    filled, left = completed(np.clip(taken, fit.low, fit.high), fit.mean, fit.cov)
    x = np.concatenate([np.ones((len(x), 1)), filled, x[:, count:]], axis=1)
    centre = fit.line @ x.T
    centre[: len(SHIFTED)] += shift
    at = TARGETS.index(WAYS[0])
    root = root_risk(centre[1])
    centre[at:] += fit.root[:, None] * root
    # how each target rises with each feature, tree by tree
    slope = np.repeat(fit.line[:, None, 1:], len(x), axis=1)
    slope[at:] += (0.5 * fit.root[:, None] * root)[:, :, None] * fit.line[1, None, None, 1:]
    some = slope[:, :, :count]
    unknown = np.einsum("tnm,nmk,tnk->tn", some, left, some)
    sd = np.sqrt(fit.sd[:, None] ** 2 + np.maximum(unknown, 0.0))
    gain, scatter = signed_square(centre[at:], sd[at:])
    beside = x[:, 1:].copy()
    beside[:, :count] -= fit.mean
    pull = 2.0 * np.abs(centre[at:])[:, :, None] * slope[at:] * beside[None]
    return Prior(
        centre[0],
        sd[0],
        _capped(_lognormal(centre[0], sd[0])),
        gain,
        scatter,
        fit.rho,
        pull,
        beside,
        outside,
    )


def root_risk(log_risk: Floats) -> Floats:
    """Return the root of the risk foretold [h^0.5] from its logarithm."""
    return np.asarray(np.exp(0.5 * log_risk))


def _lognormal(centre: Floats, sd: Floats) -> Spread:
    return Spread(
        np.exp(centre + 0.5 * sd * sd),
        np.exp(centre - EIGHT_OF_TEN * sd),
        np.exp(centre + EIGHT_OF_TEN * sd),
    )


def _capped(one: Spread) -> Spread:
    return Spread(*(np.minimum(v, MOST_CHANCE) for v in (one.mean, one.low, one.high)))

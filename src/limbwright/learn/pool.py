"""Partial pooling in closed form: a factor of the holding, of each species, of each crew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, sqrt

import numpy as np
from scipy.special import chdtrc

from limbwright.growth.ranges import Range
from limbwright.learn.quantities import TAIL, Prior
from limbwright.model.skeleton import Bools, Floats
from limbwright.trade.parameters import parameters

__all__ = ["Pooled", "Sifted", "factor_range", "pool", "sift"]


def factor_range(mean: float, sd: float) -> Range:
    """Return a factor whose logarithm is normal: its median and the range of nine in ten."""
    return Range(exp(mean), exp(mean - TAIL * sd), exp(mean + TAIL * sd))


@dataclass(frozen=True, slots=True)
class Pooled:
    """What records say of the logarithm of a factor: mean and deviation, level by level.

    ``species`` and ``crew`` are of the whole factor there, the holding's part in it. ``deviation``
    ``(n,)`` of each record from what all the others foretell, in its own deviations.
    """

    holding: tuple[float, float]
    species: Mapping[str, tuple[float, float]]
    crew: Mapping[str, tuple[float, float]]
    deviation: Floats
    residual: float
    freedom: float


def pool(
    log_ratio: Sequence[float],
    sd: Sequence[float],
    species: Sequence[str],
    crew: Sequence[str],
    prior: Prior,
) -> Pooled:
    """Return the exact posterior of the hierarchical normal model.

    Record i is ``y_i = mu + s[species_i] + c[crew_i] + e_i`` with independent normal mu, s, c of
    the prior's deviations and ``e_i`` of deviation ``sd_i``. With A the ``(n, k)`` table of which
    terms a record has, the posterior precision is ``diag(1 / tau^2) + A^T W A`` and the mean is its
    inverse times ``A^T W y`` (normal linear model; e.g. Gelman et al., Bayesian Data Analysis,
    from memory). A blank species or crew has no term of its own, nor has a level of deviation 0.

    Parameters
    ----------
    log_ratio, sd
        Logarithm of found over foretold, and its deviation, ``n`` of each.
    species, crew
        The groups of each record.
    prior
        Deviations beforehand.

    Notes
    -----
    The deviation of a record from what the others foretell needs no second solution: with
    ``h_i = a_i V a_i^T / sd_i^2`` it is ``(y_i - a_i m) / (sd_i sqrt(1 - h_i))``.
    """
    y, scatter = np.asarray(log_ratio, dtype=np.float64), np.asarray(sd, dtype=np.float64)
    kinds = sorted({s for s in species if s}) if prior.species > 0.0 else []
    crews = sorted({c for c in crew if c}) if prior.crew > 0.0 else []
    tau = np.array(
        [prior.holding, *[prior.species] * len(kinds), *[prior.crew] * len(crews)],
        dtype=np.float64,
    )
    terms = np.zeros((y.size, tau.size))
    terms[:, 0] = 1.0
    for column, name in enumerate(kinds, 1):
        terms[:, column] = [s == name for s in species]
    for column, name in enumerate(crews, 1 + len(kinds)):
        terms[:, column] = [c == name for c in crew]
    weighed = terms / scatter[:, None] ** 2
    covariance: Floats = np.asarray(
        np.linalg.inv(np.diag(tau**-2) + terms.T @ weighed), dtype=np.float64
    )
    mean: Floats = covariance @ (weighed.T @ y)
    leverage = np.einsum("ik,kl,il->i", terms, covariance, weighed)
    off = (y - terms @ mean) / scatter
    freedom = float(y.size - leverage.sum())
    return Pooled(
        holding=_at(mean, covariance, [0]),
        species={n: _at(mean, covariance, [0, k]) for k, n in enumerate(kinds, 1)},
        crew={n: _at(mean, covariance, [0, k]) for k, n in enumerate(crews, 1 + len(kinds))},
        deviation=np.asarray(off / np.sqrt(1.0 - leverage)),
        residual=float(off @ off),
        freedom=freedom,
    )


def _at(mean: Floats, covariance: Floats, terms: list[int]) -> tuple[float, float]:
    """Return mean and deviation of the sum of some terms."""
    return float(mean[terms].sum()), sqrt(float(covariance[np.ix_(terms, terms)].sum()))


@dataclass(frozen=True, slots=True)
class Sifted:
    """The posterior of the records that stay: ``kept`` ``(n,)``.

    ``widened`` is by how much their scatter had to be taken wider, 1 where the records agree as
    well as foretold.
    """

    pooled: Pooled
    kept: Bools
    widened: float


def sift(
    log_ratio: Sequence[float],
    sd: Sequence[float],
    species: Sequence[str],
    crew: Sequence[str],
    prior: Prior,
) -> Sifted:
    """Return the posterior without wild records, with the scatter the rest really has.

    The record furthest from what all the others foretell is left out where that is more than
    ``wild_deviations``, then the next, but never more than ``wild_share`` of them (one at least).
    Where those that stay scatter more than chance allows, their deviations are multiplied by
    ``sqrt(residual / freedom)`` (Birge 1932, from memory). Parameters are those of `pool`. The
    outcome does not depend on the order of the records.
    """
    table = parameters("learn")
    limit, most = table["wild_deviations"].value, table["wild_share"].value
    order = sorted(range(len(log_ratio)), key=lambda i: (log_ratio[i], sd[i], species[i], crew[i]))
    y, scatter = [log_ratio[i] for i in order], [sd[i] for i in order]
    kinds, crews = [species[i] for i in order], [crew[i] for i in order]
    stays = list(range(len(order)))

    def of(rows: list[int], times: float = 1.0) -> Pooled:
        return pool(
            [y[i] for i in rows],
            [times * scatter[i] for i in rows],
            [kinds[i] for i in rows],
            [crews[i] for i in rows],
            prior,
        )

    found = of(stays)
    for _ in range(max(1, int(most * len(order)))):
        if not stays:
            break
        worst = int(np.argmax(np.abs(found.deviation)))
        if abs(float(found.deviation[worst])) <= limit:
            break
        del stays[worst]
        found = of(stays)
    widened = 1.0
    if stays and chdtrc(found.freedom, found.residual) < table["wide_chance"].value:
        widened = sqrt(found.residual / found.freedom)
        found = of(stays, widened)
    kept = np.zeros(len(order), dtype=np.bool_)
    kept[[order[i] for i in stays]] = True
    return Sifted(found, kept, widened)

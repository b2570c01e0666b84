"""What seeing before deciding is worth, where what may be gained is normal.

A decision is taken on means. Seeing first, the better decision is taken each time; the mean of
the best is more than the best of the means, and the difference is what the look is worth
(preposterior analysis: Raiffa & Schlaifer 1961, *Applied Statistical Decision Theory*, ch. 5).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, owens_t

from limbwright.model.skeleton import Floats

__all__ = ["best_of_three", "best_of_two", "bivariate_normal", "signed_square"]

TINY = 1e-12
ROOT_2PI = float(np.sqrt(2.0 * np.pi))


def _density(x: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * x * x) / ROOT_2PI)


def best_of_two(mean: ArrayLike, sd: ArrayLike) -> Floats:
    """Return ``E max(0, X)`` of normal X, of any shape.

    The unit normal loss integral of Raiffa & Schlaifer 1961 (ch. 5.4): ``s (phi(t) + t Phi(t))``
    with ``t = m / s``.
    """
    m, s = np.broadcast_arrays(np.asarray(mean, np.float64), np.asarray(sd, np.float64))
    safe = np.maximum(s, TINY)
    t = m / safe
    return np.asarray(np.where(s > TINY, safe * _density(t) + m * ndtr(t), np.maximum(m, 0.0)))


def bivariate_normal(h: ArrayLike, k: ArrayLike, rho: ArrayLike) -> Floats:
    """Return ``P(X < h, Y < k)`` of standard normals of correlation ``rho``, of any shape.

    By Owen's T (Owen 1956, Ann. Math. Stat. 27:1075, eq. 2.1).
    """
    h, k, rho = np.broadcast_arrays(
        np.asarray(h, np.float64), np.asarray(k, np.float64), np.asarray(rho, np.float64)
    )
    h = np.where(np.abs(h) < TINY, TINY, h)
    k = np.where(np.abs(k) < TINY, TINY, k)
    root = np.sqrt(np.maximum(1.0 - rho * rho, TINY))
    apart = np.where(h * k > 0.0, 0.0, 0.5)
    found = (
        0.5 * (ndtr(h) + ndtr(k))
        - owens_t(h, (k - rho * h) / (h * root))
        - owens_t(k, (h - rho * k) / (k * root))
        - apart
    )
    return np.asarray(np.clip(found, 0.0, 1.0))


def best_of_three(
    mean_x: ArrayLike, sd_x: ArrayLike, mean_y: ArrayLike, sd_y: ArrayLike, rho: ArrayLike
) -> Floats:
    """Return ``E max(0, X, Y)`` of jointly normal X and Y, of any shape.

    Afonja 1972 (J. R. Stat. Soc. B 34:251) for three variables of which one is 0: each mean times
    the chance to be the greatest, and for each pair the scatter of its difference times the
    density of a tie that beats the third.
    """
    mx, sx, my, sy, r = np.broadcast_arrays(
        *(np.asarray(v, np.float64) for v in (mean_x, sd_x, mean_y, sd_y, rho))
    )
    sx, sy = np.maximum(sx, TINY), np.maximum(sy, TINY)
    cov = r * sx * sy
    theta = np.sqrt(np.maximum(sx * sx + sy * sy - 2.0 * cov, TINY * TINY))
    between = (mx - my) / theta
    x, y = mx / sx, my / sy
    # correlation of the two leads each of the three has over the others
    r_x = np.clip((sx * sx - cov) / (sx * theta), -1.0, 1.0)
    r_y = np.clip((sy * sy - cov) / (sy * theta), -1.0, 1.0)
    first = mx * bivariate_normal(x, between, r_x)
    second = my * bivariate_normal(y, -between, r_y)
    ties = (
        sx * _density(x) * ndtr(_rest(-y, -x, r))
        + sy * _density(y) * ndtr(_rest(-x, -y, r))
        + theta * _density(between) * ndtr(_rest(x, between, r_x))
    )
    return np.asarray(np.maximum(first + second + ties, np.maximum(np.maximum(mx, my), 0.0)))


def _rest(lead: Floats, tie: Floats, rho: Floats) -> Floats:
    """Return a lead less what the tie tells of it, over the scatter left."""
    return np.asarray((lead - rho * tie) / np.sqrt(np.maximum(1.0 - rho * rho, TINY)))


def signed_square(mean: ArrayLike, sd: ArrayLike) -> tuple[Floats, Floats]:
    """Return mean and standard deviation of ``Z |Z|`` of normal Z, of any shape.

    Gains are skewed, and some are losses; their signed square roots are near normal. With
    ``t = m / s``: ``E Z|Z| = (m^2 + s^2)(2 Phi(t) - 1) + 2 m s phi(t)`` and
    ``E Z^4 = m^4 + 6 m^2 s^2 + 3 s^4`` (moments of a normal, derived).
    """
    m, s = np.broadcast_arrays(np.asarray(mean, np.float64), np.asarray(sd, np.float64))
    safe = np.maximum(s, TINY)
    t = m / safe
    first = (m * m + s * s) * (2.0 * ndtr(t) - 1.0) + 2.0 * m * s * _density(t)
    fourth = m**4 + 6.0 * m * m * s * s + 3.0 * s**4
    return np.asarray(first), np.asarray(np.sqrt(np.maximum(fourth - first * first, 0.0)))

"""Limbs lost against the chances foretold: a Poisson count with a gamma prior."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import log1p

from scipy.special import gammaincinv

from limbwright.growth.ranges import Range
from limbwright.trade.parameters import parameters

__all__ = ["Watched", "failure_range", "hazard", "poisson_range"]

MOST_CHANCE = 0.999
"""Judgement: no chance a year is taken to be nearer to one; a hazard has to be finite."""


@dataclass(frozen=True, slots=True)
class Watched:
    """One tree looked at again: years it stood, its foretold chance a year that any limb fails.

    ``lost`` counts the limbs that broke meanwhile.
    """

    tree: str
    seen_on: date
    years: float
    chance: float
    lost: int

    @property
    def expected(self) -> float:
        """Limbs expected to be lost: the hazard times the years."""
        return hazard(self.chance) * self.years


def hazard(chance: float) -> float:
    """Return breakages a year of a tree from its chance that any limb fails, ``-ln(1 - p)``.

    As the chance is ``1 - prod(1 - p_limb)`` this is the sum over its limbs.
    """
    return -log1p(-min(max(chance, 0.0), MOST_CHANCE))


def failure_range(expected: float, lost: float) -> Range:
    """Return the factor on the hazards after limbs were lost: its mean and range of nine in ten.

    The mean is what a chance has to be multiplied with; without anything seen it is 1.

    Prior: gamma of shape and rate a, mean 1. After n losses where E were expected it is gamma of
    shape ``a + n / k`` and rate ``a + E / k`` (conjugate to Poisson counts). Losses come together,
    in one gale or under one crop, so n losses say no more than ``n / k`` independent ones.
    """
    table = parameters("learn")
    together, shape = table["failure_together"].value, table["failure_shape"].value
    a, b = shape + lost / together, shape + expected / together
    low, high = (float(gammaincinv(a, q)) / b for q in (0.05, 0.95))
    return Range(a / b, low, high)


def poisson_range(count: int) -> tuple[float, float]:
    """Return the range of means that would give such a count, nine in ten.

    The exact interval (Garwood 1936, from memory): the low mean gives the count or more, the high
    one the count or fewer, each one time in twenty.
    """
    low = float(gammaincinv(count, 0.05)) if count > 0 else 0.0
    return low, float(gammaincinv(count + 1, 0.95))

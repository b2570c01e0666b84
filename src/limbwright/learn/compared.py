"""One forecast beside what was found, and what a record has to say of a factor."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import exp, hypot, log
from typing import Any

from limbwright.growth.ranges import Range
from limbwright.learn.quantities import TAIL, Prior

__all__ = ["Compared", "Observation", "compare", "log_ratio", "prior_range"]

LEAST = 3.0
"""Judgement: a find of nothing, or of less, counts as a twentieth of the forecast."""


@dataclass(frozen=True, slots=True)
class Compared:
    """One forecast and what was found: ``low`` and ``high`` hold nine in ten.

    ``z`` is how many standard deviations of the logarithm the find lies above the forecast, below
    zero under it; ``base`` the forecast with nothing learnt.
    """

    tree: str
    day: date
    what: str
    unit: str
    value: float
    low: float
    high: float
    found: float
    z: float
    base: float

    @property
    def inside(self) -> bool:
        """Whether the find lies within the range."""
        return abs(self.z) <= TAIL

    @property
    def sentence(self) -> str:
        """What was foretold and found, and whether it surprises, in words."""
        unit = f" {self.unit}" if self.unit else ""
        where = "as foretold" if abs(self.z) <= 1.0 else "within the range"
        if not self.inside:
            where = "more than foretold" if self.z > 0.0 else "less than foretold"
        return (
            f"{self.tree}: {self.what} {_plain(self.found)}{unit}, foretold {_plain(self.value)} "
            f"({_plain(self.low)} to {_plain(self.high)}): {where}"
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the row as plain values."""
        return {
            "tree": self.tree,
            "day": self.day.isoformat(),
            "what": self.what,
            "unit": self.unit,
            "value": round(self.value, 4),
            "low": round(self.low, 4),
            "high": round(self.high, 4),
            "found": round(self.found, 4),
            "z": round(self.z, 3),
            "inside": self.inside,
        }


def _plain(value: float) -> str:
    return f"{value:.0f}" if abs(value) >= 20.0 else f"{value:.1f}"


@dataclass(frozen=True, slots=True)
class Observation:
    """What one record says of a quantity: ``log_ratio`` of found over foretold with nothing learnt.

    ``sd`` is the deviation of that logarithm from tree to tree and by the error of measuring,
    known beforehand. ``who`` is the crew, empty where it does not matter or was not told.
    """

    quantity: str
    log_ratio: float
    sd: float
    tree: str
    day: date
    species: str = ""
    who: str = ""
    foretold: float = 0.0
    found: float = 0.0

    def to_dict(self) -> dict[str, Any]:
        """Return the observation as plain values."""
        return {
            "quantity": self.quantity,
            "tree": self.tree,
            "day": self.day.isoformat(),
            "species": self.species,
            "who": self.who,
            "foretold": round(self.foretold, 4),
            "found": round(self.found, 4),
            "ratio": round(exp(self.log_ratio), 4),
        }


def prior_range(value: float, prior: Prior, more: float = 0.0) -> Range:
    """Return a forecast with all that is not known of it: holding, species, crew, tree."""
    spread = hypot(prior.holding, prior.species, prior.crew, prior.scatter, more)
    return Range(value, value * exp(-TAIL * spread), value * exp(TAIL * spread))


def log_ratio(found: float, foretold: float, least: float = 0.0) -> float:
    """Return the logarithm of found over foretold, ``least`` added to both, never below -3."""
    ratio = (found + least) / (foretold + least)
    return max(log(ratio), -LEAST) if ratio > 0.0 else -LEAST


def compare(
    tree: str,
    day: date,
    what: str,
    unit: str,
    foretold: Range,
    found: float,
    base: float,
    *,
    least: float = 0.0,
) -> Compared:
    """Return a forecast beside what was found.

    Parameters
    ----------
    foretold
        The forecast; each side of its range is 1.64 deviations of the logarithm away.
    least
        Added to both before the logarithm is taken: half for counts, so that none can be compared.
    """
    off = log_ratio(found, foretold.value, least)
    side = foretold.high if off > 0.0 else foretold.low
    spread = abs(log((side + least) / (foretold.value + least))) / TAIL
    z = off / max(spread, 1e-6)
    return Compared(
        tree, day, what, unit, foretold.value, foretold.low, foretold.high, found, z, base
    )

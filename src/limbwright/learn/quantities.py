"""What records can teach: each quantity, the setting it moves, and what is thought beforehand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import log
from types import MappingProxyType

from limbwright.trade.parameters import Parameter, parameters

__all__ = [
    "FAILURE",
    "QUANTITIES",
    "TAIL",
    "Level",
    "Prior",
    "Quantity",
    "priors",
    "quantity",
    "spread_of",
]

TAIL = 1.6449
"""Low and high hold nine in ten: normal quantile of 0.95."""

Level = str
"""``holding``, ``species`` or ``crew``."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """One quantity of which forecast and find are compared.

    ``key`` is its name, for growth that of `limbwright.growth.rates.MULTIPLIERS`. ``words`` is
    what a person calls it, ``unit`` what it is measured in. ``levels`` are those at which a factor
    is learnt besides the holding's. ``scaled`` are the settings of a plan that the factor
    multiplies; empty: a rate of growth of the same name.
    """

    key: str
    words: str
    unit: str
    levels: tuple[Level, ...]
    scaled: tuple[str, ...] = ()

    @property
    def factor(self) -> str:
        """Name of the setting that holds the holding's factor."""
        return f"{self.key}_factor"


QUANTITIES: tuple[Quantity, ...] = (
    Quantity(
        "hours",
        "hours in the tree",
        "h",
        ("species", "crew"),
        ("work_setup", "work_saw", "work_climb"),
    ),
    Quantity("brash_hours", "hours for the brash", "h", ("species", "crew"), ("work_brash",)),
    Quantity("shoot_count", "watershoots", "", ("species",)),
    Quantity("shoot_length", "length of watershoots", "cm", ("species",)),
    Quantity("extension", "growth of outer shoots", "cm", ("species",)),
    Quantity("ring_width", "rings of the stem", "mm", ("species",)),
)
FAILURE = Quantity("failure", "limbs lost", "", (), ("tree_value",))
"""Breakages: the price of a risk is its chance times what the tree is worth, so the factor goes
on the worth and every chance weighs so much more or less."""

_BY_KEY = {one.key: one for one in (*QUANTITIES, FAILURE)}

_KNOWN_BY = {
    "hours": ("weights", ("work_setup", "work_saw")),
    "brash_hours": ("weights", ("work_brash",)),
    "shoot_count": ("growth", ("shoots.per_leaf",)),
    "shoot_length": ("growth", ("shoots.ordinary",)),
    "extension": ("growth", ("extension.ordinary",)),
    "ring_width": ("growth", ("ring.ordinary",)),
}
"""The constants whose range says how little is known beforehand; the widest counts."""


def quantity(key: str) -> Quantity:
    """Return a quantity by its name.

    Raises
    ------
    KeyError
        There is none.
    """
    return _BY_KEY[key]


@dataclass(frozen=True, slots=True)
class Prior:
    """What is thought of one factor before any record, as deviations of its logarithm.

    The logarithm of a tree's found over foretold is ``mu + s + c + e``: ``holding`` is the
    deviation of mu, ``species`` that of s, ``crew`` that of c (0: no such level), ``scatter`` that
    of one tree's e. All have mean 0, so that the median of every factor is 1.
    """

    holding: float
    species: float
    crew: float
    scatter: float


def spread_of(constant: Parameter) -> float:
    """Return the deviation of the logarithm of a constant whose range holds nine in ten."""
    return log(constant.high / constant.low) / (2.0 * TAIL)


@cache
def priors() -> Mapping[str, Prior]:
    """Return the prior of each quantity.

    The holding's deviation is that of the range stated with the constants themselves (weights.csv,
    growth.csv), whole: nobody has told apart how much of it is between holdings and how much
    between trees. The rest is judgement, in learn.csv.
    """
    table = parameters("learn")
    found = {}
    for one in QUANTITIES:
        source, names = _KNOWN_BY[one.key]
        crew = f"crew.{one.key}"
        found[one.key] = Prior(
            holding=max(spread_of(parameters(source)[name]) for name in names),
            species=table[f"species.{one.key}"].value,
            crew=table[crew].value if "crew" in one.levels else 0.0,
            scatter=table[f"scatter.{one.key}"].value,
        )
    return MappingProxyType(found)

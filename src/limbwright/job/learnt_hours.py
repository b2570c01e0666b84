"""What records taught of hours, as the plain factors that needs are told by."""

from __future__ import annotations

from collections.abc import Mapping

from limbwright.learn.factors import Factors
from limbwright.trade.species import all_species

__all__ = ["hours_factors"]


def hours_factors(factors: Factors) -> Mapping[str, tuple[float, float]]:
    """Return the factors of the hours in the tree and for the brash by species.

    ``""`` stands for trees of no known species. Empty where records taught nothing of hours.
    """
    names = ("", *(kind.key for kind in all_species()))
    found = {
        name: (factors.factor("hours", species=name), factors.factor("brash_hours", species=name))
        for name in names
    }
    return found if any(pair != (1.0, 1.0) for pair in found.values()) else {}

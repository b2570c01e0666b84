"""What was learnt and is in force, and how it enters a forecast."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite
from types import MappingProxyType

from limbwright.cuts.weights import Settings
from limbwright.growth.rates import MULTIPLIERS
from limbwright.learn.quantities import FAILURE, QUANTITIES, quantity

__all__ = ["Factors", "setting_name", "with_lessons"]

_SPECIES, _CREW = " of species ", " of crew "


def setting_name(key: str, level: str = "holding", name: str = "") -> str:
    """Return the name of the setting that keeps a factor.

    ``hours_factor`` is the holding's, ``hours_factor of species apple`` and ``hours_factor of crew
    Ada`` are the whole factor there.
    """
    factor = quantity(key).factor
    if level == "holding":
        return factor
    return f"{factor}{_SPECIES if level == 'species' else _CREW}{name}"


@dataclass(frozen=True, slots=True)
class Factors:
    """Factors in force by the names of their settings; what is not there is 1."""

    by_name: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))

    @classmethod
    def of(cls, settings: Mapping[str, object]) -> Factors:
        """Return the factors among the settings of a project, name and value; others are left.

        A value that cannot be a factor counts as none.
        """
        known = {one.factor for one in (*QUANTITIES, FAILURE)}
        found = {}
        for name, value in settings.items():
            whole = name.split(_SPECIES)[0].split(_CREW)[0]
            is_number = isinstance(value, int | float) and not isinstance(value, bool)
            if whole in known and is_number and isfinite(value) and value > 0.0:  # type: ignore[arg-type, operator]
                found[name] = float(value)  # type: ignore[arg-type]
        return cls(MappingProxyType(found))

    def factor(self, key: str, *, species: str = "", who: str = "") -> float:
        """Return the factor of a quantity for a species and a crew.

        Where both have one, each is taken over the holding's and they are multiplied: in the
        model their logarithms add.
        """
        holding = self.by_name.get(setting_name(key), 1.0)
        found = holding
        for level, name in (("species", species), ("crew", who)):
            own = self.by_name.get(setting_name(key, level, name)) if name else None
            if own is not None:
                found *= own / holding
        return found

    def growth(self, species: str = "") -> dict[str, float]:
        """Return the factors that ``growth.rates(multipliers=...)`` takes; those of 1 left out."""
        found = {
            one.key: self.factor(one.key, species=species)
            for one in QUANTITIES
            if one.key in MULTIPLIERS
        }
        return {key: factor for key, factor in found.items() if factor != 1.0}


def with_lessons(
    settings: Settings, factors: Factors, *, species: str = "", who: str = ""
) -> Settings:
    """Return the settings of a plan with what records taught.

    Hours in the tree scale ``work_setup``, ``work_saw`` and ``work_climb``, hours for the brash
    ``work_brash``, breakages ``tree_value`` (the price of a risk is chance times worth). Growth
    takes its factors from `Factors.growth`.

    Parameters
    ----------
    settings
        Settings without what was learnt.
    factors
        The factors in force.
    species, who
        The tree's species and the crew that will come, empty where not known.
    """
    scaled: dict[str, float] = {}
    for one in (*QUANTITIES, FAILURE):
        factor = factors.factor(one.key, species=species, who=who)
        if factor != 1.0:
            scaled |= {name: settings[name] * factor for name in one.scaled}
    return Settings(MappingProxyType({**settings.overrides, **scaled})) if scaled else settings

"""Settings of forming a young tree: every figure with its range, and which clear stem rules."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from limbwright.errors import InputError
from limbwright.trade.own_settings import read_own_settings
from limbwright.trade.parameters import Parameter, parameters

__all__ = ["ClearStemRule", "FormSettings", "read_form_settings"]

ClearStemRule = Literal["grazing", "grant"]

LOWEST_STEM_M, HIGHEST_STEM_M = 0.3, 3.5
"""Judgement: from a low bush to a stem no ladder need reach over."""


@dataclass(frozen=True, slots=True)
class FormSettings:
    """The figures of forming; each can be overridden by its name in ``formation.csv``.

    ``clear_stem_rule`` chooses where sources disagree on the clear stem: what the animals reach,
    or what a planting grant asks for. ``clear_stem_m`` puts a height of one's own above both.

    Raises
    ------
    InputError
        An unknown name, a value that is not a number of zero or more, a share above one, or
        counts of scaffold limbs that contradict each other.
    """

    overrides: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    clear_stem_rule: ClearStemRule = "grazing"
    clear_stem_m: float | None = None

    def __post_init__(self) -> None:
        known = parameters("formation")
        for name, value in self.overrides.items():
            if name not in known:
                raise InputError(
                    f"There is no setting of forming called {name!r}.",
                    f"Known: {', '.join(sorted(known))}.",
                )
            if not (isinstance(value, (int, float)) and math.isfinite(value) and value >= 0.0):
                raise InputError(
                    f"The setting {name} is {value!r}.",
                    f"Give a number of zero or more, in {known[name].unit}.",
                )
            if name.startswith(("cut_", "dose_")) and value > 1.0:
                raise InputError(
                    f"The setting {name} is {value:g}, more than the whole.",
                    "Give a share from 0 to 1, such as 0.5.",
                )
        if not 1.0 <= self["fewest"] <= self["count"] <= self["most"] <= 12.0:
            raise InputError(
                f"Of scaffold limbs at least {self['fewest']:g}, best {self['count']:g} and at "
                f"most {self['most']:g} were asked for.",
                "Give fewest, count and most in rising order, from 1 to 12.",
            )
        if self.clear_stem_rule not in ("grazing", "grant"):
            raise InputError(
                f"The clear stem cannot go by {self.clear_stem_rule!r}.",
                "Choose grazing or grant, or give the height itself.",
            )
        own = self.clear_stem_m
        if own is not None and not LOWEST_STEM_M <= own <= HIGHEST_STEM_M:
            raise InputError(
                f"A clear stem of {own:g} m was asked for.",
                f"Give {LOWEST_STEM_M:g} to {HIGHEST_STEM_M:g} m.",
            )

    def __getitem__(self, name: str) -> float:
        """Return the value in force for ``name``."""
        if name in self.overrides:
            return float(self.overrides[name])
        return parameters("formation")[name].value

    def parameter(self, name: str) -> Parameter:
        """Return the table's constant for ``name`` with its unit, range and source."""
        return parameters("formation")[name]

    def low(self, name: str) -> float:
        """Return the low end for ``name``, never above the value in force."""
        return min(self.parameter(name).low, self[name])

    def high(self, name: str) -> float:
        """Return the high end for ``name``, never below the value in force."""
        return max(self.parameter(name).high, self[name])


def read_form_settings(path: Path) -> Mapping[str, float]:
    """Read overrides from a TOML file of ``name = value`` lines; ``"clear_stem.sheep" = 2.0``.

    A name with a dot may stand in quotes or not, or under its heading.

    Raises
    ------
    InputError
        The file cannot be read as TOML.
    """
    read = read_own_settings(path, '"clear_stem.sheep" = 2.0')
    known = parameters("formation")
    flat: dict[str, float] = {}
    for name, value in read.items():
        if not isinstance(value, dict):
            flat[name] = value
            continue
        for inner, number in value.items():
            full = f"{name}.{inner}"
            flat[full if full in known else inner] = number
    return MappingProxyType(flat)

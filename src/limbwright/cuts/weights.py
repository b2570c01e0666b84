"""Settings of a plan: what things are worth in hours, how far one may go, what tools reach."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from types import MappingProxyType

from limbwright.errors import InputError
from limbwright.trade.own_settings import read_own_settings
from limbwright.trade.parameters import Parameter, parameters

__all__ = ["Settings", "read_settings"]

TABLES = ("weights", "limits", "tools", "stages")
CAPPED_BY_CEILING = "dose_"


@cache
def _table() -> Mapping[str, Parameter]:
    found: dict[str, Parameter] = {}
    for table in TABLES:
        found.update(parameters(table))
    return found


@dataclass(frozen=True, slots=True)
class Settings:
    """The weights, limits and tools of a plan; every value can be overridden by its name.

    ``overrides`` maps names of the tables ``weights``, ``limits``, ``tools`` and ``stages`` to
    values.

    Raises
    ------
    InputError
        An unknown name, a value that is not a number of zero or more, or a dose above one third.
    """

    overrides: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))

    def __post_init__(self) -> None:
        known = _table()
        for name, value in self.overrides.items():
            if name not in known:
                raise InputError(
                    f"There is no setting called {name!r}.", f"Known: {', '.join(sorted(known))}."
                )
            if not (isinstance(value, (int, float)) and math.isfinite(value) and value >= 0.0):
                raise InputError(
                    f"The setting {name} is {value!r}.",
                    f"Give a number of zero or more, in {known[name].unit}.",
                )
            ceiling = known["dose_ceiling"].value
            if name.startswith(CAPPED_BY_CEILING) and value > ceiling + 1e-9:
                raise InputError(
                    f"The setting {name} is {value:g}, more than a third of the crown.",
                    "No season takes more than one third of the live crown.",
                )

    def __getitem__(self, name: str) -> float:
        """Return the value in force for ``name``."""
        if name in self.overrides:
            return float(self.overrides[name])
        return _table()[name].value

    def parameter(self, name: str) -> Parameter:
        """Return the table's constant for ``name`` with its unit, range and source."""
        return _table()[name]


def read_settings(path: Path) -> Settings:
    """Read overrides from a TOML file of ``name = value`` lines, in any sections.

    Raises
    ------
    InputError
        The file cannot be read as TOML, or holds a setting `Settings` refuses.
    """
    read = read_own_settings(path, "dose_routine = 0.12")
    flat: dict[str, float] = {}
    for name, value in read.items():
        flat.update(value if isinstance(value, dict) else {name: value})
    return Settings(MappingProxyType(flat))

"""Constants of the trade and of mechanics, each with its range and its source.

Every table is a CSV file in ``data/`` with the columns
``name, unit, value, low, high, cov, source``; ``low``, ``high`` and ``cov`` may be blank.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

__all__ = ["Parameter", "parameters"]


@dataclass(frozen=True, slots=True)
class Parameter:
    """One constant: value with its published range, scatter (coefficient of variation), source."""

    name: str
    unit: str
    value: float
    low: float
    high: float
    cov: float
    source: str


@cache
def parameters(table: str) -> Mapping[str, Parameter]:
    """Return the constants of one table by name.

    Raises
    ------
    ValueError
        A row has no number or no source.
    """
    text = files("limbwright.trade").joinpath("data", f"{table}.csv").read_text("utf-8")
    found: dict[str, Parameter] = {}
    for row in csv.DictReader(text.splitlines()):
        name, source = row["name"].strip(), row["source"].strip()
        if not source:
            raise ValueError(f"{table}.csv: {name} has no source")
        value = float(row["value"])
        found[name] = Parameter(
            name=name,
            unit=row["unit"].strip(),
            value=value,
            low=float(row["low"]) if row["low"].strip() else value,
            high=float(row["high"]) if row["high"].strip() else value,
            cov=float(row["cov"]) if row["cov"].strip() else 0.0,
            source=source,
        )
    return MappingProxyType(found)

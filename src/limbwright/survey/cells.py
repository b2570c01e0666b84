"""One cell at a time: numbers in range, words from a list, with the fault where they are not."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from limbwright.model import Faults
from limbwright.survey.tables import Row, Table
from limbwright.trade.parameters import parameters

__all__ = ["Cells", "as_number"]

_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?", re.ASCII)
_COMMA = re.compile(r"[-+]?\d+,\d+", re.ASCII)


def as_number(text: str) -> tuple[float | None, bool]:
    """Return the number a cell holds and whether it was written with a decimal comma."""
    plain = text.strip().replace("\N{MINUS SIGN}", "-")
    comma = bool(_COMMA.fullmatch(plain))
    if comma:
        plain = plain.replace(",", ".")
    if not _NUMBER.fullmatch(plain):
        return None, False
    value = float(plain)
    return (value if math.isfinite(value) else None), comma


@dataclass(frozen=True, slots=True)
class Cells:
    """The cells of one row, read with their faults collected."""

    table: Table
    row: Row
    faults: Faults

    def text(self, column: str) -> str:
        """Return the text of a cell, empty where the column is absent."""
        return self.row.cells.get(column, "")

    def fault(self, column: str, fault: str, remedy: str, *, warning: bool = False) -> None:
        """Add a fault of one cell."""
        self.faults.add(self.table.fault(self.row, column, fault, remedy, warning=warning))

    def number(self, column: str, *, ranged: bool = True) -> float | None:
        """Return the number of a cell, None where blank, not a number or out of range."""
        text = self.text(column)
        if not text:
            return None
        value, comma = as_number(text)
        if value is None:
            unit = column.rpartition("_")[2]
            said = f" in {unit}" if unit in {"m", "cm", "mm", "deg", "kg", "m2"} else ""
            self.fault(column, "not a number", f"Give the number alone{said}.")
            return None
        if comma:
            self.fault(column, "written with a decimal comma", f"Read as {value:g}.", warning=True)
        bound = parameters("survey_ranges").get(column) if ranged else None
        if bound is not None and not bound.low <= value <= bound.high:
            self.fault(
                column,
                f"outside {bound.low:g} to {bound.high:g} {bound.unit}".rstrip(),
                self._remedy(column, value, bound.low, bound.high),
            )
            return None
        return value

    def _remedy(self, column: str, value: float, low: float, high: float) -> str:
        if column.endswith("bearing_deg"):
            return f"Clockwise from north: would {value % 360.0:g} be right?"
        if column.endswith("rise_deg"):
            return "Degrees above horizontal; negative droops."
        if column.endswith("_m") and low <= value / 100.0 <= high:
            return f"Metres: would {value / 100.0:g} be right, if taken in cm?"
        return "Check the value and its unit."

    def needed(self, column: str) -> str:
        """Return the text of a cell that must not be blank; empty with a fault where it is."""
        text = self.text(column)
        if not text:
            self.fault(column, "blank, but needed", "Fill it in; the row is left out.")
        return text

    def word(self, column: str, allowed: Collection[str], default: str) -> str:
        """Return a word from a list; the default where blank, or unknown with a fault."""
        text = self.text(column).lower()
        if not text or text in allowed:
            return text or default
        self.fault(
            column,
            f"not a word known here; read as {default!r}" if default else "not a word known here",
            f"Give one of: {', '.join(allowed)}.",
        )
        return default

    def extra(self, known: Sequence[str]) -> dict[str, str]:
        """Return the filled cells of all unknown columns."""
        return {k: v for k, v in self.row.cells.items() if v and k not in known}

"""One cell at a time: numbers in range, words from a list, with the fault where they are not."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from limbwright.model import Faults
from limbwright.survey.tables import Row, Table
from limbwright.survey.units import LENGTH_MM, as_number, looks_like_date, read_number
from limbwright.trade.parameters import Parameter, parameters

__all__ = ["Cells", "as_number"]


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
        reading = read_number(text, column)
        value = reading.value
        if reading.said:
            soft = value is not None or "not taken" in reading.said
            self.fault(column, reading.said, reading.remedy, warning=soft)
        if value is None:
            return None
        bound = parameters("survey_ranges").get(column) if ranged else None
        if bound is not None and not bound.low <= value <= bound.high:
            self.fault(
                column,
                f"outside {bound.low:g} to {bound.high:g} {bound.unit}".rstrip(),
                self._remedy(column, text, value, bound),
            )
            return None
        return value

    def _remedy(self, column: str, text: str, value: float, bound: Parameter) -> str:
        low, high = bound.low, bound.high
        whole = text.replace(",", "")
        digits = "," in text and whole.isascii() and whole.isdigit()
        if digits and low <= float(whole) <= high:
            return f"Would {whole} be right, if the comma parts the thousands?"
        if column.endswith("bearing_deg"):
            return f"Clockwise from north: would {value % 360.0:g} be right?"
        if column.endswith("rise_deg"):
            return "Degrees above horizontal; negative droops."
        if column == "crown":
            return "0 bare, 1 thin, 2 ordinary, 3 full."
        if column == "planted":
            return "Give the year in four figures."
        unit = column.rpartition("_")[2]
        if unit in LENGTH_MM and value > 0.0:
            for units in (("cm", "mm", "m"), ("in", "ft")):
                meant = {u: value * LENGTH_MM[u] / LENGTH_MM[unit] for u in units if u != unit}
                fit = {u: x for u, x in meant.items() if low <= x <= high}
                if fit:  # of several the one that comes nearest to what is usual
                    other = min(fit, key=lambda u: abs(math.log(fit[u] / bound.value)))
                    return f"Give {unit}: would {fit[other]:.4g} be right, if taken in {other}?"
        return "Check the value and its unit."

    def name(self, column: str) -> str:
        """Return the text of a cell that names something, with a warning where it is a date."""
        text = self.text(column)
        if text and looks_like_date(text):
            self.fault(
                column,
                "a date where a number or a name is due",
                "A spreadsheet may have made it of a name such as 1-2: format it as text.",
                warning=True,
            )
        return text

    def needed(self, column: str) -> str:
        """Return the text of a cell that must not be blank; empty with a fault where it is.

        Where the whole column is missing that is told once, of the header.
        """
        text = self.text(column)
        if not text and column in self.table.header:
            more = "; merged cells count for their first row alone" if column == "station" else ""
            self.fault(column, "blank, but needed", f"Fill it in; the row is left out{more}.")
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

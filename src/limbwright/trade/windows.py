"""When structural pruning may be done: pome fruit asleep, stone fruit in summer.

Months come from ``data/windows.csv``; the southern hemisphere is the same half a year later.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from limbwright.trade.parameters import parameters

__all__ = ["Group", "Window", "group_window", "nesting_months"]

Group = Literal["pome", "stone"]

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)

HALF_A_YEAR = 6

REASON = {
    "pome": (
        "The tree is dormant and bare, so its limbs can be seen and it loses no leaf; "
        "pruned before the buds move it answers in spring."
    ),
    "stone": (
        "Spores of silver leaf, and the bacteria of canker, enter fresh wounds in the cool, wet "
        "months; in summer there are few of them and the wounds close fast."
    ),
}
"""Common practice; silver leaf active from September to May in the north (from memory)."""


@dataclass(frozen=True, slots=True)
class Window:
    """The months, 1 to 12 in order, in which a species may be pruned, in words and with why."""

    months: tuple[int, ...]
    sentence: str
    reason: str

    def __contains__(self, month: object) -> bool:
        """Return whether a month, 1 to 12, lies in the window."""
        return month in self.months


def group_window(group: Group, southern: bool = False) -> Window:
    """Return the window of pome or stone fruit.

    Parameters
    ----------
    group
        ``"pome"`` or ``"stone"``.
    southern
        True south of the equator, where the window is half a year later.
    """
    months = _months(group, southern)
    first, last = MONTHS[months[0] - 1], MONTHS[months[-1] - 1]
    if group == "pome":
        sentence = f"{first} to early {last}, while dormant, on a dry day above frost."
    else:
        shared = [MONTHS[m - 1] for m in months if m in nesting_months(southern)]
        sentence = f"{first} to {last}, on a dry day."
        if shared:
            sentence += (
                f" Birds may be nesting from {shared[0]} to {shared[-1]}: look for nests first "
                f"and wait where one is in use; late {shared[-1]} and {last} disturb least."
            )
    return Window(months, sentence, REASON[group])


def nesting_months(southern: bool = False) -> tuple[int, ...]:
    """Return the main months of nesting, 1 to 12, in order."""
    return _months("nesting", southern)


def _months(name: str, southern: bool) -> tuple[int, ...]:
    table = parameters("windows")
    first = int(table[f"{name}.first_month"].value)
    last = int(table[f"{name}.last_month"].value)
    shift = HALF_A_YEAR if southern else 0
    span = (last - first) % 12 + 1
    return tuple((first + shift + k - 1) % 12 + 1 for k in range(span))

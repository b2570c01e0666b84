"""When structural pruning may be done: pome fruit asleep, stone fruit in summer.

By the month, for a card; `trade.seasons` has it by the day, for every job. Both take the days of
``data/season_rules.csv``; the southern hemisphere is the same half a year later.
"""

from __future__ import annotations

from dataclasses import dataclass

from limbwright.trade.seasons.days import MONTHS
from limbwright.trade.seasons.rules import Group, Rule, season_rules

__all__ = ["Group", "Window", "group_window", "nesting_months"]

RULE_OF = {"pome": "pome-dormant", "stone": "stone-summer"}


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
    rule = _rule(RULE_OF[group])
    months = _months(rule, southern)
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
    return Window(months, sentence, rule.reason)


def nesting_months(southern: bool = False) -> tuple[int, ...]:
    """Return the main months of nesting, 1 to 12, in order."""
    return _months(_rule("nesting"), southern)


def _rule(key: str) -> Rule:
    return next(rule for rule in season_rules() if rule.key == key)


def _months(rule: Rule, southern: bool) -> tuple[int, ...]:
    first, last = rule.first[1], rule.last[1]
    if southern:
        first, last = first.half_a_year_later(), last.half_a_year_later()
    span = (last.month - first.month) % 12 + 1
    return tuple((first.month + k - 1) % 12 + 1 for k in range(span))

"""Name the next season in which a species may be pruned."""

from __future__ import annotations

from datetime import date

from limbwright.trade.species import Species, window

__all__ = ["next_season"]


def next_season(species: Species, southern: bool, today: date) -> str:
    """Return the running or next pruning season, such as ``winter 2026-27`` or ``summer 2027``.

    The season is the one whose window (trade.windows) is open on ``today`` or opens next.
    """
    months = window(species, southern).months
    first = months[0]
    wraps = months[-1] < first
    in_tail = wraps and today.month <= months[-1]
    if in_tail:
        year = today.year - 1
    elif today.month <= (12 if wraps else months[-1]):
        year = today.year
    else:
        year = today.year + 1
    name = "winter" if species.group == "pome" else "summer"
    return f"{name} {year}-{(year + 1) % 100:02d}" if wraps else f"{name} {year}"

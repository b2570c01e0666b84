"""Name the next season in which a species may be pruned."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from limbwright.model.site import Site
from limbwright.trade.next_season import season_begins
from limbwright.trade.seasons.local import LocalRule
from limbwright.trade.species import Species, window

__all__ = ["next_season"]


def next_season(
    species: Species, site: Site, today: date, local_rules: Sequence[LocalRule] = ()
) -> str:
    """Return the running or next pruning season, such as ``winter 2026-27`` or ``summer 2027``.

    The season is the one whose window is open on ``today`` or opens next: that of the calendar
    (trade.windows), in whole months, as the rules of the place leave it. Where they shut all that
    is left of a season the next one is told.

    Parameters
    ----------
    site
        Its latitude, or its half of the world.
    local_rules
        Rules of the place; those that do not concern the pruning of this species count for nothing.
    """
    months = window(species, site.southern).months
    year = season_begins(species, site, today, tuple(local_rules), months=frozenset(months))
    name = "winter" if species.group == "pome" else "summer"
    wraps = months[-1] < months[0]
    return f"{name} {year}-{(year + 1) % 100:02d}" if wraps else f"{name} {year}"

"""The cautions that go with a need: what to look for, and who decides, before anybody cuts."""

from __future__ import annotations

from limbwright.model.holding import Orchard
from limbwright.needs.kinds import AT_WORK, dead_over_people
from limbwright.needs.urgency import at_once
from limbwright.needs.walk import Walk
from limbwright.trade.seasons.days import MONTHS
from limbwright.trade.windows import nesting_months

__all__ = ["cautions_for"]

LOOK_NOW = (
    "Keep people and stock away and have a qualified arborist look before any work; this is "
    "judged from a walk, not an inspection."
)
FELL = "Felling is for trained people; ask first whether the tree or the orchard is protected."
BELOW = "People are often below: a qualified arborist decides what may stay."
ROOST = "A hollow, crack or loose bark may hold bats or a nest: look first; local law comes first."
NESTING = "Birds may be nesting in {}: look first, and wait where a nest is in use."
STONE = "Move stock first: wilted leaves of plum and cherry are poisonous to them."
STOCK = "Move stock before the work, and let it back when brash, wire and string are cleared."
GRAFT = "Cut grafting wood before the tree is cut hard or lost."
"""Common practice in all of these; local law and licensed practice come first."""


def cautions_for(
    walk: Walk, kind: str, months: tuple[int, ...], orchard: Orchard | None, *, southern: bool
) -> tuple[str, ...]:
    """Return the cautions a need calls for, the gravest first."""
    stands = walk.station.status not in ("gap", "stump")
    below = orchard is not None and orchard.people_below
    grazed = orchard is not None and bool(orchard.grazed_by)
    works = kind in (*AT_WORK, "form", "replace")
    stone = walk.kind is not None and walk.kind.group == "stone"
    shared = [month for month in months if month in nesting_months(southern)]
    named = " and ".join(dict.fromkeys(MONTHS[m - 1] for m in (*shared[:1], *shared[-1:])))
    homes = any(one.feature.keeps != "no" for one in walk.homes)
    occasions = (
        (at_once(walk) or dead_over_people(walk, orchard), LOOK_NOW),
        (below and stands and kind != "form", BELOW),
        (kind == "replace", FELL),
        (homes and stands, ROOST),
        # the window of stone fruit tells of nests by itself
        (kind in AT_WORK and not stone and bool(shared), NESTING.format(named)),
        (works and stone, STONE),
        (works and grazed and not stone, STOCK),
        (stands and walk.unknown_cultivar, GRAFT),
    )
    return tuple(words for applies, words in occasions if applies)

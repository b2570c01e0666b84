"""Dead wood kept by rule: which dead trees stand, how many are wanted, and what else to leave.

No tree is ever made dead for the rule. Where too few stand, the next to fail are let stand.
Numbers are in ``data/deadwood.csv``; most of them are from memory, and none is law.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass

from shapely.geometry import Polygon

from limbwright.model.holding import Orchard
from limbwright.model.records import StationRecord
from limbwright.trade.habitat import features_of
from limbwright.trade.health import problems_of
from limbwright.trade.parameters import parameters
from limbwright.trade.species import species

__all__ = ["DeadTree", "DeadwoodAdvice", "dead_tree", "deadwood_rule"]

PLACED_BELOW = re.compile(
    r"\b(?:foot)?path\b|\broad\b|\bgate\b|\bdrive\b|\bhouse\b|\bcar park\b|\bparking\b|\bbench\b|"
    r"\bplay(?:ground)?\b|\bpicnic\b|\bschool\b|\bpeople\b|\bpublic\b|\bhives?\b"
)
"""Words in a record that put people below the tree."""

SHEDS_SPORES = ("silver_leaf", "honey_fungus", "canker", "fire_blight", "plum_pox")
"""Diseases whose dead wood is taken away and not kept, see ``problems.csv``."""

LEAST_ORCHARD = 5.0
"""Judgement: a boundary less wide is in degrees, for no orchard is 5 m wide or 5° across."""

CHAFER_HOSTS = ("plum", "damson", "gage", "cherry", "apple")
"""Noble chafer larvae live in wood mould of plum, cherry and apple (PTES fact file)."""


@dataclass(frozen=True, slots=True)
class DeadTree:
    """A dead tree that stands, whether it should go on standing, and why.

    ``people``: people come beneath it, so somebody has to look before anything else.
    """

    tree: str
    keep: bool
    why: str
    people: bool = False


@dataclass(frozen=True, slots=True)
class DeadwoodAdvice:
    """What the rule asks of one orchard.

    ``wanted_low`` and ``wanted_high`` are how many dead trees should stand; ``shortfall`` how many
    fewer than the lower do; ``next_to_stand`` failing trees to be left when they die, the nearest
    to it first. ``log_piles_low`` and ``log_piles_high`` are piles in the whole orchard,
    ``brash_share`` the least share of the brash that stays.
    """

    orchard: str
    stations: int
    area_ha: float
    area_known: bool
    wanted_low: int
    wanted_high: int
    trees: tuple[DeadTree, ...]
    shortfall: int
    next_to_stand: tuple[str, ...]
    log_piles_low: int
    log_piles_high: int
    brash_share: float
    reasons: tuple[str, ...]
    sources: tuple[str, ...]

    @property
    def standing(self) -> tuple[DeadTree, ...]:
        """The dead trees that should go on standing."""
        return tuple(one for one in self.trees if one.keep)


def deadwood_rule(
    stations: Iterable[StationRecord],
    orchard: Orchard | None = None,
    *,
    area_ha: float | None = None,
) -> DeadwoodAdvice:
    """Return which dead trees of an orchard should stand, and how many are wanting.

    Parameters
    ----------
    stations
        The records of one orchard, gaps among them.
    orchard
        The orchard; where people are often below its trees no dead tree is kept for its own sake.
    area_ha
        Its area [ha]; None takes it from the boundary (in metres), else from the stations at 10 m.
    """
    table = parameters("deadwood")
    every = tuple(stations)
    below = orchard is not None and orchard.people_below
    known = _area_ha(orchard) if area_ha is None else area_ha
    area = known if known else len(every) * table["station_area"].value
    by_station = table["standing_per_station"].value * len(every)
    by_area = table["standing_per_ha"].value * area
    low, high = sorted((math.ceil(by_station - 1e-9), math.ceil(by_area - 1e-9)))
    if below:
        low = high = 0
    ranked = sorted((s for s in every if s.status == "dead"), key=_worth, reverse=True)
    trees = tuple(dead_tree(one, people_below=below) for one in ranked)
    shortfall = max(0, low - sum(one.keep for one in trees))
    # a tree that is failing is so by its need too
    share_pct = parameters("needs")["failing_dead"].value
    failing = [s for s in every if s.status == "living" and _failing(s, share_pct)]
    failing.sort(key=lambda s: (s.dead_pct or 0.0, _worth(s)), reverse=True)
    following = tuple(s.tree for s in failing if not below and not _target(s) and not _spreads(s))
    piles = table["log_piles_per_ha"]
    named = ("standing_per_station", "standing_per_ha", "log_piles_per_ha", "brash_share")
    return DeadwoodAdvice(
        orchard=orchard.name if orchard else next((s.orchard for s in every), ""),
        stations=len(every),
        area_ha=area,
        area_known=bool(known),
        wanted_low=low,
        wanted_high=high,
        trees=trees,
        shortfall=shortfall,
        next_to_stand=following,
        log_piles_low=max(1, math.floor(piles.low * area)) if every else 0,
        log_piles_high=max(1, math.ceil(piles.high * area - 1e-9)) if every else 0,
        brash_share=table["brash_share"].value,
        reasons=_reasons(low, high, trees, shortfall, following, below, table["brash_share"].value),
        sources=tuple(table[name].source for name in named),
    )


def dead_tree(station: StationRecord, *, people_below: bool = False) -> DeadTree:
    """Return whether one dead tree should go on standing, and why.

    ``people_below``: people are often below the trees of its orchard.
    """
    target = _target(station)
    if people_below or target:
        where = f"the survey says {target!r}" if target else "people are often below"
        why = (
            f"dead, and {where}: keep them away and have a qualified arborist look before anything "
            "else; cut it down, or to a stem that cannot reach them, and lay the wood aside"
        )
        return DeadTree(station.tree, False, why, people=True)
    disease = _spreads(station)
    if disease:
        return DeadTree(station.tree, False, f"{disease}: its dead wood spreads it; take it away")
    found = [one.feature.name for one in features_of(station)]
    what = f"it holds {', '.join(found)}" if found else "it stands where nobody is below"
    return DeadTree(station.tree, True, f"{what}; let it stand until it falls, and lie then")


def _area_ha(orchard: Orchard | None) -> float | None:
    """Area of the boundary [ha]; None where there is none, or where it is in degrees."""
    if orchard is None or len(orchard.boundary) < 3:
        return None
    ring = Polygon(orchard.boundary)
    west, south, east, north = ring.bounds
    if max(east - west, north - south) < LEAST_ORCHARD:
        return None
    return float(ring.buffer(0).area) / 1.0e4


def _words(station: StationRecord) -> str:
    return " ".join((station.note, station.features, station.faults)).lower()


def _target(station: StationRecord) -> str:
    found = PLACED_BELOW.search(_words(station))
    return "" if found is None else found.group(0)


def _spreads(station: StationRecord) -> str:
    """Name the disease for which its wood is taken away; empty for none."""
    kind = species(station.species) if station.species else None
    for one in problems_of(station, kind=kind):
        if one.sure == "named" and one.problem.key in SHEDS_SPORES:
            return one.problem.name
    return ""


def _worth(station: StationRecord) -> tuple[int, bool, float]:
    """Rank by features, then by the fruits the noble chafer lives in, then by girth."""
    kind = species(station.species).key if station.species else ""
    return len(features_of(station)), kind in CHAFER_HOSTS, station.girth_cm or 0.0


def _failing(station: StationRecord, share_pct: float) -> bool:
    dying = re.search(r"\bdying\b(?! back)", _words(station)) is not None
    return dying or (station.dead_pct or 0.0) >= share_pct


def _reasons(
    low: int,
    high: int,
    trees: tuple[DeadTree, ...],
    shortfall: int,
    following: tuple[str, ...],
    below: bool,
    brash: float,
) -> tuple[str, ...]:
    stand = sum(one.keep for one in trees)
    if below:
        said = ["People are often below these trees, so no dead tree is kept standing for itself."]
    else:
        wanted = f"{low}" if low == high else f"{low} to {high}"
        said = [f"{stand} dead {_trees(stand)} should stand; the rule wants {wanted}."]
    if shortfall:
        more = f"{shortfall} more {'is' if shortfall == 1 else 'are'} wanted: none is killed for it"
        named = following[: max(3, shortfall)]
        dies = "it dies" if len(named) == 1 else "they die"
        more += f", but let stand when {dies}: {', '.join(named)}" if named else ""
        said.append(f"{more}.")
    said.append(
        "Lay fallen wood in piles, some in sun and some in shade, never on roots or against a stem."
    )
    said.append(f"Leave at least {100 * brash:.0f} % of the sound brash as habitat.")
    said.append(
        "A dead tree sheds limbs: look at it each year, and where anybody comes beneath ask a "
        "qualified arborist."
    )
    return tuple(said)


def _trees(count: int) -> str:
    return "tree" if count == 1 else "trees"

"""An invented holding of three orchards: trees of all ages, two years of work and its records."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from limbwright.demo.forming import form_tree
from limbwright.demo.ground import CLEAR_STEM_M, ground
from limbwright.demo.names import CULTIVARS, MARK, HoldingNames, invent_names
from limbwright.demo.old_crown import Grown, grow
from limbwright.demo.past import Past, invent_past
from limbwright.demo.planting import Spot, position, spots
from limbwright.demo.story import STORIES, Story
from limbwright.demo.walked import walk_past
from limbwright.model import (
    Holding,
    LimbRecord,
    ShootRecord,
    Site,
    StationRecord,
    TreeSurvey,
    YoungTree,
)

__all__ = ["InventedHolding", "make_holding"]


@dataclass(frozen=True, slots=True)
class InventedHolding:
    """An invented holding: its ground, its stations, and what was taped and measured there."""

    place: Holding
    stations: tuple[StationRecord, ...]
    limbs: tuple[LimbRecord, ...]
    shoots: tuple[ShootRecord, ...] = ()
    past: Past = field(default_factory=Past)

    @property
    def name(self) -> str:
        """The name of the holding."""
        return self.place.name

    @property
    def owner(self) -> str:
        """Whose it is."""
        return self.place.owner

    @property
    def site(self) -> Site:
        """Its wind and light."""
        return self.place.site

    def surveys(self) -> tuple[TreeSurvey, ...]:
        """Return the trees with their limbs, in the order of the stations; others have none."""
        limbs: dict[str, list[LimbRecord]] = {}
        for one in self.limbs:
            limbs.setdefault(one.station, []).append(one)
        return tuple(
            TreeSurvey(station, tuple(limbs[station.station]))
            for station in self.stations
            if station.station in limbs
        )

    def young_trees(self) -> tuple[YoungTree, ...]:
        """Return the trees in their forming years with their shoots."""
        shoots: dict[str, list[ShootRecord]] = {}
        for one in self.shoots:
            shoots.setdefault(one.station, []).append(one)
        return tuple(
            YoungTree(station, tuple(shoots[station.station]))
            for station in self.stations
            if station.station in shoots
        )


def make_holding(seed: int = 1) -> InventedHolding:
    """Return an invented holding of three orchards; the same seed gives the same holding.

    Some trees are taped limb by limb, those in their forming years shoot by shoot, the rest were
    walked past; gaps and stumps are stations too. All records are marked as invented.
    """
    names = invent_names(np.random.default_rng([seed, 0]))
    stations: list[StationRecord] = []
    limbs: list[LimbRecord] = []
    shoots: list[ShootRecord] = []
    for spot in spots(seed):
        rng = np.random.default_rng([seed, spot.number])
        bare = _bare(rng, names, spot)
        if spot.taped:
            story = STORIES[spot.story]
            grown = grow(rng, bare.station, spot.species, story)
            limbs.extend(_marked(one) for one in grown.limbs)
            stations.append(_walked(rng, bare, spot.species, story, grown))
        elif spot.story == "forming":
            clear = CLEAR_STEM_M[spot.orchard]
            station, own = form_tree(rng, bare, spot.species, clear)
            stations.append(station)
            shoots.extend(own)
        else:
            stations.append(walk_past(rng, bare, spot.species, spot.story))
    place, now = ground(names), tuple(stations)
    past = invent_past(seed, place, now, limbs)
    return InventedHolding(place, now, tuple(limbs), tuple(shoots), past)


def _marked(limb: LimbRecord) -> LimbRecord:
    return replace(limb, note=f"{limb.note}; {MARK}" if limb.note else MARK)


def _bare(rng: np.random.Generator, names: HoldingNames, spot: Spot) -> StationRecord:
    """Return the station with nothing told of it but where it is."""
    x, y = position(rng, spot)
    return StationRecord(
        station=str(spot.number), orchard=names.orchards[spot.orchard], x=x, y=y, note=MARK
    )


def _walked(
    rng: np.random.Generator, bare: StationRecord, species: str, story: Story, grown: Grown
) -> StationRecord:
    """Return the station as the two-minute walk finds it."""
    stem = grown.limbs[0]
    cultivars = CULTIVARS[species]
    first = min(one.at_m or 0.0 for one in grown.limbs if one.parent == "stem")
    leaning = story.lean_deg > 0.0
    return replace(
        bare,
        species=species,
        cultivar=cultivars[int(rng.integers(len(cultivars)))],
        status="living",
        planted=int(rng.integers(story.planted[0], story.planted[1] + 1)),
        form="standard",
        stock="" if species == "damson" else "seedling",
        girth_cm=float(round(stem.diameter_mm * np.pi / 10.0)),
        girth_at_m=1.0,
        height_m=round(2.0 * grown.height_m) / 2.0,
        spread_ns_m=round(2.0 * grown.spread_ns_m) / 2.0,
        spread_ew_m=round(2.0 * grown.spread_ew_m) / 2.0,
        clear_stem_m=first,
        lean_deg=story.lean_deg if leaning else 0.0,
        lean_bearing_deg=story.lean_bearing_deg if leaning else None,
        condition=story.condition,
        extension_cm=story.extension_cm,
        dead_pct=story.dead_pct,
        features=story.features,
        faults=story.faults,
    )

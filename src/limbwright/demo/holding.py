"""An invented holding of three orchards of old standard trees, surveyed by tape and compass."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from limbwright.demo.names import CULTIVARS, MARK, HoldingNames, invent_names
from limbwright.demo.old_crown import Grown, grow
from limbwright.demo.story import STORIES, Story
from limbwright.model import LimbRecord, Site, StationRecord, TreeSurvey

__all__ = ["Holding", "make_holding", "write_holding"]

SPACING_M = 9.5
"""Planting distance of old standards; common practice: 9 to 10 m."""

PLANTING: tuple[tuple[tuple[str, str], ...], ...] = (
    (
        ("apple", "split"),
        ("apple", "congested"),
        ("apple", "ordinary"),
        ("apple", "top-heavy"),
        ("", "gap"),
        ("apple", "congested, kept for wildlife"),
        ("apple", "hollow arm"),
        ("apple", "young"),
        ("", "stump"),
        ("apple", "leaning"),
        ("apple", "cankered"),
    ),
    (
        ("perry pear", "veteran"),
        ("perry pear", "ordinary"),
        ("", "gap"),
        ("pear", "congested"),
        ("pear", "included"),
        ("perry pear", "top-heavy"),
        ("apple", "mistletoe"),
        ("pear", "ordinary"),
        ("", "gap"),
    ),
    (
        ("plum", "small"),
        ("plum", "small, torn"),
        ("damson", "small"),
        ("cherry", "top-heavy"),
        ("", "gap"),
        ("cherry", "ordinary"),
        ("damson", "small"),
        ("apple", "torn"),
        ("apple", "congested"),
    ),
)
"""Species and story of each station, orchard by orchard."""

# fmt: off
STATION_COLUMNS = (
    "orchard", "station", "species", "cultivar", "x", "y", "status", "planted", "form", "stock",
    "girth_cm", "girth_at_m", "height_m", "spread_ns_m", "spread_ew_m", "clear_stem_m", "lean_deg",
    "lean_bearing_deg", "condition", "extension_cm", "dead_pct", "features", "faults", "note",
)
LIMB_COLUMNS = (
    "station", "limb", "parent", "at_m", "diameter_mm", "end_diameter_mm", "length_m",
    "bearing_deg", "rise_deg", "end_rise_deg", "crown", "state", "union", "cavity_wall_mm",
    "cavity_far_wall_mm", "cavity_open_deg", "keep", "rubs", "note",
)
# fmt: on


@dataclass(frozen=True, slots=True)
class Holding:
    """An invented holding: its names, its place, its stations and the limbs taped there."""

    name: str
    owner: str
    site: Site
    stations: tuple[StationRecord, ...]
    limbs: tuple[LimbRecord, ...]

    def surveys(self) -> tuple[TreeSurvey, ...]:
        """Return the trees with their limbs, in the order of the stations; gaps have none."""
        return tuple(
            TreeSurvey(station, limbs)
            for station in self.stations
            if (limbs := tuple(x for x in self.limbs if x.station == station.station))
        )


def make_holding(seed: int = 1) -> Holding:
    """Return an invented holding of three orchards; the same seed gives the same holding.

    Every tree of the holding is surveyed; gaps and a stump are stations without limbs. All
    records are marked as invented.
    """
    names = invent_names(np.random.default_rng([seed, 0]))
    stations: list[StationRecord] = []
    limbs: list[LimbRecord] = []
    number = 0
    for orchard, planting in enumerate(PLANTING):
        for place, (species, told) in enumerate(planting):
            number += 1
            rng = np.random.default_rng([seed, number])
            station, grown = _stand(rng, names, orchard, place, number, species, told)
            stations.append(station)
            limbs.extend(grown)
    site = Site(name=f"{names.holding} ({MARK})", terrain="III", years_stood=12.0)
    return Holding(names.holding, names.owner, site, tuple(stations), tuple(limbs))


def _stand(
    rng: np.random.Generator,
    names: HoldingNames,
    orchard: int,
    place: int,
    number: int,
    species: str,
    told: str,
) -> tuple[StationRecord, tuple[LimbRecord, ...]]:
    """Return a station and the limbs of the tree there, none for a gap or a stump."""
    bare = StationRecord(
        station=str(number),
        orchard=names.orchards[orchard],
        x=round(100.0 * orchard + SPACING_M * (place % 4) + float(rng.uniform(-0.4, 0.4)), 1),
        y=round(SPACING_M * (place // 4) + float(rng.uniform(-0.4, 0.4)), 1),
        status=told,
        note=MARK,
    )
    if not species:
        return bare, ()
    story = STORIES[told]
    grown = grow(rng, str(number), species, story)
    limbs = tuple(
        replace(one, note=f"{one.note}; {MARK}" if one.note else MARK) for one in grown.limbs
    )
    return _walked(rng, bare, species, story, grown), limbs


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


def write_holding(holding: Holding, folder: Path) -> tuple[Path, Path]:
    """Write the stations and limbs of a holding as CSV; return both paths.

    Raises
    ------
    OSError
        The folder cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    stations, limbs = folder / "stations.csv", folder / "limbs.csv"
    _write(stations, STATION_COLUMNS, [_row(one, STATION_COLUMNS) for one in holding.stations])
    _write(limbs, LIMB_COLUMNS, [_row(one, LIMB_COLUMNS) for one in holding.limbs])
    return stations, limbs


def _row(record: object, columns: Sequence[str]) -> Mapping[str, str]:
    values = {name: getattr(record, name) for name in columns}
    return {
        k: "" if v is None else f"{v:g}" if isinstance(v, float) else str(v)
        for k, v in values.items()
    }


def _write(path: Path, columns: Sequence[str], rows: Sequence[Mapping[str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, columns)
        writer.writeheader()
        writer.writerows(rows)

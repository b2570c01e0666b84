"""Habitat features of old trees: known by the surveyor's words, counted, and what each asks for.

The table is ``data/habitat.csv``. A feature *keeps* its limb (it stays whole until somebody has
looked), asks for a *look* before any cut near it, keeps a whole *tree* that fell and lives on, or
asks for nothing but to be left.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Skeleton, State
from limbwright.trade.parameters import parameters
from limbwright.trade.phrases import Heard, Phrasebook

__all__ = [
    "Feature",
    "FeatureFound",
    "Tally",
    "count_features",
    "features",
    "features_in",
    "features_of",
    "reason_to_keep",
]

Keeps = Literal["limb", "tree", "look", "no"]
KEEPS: tuple[Keeps, ...] = ("limb", "tree", "look", "no")
IN_THE_MASS = ("roost", "wood_mould", "bees", "ivy", "lichen", "mistletoe")
"""Features whose plural says nothing of their number."""


@dataclass(frozen=True, slots=True)
class Feature:
    """One kind of habitat.

    ``keeps`` is ``limb`` (the limb stays whole until it was looked at), ``tree``, ``look`` (look
    before any cut near it) or ``no``. ``season`` is when it asks for most care: ``nesting``,
    ``winter`` or ``all year``. ``who`` can tell more, empty where nobody need be asked.
    """

    key: str
    name: str
    words: tuple[str, ...]
    keeps: Keeps
    season: str
    asks: str
    who: str
    source: str


@dataclass(frozen=True, slots=True)
class FeatureFound:
    """A feature of one tree: how many, and on which limb (``where``, empty: not told).

    ``counted`` is False where nobody gave a number and ``count`` is the least the words mean;
    ``sure`` is False where the surveyor doubted.
    """

    feature: Feature
    count: int
    counted: bool
    sure: bool
    said: str
    where: str = ""


@dataclass(frozen=True, slots=True)
class Tally:
    """Features counted: of a tree, an orchard or a holding.

    ``trees`` are living trees and dead ones that stand, ``standing_dead`` the latter alone;
    ``with_habitat`` those with a feature. ``by_feature`` counts by the feature's key.
    """

    trees: int
    standing_dead: int
    with_habitat: int
    by_feature: Mapping[str, int]


@cache
def features() -> tuple[Feature, ...]:
    """Return every habitat feature of the table, in its order.

    Raises
    ------
    ValueError
        A row has no source, or keeps something unknown.
    """
    text = files("limbwright.trade").joinpath("data", "habitat.csv").read_text("utf-8")
    found = []
    for row in csv.DictReader(text.splitlines()):
        keeps = next((k for k in KEEPS if k == row["keeps"]), None)
        if keeps is None or not row["source"]:
            raise ValueError(f"habitat.csv: {row['key']} keeps nothing known, or has no source")
        words = tuple(w.strip() for w in row["words"].split(";"))
        found.append(
            Feature(
                key=row["key"],
                name=row["name"],
                words=words,
                keeps=keeps,
                season=row["season"],
                asks=row["asks"],
                who=row["who"],
                source=row["source"],
            )
        )
    return tuple(found)


@cache
def _by_key() -> dict[str, Feature]:
    return {one.key: one for one in features()}


@cache
def _book() -> Phrasebook:
    return Phrasebook({one.key: one.words for one in features()})


def features_in(text: str, *, where: str = "") -> tuple[FeatureFound, ...]:
    """Return the habitat features a text names, one entry a feature, clauses added up.

    What is denied (*no bats seen*) is left out.

    Parameters
    ----------
    text
        Words of a record, such as ``"2 rot holes; frass"``.
    where
        The limb the text is about, empty for the tree.
    """
    clauses: dict[tuple[str, str], Heard] = {}
    for heard in _book().heard(text):
        before = clauses.get((heard.key, heard.said))
        if before is None or heard.count > before.count or (heard.counted and not before.counted):
            clauses[heard.key, heard.said] = heard
    found: dict[str, FeatureFound] = {}
    for heard in clauses.values():
        one = found.get(heard.key)
        found[heard.key] = FeatureFound(
            feature=_by_key()[heard.key],
            count=_many(heard) + (0 if one is None else one.count),
            counted=heard.counted and (one is None or one.counted),
            sure=not heard.doubtful or (one is not None and one.sure),
            said=heard.said if one is None else f"{one.said}; {heard.said}",
            where=where,
        )
    return tuple(found.values())


def _many(heard: Heard) -> int:
    return 1 if heard.key in IN_THE_MASS and not heard.counted else heard.count


def features_of(
    station: StationRecord | None, skeleton: Skeleton | None = None
) -> tuple[FeatureFound, ...]:
    """Return the habitat features of one tree, on its limbs first.

    A limb's note and its reason to be kept tell of features; a dead limb of 10 cm or more and a
    surveyed cavity are features themselves. What the tree's record tells beyond what its limbs
    hold follows with no limb named, so nothing is counted twice.
    """
    found: list[FeatureFound] = []
    thick_mm = parameters("limits")["deadwood_from"].value
    for limb in () if skeleton is None else skeleton.limbs:
        here = {one.feature.key: one for one in features_in(limb.note, where=limb.label)}
        for one in features_in(limb.keep, where=limb.label):
            here.setdefault(one.feature.key, one)
        if limb.state == State.DEAD and limb.diameter_mm >= thick_mm:
            said = f"dead, {limb.diameter_mm:.0f} mm"
            here["dead_limb"] = _seen("dead_limb", said, limb.label)
        if limb.cavity_wall_mm is not None and not {"hollow", "rot_hole"} & set(here):
            said = f"cavity wall {limb.cavity_wall_mm:.0f} mm"
            here["hollow"] = _seen("hollow", said, limb.label)
        found += here.values()
    placed = Counter[str]()
    for one in found:
        placed[one.feature.key] += one.count
    if station is not None:
        text = "; ".join((station.features, station.faults, station.note))
        for one in features_in(text):
            rest = one.count - placed[one.feature.key]
            if rest > 0:
                found.append(
                    FeatureFound(one.feature, rest, one.counted, one.sure, one.said, one.where)
                )
    return tuple(found)


def _seen(key: str, said: str, where: str) -> FeatureFound:
    return FeatureFound(_by_key()[key], 1, True, True, said, where)


def count_features(
    stations: Iterable[StationRecord], skeletons: Mapping[str, Skeleton] | None = None
) -> dict[str, Tally]:
    """Return the features of a holding by orchard, and of all of it under ``""``.

    Parameters
    ----------
    stations
        The records; gaps and stumps count as no tree.
    skeletons
        Surveyed trees by name (``orchard/station``), where there are any.
    """
    known = skeletons or {}
    counts: dict[str, Counter[str]] = {"": Counter()}
    trees: dict[str, list[int]] = {"": [0, 0, 0]}
    for one in stations:
        if one.status in ("gap", "stump"):
            continue
        found = features_of(one, known.get(one.tree))
        for place in dict.fromkeys(("", one.orchard)):
            tally = trees.setdefault(place, [0, 0, 0])
            tally[0] += 1
            tally[1] += one.status == "dead"
            tally[2] += bool(found)
            count = counts.setdefault(place, Counter())
            for each in found:
                count[each.feature.key] += each.count
    return {
        place: Tally(all_, dead, with_, dict(counts[place]))
        for place, (all_, dead, with_) in trees.items()
    }


def reason_to_keep(text: str) -> str:
    """Return why a limb with this note has to stay whole until looked at; empty where it need not.

    A doubt counts: whoever thought of bats is taken at his word.
    """
    for one in features_in(text):
        if one.feature.keeps == "limb":
            return f"{one.feature.name}: {one.feature.asks}"
    return ""

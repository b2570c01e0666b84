"""What the two-minute walk says of a tree: signs in its words, gaps, contradictions."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType

from limbwright.cuts.limits import TreeState, tree_state
from limbwright.errors import InputError
from limbwright.model.records import StationRecord
from limbwright.trade.habitat import FeatureFound, features_in
from limbwright.trade.health import problems
from limbwright.trade.parameters import parameters
from limbwright.trade.phrases import Phrasebook
from limbwright.trade.species import Species
from limbwright.trade.species import species as find_species

__all__ = ["STANDING", "Walk", "read_walk"]

STANDING = ("living", "new")
"""Statuses of a station where a live tree stands."""

OWN_PHRASES: Mapping[str, tuple[str, ...]] = {
    "heavy": (
        *("long heavy limb*", "long limb*", "heavy limb*", "long low limb*", "overlong*"),
        *("long heavy arm*", "heavy arm*", "heavy end*", "over extended", "over reaching"),
        "top heavy",
    ),
    "congested": ("congest*", "crowded", "thicket*", "dense crown", "dense middle", "overgrown"),
    "hollow stem": ("hollow stem*", "hollow trunk*", "stem hollow", "trunk hollow"),
    "heaving": (
        *("heaving", "heaves", "rocking", "rocks", "ground cracked", "soil cracked"),
        *("lifting roots", "roots lifting", "roots torn", "torn roots"),
        *("root plate lift*", "root plate mov*", "root plate rock*", "root plate raised"),
    ),
    "dying": ("dying", "declin*", "nearly dead", "almost dead"),
}
"""What a surveyor writes of load, balance and strength; common words of the trade."""

SIGN_OF = {
    "split_fork": "cracked",
    "included_bark": "included",
    "broken_limb": "broken",
    "rub": "rubbing",
    "hollow": "hollow",
    "lean": "leans",
    "dieback": "dying back",
    "broken_guard": "guard",
    "tight_tie": "guard",
}
"""Problems of the trade's table that are signs here; every disease there is the sign *diseased*."""

DISEASED = "diseased"
HANGS = re.compile(r"\bh[au]ng")
REMEMBERED = 4096
"""Texts whose signs are kept at hand: most of an orchard's notes are the same few words."""

UNKNOWN = re.compile(r"^\W*(?:unknown|not known|unidentified|unnamed|seedling\?|\?)", re.IGNORECASE)

TAKEN = (
    ("species", "species"),
    ("girth_cm", "girth"),
    ("height_m", "height"),
    ("spread_m", "spread"),
    ("clear_stem_m", "clear stem"),
    ("lean_deg", "lean"),
    ("condition", "condition"),
    ("extension_cm", "last season's growth"),
    ("dead_pct", "dead share"),
    ("planted", "year of planting"),
)
"""Fields of the walk that decide something, and their names in a sentence."""


@dataclass(frozen=True, slots=True)
class Walk:
    """A station's record as read.

    ``signs`` maps each sign to the words it was read from. ``missing`` are the fields not taken,
    ``contradictions`` what in the record does not go together, in sentences. ``age_years`` is
    None where the year of planting is not known. ``kind`` is None where the species is not.
    """

    station: StationRecord
    year: int
    kind: Species | None
    state: TreeState
    age_years: int | None
    signs: Mapping[str, str]
    missing: tuple[str, ...]
    contradictions: tuple[str, ...]

    def __contains__(self, sign: str) -> bool:
        """Return whether the walk saw a sign."""
        return sign in self.signs

    @property
    def unknown_cultivar(self) -> bool:
        """Whether somebody looked and could not name the cultivar; an empty cell is not that."""
        return bool(UNKNOWN.match(self.station.cultivar))

    @property
    def homes(self) -> tuple[FeatureFound, ...]:
        """Habitat features that the walk names."""
        return homes_in(_text(self.station))

    def told(self, *signs: str) -> str:
        """Return the surveyor's words for the first of some signs, in quotes; empty for none."""
        found = next((self.signs[s] for s in signs if s in self.signs), "")
        return f"'{found}'" if found else ""


def read_walk(station: StationRecord, year: int) -> Walk:
    """Return what a station's record says in a given year."""
    try:
        kind = find_species(station.species) if station.species else None
    except InputError:
        kind = None
    age = None if station.planted is None else year - station.planted
    signs = _signs(_text(station))
    gone = station.status not in STANDING
    blank = () if gone else (name for key, name in TAKEN if getattr(station, key) in (None, ""))
    return Walk(
        station,
        year,
        kind,
        tree_state(station, year=year),
        age,
        signs,
        tuple(f"{name} not taken" for name in blank),
        tuple(_contradictions(station, age, signs)),
    )


def _text(station: StationRecord) -> str:
    told = (station.features, station.faults, station.note)
    return "; ".join(words for words in told if words)


@cache
def _book() -> Phrasebook:
    phrases: dict[str, list[str]] = {sign: list(words) for sign, words in OWN_PHRASES.items()}
    taken = {word for words in phrases.values() for word in words}
    for one in problems():
        sign = SIGN_OF.get(one.key) or (DISEASED if one.kind == "disease" else "")
        if sign:
            new = [word for word in one.words if word not in taken]
            taken.update(new)
            phrases.setdefault(sign, []).extend(new)
    return Phrasebook(phrases)


@lru_cache(maxsize=REMEMBERED)
def homes_in(text: str) -> tuple[FeatureFound, ...]:
    """Return the habitat features a text names, as `trade.habitat.features_in` does."""
    return features_in(text) if text else ()


@lru_cache(maxsize=REMEMBERED)
def _signs(text: str) -> Mapping[str, str]:
    """Return the signs in a text, each with the clause that tells of it."""
    found: dict[str, str] = {}
    for heard in _book().heard(text) if text else ():
        found.setdefault(heard.key, heard.said)
    if HANGS.search(found.get("broken", "")):
        found["hanging"] = found["broken"]
    return MappingProxyType(found)


def _contradictions(station: StationRecord, age: int | None, signs: Mapping[str, str]) -> list[str]:
    """Return what can't well be true together, each in a sentence that names both."""
    s, table = station, parameters("needs")
    said = []
    dead, condition = s.dead_pct or 0.0, s.condition
    if s.status in ("gap", "stump"):
        if s.girth_cm is not None or s.height_m is not None:
            said.append(f"a {s.status}, yet a girth or height is given")
        return said
    if s.status == "dead":
        if condition in ("good", "fair") or (s.extension_cm or 0.0) > 0.0:
            said.append("dead by its status, yet its condition or growth is that of a live tree")
        return said
    if condition == "dead":
        said.append(f"{s.status} by its status, dead by its condition")
    if condition == "good" and dead >= table["good_dead"].value:
        said.append(f"condition good, yet {dead:.0f} % of the crown is dead")
    grown = s.extension_cm
    if grown is not None and grown >= table["strong_extension"].value:
        if dead >= table["failing_dead"].value:
            said.append(f"{grown:.0f} cm of growth, yet {dead:.0f} % of the crown is dead")
        elif condition == "poor":
            said.append(f"{grown:.0f} cm of growth, yet condition poor")
    failing = signs.get("dying") or signs.get("dying back")
    if condition == "good" and failing:
        said.append(f"condition good, yet the survey says '{failing}'")
    if age is not None and age < 0:
        said.append(f"planted in {s.planted}, which is still to come")
    girth = s.girth_cm
    if age is not None and girth is not None and age >= 0 and s.status == "living":
        most = table["girth_start"].high + table["girth_a_year"].high * age
        if girth > most:
            said.append(f"girth {girth:.0f} cm is much for a tree {age} years old")
    if s.clear_stem_m is not None and s.height_m is not None and s.clear_stem_m >= s.height_m:
        said.append("the clear stem is as long as the tree is high")
    if s.lean_deg is not None and s.lean_deg < table["upright"].value and "leans" in signs:
        said.append(f"lean {s.lean_deg:.0f} degrees, yet the survey says '{signs['leans']}'")
    return said

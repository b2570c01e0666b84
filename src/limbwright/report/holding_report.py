"""Everything a report on a holding is made from, and the figures counted from it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from statistics import median

from limbwright.errors import InputError
from limbwright.growth.ranges import Range
from limbwright.learn.look_back import LookBack
from limbwright.model.holding import Holding, Orchard
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Skeleton
from limbwright.model.work import Photo, Response, Visit
from limbwright.needs.need import Need
from limbwright.report.book_words import added, day_words
from limbwright.report.book_works import (
    LATER,
    TreePlan,
    Work,
    group_of,
    season_key,
    seasons_named,
    works_of,
)
from limbwright.trade.habitat import Tally, count_features
from limbwright.trade.health import count_problems
from limbwright.trade.seasons.local import LocalRule
from limbwright.trade.species import species

__all__ = ["Baseline", "HoldingReport", "SeasonSum", "baseline_of"]

NO_SKELETONS: Mapping[str, Skeleton] = {}
NO_PICTURES: Mapping[tuple[str, str], bytes] = {}
STANDING = ("living", "new")
MOST_SEASONS = 10
AGES = ((15, "to 15 years"), (40, "16 to 40"), (80, "41 to 80"), (120, "81 to 120"))
"""Judgement: forming years, coming into full crop, in full crop, old; beyond, very old."""
VERY_OLD = "over 120"
NOT_TAKEN = "not known"
ROOSTS = ("roost", "nest", "rot_hole", "hollow", "loose_bark", "split", "ivy")
"""Habitat that bats could use; the cautions of a plan go by the same."""
ILLNESSES = {"silver_leaf": "silver leaf", "canker": "canker", "fire_blight": "fire blight"}
EWES = ("ewe", "sheep", "lamb")


@dataclass(frozen=True, slots=True)
class Baseline:
    """What stands in an orchard, counted; ``orchard`` is empty for the holding.

    ``occupancy`` is the share of stations with a live tree. Counters map a word to how many trees.
    ``girth_cm`` and ``height_m`` are middle values of those taken, None where none was.
    """

    orchard: str
    stations: int
    living: int
    dead: int
    stumps: int
    gaps: int
    occupancy: float
    species: Mapping[str, int]
    condition: Mapping[str, int]
    ages: Mapping[str, int]
    girth_cm: float | None
    height_m: float | None
    surveyed: int
    tally: Tally


@dataclass(frozen=True, slots=True)
class SeasonSum:
    """What one season holds: trees worked on, cuts known, hours with their range."""

    season: str
    works: tuple[Work, ...]
    hours: Range
    cuts: int
    rests: int

    @property
    def trees(self) -> int:
        """Number of trees somebody goes to."""
        return len({w.tree for w in self.works if not w.rest})


@dataclass(frozen=True)
class HoldingReport:
    """A holding with its needs, plans and records, from which every report is written.

    Attributes
    ----------
    holding
        Its names, aims, orchards, and the words that mark every page.
    stations, needs
        The stations in their order, and what each needs (one need a station, the same order).
    plans
        Plans of trees as they are kept.
    skeletons
        Trees whose limbs are surveyed, by name, for their pictures.
    visits, responses, photos
        Records of work, of how trees answered, and of pictures.
    pictures
        The picture itself by tree and file name, where it is at hand.
    looked_back
        Forecasts beside what was found; None where it was not asked for.
    first_season
        The first season of pome and of stone fruit.
    seasons
        How many seasons of each are told, 1 to 10.
    made_on, who
        The day of the report, and who answers for it.
    rate, currency
        What a person-hour costs, as the user says; None: hours alone are told.
    scheme, scheme_dated
        The scheme that pays, and the day or year of its terms, as the user says.
    rules
        Local rules of the windows.
    missing
        What could not be had for the report, in sentences.
    """

    holding: Holding
    stations: tuple[StationRecord, ...]
    needs: tuple[Need, ...]
    first_season: Mapping[str, str]
    made_on: date
    plans: tuple[TreePlan, ...] = ()
    skeletons: Mapping[str, Skeleton] = field(default_factory=lambda: NO_SKELETONS)
    visits: tuple[Visit, ...] = ()
    responses: tuple[Response, ...] = ()
    photos: tuple[Photo, ...] = ()
    pictures: Mapping[tuple[str, str], bytes] = field(default_factory=lambda: NO_PICTURES)
    looked_back: LookBack | None = None
    seasons: int = 5
    who: str = ""
    rate: float | None = None
    currency: str = ""
    scheme: str = ""
    scheme_dated: str = ""
    rules: tuple[LocalRule, ...] = ()
    missing: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.stations:
            raise InputError(
                "The holding has no stations yet, so there is nothing to report.",
                "Add a table of stations first.",
            )
        if [n.tree for n in self.needs] != [s.tree for s in self.stations]:
            raise ValueError("needs and stations are not the same trees in the same order")
        if not 1 <= self.seasons <= MOST_SEASONS:
            raise InputError(
                f"A report over {self.seasons} seasons was asked for.",
                f"Give 1 to {MOST_SEASONS}.",
            )
        if self.rate is not None and not 0.0 < self.rate < 1e6:
            raise InputError(
                f"The rate of {self.rate:g} an hour cannot be.", "Give what an hour costs."
            )

    @cached_property
    def works(self) -> tuple[Work, ...]:
        """The work of all seasons told, and what can wait beyond them.

        What the records tell as done is left out; what was begun says so.
        """
        found = works_of(self.needs, self.plans, self.first_season, self.seasons)
        looked = () if self.looked_back is None else self.looked_back.works
        whole = {(w.tree, w.season) for w in looked if not w.count("not made")}
        begun = {(w.tree, w.season): w.worked_on for w in looked}
        out = []
        for work in found:
            key = work.tree, work.season
            day = begun.get(key)
            if key in whole:
                continue
            if day is not None:
                what = f"Begun on {day_words(day)}, see what is left. {work.what}"
                work = replace(work, what=what)
            out.append(work)
        return tuple(out)

    @cached_property
    def season_names(self) -> tuple[str, ...]:
        """The seasons told, in order of time."""
        named = seasons_named(self.first_season, self.seasons)
        groups = {group_of(s.species) for s in self.stations} | {"pome"}
        every = {name for group in groups for name in named[group]}
        return tuple(sorted(every, key=season_key))

    @cached_property
    def sums(self) -> tuple[SeasonSum, ...]:
        """What each season holds, and last what can wait."""
        return tuple(self._sum(name) for name in (*self.season_names, LATER))

    def _sum(self, season: str) -> SeasonSum:
        mine = tuple(w for w in self.works if w.season == season)
        return SeasonSum(
            season,
            mine,
            added(w.hours for w in mine),
            sum(w.cuts for w in mine),
            sum(w.rest for w in mine),
        )

    @cached_property
    def orchards(self) -> tuple[str, ...]:
        """Names of the orchards that have stations, in the order of these."""
        return tuple(dict.fromkeys(s.orchard for s in self.stations))

    def orchard(self, name: str) -> Orchard:
        """Return the record of an orchard, a bare one where none was kept."""
        return next((o for o in self.holding.orchards if o.name == name), Orchard(name))

    @cached_property
    def named(self) -> tuple[StationRecord, ...]:
        """The stations, a species nobody knows left blank, for what is told by species."""
        return tuple(s if _known(s) else replace(s, species="") for s in self.stations)

    @cached_property
    def problems(self) -> Mapping[str, tuple[tuple[str, str], ...]]:
        """Trees by problem, each ``named`` or ``suspected``."""
        return dict(count_problems(self.named, self.skeletons))

    @cached_property
    def conditions(self) -> tuple[str, ...]:
        """What is so of the holding that windows ask for: roosts, diseases, ewes."""
        tally = self.baselines[0].tally.by_feature
        found = ["roost"] if any(key in tally for key in ROOSTS) else []
        for key, words in ILLNESSES.items():
            if any(sure == "named" for _, sure in self.problems.get(key, ())):
                found.append(words)
        grazers = " ".join(one.grazed_by.casefold() for one in self.holding.orchards)
        return (*found, "ewes") if any(word in grazers for word in EWES) else tuple(found)

    @cached_property
    def baselines(self) -> tuple[Baseline, ...]:
        """The holding counted, then each orchard where there are several."""
        tallies = count_features(self.stations, self.skeletons)
        whole = baseline_of("", self.stations, self.made_on.year, self.skeletons, tallies[""])
        if len(self.orchards) < 2:
            return (whole,)
        return (
            whole,
            *(
                baseline_of(
                    name,
                    [s for s in self.stations if s.orchard == name],
                    self.made_on.year,
                    self.skeletons,
                    tallies.get(name, Tally(0, 0, 0, {})),
                )
                for name in self.orchards
            ),
        )

    @cached_property
    def unknown(self) -> tuple[str, ...]:
        """What is not known, in sentences, the most frequent first."""
        fields = Counter(one for need in self.needs for one in need.missing)
        said = [f"{name} on {_trees(many)}" for name, many in fields.most_common()]
        bare = [s for s in self.stations if s.status in STANDING and s.tree not in self.skeletons]
        if bare:
            said.append(
                f"limbs not surveyed on {_trees(len(bare))}: their hours and doses are those of "
                "trees like them"
            )
        unplaced = [s for s in self.stations if s.x is None and s.lon_deg is None]
        if unplaced:
            said.append(f"position not taken on {_trees(len(unplaced), 'station')}")
        odd = [f"{n.tree}: {c}" for n in self.needs for c in n.contradictions]
        return (*said, *odd, *self.missing)


def baseline_of(
    orchard: str,
    stations: Iterable[StationRecord],
    year: int,
    skeletons: Mapping[str, Skeleton],
    tally: Tally,
) -> Baseline:
    """Return what stands on some stations, counted for a year."""
    every = list(stations)
    status = Counter(s.status for s in every)
    live = [s for s in every if s.status in STANDING]
    girths = [s.girth_cm for s in live if s.girth_cm is not None]
    heights = [s.height_m for s in live if s.height_m is not None]
    return Baseline(
        orchard=orchard,
        stations=len(every),
        living=len(live),
        dead=status["dead"],
        stumps=status["stump"],
        gaps=status["gap"],
        occupancy=len(live) / len(every) if every else 0.0,
        species=dict(Counter(_species(s) for s in live).most_common()),
        condition=_ordered(
            Counter(s.condition or NOT_TAKEN for s in live),
            ("good", "fair", "poor", "dead", NOT_TAKEN),
        ),
        ages=_ordered(
            Counter(_age(s, year) for s in live),
            (*(name for _, name in AGES), VERY_OLD, NOT_TAKEN),
        ),
        girth_cm=median(girths) if girths else None,
        height_m=median(heights) if heights else None,
        surveyed=sum(s.tree in skeletons for s in every),
        tally=tally,
    )


def _known(station: StationRecord) -> bool:
    try:
        return bool(station.species) and bool(species(station.species))
    except InputError:
        return False


def _species(station: StationRecord) -> str:
    if not station.species:
        return NOT_TAKEN
    return species(station.species).name if _known(station) else station.species


def _age(station: StationRecord, year: int) -> str:
    if station.planted is None:
        return NOT_TAKEN
    years = year - station.planted
    return next((name for most, name in AGES if years <= most), VERY_OLD)


def _ordered(counts: Counter[str], words: Iterable[str]) -> dict[str, int]:
    first = {word: counts[word] for word in words if counts[word]}
    return {**first, **{word: n for word, n in counts.items() if word not in first}}


def _trees(many: int, word: str = "tree") -> str:
    return f"1 {word}" if many == 1 else f"{many} {word}s"

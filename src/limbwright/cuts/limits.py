"""How much one season may take: the state of the tree, its dose and the other limits."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

import numpy as np

from limbwright.cuts.results import Wishes
from limbwright.cuts.weights import Settings
from limbwright.errors import PlanError
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Skeleton, State
from limbwright.trade.phrases import Phrasebook
from limbwright.trade.species import Species

__all__ = ["Limits", "TreeState", "limits", "say_binding", "tree_state"]

WEAK_EXTENSION_CM = (
    5.0  # judgement: less shoot growth than this in a season is a tree standing still
)
STRONG_EXTENSION_CM = 40.0  # judgement: more than this is a vigorous, overgrowing tree
WEAK_DEAD_PCT = 30.0  # judgement: with so much dead wood the live crown is on the way back
VETERAN_AGE_YEARS = 120  # judgement: few orchard trees on seedling stock live longer
KEPT_AGE_YEARS = 25  # judgement: a good tree younger than this is in its routine years

# Words a surveyor writes, strongest first: the strictest state wins.
WORDS: dict[str, tuple[str, ...]] = {
    "veteran": ("veteran", "ancient", "retrench"),
    "weak": ("weak", "poor", "declin", "dying", "drought", "replanted", "honey fungus"),
    "long forgotten": ("long forgotten", "abandoned", "forgotten"),
    "neglected": ("neglect",),
    "overgrown": ("overgrown", "congested", "crowded", "dense"),
    "routine": ("routine", "well kept", "maintained", "in work", "pruned yearly", "pruned every"),
}
WHOLE = frozenset({"poor", "in work"})  # other endings would make other words of these
DOSE_OF = {
    "veteran": "dose_veteran",
    "weak": "dose_weak",
    "long forgotten": "dose_long_forgotten",
    "neglected": "dose_neglected",
    "overgrown": "dose_overgrown",
    "routine": "dose_routine",
}


@dataclass(frozen=True, slots=True)
class TreeState:
    """The state of a tree in one word, and what in the record says so."""

    key: str
    because: str

    @property
    def frail(self) -> bool:
        """Whether the tree needs all its leaf and closes wounds slowly."""
        return self.key in ("weak", "veteran")


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits of one season in the units of the plan.

    ``dose`` share of the live leaf; ``wound_cm2`` total live wound; ``balance_kg_m`` most
    lopsidedness after; ``deadwood_kg`` least mass of thick dead wood left.
    ``dose_words`` says where the dose comes from.
    """

    state: TreeState
    dose: float
    dose_words: str
    live_leaf_m2: float
    stem_area_cm2: float
    wound_cm2: float
    balance_kg_m: float
    deadwood_kg: float
    max_cuts: int | None


def tree_state(station: StationRecord | None, *, year: int | None = None) -> TreeState:
    """Return the state that decides the dose, from the station's record.

    Words in condition, note, features and faults come first, the strictest of them, those aside
    that their clause denies (``not dying``); then growth, dead wood and age; a tree nothing is
    known of is a neglected old one.

    Parameters
    ----------
    station
        The record, or None.
    year
        The year of the plan, for the tree's age.
    """
    if station is None:
        return TreeState("neglected", "no station record")
    said = _said(station)
    if said and said[0][0] in ("veteran", "weak"):
        return TreeState(said[0][0], f"the survey says {said[0][1]!r}")
    if station.dead_pct is not None and station.dead_pct >= WEAK_DEAD_PCT:
        return TreeState("weak", f"{station.dead_pct:.0f} % of the crown is dead")
    extension = station.extension_cm
    if extension is not None and extension < WEAK_EXTENSION_CM:
        return TreeState("weak", f"it grew only {extension:.0f} cm last season")
    age = None if year is None or station.planted is None else year - station.planted
    if age is not None and age >= VETERAN_AGE_YEARS:
        return TreeState("veteran", f"planted {station.planted}")
    if said:
        return TreeState(said[0][0], f"the survey says {said[0][1]!r}")
    if extension is not None and extension > STRONG_EXTENSION_CM:
        return TreeState("overgrown", f"it grew {extension:.0f} cm last season")
    if station.condition.strip().lower() == "good" and age is not None and age <= KEPT_AGE_YEARS:
        return TreeState("routine", f"in good condition and {age} years old")
    return TreeState("neglected", "nothing in the record says otherwise")


@cache
def _book() -> Phrasebook:
    return Phrasebook(
        {
            key: [word if word in WHOLE else f"{word}*" for word in words]
            for key, words in WORDS.items()
        }
    )


def _said(station: StationRecord) -> list[tuple[str, str]]:
    """Return the states that a record names, the strictest first, each with the word for it."""
    fields = (station.condition, station.note, station.features, station.faults)
    heard = _book().heard("; ".join(fields))
    found = []
    for key, words in WORDS.items():
        clause = next((one.said for one in heard if one.key == key), None)
        if clause is not None:
            either = "|".join(word.replace(" ", r"[\s-]*") for word in words)
            match = re.search(rf"\b(?:{either})", clause)
            found.append((key, clause if match is None else match.group(0)))
    return found


def limits(
    skeleton: Skeleton,
    wood_kg: np.ndarray[tuple[int], np.dtype[np.float64]],
    kind: Species,
    station: StationRecord | None,
    wishes: Wishes,
    settings: Settings,
    *,
    year: int | None = None,
) -> Limits:
    """Return the limits of one season for one tree.

    Parameters
    ----------
    wood_kg
        ``(n,)`` green mass of each segment [kg].

    Raises
    ------
    PlanError
        The wished dose is not between zero and one third.
    """
    state = tree_state(station, year=year)
    dose, words = settings[DOSE_OF[state.key]], f"{state.key} tree ({state.because})"
    if kind.group == "stone" and settings["dose_stone"] < dose:
        dose, words = settings["dose_stone"], f"{words}, and stone fruit bears little cutting"
    if wishes.dose is not None:
        if not 0.0 < wishes.dose <= settings["dose_ceiling"] + 1e-9:
            raise PlanError(
                f"A dose of {100 * wishes.dose:.0f} % was asked for tree {skeleton.tree}.",
                "Give more than 0 and at most a third (33 %) of the live crown.",
            )
        dose, words = wishes.dose, "asked for"
    dose = min(dose, settings["dose_ceiling"])
    live_leaf = float(skeleton.leaf_area_m2[skeleton.state != State.DEAD].sum())
    stem_cm2 = np.pi * (float(skeleton.start_diameter_mm[0]) / 20.0) ** 2
    middle = 0.5 * (skeleton.start_m + skeleton.end_m)[:, :2]
    radius = float(np.quantile(np.linalg.norm(middle, axis=1), 0.9))
    before = float(np.linalg.norm((wood_kg[:, None] * middle).sum(axis=0)))
    level = settings["balance_share"] * radius * float(wood_kg.sum())
    dead = thick_dead(skeleton, settings)
    share = 0.0 if wishes.people_below else settings["deadwood_keep_share"]
    return Limits(
        state=state,
        dose=dose,
        dose_words=words,
        live_leaf_m2=live_leaf,
        stem_area_cm2=stem_cm2,
        wound_cm2=settings["wound_share"] * stem_cm2,
        balance_kg_m=max(before, level),
        deadwood_kg=share * float(wood_kg[dead].sum()),
        max_cuts=wishes.max_cuts,
    )


def thick_dead(
    skeleton: Skeleton, settings: Settings
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Return ``(n,)`` True for wood of dead limbs thick enough to be habitat."""
    thick = np.array(
        [
            limb.state == State.DEAD and limb.diameter_mm >= settings["deadwood_from"]
            for limb in skeleton.limbs
        ],
        dtype=np.bool_,
    )
    dead = skeleton.state == State.DEAD
    return np.asarray(dead & thick[skeleton.limb] if thick.size else np.zeros_like(dead))


WORDS_FOR = {
    "dose": "the dose: {dose:.0f} % of the live crown of the {dose_limit:.0f} % allowed",
    "wound share": "the wounds: cut area {wound:.0f} % of the stem section of {wound_limit:.0f} % "
    "allowed",
    "balance": "the balance of the crown about the stem",
    "deadwood": "the thick dead wood to be left for wildlife",
    "number of cuts": "the number of cuts asked for",
    "keep": "the limbs asked to go and those that must stay",
    "heir": "the need for a live lateral to shorten to",
}


def say_binding(name: str, dose: float, bounds: Limits, wound_cm2: float) -> str:
    """Return the limit ``name`` in words with its figures."""
    template = WORDS_FOR.get(name, name)
    stem = max(bounds.stem_area_cm2, 1e-9)
    return template.format(
        dose=100 * dose,
        dose_limit=100 * bounds.dose,
        wound=100 * wound_cm2 / stem,
        wound_limit=100 * bounds.wound_cm2 / stem,
    )

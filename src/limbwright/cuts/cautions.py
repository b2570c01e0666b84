"""The cautions that apply to one plan or one orchard; all defer to local law and licensed people.

The table is ``trade/data/cautions.csv``. Each caution has its occasion in the data, a short text
for the card (none where the card can do without) and a longer one for reports.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from limbwright.cuts.disease import diseases_of
from limbwright.cuts.results import Cut, Wishes
from limbwright.cuts.weights import Settings
from limbwright.cuts.wildlife import forced_habitat, unplaced_habitat
from limbwright.model.holding import Orchard
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Skeleton, State, Union
from limbwright.trade.habitat import features_in
from limbwright.trade.health import LEANING_DEG, problems_in
from limbwright.trade.mistletoe import mistletoe_advice, mistletoe_of
from limbwright.trade.parameters import Parameter
from limbwright.trade.species import Species, species, window
from limbwright.trade.windows import nesting_months

__all__ = ["Caution", "cautions", "full_cautions", "orchard_cautions"]

MAY_HOLD_BATS = ("roost", "nest", "rot_hole", "hollow", "loose_bark", "split", "ivy")
AT_THE_FOOT = ("honey_fungus", "collar_rot")

# Words of a record that are the occasion of a caution.
LINES = re.compile(r"\b(?:power|overhead|electric\w*|telephone|phone)[\s-]*(?:line|cable|wire)s?\b")
PROTECTED = re.compile(
    r"\btpo\b|\bprotected tree|\btree is protected|\bpreservation order|\bconservation area|"
    r"\bsssi\b"
)
BELOW = re.compile(
    r"\b(?:foot)?path\b|\broad\b|\bpublic\b|\bplay(?:ground)?\b|\bpeople\b|\bbench\b"
)
COPPER = re.compile(r"\bcopper\b|\bbordeaux\b|\bburgundy mixture\b")
SHEEP = re.compile(r"\bsheep\b|\bewes?\b|\blambs?\b")
BURNING = re.compile(r"\bburn(?:ing|t|ed)?\b|\bbonfires?\b")
FOOT = re.compile(r"\b(?:base|foot|root\w*|butt|collar|ground)\b")


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution: ``full`` for reports, ``text`` for the card (empty: not shown there)."""

    key: str
    text: str
    full: str
    source: str


@dataclass(frozen=True, slots=True)
class _Row:
    key: str
    when: str
    text: str
    full: str
    source: str


Words = Mapping[str, str]


@cache
def _rows() -> tuple[_Row, ...]:
    text = files("limbwright.trade").joinpath("data", "cautions.csv").read_text("utf-8")
    return tuple(
        _Row(row["key"], row["when"], row["text"], row["full"] or row["text"], row["source"])
        for row in csv.DictReader(text.splitlines())
    )


def cautions(
    skeleton: Skeleton,
    kind: Species,
    cuts: Sequence[Cut],
    station: StationRecord | None,
    settings: Settings,
    *,
    southern: bool = False,
    orchard: Orchard | None = None,
    wishes: Wishes | None = None,
    use: Mapping[int, float] | None = None,
    months: Iterable[int] = (),
) -> tuple[str, ...]:
    """Return the short cautions that this tree and these cuts give, for the card.

    Parameters
    ----------
    orchard
        Where it stands: who grazes there, and whether people are below.
    wishes
        What the adviser asked: a limb forced to go though something lives in it is told.
    use
        Utilisation of each limb after the cuts, by its index: a kept limb that is weak is told.
    months
        Months, 1 to 12, in which work is planned beside those of the calendar.
    """
    found = full_cautions(
        skeleton,
        kind,
        cuts,
        station,
        settings,
        southern=southern,
        orchard=orchard,
        wishes=wishes,
        use=use,
        months=months,
    )
    return tuple(one.text for one in found if one.text)


def full_cautions(
    skeleton: Skeleton,
    kind: Species,
    cuts: Sequence[Cut],
    station: StationRecord | None,
    settings: Settings,
    *,
    southern: bool = False,
    orchard: Orchard | None = None,
    wishes: Wishes | None = None,
    use: Mapping[int, float] | None = None,
    months: Iterable[int] = (),
) -> tuple[Caution, ...]:
    """Return all cautions of one tree and its cuts, short and long, in the order of the table."""
    diseases = diseases_of(skeleton, station, kind)
    notes = "; ".join((_record(station), *(limb.note for limb in skeleton.limbs)))
    hollow = any(limb.cavity_wall_mm is not None for limb in skeleton.limbs)
    cracked = any(limb.union == Union.CRACKED for limb in skeleton.limbs)
    lean = station is not None and (station.lean_deg or 0.0) >= LEANING_DEG
    ill = any(limb.state == State.DISEASED for limb in skeleton.limbs) or bool(diseases)
    occasions = {
        "above_reach": any(c.height_m > settings["ground_reach"] for c in cuts),
        "chainsaw": any("chainsaw" in c.tool for c in cuts),
        "three_stages": any("three stages" in c.tool for c in cuts),
        "bats": hollow or cracked or _may_hold_bats(notes),
        "diseased": ill,
        "defect": hollow or cracked or lean,
        "people": wishes is not None and wishes.people_below,
    }
    words: dict[str, Words] = {f"ill:{d.key}": _cm(d.margin_m) for d in diseases}
    forced = forced_habitat(skeleton, wishes)
    if forced:
        words["habitat_forced"] = {
            "limb": _and(label for label, _ in forced),
            "what": _and(what for _, what in forced),
        }
    weak = {
        limb.label: used
        for k, limb in enumerate(skeleton.limbs)
        if limb.keep and (used := (use or {}).get(k, 0.0)) >= settings["overload"]
    }
    if weak:
        per_cent = f"{100 * max(weak.values()):.0f}"
        words["kept_weak"] = {
            "limb": _and(weak),
            "use": per_cent if len(weak) == 1 else f"up to {per_cent}",
        }
    unplaced = [name for name, sure in unplaced_habitat(skeleton, station) if sure]
    if unplaced:
        words["habitat_unplaced"] = {"what": _and(unplaced)}
    words |= _mistletoe(station, skeleton)
    occasions["nesting"] = bool(set(months) & set(nesting_months(southern)))
    return _told(notes, kind, station, orchard, southern, occasions, words)


def orchard_cautions(
    stations: Iterable[StationRecord], orchard: Orchard | None = None, *, southern: bool = False
) -> tuple[Caution, ...]:
    """Return the cautions of all trees of an orchard from their records alone, once each.

    Those of single cuts are left out, but work at height and with chainsaws is always told.
    """
    every: dict[tuple[str, str], Caution] = {}
    for station in stations:
        if station.status in ("gap", "stump") or not station.species:
            continue
        kind, notes = species(station.species), _record(station)
        sure = [f.problem for f in problems_in(notes, kind) if f.sure == "named"]
        diseases = [one for one in sure if one.kind == "disease"]
        lean = (station.lean_deg or 0.0) >= LEANING_DEG
        weak = bool({"hollow", "split_fork", "lean"} & {one.key for one in sure})
        occasions = {
            "above_reach": True,
            "chainsaw": True,
            "bats": _may_hold_bats(notes),
            "diseased": bool(diseases),
            "defect": lean or weak,
        }
        words: dict[str, Words] = {
            f"ill:{one.key}": {} if one.distance_m is None else _cm(one.distance_m)
            for one in diseases
        }
        for one in _told(notes, kind, station, orchard, southern, occasions, words):
            every.setdefault((one.key, one.full), one)
    keys = [row.key for row in _rows()]
    return tuple(sorted(every.values(), key=lambda one: keys.index(one.key)))


def _told(
    notes: str,
    kind: Species,
    station: StationRecord | None,
    orchard: Orchard | None,
    southern: bool,
    occasions: dict[str, bool],
    words: dict[str, Words],
) -> tuple[Caution, ...]:
    """Add what the record and the orchard give, and put the figures into the texts."""
    place = "" if orchard is None else f"{orchard.note}; {orchard.access}".lower()
    said = f"{notes.lower()}; {place}"
    grazed = "" if orchard is None else orchard.grazed_by.lower()
    found = problems_in(notes, kind)
    months = set(window(kind, southern).months)
    occasions = {
        **occasions,
        "always": True,
        "nesting": occasions.get("nesting", False) or bool(months & set(nesting_months(southern))),
        "stone": kind.group == "stone",
        "pome": kind.group == "pome",
        "people": occasions.get("people", False)
        or (orchard is not None and orchard.people_below)
        or BELOW.search(notes.lower()) is not None,
        "lines_noted": LINES.search(said) is not None,
        "protected_noted": PROTECTED.search(said) is not None,
        "brittle": station is not None and "dead" in (station.status, station.condition),
        "copper": COPPER.search(said) is not None and SHEEP.search(f"{said} {grazed}") is not None,
        "burning": BURNING.search(said) is not None
        or any("Burn" in f.problem.disposal for f in found if f.sure == "named"),
    }
    foot = [
        f.problem.name
        for f in found
        if f.problem.key in AT_THE_FOOT
        or (f.problem.key == "bracket_fungi" and FOOT.search(f.said))
    ]
    report = [
        f.problem.name
        for f in found
        if f.problem.report == "check" and f"ill:{f.problem.key}" not in words
    ]
    for when, names in (("foot", foot), ("report", report)):
        if names:
            words[when] = {"what": _and(names)}
    return tuple(
        Caution(
            row.key,
            row.text.format(**words.get(row.when, {})),
            row.full.format(**words.get(row.when, {})),
            row.source,
        )
        for row in _rows()
        if occasions.get(row.when, row.when in words)
    )


def _record(station: StationRecord | None) -> str:
    return "" if station is None else f"{station.features}; {station.faults}; {station.note}"


def _may_hold_bats(notes: str) -> bool:
    return any(one.feature.key in MAY_HOLD_BATS for one in features_in(notes))


def _mistletoe(station: StationRecord | None, skeleton: Skeleton) -> dict[str, Words]:
    tree, _ = mistletoe_of(station, skeleton)
    if tree is None:
        return {}
    advice = mistletoe_advice(tree)
    if not advice.take:
        return {}
    return {
        "mistletoe": {
            "many": f"{advice.clumps}" if advice.counted else f"about {advice.clumps}",
            "take": f"{advice.take}",
            "low": f"{advice.take_low}",
            "high": f"{advice.take_high}",
            "leave": f"{advice.leave}",
        }
    }


def _cm(distance_m: Parameter) -> dict[str, str]:
    """Return a distance and its range as whole centimetres."""
    values = {"cm": distance_m.value, "low": distance_m.low, "high": distance_m.high}
    return {name: f"{100 * value:.0f}" for name, value in values.items()}


def _and(names: Iterable[str]) -> str:
    every = list(dict.fromkeys(names))
    return every[0] if len(every) == 1 else ", ".join(every[:-1]) + " and " + every[-1]

"""Diseases, faults and injuries of old fruit trees: their signs, and what is done about each.

The table is ``data/problems.csv``; how far below the last sign to cut is in ``data/diseases.csv``,
with the range where sources disagree. Each problem carries the words by which a surveyor writes
it, and *hints*: signs that make one suspect it and no more.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from limbwright.errors import InputError
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Skeleton, State, Union
from limbwright.trade.parameters import Parameter, parameters
from limbwright.trade.phrases import Phrasebook
from limbwright.trade.species import Species, species

__all__ = [
    "LEANING_DEG",
    "Found",
    "Kind",
    "Problem",
    "count_problems",
    "look_up",
    "problems",
    "problems_in",
    "problems_of",
]

Kind = Literal["disease", "pest", "structure", "injury", "growth"]
Sure = Literal["named", "suspected"]

KINDS: tuple[Kind, ...] = ("disease", "pest", "structure", "injury", "growth")
LEANING_DEG = 15.0  # judgement: a stem off the upright by more is seen to lean
REPORT_WORDS = {
    "check": "In some countries it has to be reported: ask the plant health authority first.",
    "": "",
}


@dataclass(frozen=True, slots=True)
class Problem:
    """One disease, pest, fault or injury.

    ``hosts`` are species keys, or ``pome``, ``stone``, ``all``. ``distance_m`` is how far below
    the last sign to cut, None where nothing is cut for it. ``report``: ``check`` where some
    countries want it reported. ``disagree`` says where sources do not agree, or what is open.
    """

    key: str
    name: str
    latin: str
    kind: Kind
    hosts: tuple[str, ...]
    words: tuple[str, ...]
    hints: tuple[str, ...]
    signs: str
    response: str
    distance_m: Parameter | None
    hygiene: str
    disposal: str
    season: str
    report: str
    disagree: str
    source: str

    def troubles(self, kind: Species) -> bool:
        """Return whether a species is among its usual hosts."""
        return bool({"all", kind.group, kind.key} & set(self.hosts))

    @property
    def distance_words(self) -> str:
        """How far below the last sign to cut, with the range; empty where nothing is cut."""
        if self.distance_m is None:
            return ""
        value, low, high = (
            100.0 * x for x in (self.distance_m.value, self.distance_m.low, self.distance_m.high)
        )
        return f"{value:.0f} cm below the last sign ({low:.0f} to {high:.0f})"

    def to_dict(self) -> dict[str, Any]:
        """Return the problem as plain values, distances in cm."""
        d = self.distance_m
        return {
            "key": self.key,
            "name": self.name,
            "latin": self.latin,
            "kind": self.kind,
            "hosts": list(self.hosts),
            "signs": self.signs,
            "response": self.response,
            "cut_below_cm": None if d is None else round(100.0 * d.value, 1),
            "cut_below_low_cm": None if d is None else round(100.0 * d.low, 1),
            "cut_below_high_cm": None if d is None else round(100.0 * d.high, 1),
            "cut_below_source": "" if d is None else d.source,
            "hygiene": self.hygiene,
            "disposal": self.disposal,
            "season": self.season,
            "report": REPORT_WORDS[self.report],
            "disagree": self.disagree,
            "source": self.source,
        }


@dataclass(frozen=True, slots=True)
class Found:
    """A problem that a record names, or gives a sign of.

    ``sure`` is ``named`` where the surveyor wrote its name or measured it, ``suspected`` where
    only a sign was written, the surveyor doubted, or the species is not a usual host. ``said`` is
    what was written, ``where`` the limb's label, empty for the tree.
    """

    problem: Problem
    sure: Sure
    said: str
    where: str = ""


@cache
def problems() -> tuple[Problem, ...]:
    """Return every problem of the table, in its order.

    Raises
    ------
    ValueError
        A row has no source, an unknown kind, or a distance that is not in ``diseases.csv``.
    """
    text = files("limbwright.trade").joinpath("data", "problems.csv").read_text("utf-8")
    distances = parameters("diseases")
    found = []
    for row in csv.DictReader(text.splitlines()):
        key, kind = row["key"], row["kind"]
        if not row["source"]:
            raise ValueError(f"problems.csv: {key} has no source")
        if kind not in KINDS or row["report"] not in REPORT_WORDS:
            raise ValueError(f"problems.csv: {key} is of no known kind, or badly marked to report")
        if row["distance"] and row["distance"] not in distances:
            raise ValueError(f"problems.csv: {key} has a distance that diseases.csv has not")
        found.append(
            Problem(
                key=key,
                name=row["name"],
                latin=row["latin"],
                kind=kind,
                hosts=_list(row["hosts"]),
                words=_list(row["words"]),
                hints=_list(row["hints"]),
                signs=row["signs"],
                response=row["response"],
                distance_m=distances[row["distance"]] if row["distance"] else None,
                hygiene=row["hygiene"],
                disposal=row["disposal"],
                season=row["season"],
                report=row["report"],
                disagree=row["disagree"],
                source=row["source"],
            )
        )
    return tuple(found)


def _list(cell: str) -> tuple[str, ...]:
    return tuple(word.strip() for word in cell.split(";") if word.strip())


@cache
def _by_key() -> dict[str, Problem]:
    return {one.key: one for one in problems()}


@cache
def _book() -> Phrasebook:
    """Phrases to ``key`` or ``hint:key``; one that several problems share to ``a|b``."""
    keys: dict[str, list[str]] = {}
    for one in problems():
        for phrase in one.words:
            keys.setdefault(phrase, []).append(one.key)
        for phrase in one.hints:
            keys.setdefault(phrase, []).append(f"hint:{one.key}")
    phrases: dict[str, list[str]] = {}
    for phrase, named in keys.items():
        phrases.setdefault("|".join(named), []).append(phrase)
    return Phrasebook(phrases)


def problems_in(text: str, kind: Species | None = None, *, where: str = "") -> tuple[Found, ...]:
    """Return the problems that a text names or gives signs of, each once, in the order written.

    Parameters
    ----------
    text
        Words of a record, such as ``"canker from 1.2 m; no silver leaf"``; what is denied is not
        found.
    kind
        The species, which decides between diseases of one name: a canker on stone fruit is the
        bacterial one. Without it the first of the table is taken, and only suspected.
    where
        The limb the text is about, empty for the tree.
    """
    found: dict[str, Found] = {}
    for heard in _book().heard(text):
        named = [_by_key()[key.removeprefix("hint:")] for key in heard.key.split("|")]
        usual = [one for one in named if kind is not None and one.troubles(kind)]
        one = (usual or named)[0]
        sure: Sure = "named"
        if f"hint:{one.key}" in heard.key.split("|") or heard.doubtful:
            sure = "suspected"
        if (kind is not None and not usual) or (kind is None and len(named) > 1):
            sure = "suspected"
        before = found.get(one.key)
        if before is None or (before.sure == "suspected" and sure == "named"):
            found[one.key] = Found(one, sure, heard.said, where)
    return tuple(found.values())


def problems_of(
    station: StationRecord | None,
    skeleton: Skeleton | None = None,
    kind: Species | None = None,
) -> tuple[Found, ...]:
    """Return the problems of one tree: what its record says, its limbs' notes say or show.

    The limbs show cracked and included unions, cavities, rubs and torn wood; the record a lean of
    15° or more. Each problem is told once for each place.
    """
    found: list[Found] = []
    if station is not None:
        words = "; ".join((station.faults, station.note, station.features))
        found += problems_in(words, kind)
        lean = station.lean_deg
        if lean is not None and lean >= LEANING_DEG:
            found.append(_seen("lean", f"leans {lean:.0f}°"))
    if skeleton is not None:
        for limb in skeleton.limbs:
            found += problems_in(limb.note, kind, where=limb.label)
            if limb.union == Union.CRACKED:
                found.append(_seen("split_fork", "union cracked", limb.label))
            if limb.union == Union.INCLUDED:
                found.append(_seen("included_bark", "union included", limb.label))
            if limb.cavity_wall_mm is not None:
                wall = f"cavity wall {limb.cavity_wall_mm:.0f} mm"
                found.append(_seen("hollow", wall, limb.label))
            if limb.rubs:
                found.append(_seen("rub", f"rubs {limb.rubs}", limb.label))
            if limb.state == State.BROKEN:
                found.append(_seen("broken_limb", "broken", limb.label))
    return _each_once(found)


def count_problems(
    stations: Iterable[StationRecord], skeletons: Mapping[str, Skeleton] | None = None
) -> dict[str, tuple[tuple[str, Sure], ...]]:
    """Return by problem the trees that have it, each ``named`` or ``suspected``.

    Parameters
    ----------
    stations
        The records; gaps and stumps are left out.
    skeletons
        Surveyed trees by name (``orchard/station``), where there are any.
    """
    known = skeletons or {}
    trees: dict[str, dict[str, Sure]] = {}
    for one in stations:
        if one.status in ("gap", "stump"):
            continue
        kind = species(one.species) if one.species else None
        for found in problems_of(one, known.get(one.tree), kind):
            at = trees.setdefault(found.problem.key, {})
            if at.get(one.tree) != "named":
                at[one.tree] = found.sure
    order = [one.key for one in problems()]
    return {key: tuple(trees[key].items()) for key in order if key in trees}


def _seen(key: str, said: str, where: str = "") -> Found:
    return Found(_by_key()[key], "named", said, where)


def _each_once(found: Iterable[Found]) -> tuple[Found, ...]:
    kept: dict[tuple[str, str], Found] = {}
    for one in found:
        at = (one.problem.key, one.where)
        if at not in kept or (kept[at].sure == "suspected" and one.sure == "named"):
            kept[at] = one
    return tuple(kept.values())


def look_up(name: str) -> tuple[Problem, ...]:
    """Return the problems that go by a name, key, Latin name or sign; all that fit.

    Raises
    ------
    InputError
        Nothing goes by that name; the message offers the nearest.
    """
    plain = _plain(name)
    if not plain:
        raise InputError("No problem is named.", f"Give one of: {_known()}.")
    exact = [one for one in problems() if plain == _plain(one.name)]
    if exact:
        return tuple(exact)
    parts = [one for one in problems() if plain in _plain(f"{one.name} {one.latin} {one.key}")]
    heard = [one.problem for one in problems_in(name)]
    shared = [one for one in problems() if heard and set(one.words) & _said(name)]
    every = {one.key: one for one in (*parts, *heard, *shared)}
    if every:
        return tuple(one for one in problems() if one.key in every)
    names = {
        _plain(phrase.rstrip("*")): one.name
        for one in problems()
        for phrase in (one.name, *one.words)
    }
    near = get_close_matches(plain, names, n=3, cutoff=0.6)
    offered = dict.fromkeys(names[word] for word in near)
    raise InputError(
        f"No problem goes by the name {name.strip()!r}.",
        f"Did you mean: {', '.join(offered)}?" if offered else f"Known: {_known()}.",
    )


def _said(name: str) -> set[str]:
    plain = _plain(name)
    return {phrase for one in problems() for phrase in one.words if plain == phrase.rstrip("*")}


def _known() -> str:
    return ", ".join(one.name for one in problems())


def _plain(name: str) -> str:
    return " ".join(name.casefold().replace("-", " ").replace("_", " ").split())

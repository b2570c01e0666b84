"""Which shoots become the scaffold: the best set there is, found exactly.

A set is scored by six terms of 0 to 1, each in a pruner's words. Three of them are means over the
shoots and three belong to the set as a whole; for each there is a bound on what any larger set can
reach, so that a search in depth passes over what cannot win and still proves the best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from limbwright.form.settings import FormSettings

__all__ = ["TERMS", "Candidate", "Scored", "best_sets", "gaps_deg", "score_set"]

TERMS = ("evenness", "angle", "stagger", "vigour", "union", "count")
"""Evenness round the stem, angle from it, spacing along it, balance of strength, thickness over
the stem, number of limbs."""

_LEAST_GAIN = 1e-12


@dataclass(frozen=True, slots=True)
class Candidate:
    """A shoot that could become a scaffold limb.

    ``angle_deg`` is from the upright; ``stem_mm`` the thickness of the stem where it grows.
    ``chosen`` is true where an earlier year chose it: then every set holds it.
    """

    name: str
    at_m: float
    bearing_deg: float
    angle_deg: float
    diameter_mm: float
    stem_mm: float
    chosen: bool = False


@dataclass(frozen=True, slots=True)
class Scored:
    """A set of candidates, the lowest on the stem first, its score and its terms, 0 to 1."""

    members: tuple[Candidate, ...]
    score: float
    terms: tuple[float, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the members, the lowest first."""
        return tuple(c.name for c in self.members)


def gaps_deg(bearings_deg: Sequence[float]) -> tuple[float, ...]:
    """Return the gaps round the stem [degrees], clockwise from each bearing in rising order."""
    order = sorted(b % 360.0 for b in bearings_deg)
    if not order:
        return ()
    return (*(b - a for a, b in pairwise(order)), order[0] + 360.0 - order[-1])


def score_set(members: Sequence[Candidate], settings: FormSettings) -> Scored:
    """Return the score of one set, with its terms in the order of `TERMS`.

    Parameters
    ----------
    members
        One candidate or more, in any order.
    """
    chosen = tuple(sorted(members, key=lambda c: (c.at_m, c.name)))
    k = len(chosen)
    terms = (
        _evenness(chosen, k, settings),
        sum(_angle(c, settings) for c in chosen) / k,
        _stagger(chosen, k, settings),
        min(c.diameter_mm for c in chosen) / max(c.diameter_mm for c in chosen),
        sum(_union(c, settings) for c in chosen) / k,
        _count(k, settings),
    )
    return Scored(chosen, _weighed(terms, settings), terms)


def best_sets(
    candidates: Sequence[Candidate],
    settings: FormSettings,
    *,
    fewest: int,
    most: int,
    keep: int = 2,
) -> tuple[Scored, ...]:
    """Return the best sets there are, the best first; the order of the candidates is no matter.

    Parameters
    ----------
    candidates
        The shoots to choose from; those an earlier year chose are in every set.
    fewest, most
        How many shoots a set may hold; where more were chosen earlier, as many as were.
    keep
        How many sets to return.

    Returns
    -------
    tuple of Scored
        Fewer than ``keep`` where there are not so many sets; of equal scores the set whose names
        come first. Exact: held to every set there is in the tests.
    """
    forced = [c for c in candidates if c.chosen]
    free = sorted(
        (c for c in candidates if not c.chosen),
        key=lambda c: (-_angle(c, settings) - _union(c, settings), c.at_m, c.name),
    )
    search = _Search(free, settings, keep)
    for k in range(max(fewest, len(forced), 1), max(most, len(forced)) + 1):
        if k <= len(candidates):
            search.of_size(k, forced)
    return tuple(search.found)


class _Search:
    """A search in depth over sets of one size after another, sharing what was found."""

    def __init__(self, free: list[Candidate], settings: FormSettings, keep: int) -> None:
        self.free, self.settings, self.keep = free, settings, keep
        self.found: list[Scored] = []
        self.best_angle, self.best_union = _best_left(free, settings)

    def of_size(self, k: int, forced: list[Candidate]) -> None:
        self._deepen(k, list(forced), 0)

    def _deepen(self, k: int, held: list[Candidate], at: int) -> None:
        wanted = k - len(held)
        if wanted == 0:
            self._offer(score_set(held, self.settings))
            return
        if len(self.free) - at < wanted or (held and self._bound(k, held, at) < self._bar()):
            return
        for j in range(at, len(self.free) - wanted + 1):
            held.append(self.free[j])
            self._deepen(k, held, j + 1)
            held.pop()

    def _bar(self) -> float:
        if len(self.found) < self.keep:
            return -1.0
        return self.found[-1].score - _LEAST_GAIN

    def _bound(self, k: int, held: list[Candidate], at: int) -> float:
        """Return a score no set of ``k`` that holds ``held`` and shoots from ``at`` on exceeds."""
        s, wanted = self.settings, k - len(held)
        angle = sum(_angle(c, s) for c in held) + wanted * self.best_angle[at]
        union = sum(_union(c, s) for c in held) + wanted * self.best_union[at]
        order = tuple(sorted(held, key=lambda c: c.at_m))
        stagger = (_stagger(order, len(held), s) * len(held) + wanted) / k
        vigour = min(c.diameter_mm for c in held) / max(c.diameter_mm for c in held)
        terms = (1.0 - _missing(held, k), angle / k, stagger, vigour, union / k, _count(k, s))
        return _weighed(terms, s)

    def _offer(self, one: Scored) -> None:
        self.found.append(one)
        self.found.sort(key=lambda s: (-round(s.score, 12), tuple(sorted(s.names))))
        del self.found[self.keep :]


def _best_left(free: list[Candidate], settings: FormSettings) -> tuple[list[float], list[float]]:
    angle, union = [0.0], [0.0]
    for c in reversed(free):
        angle.append(max(angle[-1], _angle(c, settings)))
        union.append(max(union[-1], _union(c, settings)))
    return angle[::-1], union[::-1]


def _weighed(terms: Sequence[float], settings: FormSettings) -> float:
    weights = [settings[f"weight.{name}"] for name in TERMS]
    total = sum(weights)
    if total <= 0.0:
        return 0.0
    return sum(w * t for w, t in zip(weights, terms, strict=True)) / total


def _missing(members: Sequence[Candidate], k: int) -> float:
    """Return how far gaps fall short of an even round of ``k``, 0 even to 1 all on one side.

    A gap that is parted falls short by more, never by less, so for a part of a set this is the
    least any set that holds it can have.
    """
    if k < 2:
        return 0.0
    even = 360.0 / k
    short = sum(max(0.0, even - gap) for gap in gaps_deg([c.bearing_deg for c in members]))
    return min(short / (360.0 - even), 1.0)


def _evenness(members: Sequence[Candidate], k: int, settings: FormSettings) -> float:
    widest = max(gaps_deg([c.bearing_deg for c in members]))
    if widest > settings["gap_most"]:
        return 0.0
    return 1.0 - _missing(members, k)


def _angle(c: Candidate, settings: FormSettings) -> float:
    narrow, least = settings["angle_least"], settings["angle"]
    flat, drooping = settings["angle_flat"], settings["angle_drooping"]
    if c.angle_deg < least:
        share = (c.angle_deg - narrow) / max(least - narrow, 1e-9)
    else:
        share = (drooping - c.angle_deg) / max(drooping - flat, 1e-9)
    return min(max(share, 0.0), 1.0)


def _union(c: Candidate, settings: FormSettings) -> float:
    ratio, thick = c.diameter_mm / max(c.stem_mm, 1e-9), settings["thick_share"]
    return min(max((1.0 - ratio) / max(1.0 - thick, 1e-9), 0.0), 1.0)


def _stagger(members: Sequence[Candidate], k: int, settings: FormSettings) -> float:
    """Return the mean over the shoots, in order of height, of the way to the nearest other."""
    if k < 2:
        return 1.0
    wanted = max(settings["stagger"], 1e-9)
    heights = [c.at_m for c in members]
    steps = [b - a for a, b in pairwise(heights)]
    near = [min(steps[max(i - 1, 0) : i + 1]) for i in range(k)]
    return sum(min(1.0, d / wanted) for d in near) / k


def _count(k: int, settings: FormSettings) -> float:
    wanted = settings["count"]
    furthest = max(wanted - settings["fewest"], settings["most"] - wanted, 1.0)
    return max(0.0, 1.0 - abs(k - wanted) / (furthest + 1.0))

"""A sequence beside other ways to come to the same crown, and beside leaving the tree alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from limbwright.cuts.evaluate import cuts_of
from limbwright.cuts.order import order_of_work
from limbwright.cuts.question import Question
from limbwright.growth.rates import Rates
from limbwright.growth.response import CutKind, Season
from limbwright.model.skeleton import Bools
from limbwright.stages.replay import Scene, Year, lit_years, replayed, scenes

__all__ = ["HORIZON_YEARS", "WAYS", "Way", "equal_shares", "other_ways", "played", "way", "ways"]

HORIZON_YEARS = 10
"""Years over which ways are compared: those a chance of failure is weighed over."""
WAYS = ("staged", "at once", "equal shares", "left alone")
ROOM = 1e-6


@dataclass(frozen=True, slots=True)
class Way:
    """One way to treat a tree over ten years.

    ``chance`` that any limb breaks in the ten years, ``1 - prod(1 - p)`` over the years; ``loss_h``
    hours those failures are expected to cost, each weighed by the share of the crown its limb
    bears. ``crown_kept`` the least live leaf over that of the first crown, ``fruiting`` the share
    of the leaf with light enough for good fruit, the mean of the years in which it was reckoned.
    ``most_dose`` the greatest dose of a season, ``over_dose`` whether that is above its limit.
    """

    name: str
    years: tuple[Year, ...]
    chance: float
    loss_h: float
    crown_kept: float
    fruiting: float
    hours: float
    most_dose: float
    over_dose: bool

    def to_dict(self) -> dict[str, Any]:
        """Return the way as plain numbers."""
        return {
            "way": self.name,
            "chance": round(self.chance, 6),
            "loss_h": round(self.loss_h, 4),
            "crown_kept": round(self.crown_kept, 4),
            "fruiting": round(self.fruiting, 4),
            "hours": round(self.hours, 2),
            "most_dose": round(self.most_dose, 4),
            "over_dose": self.over_dose,
            "years": [one.to_dict() for one in self.years],
        }


def way(name: str, years: tuple[Year, ...], dose_limit: float) -> Way:
    """Return a way from its years; ``dose_limit`` is that of the tree's state."""
    told = [one.fruiting for one in years if np.isfinite(one.fruiting)]
    most = max(one.dose for one in years)
    return Way(
        name=name,
        years=years,
        chance=1.0 - float(np.prod([1.0 - one.chance for one in years])),
        loss_h=sum(one.loss_h for one in years),
        crown_kept=min(one.crown_kept for one in years),
        fruiting=float(np.mean(told)) if told else 0.0,
        hours=sum(one.hours for one in years),
        most_dose=most,
        over_dose=most > dose_limit * (1 + ROOM) + ROOM,
    )


def equal_shares(question: Question, gone: Bools) -> Bools:
    """Return ``(Y, N)`` the cuts of the target crown split evenly by dose, in order of the card.

    ``gone`` ``(Y, N)``: the target is what is gone in the end.
    """
    built = question.built
    p, count = built.problem, gone.shape[0]
    nodes = np.flatnonzero(cuts_of(p, gone[-1]))
    node_at = {built.candidates[i - 1].segment: int(i) for i in nodes}
    ordered = order_of_work(question.assessment.skeleton, [built.candidates[i - 1] for i in nodes])
    leaf = [float(p.leaf_m2[(i := node_at[c.segment]) : p.end[i]].sum()) for c in ordered]
    # without live leaf to share out, the cuts themselves are
    weight = np.asarray(leaf) if sum(leaf) > 0.0 else np.ones(len(leaf))
    middle = (np.cumsum(weight) - 0.5 * weight) / max(float(weight.sum()), 1e-9)
    out = np.zeros_like(gone)
    for c, at in zip(ordered, middle, strict=True):
        i = node_at[c.segment]
        out[min(int(at * count), count - 1) :, i : p.end[i]] = True
    return out


def other_ways(question: Question, gone: Bools) -> tuple[Bools, ...]:
    """Return ``(Y, N)`` what the three other ways cut, where the sequence cuts ``gone``."""
    once = np.tile(gone[-1], (gone.shape[0], 1))
    return once, equal_shares(question, gone), np.zeros_like(gone)


def ways(question: Question, years: Sequence[tuple[Year, ...]]) -> tuple[Way, ...]:
    """Return the sequence beside the three other ways, each told by its years, in that order."""
    limit = question.bounds.dose
    return tuple(way(name, one, limit) for name, one in zip(WAYS, years, strict=True))


def played(
    question: Question,
    sequences: Sequence[Bools],
    rates: Rates,
    *,
    season: Season,
    kinds: Mapping[int, CutKind],
) -> tuple[tuple[Scene, ...], tuple[tuple[Year, ...], ...]]:
    """Return the scenes of the first of some sequences ``(Y, N)``, and the years of each."""
    count = sequences[0].shape[0]
    years = max(HORIZON_YEARS, count)
    # where all is cut in one season, some ways are the same
    different = {one.tobytes(): one for one in sequences}
    found = []
    for one in different.values():
        segments = np.stack([question.built.gone_segments(now) for now in one])
        scene = scenes(question.assessment, segments, rates, years, season=season, kinds=kinds)
        found.append(tuple(scene))
    lights = lit_years(found, {*range(count), years - 1})
    told = {
        key: replayed(scene, light, rates, question.settings, season=season)
        for key, scene, light in zip(different, found, lights, strict=True)
    }
    return found[0], tuple(told[one.tobytes()] for one in sequences)

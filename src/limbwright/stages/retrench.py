"""Retrenchment within a plan of several seasons: which seasons take a step, and what it takes.

The cuts of the sequence are weighed by load, light and work; the small steps of retrenchment are
not. They come beside the cuts as lesser work, in the seasons in which the tree is worked on anyway,
or in one of their own where no rest is missed by it, and take of the dose only what the cuts leave.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from limbwright.cuts.question import Question
from limbwright.cuts.results import Cut, Wishes
from limbwright.cuts.retrenchment import retrenchment, step_rows
from limbwright.growth.prune import closed, pruned
from limbwright.growth.season import dose_of
from limbwright.model.skeleton import Skeleton, State
from limbwright.stages.replay import Scene
from limbwright.stages.rhythm import SAME, Rhythm
from limbwright.trade.parameters import parameters

__all__ = ["ALONE_FROM", "step_cuts", "step_fits"]

ALONE_FROM = 0.01
"""Judgement: share of the live crown from which a step is worth a visit of its own."""


def step_fits(rule: Rhythm, past: Sequence[float], doses: Sequence[float]) -> bool:
    """Return whether a step may be made in a season without the tree missing a rest.

    Parameters
    ----------
    rule
        The tree's rhythm.
    past
        Doses of the seasons before, earliest first.
    doses
        What the cuts of this season and of those to come take, above 0 where there are any.
    """
    return rule.allows((*past, max(doses[0], SAME), *doses[1:]))


def step_cuts(
    asked: Question,
    scene: Scene,
    number: int,
    wishes: Wishes,
    *,
    dose_limit: float,
    year: int | None,
) -> tuple[Cut, ...]:
    """Return a step of retrenchment as rows of lesser work, on the tree as it stands then.

    Nothing where the season has no year, where nothing is left of the dose, or where a season
    without cuts would be a visit for less than `ALONE_FROM` of the crown.

    Parameters
    ----------
    asked
        What is asked of the tree in the first season.
    scene
        The tree before the season's cuts, and what falls; the step is made on what stands after.
    number
        Which step, from 0; those before are taken as made on the same tree.
    wishes
        Limbs that must stay whole, or on which no cut is made, are left as they are.
    dose_limit
        Most of the live crown that cuts and step may take together, a share. The step takes no
        more than the veteran's dose, whatever the tree's own.
    year
        First year of the season.
    """
    s, settings, table = scene.skeleton, asked.settings, parameters("retrenchment")
    count = round(table["steps"].value)
    standing = pruned(s, scene.falls)
    before_m2, left_m2 = _leaf_m2(s), _leaf_m2(standing)
    most = settings["dose_veteran"]
    room = min(dose_limit - dose_of(s, scene.falls), most)
    if year is None or number >= count or left_m2 <= 0.0 or room <= SAME:
        return ()
    found = retrenchment(
        standing,
        asked.station,
        year=year,
        steps=number + 1,
        height_share=table["height_share"].value * (number + 1) / count,
        dose=min(room * before_m2 / left_m2, most),
        settings=settings,
    )
    whole = np.flatnonzero(~closed(s, scene.falls))
    spared = _spared(standing, wishes)
    rows = tuple(
        replace(row, segment=int(whole[row.segment]), dose=row.dose * left_m2 / before_m2)
        for row in step_rows(found.steps[number], standing, settings)
        if row.limb not in spared
    )
    alone = not bool(scene.falls.any())
    return () if alone and sum(row.dose for row in rows) < ALONE_FROM else rows


def _leaf_m2(s: Skeleton) -> float:
    return float(s.leaf_area_m2[s.state != int(State.DEAD)].sum())


def _spared(s: Skeleton, wishes: Wishes) -> frozenset[str]:
    """Return the limbs no end of which may be cut: those forbidden, those protected and theirs."""
    whole: set[int] = set()
    for k in np.argsort([limb.first_segment for limb in s.limbs], kind="stable").tolist():
        limb = s.limbs[k]
        if limb.label in wishes.protect or limb.parent in whole:
            whole.add(k)
    return wishes.forbid | {s.limbs[k].label for k in whole}

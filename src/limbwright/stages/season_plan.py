"""The plan of one season of a sequence, told of the tree as it will stand then."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbwright.cuts.build_problem import build_problem
from limbwright.cuts.candidates import Candidate, Offer
from limbwright.cuts.crossing import crossings
from limbwright.cuts.lighting import lighting, lit_as_chosen
from limbwright.cuts.limits import limits
from limbwright.cuts.motives import crown, motives
from limbwright.cuts.plan import plan_of
from limbwright.cuts.question import Question
from limbwright.cuts.results import Cut, Plan, Wishes
from limbwright.model.skeleton import Skeleton
from limbwright.stages.replay import Scene

__all__ = ["question_then", "season_plan"]


def question_then(
    asked: Question, scene: Scene, wishes: Wishes, *, year: int | None = None
) -> Question:
    """Return the first season's question asked again of the tree as it stands in a later one.

    The cuts offered are those of the first that are still there.
    """
    if scene.year == 0:
        return asked
    held = scene.before
    s, settings = held.skeleton, asked.settings
    wood = held.loads.wood_kg
    bounds = limits(s, wood, asked.kind, asked.station, wishes, settings, year=year)
    crossing = crossings(s, settings)
    shape = crown(s, wood, settings)
    speaks = motives(s, wood, shape, crossing, settings)
    offer = _offer_then(asked, scene)
    built = build_problem(
        held, offer.candidates, offer.forbidden, crossing, speaks, bounds, asked.kind, settings
    )
    worth = 0.0 if bounds.state.frail else settings["light"] * bounds.live_leaf_m2
    return replace(
        asked,
        assessment=held,
        bounds=bounds,
        crossing=crossing,
        crown=shape,
        motives=speaks,
        offer=offer,
        built=built,
        light=lighting(s, held.site, built, worth),
    )


def _offer_then(asked: Question, scene: Scene) -> Offer:
    """Return what the first season offered, as far as it still stands, by its segments now."""
    first, s = asked.assessment.skeleton, scene.skeleton
    at = np.full(first.n, -1, dtype=np.int64)
    at[scene.index] = np.arange(s.n)
    labels = {limb.label for limb in s.limbs}
    return Offer(
        candidates=tuple(
            _moved(c, first, s, at) for c in asked.offer.candidates if at[c.segment] >= 0
        ),
        refused=tuple(one for one in asked.offer.refused if one.limb in labels),
        forbidden=asked.offer.forbidden[scene.index],
        keep=tuple(one for one in asked.offer.keep if one[0] in labels),
    )


def _moved(c: Candidate, first: Skeleton, s: Skeleton, at: np.ndarray) -> Candidate:
    i = int(at[c.segment])
    longer = float(s.length_m[i] / first.length_m[c.segment])
    return replace(
        c,
        segment=i,
        limb=int(s.limb[i]),
        at_m=c.at_m * longer,
        diameter_mm=c.diameter_mm
        * float(s.start_diameter_mm[i] / first.start_diameter_mm[c.segment]),
        laterals=tuple(int(at[k]) for k in c.laterals if at[k] >= 0),
    )


def season_plan(
    asked: Question,
    scene: Scene,
    wishes: Wishes,
    season: str,
    *,
    dose_limit: float,
    year: int | None = None,
    further: tuple[Cut, ...] = (),
) -> Plan:
    """Return the plan of a season whose cuts are already chosen: what falls in the scene.

    ``dose_limit`` is the most it may take, lesser work included; ``further`` are rows that come
    before the other lesser work.
    """
    then = question_then(asked, scene, wishes, year=year)
    if dose_limit < then.bounds.dose:
        words = f"{then.bounds.dose_words}, less after a hard cut"
        then = replace(then, bounds=replace(then.bounds, dose=dose_limit, dose_words=words))
    gone = np.asarray(scene.falls[then.built.base])
    gone[0] = False
    chosen = lit_as_chosen(then.built, then.light, gone)
    return plan_of(then, chosen, wishes, season=season, further=further)

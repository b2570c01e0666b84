"""From what is asked of one tree to the same question over several seasons."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from limbwright.cuts.build_problem import Built, build_problem
from limbwright.cuts.candidates import Candidate
from limbwright.cuts.limits import Limits, limits
from limbwright.cuts.question import Question
from limbwright.cuts.results import Wishes
from limbwright.growth.rates import Rates
from limbwright.growth.response import Season, regrowth_share
from limbwright.growth.thicken import thicken
from limbwright.model.skeleton import Floats, Ints, Skeleton
from limbwright.stages.years import Years, state_weights
from limbwright.statics.assess import Assessment, assess
from limbwright.statics.loads import loads

__all__ = ["Asked", "ask_years", "cut_in", "grown"]

TENTH = 0.1  # of the leaf, fruit and fine wood: the loads are linear in them


@dataclass(frozen=True)
class Asked:
    """One tree over several seasons: the first season's question, the years, each year's limits.

    ``built`` is how the first season's problem is read back: candidates, nodes, segments.
    """

    question: Question
    years: Years
    bounds: tuple[Limits, ...]

    @property
    def built(self) -> Built:
        """The first season's problem with its candidates."""
        return self.question.built


def cut_in(group: str) -> Season:
    """Return when a kind of tree is cut: stone fruit in summer, others in winter."""
    return "summer" if group == "stone" else "winter"


def grown(assessment: Assessment, rates: Rates, years: int) -> Assessment:
    """Return the uncut tree some years on; what it has proven by standing is still known."""
    if years == 0:
        return assessment
    older = thicken(assessment.skeleton, rates, years)
    return assess(older, assessment.site, belief=assessment.belief)


def ask_years(
    question: Question,
    rates: Rates,
    seasons: int,
    wishes: Wishes | None = None,
    *,
    year: int | None = None,
) -> Asked:
    """Return what is asked of one tree over ``seasons``, ``year`` being that of the first.

    Candidates, sections, what counts as one risk, motives and light are those of the first season.
    The tree's growth, its loads, strengths, limits and chances are those of each.
    """
    q, wishes, settings = question, wishes or Wishes(), question.settings
    first = q.built
    problems, bounds, once, force, moment = [], [], [], [], []
    motive: Floats = np.bincount(
        first.node_of, weights=q.motives.total, minlength=first.base.size
    ).astype(np.float64)
    motive[0] = 0.0
    for y in range(seasons):
        held = grown(q.assessment, rates, y)
        s, wood = held.skeleton, held.loads.wood_kg
        now = q.bounds
        if y:
            when = None if year is None else year + y
            now = limits(s, wood, q.kind, q.station, wishes, settings, year=when)
        built = (
            first
            if y == 0
            else build_problem(
                held,
                _thicker(q.offer.candidates, q.assessment.skeleton, s),
                q.offer.forbidden,
                q.crossing,
                q.motives,
                now,
                q.kind,
                settings,
                segments=first.section_segment,
            )
        )
        brash = np.bincount(first.node_of, weights=wood, minlength=first.base.size)
        brash[0] = 0.0
        once.append(settings["work_brash"] * brash)
        # a limb's worst place may move as it grows; which sections are one risk must not
        problems.append(
            replace(built.problem, gone_gain_h=motive, section_group=first.problem.section_group)
        )
        leafy_force, leafy_moment = _leafy(held, first, built.case_index)
        force.append(leafy_force)
        moment.append(leafy_moment)
        bounds.append(now)
    return Asked(
        question=q,
        bounds=tuple(bounds),
        years=Years(
            seasons=tuple(problems),
            weight=state_weights(seasons, settings["horizon"]),
            worth=np.power(1.0 - min(settings["discount"], 1.0), np.arange(seasons, dtype=float)),
            once_h=np.stack(once),
            regrown=_regrown(q, rates, seasons),
            leafy_force_n=tuple(force),
            leafy_moment_n_m=tuple(moment),
            dose=_doses(tuple(bounds), settings["forecast_room"]),
        ),
    )


def _doses(bounds: tuple[Limits, ...], room: float) -> Floats:
    """Return the dose each season is held to: a little under the limit where growth is forecast."""
    dose = np.asarray([b.dose for b in bounds])
    dose[1:] *= 1.0 - min(room, 1.0)
    return dose


def _regrown(q: Question, rates: Rates, seasons: int) -> Floats:
    """Return ``(Y,)`` the share of leaf back some years after a season that takes the full dose."""
    when = cut_in(q.kind.group)
    share = [regrowth_share(rates, k, q.bounds.dose, season=when) for k in range(seasons)]
    return np.asarray(share, dtype=np.float64)


def _thicker(
    offered: tuple[Candidate, ...], before: Skeleton, after: Skeleton
) -> tuple[Candidate, ...]:
    """Return the candidates with what growth adds to their diameter."""
    share = after.start_diameter_mm / before.start_diameter_mm
    return tuple(replace(c, diameter_mm=c.diameter_mm * float(share[c.segment])) for c in offered)


def _leafy(held: Assessment, first: Built, cases: Ints) -> tuple[Floats, Floats]:
    """Return force and moment ``(C, N, 3)`` of what grows again of each piece, where it does.

    The leaf, fruit and fine wood of a piece are put in the middle of the segment that bears it.
    """
    s = held.skeleton
    less = replace(
        s,
        leaf_area_m2=(1.0 - TENTH) * s.leaf_area_m2,
        fruit_kg=(1.0 - TENTH) * s.fruit_kg,
        fine_wood_kg=(1.0 - TENTH) * s.fine_wood_kg,
    )
    lighter = loads(less, held.site)
    each = (held.loads.force_n[cases] - lighter.force_n[cases]) / TENTH
    live = (s.state == 0) | (s.state > 1)
    each = each * live[:, None]
    starts = np.argsort(first.node_of, kind="stable")
    begins = np.searchsorted(first.node_of[starts], np.arange(first.base.size))
    force = np.add.reduceat(each[:, starts], begins, axis=1)
    force[:, 0] = 0.0
    bearer = np.maximum(s.parent[first.base], 0)
    spot = 0.5 * (s.start_m + s.end_m)[bearer]
    return np.asarray(force), np.cross(spot, force)

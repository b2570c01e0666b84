"""The plan of one season for one tree: from its assessment to cuts with reasons."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from limbwright.cuts.candidates import Offer
from limbwright.cuts.cases import Engine
from limbwright.cuts.cautions import cautions
from limbwright.cuts.evaluate import evaluate
from limbwright.cuts.heading import heading
from limbwright.cuts.left import left_standing
from limbwright.cuts.lesser import lesser_work, mistletoe_work
from limbwright.cuts.lighting import Lit
from limbwright.cuts.limits import Limits, say_binding
from limbwright.cuts.question import Question, ask, wishes_in
from limbwright.cuts.reasons import Context
from limbwright.cuts.results import Cut, Left, Plan, Wishes, plans_to_dict
from limbwright.cuts.rows import cut_rows
from limbwright.cuts.solve import next_best
from limbwright.cuts.weights import Settings
from limbwright.light.summary import Standing
from limbwright.model.holding import Orchard
from limbwright.model.records import StationRecord
from limbwright.statics.assess import Assessment, reassess
from limbwright.trade.place_window import place_window
from limbwright.trade.seasons.local import LocalRule

__all__ = ["Cut", "Left", "Plan", "Settings", "Wishes", "plan", "plan_of", "plans_to_dict"]


def plan(
    assessment: Assessment,
    station: StationRecord | None = None,
    wishes: Wishes | None = None,
    *,
    season: str = "",
    settings: Settings | None = None,
    engine: Engine = "proof",
    orchard: Orchard | None = None,
    local_rules: Sequence[LocalRule] = (),
) -> Plan:
    """Return the best cuts of one season for one tree, within its limits, each with its reason.

    Parameters
    ----------
    assessment
        The tree with its loads and strengths under all load cases.
    station
        Its record, which decides how much it bears; None counts as a neglected old tree.
    wishes
        Limbs to protect, to take out, to leave uncut; a dose of one's own.
    season
        Words for the season, such as ``"winter 2026/27"``; the first year in them gives the age.
    settings
        Weights, limits and tools in place of the tables'.
    engine
        ``"proof"`` searches until the plan is proven within 1 % of the best, ``"fast"`` stops at a
        good plan and says how near the best it is at least.
    orchard
        Where it stands: who grazes there, and whether people are below, which is then a wish.
    local_rules
        Rules of the place for when it may be pruned; they come before the calendar.

    Raises
    ------
    PlanError
        The wishes and limits can't be met together; the message names those that collide.
    """
    named = re.search(r"\d{4}", season)
    wishes = wishes_in(orchard, wishes)
    asked = ask(
        assessment,
        station,
        wishes,
        settings,
        year=int(named.group(0)) if named else None,
        orchard=orchard,
        local_rules=local_rules,
    )
    proof = engine == "proof"
    return plan_of(asked, asked.answer(engine), wishes, season=season, alternative=proof)


def plan_of(
    asked: Question,
    lit: Lit,
    wishes: Wishes | None = None,
    *,
    season: str = "",
    alternative: bool = False,
    further: tuple[Cut, ...] = (),
) -> Plan:
    """Return the plan of cuts already chosen; with ``alternative`` the next best ones too.

    ``further`` are rows that come before the lesser work and take of the dose first.
    """
    built, solved = lit.built, lit.solved
    context = Context(asked, lit)
    assessment, settings, s = asked.assessment, asked.settings, asked.assessment.skeleton
    station = asked.station
    kind, bounds, offer = asked.kind, asked.bounds, asked.offer
    gone, now = solved.solution.gone, solved.now
    segments = built.gone_segments(gone)
    light_before, light_after = Standing(s, assessment.site).before_and_after(segments)
    after = reassess(assessment, ~segments)
    cuts = cut_rows(context, kind, gone, now, bounds)
    live_leaf = max(bounds.live_leaf_m2, 1e-9)
    stem = max(bounds.stem_area_cm2, 1e-9)
    dose = now.leaf_m2 / live_leaf
    further = tuple(replace(c, order=len(cuts) + k) for k, c in enumerate(further, 1))
    left = bounds.dose - dose - math.fsum(c.dose for c in further)
    lesser = further + lesser_work(
        s, station, segments, left, bounds, settings, first_order=len(cuts) + len(further) + 1
    )
    lesser += heading(
        s,
        station,
        kind,
        segments,
        offer.candidates,
        bounds.dose - dose - math.fsum(c.dose for c in lesser),
        bounds,
        settings,
        first_order=len(cuts) + len(lesser) + 1,
    )
    use = {x.limb: x.utilisation for x in after.limbs}
    lesser += mistletoe_work(
        s,
        station,
        segments,
        use,
        settings,
        first_order=len(cuts) + len(lesser) + 1,
    )
    other = next_best(built.problem, solved.solution) if cuts and alternative else None
    second: tuple[Cut, ...] = ()
    if other is not None:
        second = cut_rows(context, kind, other.gone, evaluate(built.problem, other.gone), bounds)
    when = place_window(kind, assessment.site, asked.local_rules)
    return Plan(
        tree=s.tree,
        season=season,
        species=kind.name,
        state=bounds.state.key,
        dose=dose,
        dose_limit=bounds.dose,
        wound_share=now.wound_cm2 / stem,
        wound_limit=bounds.wound_cm2 / stem,
        binding=tuple(
            say_binding(name, dose, bounds, now.wound_cm2) for name in solved.solution.binding
        ),
        cuts=cuts,
        left=left_standing(context, offer, gone, now, bounds),
        keep=offer.keep,
        cautions=cautions(
            s,
            kind,
            (*cuts, *lesser),
            station,
            settings,
            southern=assessment.site.southern,
            orchard=asked.orchard,
            wishes=wishes_in(asked.orchard, wishes),
            use=use,
            months=when.months,
        ),
        window=when.sentence,
        hours=math.fsum(c.hours for c in (*cuts, *lesser)),
        objective_h=now.objective_h,
        bound_h=solved.bound_h,
        within=solved.within,
        certificate=_certificate(lit, bool(cuts)),
        summary=_summary(cuts, lesser, dose, bounds, offer),
        before=assessment.limbs,
        after=after.limbs,
        chance_before=_any(limb.chance for limb in assessment.limbs),
        chance_after=_any(limb.chance for limb in after.limbs),
        light_before=light_before,
        light_after=light_after,
        light_gain_h=lit.gained_h,
        light_alone_h=lit.alone_h,
        gone=segments,
        segment_ids=s.segment_ids,
        next_best=second,
        lesser=lesser,
    )


def _any(chances: Iterable[float]) -> float:
    """Chance that any of several independent failures happens."""
    return 1.0 - float(np.prod([1.0 - p for p in chances]))


def _certificate(lit: Lit, cut: bool) -> str:
    solved = lit.solved
    if math.isnan(solved.within):
        return "Found by the fast search; how near the best it is was not proven."
    if not cut:
        # the share of a gain that may not exist says nothing; the gain itself does
        minutes = max(1, math.ceil(60.0 * (solved.now.objective_h - solved.bound_h)))
        many = "a minute" if minutes == 1 else f"{minutes} minutes"
        return f"Proven: no cuts under these limits gain more than {many} over leaving the tree."
    digits = max(0.1, 100.0 * solved.within)
    proven = f"Proven within {digits:.1f} % of the best possible plan under these limits"
    if lit.gained_h <= 0.0:
        return f"{proven}."
    return f"{proven}, each cut's light reckoned beside the others here."


def _summary(
    cuts: tuple[Cut, ...], lesser: tuple[Cut, ...], dose: float, bounds: Limits, offer: Offer
) -> str:
    if bounds.live_leaf_m2 <= 0.0:
        return "No live crown is left: what stands is habitat, where nobody passes below."
    state = f"{bounds.dose_words}: up to {100 * bounds.dose:.0f} % of the live crown"
    if not cuts and not lesser:
        why = "" if offer.candidates else " No cut could be offered."
        return f"Leave it this year: no cut gains more than its wound and work cost.{why}"
    if not cuts:
        return "Leave its limbs this year; only lesser work is worth doing."
    many = "One cut takes" if len(cuts) == 1 else f"{len(cuts)} cuts take"
    return f"{many} {100 * dose:.0f} % of the live crown ({state})."

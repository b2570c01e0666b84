"""The plan of several seasons for one tree: chosen, replayed, told and compared."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from limbwright.cuts.question import Question, ask, wishes_in
from limbwright.cuts.results import Cut, Plan, Wishes
from limbwright.cuts.weights import Settings
from limbwright.errors import InputError
from limbwright.growth.rates import rates
from limbwright.growth.response import CutKind
from limbwright.model.holding import Orchard
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Floats, State
from limbwright.stages.best import Best, best_sequence
from limbwright.stages.build import Asked, ask_years, cut_in
from limbwright.stages.compare import other_ways, played, ways
from limbwright.stages.price import sections_use
from limbwright.stages.replay import Scene, Year
from limbwright.stages.results import Forecast, SeasonOfYears, Target, YearsPlan
from limbwright.stages.retrench import step_cuts, step_fits
from limbwright.stages.rhythm import SAME, Rhythm, rhythm
from limbwright.stages.season_plan import season_plan
from limbwright.stages.seasons import year_of
from limbwright.statics.assess import Assessment
from limbwright.trade.seasons.local import LocalRule

__all__ = ["MOST_SEASONS", "plan_years", "years_of"]

MOST_SEASONS = 6
"""Judgement: growth is too uncertain to plan cuts further ahead; survey again by then."""
CARRIES = 0.3  # judgement: below this utilisation a forecast that is off harms nobody
NEARLY = 0.9  # judgement: a dose is nearly used up from this share of its limit on
LIKELY = 1e-3  # judgement: below this chance a year breaking is no reason to come first
WORTH_TELLING = 0.8  # a chance of a break that falls below this share of what it was


def plan_years(
    assessment: Assessment,
    station: StationRecord | None = None,
    wishes: Wishes | None = None,
    *,
    seasons: Sequence[str],
    settings: Settings | None = None,
    before: Sequence[float] = (),
    multipliers: Mapping[str, float] | None = None,
    proof: bool = False,
    compare: bool = True,
    time_limit_s: float = 30.0,
    orchard: Orchard | None = None,
    local_rules: Sequence[LocalRule] = (),
    retrench: bool | None = None,
) -> YearsPlan:
    """Return the best sequence of seasons for one tree, each season's cuts with their reasons.

    Parameters
    ----------
    assessment
        The tree as surveyed, with its loads and strengths under all load cases.
    station
        Its record, which decides how much it bears and how it grows.
    wishes
        Limbs to protect, to take out, to leave uncut; a dose of one's own. What must go is gone by
        the last season.
    seasons
        One to six names of seasons a year apart, such as `limbwright.stages.seasons.following`
        gives; the first year in the first gives the tree's age.
    settings
        Weights, limits, tools and rests in place of the tables'.
    before
        Doses of the seasons before the first, earliest first, for the rests they ask for.
    multipliers
        What records have taught of growth, see `limbwright.growth.rates.rates`.
    proof
        All seasons at once until proven within 1 %, or the time is up.
    compare
        Set it beside cutting all at once, equal shares and leaving alone.
    time_limit_s
        Most seconds for choosing the cuts.
    orchard, local_rules
        Where it stands, and the rules of the place for when it may be pruned.
    retrench
        Bring its crown in by small steps beside the cuts; None: if it is a veteran.

    Raises
    ------
    InputError
        The seasons are none or more than six.
    PlanError
        The wishes and limits leave no sequence.
    """
    year = year_of(seasons[0]) if seasons else None
    return years_of(
        ask(
            assessment,
            station,
            wishes,
            settings,
            year=year,
            orchard=orchard,
            local_rules=local_rules,
        ),
        wishes_in(orchard, wishes),
        seasons=seasons,
        before=before,
        multipliers=multipliers,
        proof=proof,
        compare=compare,
        time_limit_s=time_limit_s,
        retrench=retrench,
    )


def years_of(
    question: Question,
    wishes: Wishes | None = None,
    *,
    seasons: Sequence[str],
    before: Sequence[float] = (),
    multipliers: Mapping[str, float] | None = None,
    proof: bool = False,
    compare: bool = True,
    time_limit_s: float = 30.0,
    retrench: bool | None = None,
) -> YearsPlan:
    """Return the best sequence of seasons for what is asked of one tree.

    ``question`` is that of the first season, ``wishes`` those it was asked with; the rest is as in
    `plan_years`.
    """
    if not 1 <= len(seasons) <= MOST_SEASONS:
        raise InputError(
            f"A plan over {len(seasons)} seasons was asked for.",
            f"Give 1 to {MOST_SEASONS} seasons, a year apart.",
        )
    wishes, year = wishes or Wishes(), year_of(seasons[0])
    station, first = question.station, question.assessment.skeleton
    growth = rates(
        question.kind,
        station,
        year=year,
        multipliers=multipliers,
        state=question.bounds.state.key,
        stem_mm=float(first.start_diameter_mm[0]),
    )
    asked = ask_years(question, growth, len(seasons), wishes, year=year)
    best = best_sequence(asked, before=before, proof=proof, time_limit_s=time_limit_s)
    when = cut_in(question.kind.group)
    kinds: dict[int, CutKind] = {c.segment: c.kind for c in question.offer.candidates}
    beside = other_ways(question, best.gone) if compare else ()
    found, played_out = played(question, (best.gone, *beside), growth, season=when, kinds=kinds)
    trajectory = played_out[0]
    rule = rhythm(question.settings, frail=question.bounds.state.frail)
    steps = question.bounds.state.key == "veteran" if retrench is None else retrench
    told = _seasons(asked, found, trajectory, seasons, wishes, rule, before, year, steps)
    told = tuple(replace(one, plan=_certified(one.plan, best)) for one in told)
    return YearsPlan(
        tree=first.tree,
        species=question.kind.name,
        state=question.bounds.state.key,
        seasons=told,
        trajectory=trajectory,
        ways=ways(question, played_out) if compare else (),
        target=_target(found[0], found[len(seasons) - 1], trajectory[len(seasons) - 1]),
        forecast=_forecast(asked, best, found, trajectory),
        rates=growth,
        station=station,
        objective_h=best.objective_h,
        nothing_h=best.nothing_h,
        bound_h=best.bound_h,
        within=best.within,
        certificate=certificate(best),
        cautions=tuple(dict.fromkeys(c for one in told if one.plan for c in one.plan.cautions)),
        seconds=best.seconds,
    )


def certificate(best: Best) -> str:
    """Return what is proven of a sequence, in words."""
    if not bool(best.priced.cuts.any()):
        minutes = max(1, math.ceil(60.0 * (best.objective_h - best.bound_h)))
        many = "a minute" if minutes == 1 else f"{minutes} minutes"
        return f"Proven: no sequence of cuts gains more than {many} over leaving the tree."
    digits = max(0.1, math.ceil(1000.0 * best.within) / 10.0)
    return (
        f"Proven within {digits:.1f} % of the best sequence possible under these limits and rests, "
        "growth as forecast and each cut's light reckoned beside the others here."
    )


def _certified(plan: Plan | None, best: Best) -> Plan | None:
    """Return a season's plan with the certificate of the sequence it is part of."""
    if plan is None:
        return None
    words = f"One season of a sequence. {certificate(best)}"
    return replace(plan, certificate=words, within=best.within, bound_h=math.nan)


def _seasons(
    asked: Asked,
    found: Sequence[Scene],
    trajectory: Sequence[Year],
    names: Sequence[str],
    wishes: Wishes,
    rule: Rhythm,
    before: Sequence[float],
    year: int | None,
    retrench: bool,
) -> tuple[SeasonOfYears, ...]:
    """Return the seasons told, each of the tree as it stands then."""
    out: list[SeasonOfYears] = []
    past = [*before]
    works = [bool(found[y].falls.any()) for y in range(len(names))]
    doses = [max(trajectory[y].dose, SAME) if work else 0.0 for y, work in enumerate(works)]
    made = 0
    for y, name in enumerate(names):
        scene, now = found[y], trajectory[y]
        plan: Plan | None = None
        step: tuple[Cut, ...] = ()
        limit, must_rest = _allowed(rule, past, asked.bounds[y].dose)
        when = None if year is None else year + y
        if retrench and step_fits(rule, past, doses[y:]):
            step = step_cuts(asked.question, scene, made, wishes, dose_limit=limit, year=when)
            made += bool(step)
        if works[y] or step:
            plan = season_plan(
                asked.question, scene, wishes, name, dose_limit=limit, year=when, further=step
            )
        taken = now.dose if plan is None else plan.dose
        out.append(
            SeasonOfYears(
                season=name,
                rest=plan is None and must_rest,
                dose=taken,
                dose_limit=limit,
                wound_share=now.wound_share,
                hours=0.0 if plan is None else plan.hours,
                why=_why(scene, plan, past, rule, limit, must_rest, bool(step)),
                plan=plan,
                assessment=None if plan is None else scene.before,
            )
        )
        # a season that cuts dead wood alone is a season of work too
        past.append(0.0 if plan is None else max(taken, SAME))
    return tuple(out)


def _allowed(rule: Rhythm, past: Sequence[float], limit: float) -> tuple[float, bool]:
    """Return the most a season may take after those past, and whether it must rest."""
    if not rule.allows((*past, SAME)):
        return 0.0, True
    if past and past[-1] > rule.hard + SAME:
        return min(limit, rule.after_hard), False
    return limit, False


def _why(
    scene: Scene,
    plan: Plan | None,
    past: Sequence[float],
    rule: Rhythm,
    limit: float,
    must_rest: bool,
    step: bool,
) -> str:
    """Return why this season does what it does, in a sentence or two."""
    after_hard = bool(past) and past[-1] > rule.hard + SAME
    if plan is None:
        if must_rest and after_hard:
            return f"Rest: last season's cuts took {100 * past[-1]:.0f} % of the crown."
        if must_rest:
            worked = sum(dose > 0.0 for dose in past[-rule.running :])
            many = "a season" if worked <= 1 else f"{worked} seasons"
            return f"Rest after {many} of cutting, for the tree to answer."
        return "No cuts: none gains more than its wound and its work."
    said = []
    falls = plan.chance_after < WORTH_TELLING * plan.chance_before
    if falls and plan.chance_before >= LIKELY:
        first = "First what could break or split" if scene.year == 0 else "What could break"
        said.append(
            f"{first}: the chance that a limb breaks falls from {_one_in(plan.chance_before)} to "
            f"{_one_in(plan.chance_after)} a year"
        )
    if plan.dose >= NEARLY * limit:
        taken, most = f"{100 * plan.dose:.0f} %", f"{100 * limit:.0f} %"
        up = "used up" if taken == most else "nearly used up"
        said.append(f"the dose is {up}, {taken} of {most}")
    elif after_hard:
        said.append(f"no more than {100 * limit:.0f} % after last season's hard cut")
    if not said and plan.cuts:
        said.append("what is still worth its wound and its work")
    if step:
        said.append("a step of retrenchment: thin outer ends come in by little")
    text = "; ".join(said)
    return f"{text[0].upper()}{text[1:]}."


def _one_in(chance: float) -> str:
    if chance >= 0.3:
        return f"{100 * chance:.0f} %"
    return "under 1 in 100 000" if chance < 1e-5 else f"1 in {float(f'{1 / chance:.2g}'):,.0f}"


def _target(first: Scene, last: Scene, then: Year) -> Target:
    """Return the crown after the last season's cuts beside that of the survey."""
    s = first.skeleton
    tips = s.end_m
    leaf = _live_m2(first, np.ones(s.n))
    return Target(
        height_m=then.height_m,
        spread_m=then.spread_m,
        leaf_m2=_live_m2(last, (~last.falls).astype(np.float64)),
        height_now_m=float(tips[:, 2].max()),
        spread_now_m=float(np.ptp(tips[:, :2], axis=0).mean()),
        leaf_now_m2=leaf,
    )


def _live_m2(scene: Scene, stands: Floats) -> float:
    s = scene.skeleton
    live = s.state != int(State.DEAD)
    return float((s.leaf_area_m2 * live * stands).sum())


def _forecast(
    asked: Asked, best: Best, found: Sequence[Scene], trajectory: Sequence[Year]
) -> Forecast:
    """Return how far the sequence's own reckoning lies from the replay."""
    off: list[float] = []
    question: Question = asked.question
    for y in range(asked.years.count):
        scene = found[y]
        at = np.full(question.assessment.skeleton.n, -1, dtype=np.int64)
        at[scene.index] = np.arange(scene.index.size)
        here = at[asked.built.section_segment]
        stands = here >= 0
        stands[stands] = ~scene.falls[here[stands]]
        told = sections_use(asked.years, best.gone[None], y)[0].max(axis=0)[stands]
        true = scene.after.utilisation.max(axis=0)[here[stands]]
        carries = true >= CARRIES
        off += np.abs(told[carries] / true[carries] - 1.0).tolist()
    dose = [abs(float(d) - now.dose) for d, now in zip(best.priced.dose, trajectory, strict=False)]
    return Forecast(
        use_median=float(np.median(off)) if off else 0.0,
        use_most=max(off, default=0.0),
        dose_most=max(dose),
    )

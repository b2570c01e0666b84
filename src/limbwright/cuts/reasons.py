"""Why each cut: what would be lost without it, told in trade words in a fixed order.

The reason of a cut is the difference between the plan and the same plan without that one cut
(all that it brings down then stands), so no cut is told a reason it doesn't earn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from limbwright.cuts.candidates import Candidate
from limbwright.cuts.disease import disease_of
from limbwright.cuts.evaluate import Evaluation, evaluate
from limbwright.cuts.lighting import Lit
from limbwright.cuts.order import bearing_deg, point_words
from limbwright.cuts.question import Question
from limbwright.cuts.reach import grouped
from limbwright.cuts.solve import without
from limbwright.model.skeleton import Bools, Floats, Skeleton, State
from limbwright.statics.assess import reassess

__all__ = ["Context", "Lost", "chance_words", "explain"]

MOST_CLAUSES = 3  # judgement: a sentence of more isn't read on a ladder
SHARE_WORTH_TELLING = 0.15  # judgement: a motive with less of a cut's gain is no reason
SECTION_WORTH_TELLING = 0.2  # judgement: a section with less of the relief is not the reason
LEAF_WORTH_TELLING = 0.005  # judgement: less would be told as 0 %
LEAF_BESIDE_OTHERS = 0.03  # judgement: less leaf than this is no reason beside another
A_LITTLE_LIGHT = 0.35  # judgement: in points of full sun; less is told without a figure
IN_THE_CENTRE = 0.5  # judgement: with this share of its leaf there, a cut opens the centre
WORTH_A_CLAUSE = 0.05  # judgement: less relief of a limb at little load, beside other reasons
NEXT_TO = 1.1  # judgement: chances nearer than a tenth are one figure to a reader
SLIGHT = 0.03  # judgement: a drop of utilisation below this is called slight
STATE_STAYS = {
    State.DEAD: "dead wood stays over whoever works below",
    State.DISEASED: "the disease spreads from it",
    State.BROKEN: "the tear rots back and may fall",
}
STATE_WORDS = {State.DEAD: "dead", State.DISEASED: "diseased", State.BROKEN: "broken"}


@dataclass(frozen=True, slots=True)
class Context:
    """All that reasons are told from: what was asked of the tree, and the answer."""

    question: Question
    lit: Lit


@dataclass(frozen=True, slots=True)
class Lost:
    """What a plan loses without one cut, in hours by motive, and the section it helps most.

    ``section`` indexes the problem's sections, -1 for none; ``with_cut`` and ``without_cut`` are
    utilisations there in the load case ``case`` (index into the assessment's cases).
    """

    hours: Mapping[str, float]
    section: int
    case: int
    with_cut: float
    without_cut: float


def chance_words(chance: float, low: float, high: float) -> str:
    """Return a chance a year with its range, as one in so many or, if great, as a percentage.

    All are rounded to two figures. A middle next to an end of its range adds nothing and is left
    out.
    """

    def one_in(p: float) -> str:
        if p < 1e-5:
            return "1 in 100 000 or less"
        return f"1 in {float(f'{1.0 / p:.2g}'):,.0f}".replace(",", " ")

    def percent(p: float) -> str:
        return f"{100 * p:.0f} %"

    say = percent if chance >= 0.3 else one_in
    middle, least, most = say(chance), say(low), say(high)
    about = "" if chance >= 0.3 else "about "
    if high <= NEXT_TO * low or least == most:
        return f"{about}{middle} a year"
    if chance <= NEXT_TO * low or high <= NEXT_TO * chance:
        return f"{least} to {most} a year"
    least = least.removesuffix(" %") if chance >= 0.3 else least
    return f"{about}{middle} a year ({least} to {most})"


def lost(context: Context, gone: Bools, node: int, now: Evaluation) -> Lost:
    """Return what the plan ``gone`` loses without the cut at ``node``."""
    problem = context.lit.built.problem
    restored = without(context.lit.built.problem, gone, node)
    other = evaluate(problem, restored)
    segment = context.lit.built.candidates[node - 1].segment
    inside = context.question.assessment.skeleton.in_subtree(segment)
    hours = {k: float(v[inside].sum()) for k, v in context.question.motives.by_name.items()}
    a, b = problem.pairs[:, 0], problem.pairs[:, 1]
    standing_again = (~restored[a] & ~restored[b]) & (gone[a] | gone[b])
    hours["rub"] = hours.get("rub", 0.0) + float(problem.pair_cost_h[standing_again].sum())
    hours["light"] = float(context.lit.light_h[node])
    risk = _relief(context, now, other)
    hours["load"] = float(risk.sum())
    if risk.size == 0 or float(risk.max()) <= 0.0:
        return Lost(hours, -1, -1, 0.0, 0.0)
    k = _section_to_tell(context, risk, now, other)
    case = int(np.argmax(other.utilisation[:, k]))
    return Lost(
        hours,
        k,
        int(context.lit.built.case_index[case]),
        float(now.utilisation[case, k]),
        float(other.utilisation[case, k]),
    )


def _relief(context: Context, now: Evaluation, other: Evaluation) -> Floats:
    """Return ``(S,)`` what each section gains [h]; of a limb's places, all at the dearer one."""
    problem = context.lit.built.problem
    eased = grouped(problem, other.section_cost) - grouped(problem, now.section_cost)
    dearest = np.zeros(problem.sections, dtype=np.bool_)
    order = np.lexsort((other.section_cost, problem.group_of))
    dearest[order[np.append(np.diff(problem.group_of[order]) > 0, True)]] = True
    return np.where(dearest, eased[problem.group_of], 0.0)


def _section_to_tell(context: Context, risk: Floats, now: Evaluation, other: Evaluation) -> int:
    """Return the section whose relief tells most: what it gains [h] times how far it comes down.

    The one that gains most is told wherever it is overloaded. Else a thick limb that comes down
    by a point or two would hide the limb that is cut from 77 % to 38 %.
    """
    most = int(np.argmax(risk))
    worst = other.utilisation.argmax(axis=0)
    each = np.arange(risk.size)
    use = other.utilisation[worst, each]
    if use[most] >= context.question.settings["overload"]:
        return most
    drop = use - now.utilisation[worst, each]
    worth_telling = risk >= SECTION_WORTH_TELLING * risk[risk > 0.0].sum()
    worth_telling[most] = True
    return int(np.argmax(np.where(worth_telling, risk * drop, -np.inf)))


def _percent(u: float) -> str:
    return f"{100 * u:.0f} %"


def _load_clause(
    context: Context, cut: Candidate, part: Lost, gone: Bools, node: int
) -> tuple[str, str]:
    """Clause and effect for the load, honest where the utilisation is low."""
    s = context.question.assessment.skeleton
    segment = int(context.lit.built.section_segment[part.section])
    limb = s.limbs[int(s.limb[segment])]
    first = limb.first_segment == segment
    place = "its union" if first else "its weakest place"
    when = context.question.assessment.loads.cases[part.case].label
    before, after = _percent(part.without_cut), _percent(part.with_cut)
    inside = s.in_subtree(cut.segment)
    name = "the stem" if limb.parent < 0 else f"limb {limb.label}"
    heavy = part.without_cut >= context.question.settings["mention"]
    chance = ""
    if heavy:
        standing = ~context.lit.built.gone_segments(without(context.lit.built.problem, gone, node))
        other = reassess(context.question.assessment, standing).limbs[int(s.limb[segment])]
        told = chance_words(other.chance, other.chance_low, other.chance_high)
        chance = f"; its chance of failure is {told}"
    if inside.start <= segment < inside.stop:
        clause = f"its own load uses {before} of what {place} can bear {when}"
        stays = f"it stays at {before} of what it can bear{chance}"
        return (clause, stays) if heavy else ("it takes weight off the tree", stays)
    if int(s.limb[segment]) == cut.limb and limb.parent >= 0:
        clause = f"it uses {before} of what {place} can bear {when} ({after} with the cut)"
    else:
        clause = f"it takes {name} from {before} to {after} of what it can bear {when}"
        if part.without_cut - part.with_cut < SLIGHT:
            clause = f"it slightly eases {name} from {before} to {after} of what it can bear {when}"
    if not heavy:
        clause = f"it eases {name} from {before} to {after} of what it can bear {when}"
    return clause, f"{name} stays at {before} of what it can bear{chance}"


def _rub_clause(context: Context, cut: Candidate, gone: Bools) -> tuple[str, str]:
    s = context.question.assessment.skeleton
    inside = s.in_subtree(cut.segment)
    segments = context.lit.built.gone_segments(gone)
    for pair in context.question.crossing:
        a_in = inside.start <= pair.segment_a < inside.stop
        b_in = inside.start <= pair.segment_b < inside.stop
        if a_in == b_in:
            continue
        other = pair.b if a_in else pair.a
        if bool(segments[pair.segment_b if a_in else pair.segment_a]):
            continue
        mine = pair.a if a_in else pair.b
        subject = "it" if mine == cut.limb else f"limb {s.limbs[mine].label} on it"
        name = "the stem" if s.limbs[other].parent < 0 else f"limb {s.limbs[other].label}"
        why = ""
        if pair.loser == mine:
            why = f" ({pair.because})" if mine == cut.limb else ""
        if pair.confidence >= 1.0:
            return f"{subject} rubs {name}{why}", "the two keep a wound open where they rub"
        look = "the survey is coarse, so look before you cut"
        look = f"{why[:-1]}; {look})" if why else f" ({look})"
        return f"{subject} seems to cross {name}{look}", "the two go on crowding each other"
    return "", ""


def _unhealthy_clause(context: Context, cut: Candidate) -> tuple[str, str]:
    s = context.question.assessment.skeleton
    state = int(s.state[cut.segment])
    inside = s.in_subtree(cut.segment)
    bad = state if state != State.LIVE else int(s.state[inside].max())
    if bad == State.LIVE:
        return "", ""
    where = "it is" if state != State.LIVE else "wood on it is"
    clause = f"{where} {STATE_WORDS[State(bad)]}"
    if bad == State.DISEASED:
        ill = inside.start + int(np.flatnonzero(s.state[inside] == bad)[0])
        station, kind = context.question.station, context.question.kind
        disease = disease_of(s.limbs[int(s.limb[ill])], station, kind)
        clause += f" ({disease.name})" if disease.name else ""
        if cut.kind == "shorten":
            clause = clause.replace("it is", "wood on it is", 1) if where == "it is" else clause
            clause += f", and is cut {100 * disease.margin_m.value:.0f} cm below the last sign"
    return clause, STATE_STAYS[State(bad)]


def _light_clause(context: Context, cut: Candidate, gone: Bools, node: int) -> tuple[str, str]:
    """Clause for the light on what stays, with the plan and with all of it but this cut."""
    lit = context.lit
    if lit.light_h[node] <= 0.0:
        return "", ""
    both = np.stack([without(context.lit.built.problem, gone, node), gone])
    before, after = lit.light.pieces.mean_light(both, stays=~gone)
    s = context.question.assessment.skeleton
    inside = s.in_subtree(cut.segment)
    leaf = s.leaf_area_m2[inside]
    centre = float(leaf[context.question.crown.in_centre[inside]].sum())
    opens = centre >= IN_THE_CENTRE * float(leaf.sum())
    verb = "it opens the centre" if opens else "it lets light in"
    stays = "the centre stays dark" if opens else "the leaf behind it stays in the shade"
    points = 100.0 * float(after - before)
    if points < A_LITTLE_LIGHT:
        return f"{verb} a little" if opens else "it lets a little light in", stays
    much = (
        "half a point" if points < 0.75 else "1 point" if points < 1.5 else f"{points:.0f} points"
    )
    return f"{verb} ({much} of full sun more on the leaf that stays)", stays


def _clauses(
    context: Context, cut: Candidate, part: Lost, gone: Bools, node: int
) -> dict[str, tuple[str, str]]:
    s = context.question.assessment.skeleton
    inside = s.in_subtree(cut.segment)
    share = context.question.motives.leaf_loss / max(context.question.settings["leaf_loss"], 1e-9)
    shape = context.question.crown
    found: dict[str, tuple[str, str]] = {}
    if part.section >= 0:
        found["load"] = _load_clause(context, cut, part, gone, node)
    unhealthy = _unhealthy_clause(context, cut)
    if unhealthy[0]:
        found["unhealthy"] = unhealthy
    found["crack"] = ("its union is cracked", "the crack opens further")
    rub = _rub_clause(context, cut, gone)
    if rub[0]:
        found["rub"] = rub
    light = _light_clause(context, cut, gone, node)
    if light[0]:
        found["light"] = light
    above = float((share * shape.above)[inside].sum())
    if above >= LEAF_WORTH_TELLING:
        found["height"] = (
            f"it holds {_percent(above)} of the crown's leaf above {shape.aim_m:.1f} m, the height "
            "to come down to",
            f"the crown stays at {shape.top_m:.1f} m",
        )
    side = point_words(bearing_deg(float(shape.offset_kg_m[0]), float(shape.offset_kg_m[1])))
    found["balance"] = (
        f"it weighs on the heavy side, to the {side}",
        "the crown goes on pulling to that side",
    )
    return found


TOLD_IN_ORDER = ("load", "unhealthy", "crack", "rub", "light", "height", "balance")


def explain(
    context: Context, gone: Bools, node: int, now: Evaluation, *, forced: bool
) -> tuple[str, str]:
    """Return the reason of the cut at ``node`` and what happens if it is left undone.

    The reason is one sentence, at most three clauses, those that carry at least 15 % of what the
    plan would lose without the cut.
    """
    cut = context.lit.built.candidates[node - 1]
    part = lost(context, gone, node, now)
    clauses = _clauses(context, cut, part, gone, node)
    gains = {k: part.hours.get(k, 0.0) for k in TOLD_IN_ORDER if k in clauses}
    total = sum(h for h in gains.values() if h > 0.0)
    told = [k for k, h in gains.items() if h > 0.0 and h >= SHARE_WORTH_TELLING * total]
    best = sorted(told, key=lambda k: gains[k], reverse=True)[:MOST_CLAUSES]
    told = [k for k in told if k in best]
    told = _weighty(context, cut, part, told)
    words = [clauses[k][0] for k in told]
    if forced:
        words.insert(0, "you asked for it")
    if not words:
        words = ["it goes with the rest of the plan"]
    reason = f"{lead(context.question.assessment.skeleton, cut)}: {_joined(words)}."
    if not told:
        return reason, "Left undone, little changes."
    main = max(told, key=lambda k: gains[k])
    if "load" in told and part.without_cut >= context.question.settings["mention"]:
        main = "load"
    return reason, f"Left undone, {clauses[main][1]}."


def _weighty(context: Context, cut: Candidate, part: Lost, told: list[str]) -> list[str]:
    """Return the motives worth a clause where there are several: no trifles beside a reason."""
    if len(told) < 2:
        return told
    inside = context.question.assessment.skeleton.in_subtree(cut.segment)
    share = context.question.motives.leaf_loss / max(context.question.settings["leaf_loss"], 1e-9)
    small: set[str] = set()
    if (share * context.question.crown.above)[inside].sum() < LEAF_BESIDE_OTHERS:
        small.add("height")
    own = part.section >= 0 and inside.start <= context.lit.built.section_segment[part.section]
    own = own and context.lit.built.section_segment[part.section] < inside.stop
    mention = context.question.settings["mention"]
    if part.without_cut < (mention if own else min(mention, part.with_cut + WORTH_A_CLAUSE)):
        small.add("load")
    return [k for k in told if k not in small] or told[:1]


def _joined(words: list[str]) -> str:
    """Join clauses; where one follows another about the same thing, "it" is said once."""
    said = [
        word.removeprefix("it ") if k and words[k - 1].startswith("it ") else word
        for k, word in enumerate(words)
    ]
    return said[0] if len(said) == 1 else ", ".join(said[:-1]) + ", and " + said[-1]


def lead(skeleton: Skeleton, cut: Candidate) -> str:
    """Return what is to be done, as the start of a sentence."""
    label = skeleton.limbs[cut.limb].label
    name = "the stem" if skeleton.limbs[cut.limb].parent < 0 else f"limb {label}"
    if cut.kind == "remove":
        if cut.segment == skeleton.limbs[cut.limb].first_segment:
            return f"Take out {name} to the collar"
        return f"Take out the lateral {cut.at_m:.1f} m along {name} to the collar"
    verb = "Head" if cut.kind == "head" else "Shorten"
    return f"{verb} {name} {cut.to_lateral}"

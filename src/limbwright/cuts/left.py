"""What was weighed and not cut, and why: a limit, its wound and work, or a wish."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from limbwright.cuts.candidates import Candidate, Offer
from limbwright.cuts.evaluate import Evaluation, evaluate
from limbwright.cuts.limits import Limits
from limbwright.cuts.reasons import Context
from limbwright.cuts.results import Left
from limbwright.model.skeleton import Bools, Floats, State

__all__ = ["left_standing"]

MOST = 10  # judgement: a longer list of what is left isn't read
NOTABLE_H = 0.15  # judgement: what speaks for a limb with less than this isn't told

LIMIT_WORDS: Mapping[str, str] = {
    "wound share": "the wounds would come to {wound:.0f} % of the stem section of {most:.0f} %: "
    "for a later season",
    "balance": "the crown would hang too much to one side without it",
    "deadwood": "it is the thick dead wood left for wildlife",
    "number of cuts": "only so many cuts were asked for: for next season",
    "keep": "it is to be kept, or carries what is",
    "heir": "no live lateral would be left to shorten to",
}


def left_standing(
    context: Context, offer: Offer, gone: Bools, now: Evaluation, bounds: Limits
) -> tuple[Left, ...]:
    """Return the cuts of note that the plan leaves, with the reason, the weightiest first."""
    s = context.question.assessment.skeleton
    built = context.lit.built
    removed = built.gone_segments(gone)
    worth = s.subtree_sum(context.question.motives.total)
    worth[built.base] += context.lit.light_h
    rows: dict[str, tuple[float, Left]] = {}
    rubbing = _rubbing(context, removed)
    grave = {
        x.limb
        for x in context.question.assessment.limbs
        if x.utilisation >= context.question.settings["overload"]
    }
    for refusal in offer.refused:
        k = next(k for k, x in enumerate(s.limbs) if x.label == refusal.limb)
        standing = not removed[s.limbs[k].first_segment]
        asked = refusal.why.startswith("you asked")
        told = k in rubbing or k in grave or s.limbs[k].state != State.LIVE or asked
        if standing and told:
            rubs = f"it rubs limb {rubbing[k]}, but " if rubbing.get(k) else ""
            rows[refusal.limb] = (1.0, replace(refusal, why=rubs + refusal.why))
    ranked = _notable(context, gone, now.cuts, removed, worth)
    for node in ranked:
        cut = built.candidates[node - 1]
        label = s.limbs[cut.limb].label
        if label in rows or len(rows) >= MOST:
            continue
        why = _why(context, gone, node, now, bounds)
        rows[label] = (float(worth[cut.segment]), Left(label, cut.kind, why))
    return tuple(row for _, row in sorted(rows.values(), key=lambda x: -x[0]))


def _notable(
    context: Context, gone: Bools, cuts: Bools, removed: Bools, worth: Floats
) -> list[int]:
    """Nodes not gone that something speaks for, most first; limbs cut elsewhere left out."""
    s, built = context.question.assessment.skeleton, context.lit.built
    partly = {built.candidates[node - 1].limb for node in np.flatnonzero(cuts)}
    loaded = {
        x.limb
        for x in context.question.assessment.limbs
        if x.utilisation >= context.question.settings["overload"] and s.limbs[x.limb].parent >= 0
    }
    rubbing = _rubbing(context, removed)

    def speaks(cut: Candidate) -> float:
        hours = float(worth[cut.segment])
        hours += 0.5 * (cut.limb in loaded) + 0.5 * (cut.limb in rubbing)
        return hours + 0.5 * (s.limbs[cut.limb].state != State.LIVE)

    found = [
        node
        for node in range(1, gone.size)
        if not gone[node]
        and built.candidates[node - 1].limb not in partly
        and speaks(built.candidates[node - 1]) >= NOTABLE_H
    ]
    return sorted(found, key=lambda node: -speaks(built.candidates[node - 1]))


def _rubbing(context: Context, removed: Bools) -> dict[int, str]:
    """Return the limbs that lost a crossing which still stands, with the other limb's label."""
    return {
        pair.loser: context.question.assessment.skeleton.limbs[
            pair.b if pair.loser == pair.a else pair.a
        ].label
        for pair in context.question.crossing
        if pair.loser >= 0 and not removed[[pair.segment_a, pair.segment_b]].any()
    }


def _why(context: Context, gone: Bools, node: int, now: Evaluation, bounds: Limits) -> str:
    problem = context.lit.built.problem
    more = gone.copy()
    more[node : int(problem.end[node])] = True
    other = evaluate(problem, more)
    broken = [name for name in other.violated if name not in now.violated]
    loss = other.objective_h - now.objective_h
    # a limit stands against a cut only if it would be made without the limit
    if broken and loss < 0.0:
        stem = max(bounds.stem_area_cm2, 1e-9)
        words = [
            LIMIT_WORDS.get(name, name).format(
                wound=100 * other.wound_cm2 / stem, most=100 * bounds.wound_cm2 / stem
            )
            for name in broken
            if name != "dose"
        ]
        if "dose" in broken:
            live = max(bounds.live_leaf_m2, 1e-9)
            words.insert(0, _dose_words(now.leaf_m2 / live, other.leaf_m2 / live, bounds.dose))
        return "; ".join(words)
    if loss <= context.question.settings["least_gain"]:
        return "it would gain next to nothing beside the cuts chosen"
    return f"not worth its wound and work this season: about {loss:.1f} h more than it gains"


def _dose_words(now: float, with_it: float, limit: float) -> str:
    """Return why the dose stands against a cut, and when it may come."""
    if with_it - now > limit:
        return (
            f"alone it takes {100 * (with_it - now):.0f} % of the live crown, more than the "
            f"{100 * limit:.0f} % of a season: bring it down in steps over the years"
        )
    there = f"{100 * with_it:.0f} %"
    if round(100 * with_it) <= round(100 * limit):
        there = "just over it"
    return f"the dose of {100 * limit:.0f} % is spent (with it {there}): for next season"

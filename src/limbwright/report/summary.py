"""A page of words on a whole survey: what to do, how long it takes, which trees come first."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, isfinite

from limbwright.cuts.results import Plan
from limbwright.light.summary import LightAir
from limbwright.model.records import StationRecord
from limbwright.report.words import AS_BEFORE, one_in, per_cent_pair
from limbwright.statics.assess import Assessment

__all__ = ["matter_most", "summary_markdown"]

Items = Sequence[tuple[Assessment, Plan, StationRecord | None]]


def expected_loss(assessment: Assessment) -> float:
    """Return the leaf [m2] expected to be lost a year: chance times leaf carried, over limbs.

    Leaf stands for crown: a great old crown at some risk counts before a young one at more.
    """
    return fsum(limb.chance * max(limb.leaf_area_m2, 0.1) for limb in assessment.limbs)


def matter_most(items: Items, k: int = 3) -> list[str]:
    """Return a sentence on each of the ``k`` trees with most of their crown at stake a year."""
    ranked = sorted(items, key=lambda item: (-expected_loss(item[0]), item[0].skeleton.tree))
    return [_sentence(assessment, plan) for assessment, plan, _ in ranked[:k]]


def _sentence(assessment: Assessment, plan: Plan) -> str:
    worst = max(assessment.limbs, key=lambda limb: limb.chance * max(limb.leaf_area_m2, 0.1))
    case = assessment.loads.cases[worst.case]
    cuts = _count(len(plan.cuts), "cut") if plan.cuts else "no cut"
    return (
        f"{plan.tree} ({plan.species}): limb {worst.label} uses {worst.utilisation:.0%} of what it "
        f"can bear {case.label}; a limb fails in a year with a chance of about "
        f"{one_in(plan.chance_before)}, after {cuts} {one_in(plan.chance_after)}."
    )


def _both(before: float, after: float, light: LightAir) -> str:
    """Return a share before and after; a dash for a tree without leaf, or left without."""
    if not light.mean > 0.0 or not isfinite(before):
        return "–"
    if not isfinite(after):
        return f"{per_cent_pair(before, before)[0]}%, after –"
    first, second = per_cent_pair(before, after)
    return f"{first}%, " + (AS_BEFORE if second is None else f"after {second}%")


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def summary_markdown(items: Items, *, holding: str = "", marked: str = "") -> str:
    """Return the summary of a survey as Markdown: totals, first trees, a row a tree, cautions."""
    plans = [plan for _, plan, _ in items]
    title = f"# {holding or 'Summary'}" + (f" ({marked})" if marked else "")
    cuts = sum(len(p.cuts) for p in plans)
    hours = fsum(p.hours for p in plans)
    lines = [
        title,
        "",
        f"{_count(len(plans), 'tree')} planned, {_count(cuts, 'cut')}, about {hours:.0f} hours at "
        "the cuts themselves. Setting up, moving on and clearing brash come on top; clearing "
        "alone may take as long again.",
        "",
        "## The trees that matter most",
        "",
        *(f"{n}. {line}" for n, line in enumerate(matter_most(items), 1)),
        "",
        "## Tree by tree",
        "",
        "| tree | species | season | cuts | dose | wound share | hours | a limb fails in a year "
        "| light on its leaf | hats that pass |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for plan in plans:
        lines.append(
            f"| {plan.tree.replace('|', '/')} | {plan.species} | {plan.season} | {len(plan.cuts)} "
            f"| {plan.dose:.0%} of {plan.dose_limit:.0%} "
            f"| {plan.wound_share:.0%} of {plan.wound_limit:.0%} | {plan.hours:.1f} "
            f"| {plan.chance_before:.1%}, after {plan.chance_after:.1%} "
            f"| {_both(plan.light_before.mean, plan.light_after.mean, plan.light_before)} "
            f"| {_both(plan.light_before.hat, plan.light_after.hat, plan.light_before)} |"
        )
    lines += [
        "",
        "Light is the share of full sun on the crown's leaf in the months that make next year's "
        "flower buds; parts below about 30 % bear few. Hats: of a hundred thrown through the bare "
        "crown, as many pass.",
    ]
    cautions = list(dict.fromkeys(c for plan in plans for c in plan.cautions))
    lines += ["", "## Cautions", "", *(f"- {c}" for c in cautions), ""]
    lines += [
        "A low chance is a figure with a range, never a promise. Local law, local codes and "
        "licensed practice come before this page.",
        "",
    ]
    return "\n".join(lines)

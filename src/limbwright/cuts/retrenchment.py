"""Retrenchment of veterans: the crown made smaller by small steps over decades.

An old tree grows smaller by itself: its ends die and a lower crown takes over. The steps here go
before it by little: the outer shoots come in, thin wood only, the lower and inner growth stays,
and the tree rests for years in between. BS 3998:2010 describes this as phased, shortening the
heavy, long or weakened ends throughout the crown while as much leaf as possible stays; it gives no
numbers, so those in ``trade/data/retrenchment.csv`` are from memory or judgement, with ranges.

The steps are reckoned on the tree as it stands. What grows between them is not drawn: survey again
before each step.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from limbwright.cuts.ends import NOTHING, Crown, TipCut
from limbwright.cuts.lesser import small_work
from limbwright.cuts.limits import tree_state
from limbwright.cuts.results import Cut, Wishes
from limbwright.cuts.weights import Settings
from limbwright.cuts.wildlife import with_wildlife
from limbwright.errors import PlanError
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Skeleton, State
from limbwright.trade.parameters import parameters

__all__ = ["Retrenchment", "RetrenchmentStep", "TipCut", "retrenchment", "step_rows"]

HALVINGS = 20  # a step's height is found to a millionth of the crown's
HOURS_A_TIP = 0.1  # judgement: one thin end with a pole saw or secateurs


@dataclass(frozen=True, slots=True)
class RetrenchmentStep:
    """One step: when, how high and wide the live crown is to be, what it takes.

    ``target_height_m`` and ``target_radius_m`` are aimed at, ``height_m`` and ``radius_m`` are
    reached: thick wood, kept limbs and the dose may hold it higher, and ``held`` says which.
    """

    year: int
    target_height_m: float
    target_radius_m: float
    height_m: float
    radius_m: float
    cuts: tuple[TipCut, ...]
    dose: float
    dose_limit: float
    wound_share: float
    held: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Retrenchment:
    """The steps of one tree.

    ``height_m`` and ``radius_m`` are those of the live crown before, ``top_m`` of all wood: dead
    tops stay. ``years_low`` and ``years_high`` are the ends of the range of rest between steps.
    """

    tree: str
    state: str
    height_m: float
    radius_m: float
    top_m: float
    steps: tuple[RetrenchmentStep, ...]
    rest_years: int
    years_low: int
    years_high: int
    reasons: tuple[str, ...]


def retrenchment(
    skeleton: Skeleton,
    station: StationRecord | None = None,
    *,
    year: int,
    steps: int | None = None,
    rest_years: int | None = None,
    height_share: float | None = None,
    dose: float | None = None,
    settings: Settings | None = None,
) -> Retrenchment:
    """Return the steps that bring a veteran's crown in, each within its dose.

    A step aims at its part of the whole shrinking. Where that would take more leaf than the dose
    of the crown then standing, it stops short, and the next tries to make it good.

    Parameters
    ----------
    skeleton
        The tree; limbs marked to be kept, or whose notes name protected habitat, are not cut.
    station
        Its record; says whether it is a veteran at all.
    year
        Of the first step.
    steps, rest_years, height_share
        How many steps, the years from one to the next, and what share of the live height goes over
        all; None takes the table's.
    dose
        Most of the standing live leaf a step takes; None takes that of veterans.
    settings
        In place of the tables'.

    Raises
    ------
    PlanError
        No live crown, or a wish out of bounds: fewer than one step, less than a year of rest, a
        height share or dose not above zero or above one third.
    """
    table = parameters("retrenchment")
    settings = settings or Settings()
    count = round(table["steps"].value) if steps is None else steps
    rest = round(table["rest_years"].value) if rest_years is None else rest_years
    share = table["height_share"].value if height_share is None else height_share
    most = settings["dose_veteran"] if dose is None else dose
    s = with_wildlife(skeleton, Wishes())
    _check(s, count, rest, share, most, settings["dose_ceiling"])
    crown = Crown(s)
    made: list[RetrenchmentStep] = []
    for k in range(count):
        aim = share * (k + 1) / count
        made.append(_step(crown, year + k * rest, aim, most))
    span = (count - 1) * np.asarray([table["rest_years"].low, table["rest_years"].high])
    state = tree_state(station, year=year)
    return Retrenchment(
        tree=s.tree,
        state=state.key,
        height_m=crown.height_m,
        radius_m=crown.radius_m,
        top_m=float(s.end_m[:, 2].max()),
        steps=tuple(made),
        rest_years=rest,
        years_low=round(float(span[0])),
        years_high=round(float(span[1])),
        reasons=_reasons(crown, made, rest, state.key, state.because),
    )


def _check(s: Skeleton, count: int, rest: int, share: float, dose: float, ceiling: float) -> None:
    if float(s.leaf_area_m2[s.state == State.LIVE].sum()) <= 0.0:
        raise PlanError(
            f"Tree {s.tree} has no live crown to bring in.", "Let it stand where nobody is below."
        )
    if count < 1 or rest < 1:
        raise PlanError(
            f"Retrenchment of tree {s.tree} was asked for in {count} steps {rest} years apart.",
            "Give at least one step, and at least one year.",
        )
    for what, value in (("height", share), ("live crown", dose)):
        if not 0.0 < value <= ceiling + 1e-9:
            raise PlanError(
                f"{100 * value:.0f} % of the {what} of tree {s.tree} was asked for.",
                "Give more than 0 and at most a third (33 %).",
            )


def _step(crown: Crown, year: int, aim: float, most: float) -> RetrenchmentStep:
    """Cut to an aim, or as near to it as the dose allows, and say what held it."""
    spread = parameters("retrenchment")["spread_share"].value
    most_m2 = most * float((crown.leaf * crown.left).sum())
    shrink, choice = aim, crown.choose(aim)
    held: tuple[str, ...] = ()
    if choice.taken_m2 > most_m2:
        held = (f"the dose of {100 * most:.0f} % of the live crown",)
        low, high = crown.shrunk, aim
        for _ in range(HALVINGS):
            shrink = 0.5 * (low + high)
            if crown.choose(shrink).taken_m2 > most_m2:
                high = shrink
            else:
                low = shrink
        shrink, choice = low, crown.choose(low)
        if choice.taken_m2 > most_m2:  # more than the dose even where it stands now
            choice = NOTHING
    crown.shrunk = max(crown.shrunk, shrink)
    cuts = crown.cut(choice)
    height, radius = crown.size()
    stem_cm2 = np.pi * (float(crown.s.start_diameter_mm[0]) / 20.0) ** 2
    return RetrenchmentStep(
        year=year,
        target_height_m=crown.height_m * (1.0 - aim),
        target_radius_m=crown.radius_m * (1.0 - spread * aim),
        height_m=height,
        radius_m=radius,
        cuts=tuple(sorted(cuts, key=lambda c: (-c.height_m, c.segment))),
        dose=float(sum(c.dose for c in cuts)),
        dose_limit=most,
        wound_share=float(sum(c.wound_area_cm2 for c in cuts) / max(stem_cm2, 1e-9)),
        held=(*held, *choice.held),
    )


def _reasons(
    crown: Crown, steps: list[RetrenchmentStep], rest: int, state: str, because: str
) -> tuple[str, ...]:
    last = steps[-1]
    said = [
        f"The live crown comes from {crown.height_m:.1f} m to {last.height_m:.1f} m high in "
        f"{len(steps)} {'step' if len(steps) == 1 else 'steps'}, {rest} years apart.",
        "Lower and inner growth stays; dead tops stay where nobody is below; an end without a "
        "live shoot near may keep a stub, which is wanted here.",
        "What grows in between is not reckoned: survey again before each step, and wait longer "
        "where last season's growth was weak.",
    ]
    if state != "veteran":
        said.append(
            f"By its record it is a {state} tree ({because}), not a veteran: restorative pruning "
            "may suit it better."
        )
    if not any(step.cuts for step in steps):
        said.append("No end could be cut within these limits: leave it as it is.")
    return tuple(said)


def step_rows(
    step: RetrenchmentStep, skeleton: Skeleton, settings: Settings, *, first_order: int = 1
) -> tuple[Cut, ...]:
    """Return a step as rows for a card, one a limb, the highest first."""
    by_limb: dict[str, list[TipCut]] = {}
    for cut in step.cuts:
        by_limb.setdefault(cut.limb, []).append(cut)
    rows: list[Cut] = []
    for label, cuts in by_limb.items():
        thickest = max(cuts, key=lambda c: c.diameter_mm)
        short, long = min(c.shorten_m for c in cuts), max(c.shorten_m for c in cuts)
        span = (
            f"{long:.1f} m" if round(long, 1) == round(short, 1) else f"{short:.1f} to {long:.1f} m"
        )
        many = "the end" if len(cuts) == 1 else f"about {len(cuts)} outer ends"
        row = small_work(
            skeleton,
            settings,
            np.asarray(thickest.point_m),
            order=first_order + len(rows),
            cut="shorten",
            limb=label,
            segment=thickest.segment,
            at_m=thickest.at_m,
            diameter_mm=thickest.diameter_mm,
            piece_length_m=long,
            dose=sum(c.dose for c in cuts),
            to_lateral=thickest.to_lateral or "to a live shoot or bud, or to a stub",
            hours=HOURS_A_TIP * len(cuts),
            reason=(
                f"Shorten {many} of limb {label} by {span}: above {step.target_height_m:.1f} m, or "
                f"more than {step.target_radius_m:.1f} m out."
            ),
            effect="The crown grows smaller by little, and the lower growth gets light.",
        )
        rows.append(replace(row, wound_area_cm2=sum(c.wound_area_cm2 for c in cuts)))
    return tuple(rows)

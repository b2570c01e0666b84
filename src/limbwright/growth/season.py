"""A season: what is cut goes, what stays grows, and leaf grows again at the cuts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import exp

import numpy as np

from limbwright.growth.prune import closed, cut_bases, pruned
from limbwright.growth.rates import Rates
from limbwright.growth.response import CutKind, Season, long_run_share
from limbwright.growth.thicken import check_years, grow_wood, marked, thicken
from limbwright.model.skeleton import Bools, Floats, Skeleton, State

__all__ = ["GrownTree", "after_season", "dose_of", "season_on"]

FIRST_YEAR = 1.0
"""Cut parts lose growth most in the first 12 months (Gilman & Grabosky 2009); told only there."""


@dataclass(frozen=True, slots=True)
class GrownTree:
    """A tree, and what has still to grow again at its old cuts, ``(n,)`` by bearing segment."""

    skeleton: Skeleton
    leaf_to_come_m2: Floats
    fine_wood_to_come_kg: Floats
    fruit_to_come_kg: Floats

    @classmethod
    def standing(cls, skeleton: Skeleton) -> GrownTree:
        """Return a tree with no cuts to answer."""
        none = np.zeros(skeleton.n)
        return cls(skeleton, none, none, none)


def dose_of(skeleton: Skeleton, gone: Bools) -> float:
    """Return the dose of cuts: the live leaf taken over all the live leaf, 0 for a bare tree."""
    leaf = np.where(skeleton.state != int(State.DEAD), skeleton.leaf_area_m2, 0.0)
    total = float(leaf.sum())
    taken = float(leaf[closed(skeleton, gone)].sum())
    return min(taken / total, 1.0) if total > 0.0 else 0.0


def after_season(
    skeleton: Skeleton,
    gone: Bools,
    rates: Rates,
    *,
    dose: float | None = None,
    kinds: Mapping[int, CutKind] | CutKind = "remove",
    season: Season = "winter",
    years: float = 1.0,
) -> Skeleton:
    """Return a tree cut now, as it stands some growing seasons later.

    `season_on` does the same and remembers what has still to grow again, for year after year.

    Parameters
    ----------
    skeleton
        The tree before the cuts.
    gone
        ``(n,)`` True for segments cut off; all they carry goes with them.
    rates
        The tree's rates.
    dose
        Share of the live crown taken; reckoned from ``gone`` if None.
    kinds
        What kind of cut it is, for all, or by the segment at whose base it is made.
    season
        When it was cut.
    years
        Growing seasons after the cuts.

    Returns
    -------
    Skeleton
        The segments that stay, with their numbers and limb labels. Regrowth hangs as leaf, fine
        wood and crop on the segment that bears the cut. With nothing gone it is `thicken`.

    Raises
    ------
    InputError
        The marks do not fit the tree, the stem would go, or a dose, kind, season or time cannot be.
    """
    return season_on(
        GrownTree.standing(skeleton),
        gone,
        rates,
        dose=dose,
        kinds=kinds,
        season=season,
        years=years,
    ).skeleton


def season_on(
    tree: GrownTree,
    gone: Bools,
    rates: Rates,
    *,
    dose: float | None = None,
    kinds: Mapping[int, CutKind] | CutKind = "remove",
    season: Season = "winter",
    years: float = 1.0,
) -> GrownTree:
    """Return a tree cut now and grown on, with what its old and new cuts have still to answer.

    Parameters and faults are those of `after_season`. What has to come is taken with the wood
    that bears it. Of it, ``1 - exp(-1 / tau)`` grows in a year, so that two seasons one after the
    other are the same as both at once where nothing is cut in between.
    """
    check_years(years)
    before = tree.skeleton
    falls = closed(before, gone)
    taken = dose_of(before, gone) if dose is None else dose
    leaf_due, fine_due, fruit_due = (
        tree.leaf_to_come_m2.copy(),
        tree.fine_wood_to_come_kg.copy(),
        tree.fruit_to_come_kg.copy(),
    )
    live = before.state != int(State.DEAD)
    lost = before.subtree_sum(
        np.stack([before.leaf_area_m2, before.fine_wood_kg, before.fruit_kg], axis=1)
        * live[:, None]
    )
    for base in cut_bases(before, gone).tolist():
        bearer = int(before.parent[base])
        if not bool(live[bearer]):
            continue  # dead wood does not sprout
        kind = kinds if isinstance(kinds, str) else kinds.get(base, "remove")
        share = long_run_share(rates, taken, kind=kind, season=season)
        leaf_due[bearer] += share * lost[base, 0]
        fine_due[bearer] += share * lost[base, 1]
        fruit_due[bearer] += share * lost[base, 2]
    stays = ~falls
    leaf_due, fine_due, fruit_due = leaf_due[stays], fine_due[stays], fruit_due[stays]
    left = pruned(before, gone)
    grown = _grow(left, rates, years, _leaf_left(before, falls)[stays])
    # what is due grows with the crown, so omega is the share of what would stand there uncut
    trend = (1.0 + rates.crown_growth.value) ** years
    still = exp(-years / rates.regrowth_years.value)
    fruit_still = exp(-years / rates.fruit_years.value)
    leaf_due, fine_due, fruit_due = trend * leaf_due, trend * fine_due, trend * fruit_due
    if bool(leaf_due.any() or fine_due.any() or fruit_due.any()):
        grown = marked(
            replace(
                grown,
                leaf_area_m2=grown.leaf_area_m2 + (1.0 - still) * leaf_due,
                fine_wood_kg=grown.fine_wood_kg + (1.0 - still) * fine_due,
                fruit_kg=grown.fruit_kg + (1.0 - fruit_still) * fruit_due,
            )
        )
    return GrownTree(grown, still * leaf_due, still * fine_due, fruit_still * fruit_due)


def _leaf_left(skeleton: Skeleton, falls: Bools) -> Floats:
    """Return ``(n,)`` the leaf beyond each segment that stays over what was there, 1 where none."""
    stays = np.where(falls, 0.0, skeleton.leaf_area_m2)
    beyond = skeleton.subtree_sum(np.stack([skeleton.leaf_area_m2, stays], axis=1))
    before = beyond[:, 0]
    share = np.where(before > 0.0, beyond[:, 1] / np.where(before > 0.0, before, 1.0), 1.0)
    return np.asarray(np.clip(share, 0.0, 1.0))


def _grow(skeleton: Skeleton, rates: Rates, years: float, leaf_left: Floats) -> Skeleton:
    """Return the tree grown on; in the first year wood grows by the share of leaf left to it."""
    grown = thicken(skeleton, rates, years)
    if years == 0.0 or bool((leaf_left == 1.0).all()):
        return grown
    first = min(years, FIRST_YEAR)
    start, end = grow_wood(skeleton, rates, first, leaf_left)
    held = replace(skeleton, start_diameter_mm=start, end_diameter_mm=end)
    if years > first:
        start, end = grow_wood(held, rates, years - first)
    for one in (start, end):
        one.setflags(write=False)
    return replace(grown, start_diameter_mm=start, end_diameter_mm=end)

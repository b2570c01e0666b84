"""One season of one young tree: its stage, its scaffold, its rows, its hours."""

from __future__ import annotations

from dataclasses import dataclass, replace

from limbwright.form.crown import Crown, fill_crown, tree_growth_cm
from limbwright.form.dose import Dosed, within_dose
from limbwright.form.orders import rows_for
from limbwright.form.results import Choice, FormRow, Range
from limbwright.form.select import select_scaffold
from limbwright.form.settings import FormSettings
from limbwright.form.stage import Standing, stand
from limbwright.form.target import ClearStem
from limbwright.model.shoots import YoungTree
from limbwright.trade.species import Species

__all__ = ["Season", "one_season", "work_hours"]

LONGEST_WAIT_YEARS = 1.0
"""Judgement: a leader left longer than this makes a second storey."""
WORTH_WAITING = 0.03
"""Judgement: for less of the dose a leader is not left standing."""


@dataclass(frozen=True, slots=True)
class Season:
    """What one season does to one young tree; ``growth_cm`` is last season's, None unmeasured."""

    crown: Crown
    standing: Standing
    choice: Choice | None
    dosed: Dosed
    growth_cm: float | None
    hours: Range

    @property
    def rows(self) -> tuple[FormRow, ...]:
        """A row for every shoot."""
        return self.dosed.rows


def one_season(
    tree: YoungTree, kind: Species, target: ClearStem, settings: FormSettings, year: int
) -> Season:
    """Return what one season does to a young tree, whatever has been or will be done in others.

    Raises
    ------
    InputError
        The tree has no leader, or nothing tells how tall it is.
    """
    crown = fill_crown(tree, settings)
    growth = tree_growth_cm(tree, crown)
    standing = stand(crown, tree.station, target, settings, year, growth)
    choice = None
    if standing.stage.key in ("choose", "build"):
        choice = select_scaffold(crown, standing, target, settings)
    stone = kind.group == "stone"

    def decide(wishes: FormSettings) -> Dosed:
        rows = rows_for(crown, standing, choice, target, wishes, stone=stone, growth_cm=growth)
        return within_dose(rows, crown, wishes, stone=stone)

    dosed = decide(settings)
    if dosed.dose > dosed.limit and standing.winters < LONGEST_WAIT_YEARS:
        # The leader may stand a year longer; the limbs cannot wait to be shortened.
        wait = {**settings.overrides, "leader_wait": LONGEST_WAIT_YEARS}
        later = decide(replace(settings, overrides=wait))
        if later.dose < dosed.dose - WORTH_WAITING:
            dosed = replace(later, words=f"{later.words}; so the leader stays a year longer")
    return Season(crown, standing, choice, dosed, growth, work_hours(dosed.rows, settings))


def work_hours(rows: tuple[FormRow, ...], settings: FormSettings) -> Range:
    """Return the hours of one visit: looking and guard, each cut, each shoot spread."""
    cuts = sum(r.cuts for r in rows)
    spreads = sum(r.spread_to_deg is not None for r in rows)

    def hours(low: float, cut: float, spread: float) -> float:
        return (low + cuts * cut + spreads * spread) / 60.0

    names = ("visit_minutes", "cutting_minutes", "spreading_minutes")
    return Range(
        hours(*(settings[n] for n in names)),
        hours(*(settings.low(n) for n in names)),
        hours(*(settings.high(n) for n in names)),
    )

"""A plan of several seasons as what its pictures and its chart are drawn from."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isfinite

import numpy as np

from limbwright.model.skeleton import Skeleton
from limbwright.report.years_chart import Course, CourseYears
from limbwright.report.years_drawing import Stand
from limbwright.stages.compare import WAYS, Way
from limbwright.stages.replay import Year
from limbwright.stages.replay_document import cuts_of_season, trees_before
from limbwright.stages.results import YearsPlan
from limbwright.stages.seasons import year_of

__all__ = ["courses_of", "stands_of", "years_of"]


def stands_of(plan: YearsPlan, skeleton: Skeleton) -> tuple[Stand, ...]:
    """Return the tree before the cuts of each season, after the last, and at the end of the years.

    The same growth is let run as the plan was checked by, from the tree as surveyed.

    Parameters
    ----------
    plan
        The sequence.
    skeleton
        The tree as surveyed, of which the plan was made.

    Raises
    ------
    PlanError
        The plan is of another tree.
    """
    last = len(plan.seasons) - 1
    years = max(len(plan.trajectory), last + 1) + 1
    trees = trees_before(skeleton, [cuts_of_season(one) for one in plan.seasons], plan.rates, years)
    out = []
    for y, (now, gone) in enumerate(trees):
        if y <= last:
            season = plan.seasons[y]
            note = "rest" if season.rest else "no cuts" if season.plan is None else ""
            out.append(Stand(season.season, now, gone if bool(gone.any()) else None, note))
        elif y == last + 1:
            out.append(Stand("a year after the last", now))
        if y == years - 1 and len(plan.trajectory) > last + 1:
            out.append(Stand(f"after {len(plan.trajectory)} years", now))
    return tuple(out)


def years_of(plan: YearsPlan) -> tuple[int, ...]:
    """Return the years of the trajectory: of the calendar where the first season names one."""
    first = year_of(plan.seasons[0].season)
    start = 1 if first is None else first
    return tuple(start + year.year for year in plan.trajectory)


def courses_of(ways: Iterable[Way]) -> tuple[Course, ...]:
    """Return ways as the chart takes them, a value a year.

    Chance and hours are summed up to each year, ``1 - prod(1 - p)`` and all hours; crown and light
    are those after the year's cuts.
    """
    out = []
    for way in ways:
        stays = np.cumprod([1.0 - year.chance for year in way.years])
        over = f"{100.0 * way.most_dose:.0f} % of the crown in one season, over the tree's dose."
        out.append(
            Course(
                name=way.name,
                chance=CourseYears(tuple(float(1.0 - one) for one in stays)),
                crown=CourseYears(tuple(year.crown_kept for year in way.years)),
                light=CourseYears(_lit(way.years)),
                hours=CourseYears(tuple(np.cumsum([year.hours for year in way.years]).tolist())),
                plan=way.name == WAYS[0],
                note=over if way.over_dose else "",
            )
        )
    return tuple(out)


def _lit(years: Sequence[Year]) -> tuple[float | None, ...]:
    return tuple(one.mean_light if isfinite(one.mean_light) else None for one in years)

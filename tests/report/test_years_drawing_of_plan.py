"""A real plan of two seasons as pictures and chart: the trees drawn are those it was checked by."""

from __future__ import annotations

import numpy as np
import pytest
from tests.report.drawn import said

from limbwright.demo import make_holding
from limbwright.model.skeleton import Skeleton, State
from limbwright.report.years_chart import years_chart
from limbwright.report.years_drawing import tree_years
from limbwright.report.years_told import courses_of, stands_of, years_of
from limbwright.stages.compare import way
from limbwright.stages.plan_years import plan_years
from limbwright.stages.results import YearsPlan
from limbwright.statics.assess import assess
from limbwright.survey.build import build_skeleton

SEASONS = ("winter 2026-27", "winter 2027-28")


@pytest.fixture(scope="module")
def planned() -> tuple[Skeleton, YearsPlan]:
    holding = make_holding(1)
    survey = holding.surveys()[21]
    skeleton = build_skeleton(survey)[0]
    assessment = assess(skeleton, holding.site)
    return skeleton, plan_years(assessment, survey.station, seasons=SEASONS, compare=False)


def live_m2(s: Skeleton, stands: np.ndarray) -> float:
    return float(s.leaf_area_m2[(s.state != State.DEAD) & stands].sum())


def test_stands_are_the_trees_the_plan_was_checked_by(planned: tuple[Skeleton, YearsPlan]) -> None:
    skeleton, plan = planned
    stands = stands_of(plan, skeleton)
    assert [one.caption for one in stands] == [*SEASONS, "a year after the last", "after 10 years"]
    first = live_m2(skeleton, np.ones(skeleton.n, dtype=np.bool_))
    assert sum(one.gone is not None for one in stands) == 2
    for stand, season, year in zip(stands, plan.seasons, plan.trajectory, strict=False):
        assert stand.gone is not None
        assert season.assessment is not None
        then = season.assessment.skeleton
        np.testing.assert_array_equal(stand.skeleton.segment_ids, then.segment_ids)
        np.testing.assert_allclose(stand.skeleton.leaf_area_m2, then.leaf_area_m2, rtol=1e-9)
        np.testing.assert_allclose(stand.skeleton.end_m, then.end_m, rtol=1e-9)
        kept = live_m2(stand.skeleton, ~stand.gone) / first
        assert kept == pytest.approx(year.crown_kept, rel=1e-9)
    after = live_m2(stands[2].skeleton, np.ones(stands[2].skeleton.n, dtype=np.bool_)) / first
    assert after == pytest.approx(plan.trajectory[2].crown_kept, rel=1e-9)
    told = {one.text for one in said(tree_years(stands))}
    assert {f"{100 * one.dose:.0f} % of it goes" for one in plan.seasons} <= told


def test_the_chart_ends_where_the_ways_do(planned: tuple[Skeleton, YearsPlan]) -> None:
    _, plan = planned
    ways = [way("staged", plan.trajectory, 0.25), way("at once", plan.trajectory, 0.01)]
    staged, once = courses_of(ways)
    assert years_of(plan) == tuple(range(2026, 2036))
    assert staged.plan
    assert not once.plan
    assert staged.chance.value[-1] == pytest.approx(ways[0].chance)
    assert staged.hours.value[-1] == pytest.approx(ways[0].hours)
    crown = [one for one in staged.crown.value if one is not None]
    assert min(crown) == pytest.approx(ways[0].crown_kept)
    # light is reckoned in the seasons and the last year alone
    assert [one is None for one in staged.light.value] == [False] * 2 + [True] * 7 + [False]
    assert not staged.note
    assert "over the tree's dose" in once.note
    told = " ".join(one.text for one in said(years_chart(years_of(plan), (staged, once))))
    assert "At once:" in told

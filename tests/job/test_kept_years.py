"""Trees grown again from a kept plan are those the plan was checked by."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from limbwright.demo import make_holding
from limbwright.errors import PlanError
from limbwright.growth.rates import rates
from limbwright.job.season_cards import card_item
from limbwright.job.tree_years import YearsOrder
from limbwright.project.plans import StoredPlan
from limbwright.stages.plan_years import plan_years
from limbwright.stages.replay_document import (
    SeasonCuts,
    cuts_of_document,
    rates_of_document,
    trees_before,
)
from limbwright.stages.results import YearsPlan
from limbwright.statics.assess import assess
from limbwright.survey.build import build_skeleton

SEASONS = ("winter 2026-27", "winter 2027-28")


@pytest.fixture(scope="module")
def planned() -> YearsPlan:
    holding = make_holding(1)
    survey = holding.surveys()[21]
    found = assess(build_skeleton(survey)[0], holding.site)
    made = plan_years(found, survey.station, seasons=SEASONS, compare=False)
    assert all(one.plan is not None for one in made.seasons)
    return made


def stored(document: dict[str, Any]) -> StoredPlan:
    return StoredPlan(
        tree=document["tree"],
        kind="years",
        season=SEASONS[0],
        edition=1,
        status="proposed",
        made_on=None,
        version="",
        settings_sha256="",
        document=document,
    )


def test_trees_of_a_document_are_those_of_the_plan(planned: YearsPlan) -> None:
    document = json.loads(json.dumps(planned.to_dict()))
    skeleton = build_skeleton(make_holding(1).surveys()[21])[0]
    cuts = [cuts_of_document(one["plan"]) for one in document["seasons"]]
    trees = list(trees_before(skeleton, cuts, rates_of_document(document), 3))
    for (tree, gone), season in zip(trees, planned.seasons, strict=False):
        assert season.assessment is not None
        assert season.plan is not None
        then = season.assessment.skeleton
        np.testing.assert_array_equal(tree.segment_ids, then.segment_ids)
        np.testing.assert_array_equal(gone, season.plan.gone)
        # rates are kept to six places
        np.testing.assert_allclose(tree.leaf_area_m2, then.leaf_area_m2, rtol=1e-5)
        np.testing.assert_allclose(tree.start_diameter_mm, then.start_diameter_mm, rtol=1e-5)
    assert trees[2][0].n == trees[1][0].n - int(trees[1][1].sum())
    assert not trees[2][1].any()


def test_a_card_of_a_later_season_is_that_of_the_plan(planned: YearsPlan) -> None:
    """Chances too: what the tree has proven by standing is known still."""
    holding = make_holding(1)
    survey = holding.surveys()[21]
    document = json.loads(json.dumps(planned.to_dict()))
    item = card_item(
        stored(document), survey, survey.station, YearsOrder(site=holding.site), SEASONS[1]
    )
    assert item is not None
    real, made = planned.seasons[1].assessment, planned.seasons[1].plan
    assert real is not None
    assert made is not None
    assert [c.order for c in item[1].cuts] == [c.order for c in made.cuts]
    assert [x.label for x in item[0].limbs] == [x.label for x in real.limbs]
    for mine, theirs in zip(item[0].limbs, real.limbs, strict=True):
        assert mine.chance == pytest.approx(theirs.chance, rel=1e-3, abs=1e-9)
    assert item[1].light_after.mean == pytest.approx(made.light_after.mean, rel=1e-4)


def test_a_plan_of_another_tree_is_refused(planned: YearsPlan) -> None:
    skeleton = build_skeleton(make_holding(1).surveys()[21])[0]
    with pytest.raises(PlanError, match="not for the tree as surveyed now"):
        next(trees_before(skeleton, [SeasonCuts((10**6,))], rates(skeleton.species), 1))
    holding = make_holding(1)
    survey = holding.surveys()[21]
    document = json.loads(json.dumps(planned.to_dict()))
    del document["rates"]
    with pytest.raises(PlanError, match="cannot be read"):
        card_item(
            stored(document), survey, survey.station, YearsOrder(site=holding.site), SEASONS[1]
        )

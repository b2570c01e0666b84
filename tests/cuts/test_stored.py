"""A plan kept as its document makes the same card again."""

from __future__ import annotations

import json

import numpy as np
import pytest

from limbwright.cuts.plan import plan
from limbwright.cuts.results import Plan
from limbwright.cuts.stored import gone_of, plan_of_document
from limbwright.demo import make_holding
from limbwright.errors import PlanError
from limbwright.job.work import build
from limbwright.light import summary
from limbwright.statics.assess import Assessment, assess


@pytest.fixture(scope="module")
def made() -> tuple[Assessment, Plan]:
    holding = make_holding(1)
    tree = next(t for t in holding.surveys() if t.station.station == "18")
    found = assess(build(tree)[0], holding.site)
    return found, plan(found, tree.station, season="winter 2026-27")


def test_document_gives_the_plan_back(made: tuple[Assessment, Plan]) -> None:
    found, planned = made
    document = json.loads(json.dumps(planned.to_dict()))
    again = plan_of_document(document, found)
    assert again.to_dict() == document
    assert np.array_equal(again.gone, planned.gone)
    assert again.before == planned.before
    assert again.after == planned.after
    assert again.light_after == planned.light_after


def test_document_of_another_tree_is_refused(made: tuple[Assessment, Plan]) -> None:
    found, planned = made
    document = planned.to_dict() | {"gone_segments": [10**6]}
    with pytest.raises(PlanError, match="not for the tree as surveyed now"):
        gone_of(document, found.skeleton.segment_ids.tolist())


def test_document_that_is_no_plan_is_refused(made: tuple[Assessment, Plan]) -> None:
    found, planned = made
    document = planned.to_dict()
    del document["window"]
    with pytest.raises(PlanError, match="cannot be read"):
        plan_of_document(document, found)


def test_each_state_of_the_crown_is_lit_once(
    made: tuple[Assessment, Plan], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As it stands and without what goes, each in leaf and bare: four in all."""
    found, planned = made
    real, lit = summary.crown_lights, []
    monkeypatch.setattr(
        summary, "crown_lights", lambda asked: (lit.append(len(asked)), real(asked))[1]
    )
    plan_of_document(json.loads(json.dumps(planned.to_dict())), found)
    assert lit == [4]

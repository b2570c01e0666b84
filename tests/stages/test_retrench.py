"""Small steps of retrenchment beside a veteran's cuts: within dose and rests, on what stands."""

from __future__ import annotations

import jsonschema
import numpy as np
import pytest
from tests.cuts.old_tree import draw, old_apple

from limbwright.cuts.question import Question, ask
from limbwright.cuts.results import Wishes
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Bools, State
from limbwright.stages.plan_years import plan_years
from limbwright.stages.replay import Scene
from limbwright.stages.results import YearsPlan, years_schema, years_to_dict
from limbwright.stages.retrench import ALONE_FROM, step_cuts, step_fits
from limbwright.stages.rhythm import Rhythm
from limbwright.stages.seasons import following
from limbwright.statics.assess import Assessment, assess, reassess

VETERAN = StationRecord("1", species="apple", note="veteran")


@pytest.fixture(scope="module")
def held() -> Assessment:
    return assess(draw(old_apple()))


@pytest.fixture(scope="module")
def asked(held: Assessment) -> Question:
    return ask(held, VETERAN, year=2026)


@pytest.fixture(scope="module")
def made(held: Assessment) -> YearsPlan:
    return plan_years(held, VETERAN, seasons=following("winter 2026-27", 2), compare=False)


def scene(asked: Question, *limbs: str) -> Scene:
    """Return the first season, some limbs coming off at their collars."""
    whole = asked.assessment
    s = whole.skeleton
    falls: Bools = np.zeros(s.n, dtype=np.bool_)
    for limb in s.limbs:
        if limb.label in limbs:
            falls[s.in_subtree(limb.first_segment)] = True
    after = reassess(whole, ~falls) if limbs else whole
    return Scene(0, np.arange(s.n), falls, whole, after)


def test_a_veteran_s_season_has_its_step_within_the_dose(made: YearsPlan) -> None:
    assert made.state == "veteran"
    first = made.seasons[0].plan
    assert first is not None
    steps = [row for row in first.lesser if row.cut == "shorten"]
    assert steps
    assert "a step of retrenchment" in made.seasons[0].why
    assert first.dose + sum(row.dose for row in first.lesser) <= first.dose_limit + 1e-9
    assert [row.order for row in (*first.cuts, *first.lesser)] == list(
        range(1, len(first.cuts) + len(first.lesser) + 1)
    )
    assert not any(first.gone[row.segment] for row in first.lesser)
    jsonschema.Draft202012Validator(years_schema()).validate(years_to_dict([made]))


def test_a_neglected_tree_has_none(held: Assessment) -> None:
    station = StationRecord("1", species="apple", note="neglected")
    plain = plan_years(held, station, seasons=["winter 2026-27"], compare=False)
    assert not any("retrenchment" in one.why for one in plain.seasons)


def test_a_step_is_made_on_what_stands_after_the_cuts(asked: Question) -> None:
    first = step_cuts(asked, scene(asked), 4, Wishes(), dose_limit=0.3, year=2026)
    assert sum(row.dose for row in first) >= ALONE_FROM
    s = asked.assessment.skeleton
    off = first[0].limb
    cut = scene(asked, off)
    for row in step_cuts(asked, cut, 4, Wishes(), dose_limit=0.3, year=2026):
        assert row.limb != off
        assert not cut.falls[row.segment]
        assert s.limbs[int(s.limb[row.segment])].label == row.limb
        assert s.state[row.segment] == State.LIVE


def test_a_step_takes_no_more_than_is_left_and_no_more_than_a_veteran_may(asked: Question) -> None:
    most = asked.settings["dose_veteran"]
    for limit in (0.02, 0.05, 0.3):
        rows = step_cuts(asked, scene(asked), 4, Wishes(), dose_limit=limit, year=2026)
        assert sum(row.dose for row in rows) <= min(limit, most) + 1e-9
    assert step_cuts(asked, scene(asked), 0, Wishes(), dose_limit=0.0, year=2026) == ()
    assert step_cuts(asked, scene(asked), 99, Wishes(), dose_limit=0.3, year=2026) == ()
    assert step_cuts(asked, scene(asked), 0, Wishes(), dose_limit=0.3, year=None) == ()


def test_limbs_that_must_stay_whole_lose_no_end(asked: Question) -> None:
    rows = step_cuts(asked, scene(asked), 4, Wishes(), dose_limit=0.3, year=2026)
    label = rows[0].limb
    for wishes in (Wishes(protect=frozenset({label})), Wishes(forbid=frozenset({label}))):
        spared = step_cuts(asked, scene(asked), 4, wishes, dose_limit=0.3, year=2026)
        assert label not in {row.limb for row in spared}
    stem = asked.assessment.skeleton.limbs[0].label
    whole = Wishes(protect=frozenset({stem}))
    assert step_cuts(asked, scene(asked), 4, whole, dose_limit=0.3, year=2026) == ()


@pytest.mark.parametrize(
    ("past", "doses", "fits"),
    [
        ((), (0.05, 0.0, 0.0, 0.0), True),  # beside cuts
        ((0.05,), (0.0, 0.0, 0.0), False),  # the tree rests
        ((0.05, 0.0), (0.0, 0.0), False),
        ((0.05, 0.0, 0.0), (0.0, 0.0), True),  # it has rested
        ((), (0.0, 0.05, 0.0, 0.0), False),  # its cuts of next season would come too soon
        ((), (0.0, 0.0, 0.0, 0.05), True),
        ((0.0, 0.05, 0.0, 0.0), (0.05,), True),
    ],
)
def test_a_step_of_its_own_never_costs_a_rest(
    past: tuple[float, ...], doses: tuple[float, ...], fits: bool
) -> None:
    rule = Rhythm(hard=0.2, after_hard=0.1, running=1, rest=2)
    assert step_fits(rule, past, doses) is fits

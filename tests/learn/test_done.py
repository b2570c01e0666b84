"""Planned against done: cuts, doses, wounds and hours of one season in one tree."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import pytest
from tests.learn.records import SEASON, TREE, WORKED, document, row, station, visit

from limbwright.cuts.build_problem import work_hours
from limbwright.cuts.weights import Settings
from limbwright.learn.done import work_done
from limbwright.learn.season import TreeSeason
from limbwright.model import CutDone, Visit

ALL = tuple(CutDone(k, limb) for k, limb in enumerate("abc", 1))


def season(*visits: Visit, **more: object) -> TreeSeason:
    return TreeSeason(TREE, SEASON, document(**more), visits=visits, station=station())


def test_all_made_is_the_plan() -> None:
    work = work_done(season(visit(*ALL)))
    assert [c.outcome for c in work.cuts] == ["made"] * 3
    assert work.dose_taken == pytest.approx(work.dose_planned)
    assert work.dose_taken == pytest.approx(0.10)
    stem_cm2 = 126.0**2 / (4.0 * pi)
    assert work.wound_made == pytest.approx(2 * 78.5 / stem_cm2)
    each = work_hours(100.0, 2.0, Settings())
    assert work.hours_base == pytest.approx(3 * each)
    assert work.brash_base == pytest.approx(3 * 0.004 * 25.0)
    assert work.hours_planned + work.brash_planned == pytest.approx(3 * 0.2585)
    assert (work.hours, work.brash_hours) == (0.7, 0.4)


def test_what_was_not_made_takes_no_dose_and_no_hours() -> None:
    work = work_done(season(visit(CutDone(1, "a"), CutDone(2, "b", done="no"))))
    assert [c.outcome for c in work.cuts] == ["made", "not made", "not made"]
    assert work.dose_taken == pytest.approx(0.05)
    assert work.hours_base == pytest.approx(work_hours(100.0, 2.0, Settings()))


def test_a_cut_made_thicker_takes_as_much_more_as_its_section() -> None:
    other = CutDone(1, "a", "shorten", "other", at_m=1.2, diameter_mm=120.0)
    work = work_done(season(visit(other, *ALL[1:])))
    assert work.cuts[0].outcome == "otherwise"
    assert work.cuts[0].cut == "shorten"
    assert work.dose_taken == pytest.approx(0.05 * 1.44 + 0.05)
    assert work.cuts[0].wound_cm2 == pytest.approx(pi * 36.0)
    assert work.cuts[0].hours > work.cuts[1].hours


def test_a_cut_besides_takes_its_share_of_the_stems_section() -> None:
    besides = CutDone(0, "d", "remove", "yes", diameter_mm=80.0)
    work = work_done(season(visit(*ALL, besides)))
    stem_mm = 1260.0 / pi
    assert work.cuts[-1].outcome == "besides"
    assert work.cuts[-1].dose == pytest.approx((80.0 / stem_mm) ** 2 / 1.1)
    assert work.dose_taken == pytest.approx(0.10 + (80.0 / stem_mm) ** 2 / 1.1)
    unsized = work_done(season(visit(*ALL, replace(besides, diameter_mm=None))))
    assert unsized.dose_taken == pytest.approx(0.10)
    assert any("no diameter" in note for note in unsized.notes)


def test_without_a_girth_the_plans_own_rows_tell_the_dose_of_a_cut_besides() -> None:
    besides = CutDone(0, "d", diameter_mm=100.0)
    bare = TreeSeason(TREE, SEASON, document(), visits=(visit(*ALL, besides),))
    work = work_done(bare)
    assert work.cuts[-1].dose == pytest.approx(0.05 * (pi * 25.0) / 78.5, rel=1e-6)
    assert work.wound_planned == pytest.approx(0.2)  # as the plan itself says


def test_marks_of_two_days_add_up_and_a_later_tick_counts() -> None:
    first = visit(CutDone(1, "a"), CutDone(2, "b", done="no"), hours=0.3)
    later = visit(CutDone(2, "B"), who="Wyn", hours=0.5, done_on=WORKED.replace(day=28))
    work = work_done(season(first, later))
    assert [c.outcome for c in work.cuts] == ["made", "made", "not made"]
    assert work.hours == pytest.approx(0.8)
    assert work.who == "Ada + Wyn"
    assert work.worked_on == WORKED.replace(day=28)


def test_hours_noted_on_one_of_two_days_are_no_hours_of_the_season() -> None:
    work = work_done(season(visit(*ALL), visit(hours=None, done_on=WORKED.replace(day=28))))
    assert work.hours is None


def test_nothing_ticked_counts_as_all_made_and_says_so() -> None:
    work = work_done(season(visit()))
    assert not work.ticked
    assert work.dose_taken == pytest.approx(0.10)
    assert any("No cut was ticked" in note for note in work.notes)


def test_a_record_that_does_not_fit_the_plan_is_told() -> None:
    work = work_done(season(visit(CutDone(1, "z"), CutDone(9, "y", diameter_mm=40.0))))
    assert [c.outcome for c in work.cuts] == ["made", "not made", "not made", "besides"]
    assert any("on limb a in the plan and on z" in note for note in work.notes)
    assert any("Cut 9 is not in the plan" in note for note in work.notes)


def test_nobody_came() -> None:
    work = work_done(season())
    assert {c.outcome for c in work.cuts} == {"not told"}
    assert work.dose_taken is None
    assert work.wound_made is None
    assert work.dose_planned == pytest.approx(0.10)


def test_what_was_learnt_before_is_not_in_the_base() -> None:
    dearer = [row(k, limb, hours=2.0 * 0.2585) for k, limb in enumerate("abc", 1)]
    plain = work_done(season(visit(*ALL)))
    learnt = work_done(season(visit(*ALL), cuts=dearer))
    assert learnt.hours_base == pytest.approx(plain.hours_base)
    assert learnt.hours_planned == pytest.approx(2.0 * plain.hours_planned)


def test_lesser_work_bears_its_own_time() -> None:
    thin = row(4, "d", cut="thin", hours=0.25, piece_kg=10.0, wound_area_cm2=0.0)
    work = work_done(season(visit(*ALL, CutDone(4, "d", "thin")), lesser=[thin]))
    assert work.cuts[3].hours == 0.25
    assert work.cuts[3].brash_hours == 0.0


@pytest.mark.parametrize(
    "odd", [{"cuts": None}, {"cuts": "none"}, {"cuts": [3, None]}, {"cuts": [{"order": "x"}]}]
)
def test_a_document_that_is_none_sinks_nothing(odd: dict[str, object]) -> None:
    work = work_done(season(visit(CutDone(1, "a", diameter_mm=50.0)), **odd))
    assert work.count("besides") == 1

"""The years ahead: stages follow each other, ranges hold, the forecast is a tree."""

from __future__ import annotations

import pytest
from tests.form.young import GOOD, YEAR, leader, shoot, tree

from limbwright.form.forecast import grown_on
from limbwright.form.plan import form_plan
from limbwright.form.season import one_season
from limbwright.form.settings import FormSettings
from limbwright.form.target import clear_stem
from limbwright.model.holding import Orchard
from limbwright.model.shoots import YoungTree
from limbwright.trade.species import species

SHEEP = Orchard("x", grazed_by="sheep")
ORDER = ("plant", "rise", "head", "choose", "build", "done")
WHIP = tree(leader(1.3, 55.0, diameter_mm=16.0), status="new", planted=YEAR)


@pytest.mark.parametrize("young", [WHIP, tree(leader(2.5, 70.0)), tree(*GOOD)])
def test_a_tree_goes_from_stage_to_stage_until_it_is_formed(young: YoungTree) -> None:
    plan = form_plan(young, SHEEP, year=YEAR)
    years = [plan.year, *(y.year for y in plan.ahead)]
    assert years == list(range(YEAR, YEAR + len(years)))
    stages = [ORDER.index(plan.stage.key), *(ORDER.index(y.stage.key) for y in plan.ahead)]
    assert stages == sorted(stages)
    assert plan.ahead[-1].stage.key == "done" or len(plan.ahead) == 7
    heights = [y.height_m for y in plan.ahead if y.stage.key in ("plant", "rise")]
    assert heights == sorted(heights)


def test_a_whip_reaches_the_crown_later_in_a_slow_place() -> None:
    slow = form_plan(WHIP, SHEEP, None, FormSettings({"grow_cm": 20.0}), year=YEAR)
    quick = form_plan(WHIP, SHEEP, None, FormSettings({"grow_cm": 70.0}), year=YEAR)

    def headed(plan: object) -> int:
        return next(y.year for y in plan.ahead if y.stage.key == "head")  # type: ignore[attr-defined]

    assert headed(quick) < headed(slow)


def test_milestones_give_a_range_of_years_round_the_middling_one() -> None:
    plan = form_plan(WHIP, SHEEP, year=YEAR)
    assert plan.milestones[0].startswith("Scaffold limbs chosen: about 20")
    assert plan.milestones[1].startswith("Formed: about 20")
    assert "(" in plan.milestones[1]
    assert "4 winters (sources give 3 to 5 winters)" in plan.stop


def test_one_season_on_what_was_cut_is_gone_and_what_was_chosen_is_marked() -> None:
    young = tree(*GOOD, shoot("low", 0.1), shoot("stub", 1.2))
    settings, kind = FormSettings({"dose_young": 1.0}), species("apple")
    target = clear_stem(kind, "standard", "sheep", settings)
    now = one_season(young, kind, target, settings, YEAR)
    later = grown_on(young.station, now.crown, now.rows, settings, growth_cm=50.0, year=YEAR)
    names = {s.shoot: s for s in later.shoots}
    assert "low" not in names
    assert {n for n, s in names.items() if s.keep == f"scaffold {YEAR}"} == {"a", "b", "c", "d"}
    for name in "abcd":
        row = next(r for r in now.rows if r.shoot == name)
        assert (names[name].length_m or 0.0) > (row.keep_cm or 60.0) / 100.0
    assert names["leader"].length_m == pytest.approx(2.3)
    assert (names["leader"].diameter_mm or 0.0) > 36.0
    after = one_season(later, kind, target, settings, YEAR + 1)
    assert after.standing.stage.key == "build"
    assert next(r for r in after.rows if r.shoot == "stub").work == "remove"


def test_a_lost_leader_is_the_new_one_a_year_on() -> None:
    young = tree(leader(1.4, 20.0, state="broken"), shoot("up", 1.3, 90.0, 60.0, 0.6))
    plan = form_plan(young, SHEEP, year=YEAR)
    assert plan.ahead[0].stage.key in ("rise", "head")
    assert plan.ahead[0].height_m > 1.9


def test_a_headed_stem_without_limbs_is_carried_on_and_comes_to_a_scaffold() -> None:
    young = tree(leader(2.15, 0.0), shoot("up", 2.1, 300.0, 75.0, 0.8))
    plan = form_plan(young, SHEEP, year=YEAR)
    assert plan.choice is None
    assert next(r for r in plan.rows if r.shoot == "up").buds == 5
    assert any("No shoot is fit" in n for n in plan.notes)
    assert "build" in {y.stage.key for y in plan.ahead}

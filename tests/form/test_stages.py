"""How far a tree has come, told from a few measures."""

from __future__ import annotations

import pytest
from tests.form.young import GOOD, YEAR, leader, shoot, tree

from limbwright.form.crown import fill_crown
from limbwright.form.plan import form_plan
from limbwright.form.settings import FormSettings
from limbwright.model.holding import Orchard
from limbwright.model.shoots import YoungTree

SHEEP = Orchard("x", grazed_by="sheep")


def stage_of(young: YoungTree, year: int = YEAR) -> tuple[str, str]:
    plan = form_plan(young, SHEEP, year=year)
    return plan.stage.key, plan.stage.because


@pytest.mark.parametrize(
    ("young", "key", "word"),
    [
        (tree(leader(1.2, 40.0), status="new", planted=2026), "plant", "1.20 m tall"),
        (tree(leader(1.7, 60.0)), "rise", "2.15 m makes the crown"),
        (tree(leader(2.5, 80.0)), "head", "2.50 m tall"),
        (tree(*GOOD), "choose", "4 shoots"),
        (tree(leader(2.15, 0.0), shoot("a", 2.0)), "choose", "1 of its shoots"),
        (tree(leader(1.5, 30.0, state="broken")), "mend", "broken at 1.5 m"),
        (tree(leader(1.9, 3.0)), "still", "3 cm"),
        (tree(*GOOD, condition="poor"), "still", "poor"),
    ],
)
def test_the_stage_is_told_with_what_says_so(young: YoungTree, key: str, word: str) -> None:
    found, because = stage_of(young)
    assert found == key
    assert word in because


def test_a_tree_may_stand_still_in_its_first_summer() -> None:
    assert stage_of(tree(leader(1.9, 3.0), planted=2025))[0] == "rise"


def test_chosen_limbs_are_built_four_winters_and_then_left() -> None:
    limbs = tuple(
        shoot(str(k), 1.85 + 0.15 * k, 90.0 * k, length_m=1.2, grown_cm=50, keep="scaffold 2024")
        for k in range(4)
    )
    young = tree(leader(2.4, 0.0), *limbs, planted=2021)
    assert [stage_of(young, y)[0] for y in (2025, 2026, 2027, 2028)] == ["build"] * 3 + ["done"]
    # without the year of the choice its winters are judged from the limbs' length
    plain = tree(
        leader(2.4, 0.0),
        *(shoot(str(k), 1.85 + 0.15 * k, 90.0 * k, length_m=1.2, grown_cm=50, keep="scaffold")
          for k in range(4)),
    )  # fmt: skip
    assert stage_of(plain)[0] == "build"


def test_what_was_not_measured_is_filled_by_rule_and_told() -> None:
    young = tree(
        leader(2.9, 60.0),
        shoot("a", 1.9, None),
        shoot("b", 2.0, 90.0, length_m=0.5, diameter_mm=None),
        *GOOD[2:],
    )
    plan = form_plan(young, SHEEP, year=YEAR)
    told = " ".join(plan.notes)
    assert "bearing of 1" in told
    assert "thickness of 1" in told
    assert plan.choice is not None
    assert "a" not in plan.choice.best.names


def test_a_shoot_that_cannot_be_placed_is_left_out_with_its_reason() -> None:
    plan = form_plan(
        tree(*GOOD, shoot("lost", None), shoot("x", 0.2, parent="gone")),
        SHEEP,
        year=YEAR,
    )
    assert {r.shoot for r in plan.rows} == {"leader", "a", "b", "c", "d"}
    assert any("lost is left out" in n and "above the ground" in n for n in plan.notes)
    assert any("x is left out" in n and "'gone'" in n for n in plan.notes)


def test_points_of_shoots_lie_where_they_were_measured() -> None:
    crown = fill_crown(tree(shoot("a", 2.0, 90.0, 0.0, 0.5)), FormSettings())
    assert crown.by_name["a"].tip_m == pytest.approx((0.5, 0.0, 2.0))
    assert crown.stem_mm(0.0) == pytest.approx(36.0)
    assert 0 < crown.stem_mm(2.9) < crown.stem_mm(2.0) < 36.0

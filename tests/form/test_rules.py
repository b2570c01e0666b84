"""What happens to each shoot, and the words that say why."""

from __future__ import annotations

import pytest
from tests.form.young import GOOD, YEAR, leader, shoot, tree

from limbwright.form.plan import form_plan
from limbwright.form.results import FormPlan, FormRow
from limbwright.form.settings import FormSettings
from limbwright.model.holding import Orchard
from limbwright.model.shoots import ShootRecord, YoungTree

SHEEP = Orchard("x", grazed_by="sheep")
ROOMY = FormSettings({"dose_young": 1.0})
LIMBS = tuple(
    shoot(
        str(k), 1.85 + 0.15 * k, 90.0 * k, length_m=1.2, grown_cm=50, diameter_mm=20,
        keep="scaffold 2025",
    )
    for k in range(4)
)  # fmt: skip


def formed(*shoots: ShootRecord, settings: FormSettings = ROOMY, **more: object) -> FormPlan:
    return form_plan(tree(*shoots, **more), SHEEP, None, settings, year=YEAR)  # type: ignore[arg-type]


def row(plan: FormPlan, name: str) -> FormRow:
    return next(r for r in plan.rows if r.shoot == name)


def test_the_leader_is_headed_above_four_or_five_buds_over_the_clear_stem() -> None:
    one = row(formed(leader(2.6, 80.0)), "leader")
    assert (one.work, one.cut_at_m) == ("head", pytest.approx(2.15))
    assert "1.8 m stay clear (for sheep)" in one.why
    assert "4 or 5 buds" in one.why


def test_a_leader_not_yet_tall_enough_is_tied_and_left() -> None:
    one = row(formed(leader(1.7, 60.0)), "leader")
    assert one.work == "leave"
    assert "tie it to its stake" in one.what
    assert "alone" in one.why


def test_the_centre_is_opened_above_the_highest_limb_once_the_scaffold_is_chosen() -> None:
    plan = formed(*GOOD, shoot("top", 2.6, 30.0, 70.0))
    one = row(plan, "leader")
    assert (one.work, one.cut_at_m) == ("shorten", pytest.approx(2.3))
    assert "shoot d" in one.what
    assert "centre stands open" in one.why
    assert row(plan, "top").what == "Goes with the leader"
    later = formed(*GOOD, settings=FormSettings({"leader_wait": 1.0, "dose_young": 1.0}))
    assert row(later, "leader").work == "head"
    assert "it stays a year" in row(later, "leader").why


def test_stem_shoots_feed_the_stem_a_year_and_then_go() -> None:
    plan = formed(
        *GOOD,
        shoot("young", 1.2),
        shoot("old", 1.4, grown_cm=20.0),
        shoot("thick", 1.0, diameter_mm=30.0),
        shoot("low", 0.1),
        shoot("tiny", 1.5, length_m=0.08),
    )
    assert (row(plan, "young").work, row(plan, "young").buds) == ("head", 3)
    assert "thicken the stem this year, next year it goes" in row(plan, "young").why
    assert row(plan, "old").work == "remove"
    assert "fed the stem its year" in row(plan, "old").why
    assert "as thick as it there" in row(plan, "thick").why
    assert "rootstock" in row(plan, "low").why
    assert row(plan, "tiny").work == "leave"


def test_first_cut_is_by_half_and_later_ones_by_a_third() -> None:
    # English garden guide: half in the first year, a third in years 2, 3 and 4
    level = [shoot(s.shoot, 1.85, s.bearing_deg, 45.0, 0.6) for s in GOOD]
    first = formed(*level)
    shares = [r.share for r in first.rows if r.role == "scaffold"]
    assert sum(shares) / 4 == pytest.approx(0.5, abs=0.06)
    later = formed(leader(2.3, 0.0), *LIMBS)
    assert all(0.25 <= r.share <= 0.5 for r in later.rows if r.role == "scaffold" and r.share)


@pytest.mark.parametrize(
    ("extension", "word"), [(15.0, "wakes it"), (95.0, "would drive it on"), (50.0, "half of")]
)
def test_weak_trees_are_cut_harder_and_strong_ones_lightly(extension: float, word: str) -> None:
    level = [shoot(s.shoot, 1.85, s.bearing_deg, 45.0, 0.6) for s in GOOD]
    plan = formed(*level, extension_cm=extension)
    assert any(word in r.why for r in plan.rows if r.role == "scaffold")


def test_stone_fruit_is_cut_lightly() -> None:
    level = [shoot(s.shoot, 1.85, s.bearing_deg, 45.0, 0.6) for s in GOOD]
    roomy = FormSettings({"dose_young_stone": 1.0})
    plan = formed(*level, species="plum", settings=roomy, extension_cm=50.0)
    shares = [r.share for r in plan.rows if r.role == "scaffold"]
    assert max(shares) < 0.5
    assert any("stone fruit is cut lightly" in r.why for r in plan.rows)


def test_steep_limbs_are_spread_and_flat_ones_tied_up() -> None:
    plan = formed(
        shoot("steep", 1.85, 0.0, 58.0), shoot("b", 2.0, 120.0), shoot("flat", 2.15, 240.0, 5.0)
    )
    steep, flat = row(plan, "steep"), row(plan, "flat")
    assert steep.spread_to_deg == 55.0
    assert "spread to 55 degrees" in steep.what
    assert "too steep at 32 degrees" in steep.why
    assert "tie up to 55 degrees" in flat.what
    assert row(plan, "b").spread_to_deg is None
    thick = formed(
        shoot("steep", 1.85, 0.0, 58.0, diameter_mm=30.0),
        shoot("b", 2.0, 120.0, diameter_mm=28),
        shoot("c", 2.15, 240.0, diameter_mm=28),
    )
    assert row(thick, "steep").spread_to_deg is None, "thick wood is not bent"


def test_spare_shoots_go_or_wait_by_what_they_do() -> None:
    plan = formed(
        *GOOD,
        shoot("crowd", 1.9, 20.0, length_m=0.6, diameter_mm=6),
        shoot("flat", 2.0, 50.0, 15.0, 0.3),
        shoot("small", 2.1, 235.0, 50.0, 0.28),
        shoot("upright", 2.2, 300.0, 80.0, 0.7),
    )
    assert row(plan, "crowd").work == "remove"
    assert "crowds a" in row(plan, "crowd").why
    assert (row(plan, "flat").work, row(plan, "flat").role) == ("leave", "lateral")
    assert "fruit buds" in row(plan, "flat").why
    assert (row(plan, "small").work, row(plan, "small").buds) == ("head", 3)
    assert "bark would be taken into the union" in row(plan, "upright").why


def test_dead_broken_and_diseased_shoots_go_first() -> None:
    plan = formed(
        *GOOD,
        shoot("x", 1.0, state="dead"),
        shoot("y", 1.1, state="broken"),
        shoot("z", 1.2, state="diseased"),
        shoot("lost", 1.9, 40.0, state="broken", keep="scaffold 2025"),
    )
    assert {r.shoot for r in plan.work[:4]} == {"x", "y", "z", "lost"}
    assert "torn" in row(plan, "y").why
    assert "clean the blade" in row(plan, "z").why
    assert "another has to take its place" in row(plan, "lost").why
    assert all(r.dose == 0.0 for r in plan.rows if r.role == "failed")


def test_what_is_to_be_kept_stays_whole_with_what_bears_it() -> None:
    plan = formed(
        *GOOD,
        shoot("nest", 1.2, keep="a bird's nest"),
        shoot("dead", 1.3, state="dead", keep="lichen"),
        shoot("onx", 0.3, 200.0, parent="c", keep="a graft to try"),
    )
    for name in ("nest", "dead", "c", "onx"):
        assert row(plan, name).work == "leave"
    assert "to be kept: a bird's nest" in row(plan, "nest").why
    assert "bears onx" in row(plan, "c").why
    assert row(plan, "a").work == "head"
    high = formed(*GOOD, shoot("high", 2.7, keep="a graft to try"))
    assert row(high, "leader").work == "leave"
    assert "bears high" in row(high, "leader").why
    for leading in (leader(2.6, 80.0), leader(1.4, 20.0, state="broken")):
        other = formed(
            leading, shoot("x", 1.3, keep="nest"), shoot("y", leading.length_m, keep="n")
        )
        assert row(other, "leader").work == "leave"


def test_side_limbs_are_chosen_left_and_right_and_the_rest_bears() -> None:
    plan = formed(
        leader(2.3, 0.0),
        *LIMBS,
        shoot("l", 0.6, 310.0, 30.0, 0.5, parent="0"),
        shoot("r", 0.75, 50.0, 30.0, 0.5, parent="0"),
        shoot("r2", 0.78, 55.0, 30.0, 0.3, parent="0"),
        shoot("in", 0.5, 170.0, 30.0, 0.4, parent="0"),
        shoot("up", 0.4, 10.0, 85.0, 0.6, parent="0"),
        shoot("end", 1.19, 10.0, 40.0, 0.3, parent="0"),
    )
    assert {r.shoot for r in plan.rows if r.role == "second"} == {"l", "r"}
    assert "side limb of 0" in row(plan, "l").why
    assert "fruit buds" in row(plan, "r2").why
    assert "centre" in row(plan, "in").why
    assert "shades the centre" in row(plan, "up").why
    assert row(plan, "end").what == "Goes with 0"


def test_a_formed_tree_is_left_but_for_what_does_not_belong() -> None:
    limbs = [shoot(s.shoot, s.at_m or 0.0, s.bearing_deg, length_m=1.9, grown_cm=40,
                   diameter_mm=30, keep="scaffold 2020") for s in LIMBS]  # fmt: skip
    plan = formed(leader(2.3, 0.0), *limbs, shoot("low", 1.0), planted=2016)
    assert plan.stage.key == "done"
    assert all(r.work == "leave" for r in plan.rows if r.role == "scaffold")
    assert row(plan, "low").work == "remove"
    assert "it is time" in plan.stop


def test_a_lost_leader_is_replaced_by_the_best_shoot() -> None:
    plan = formed(
        leader(1.4, 20.0, state="broken"),
        shoot("low", 0.9, 0.0, 40.0, 0.5),
        shoot("high", 1.3, 90.0, 60.0, 0.6),
    )
    assert "shoot high" in row(plan, "leader").what
    assert row(plan, "high").what == "Tie it upright to the stake"
    alone = formed(leader(1.4, 20.0, state="broken"))
    assert "top bud makes the new leader" in row(alone, "leader").why


def test_a_tree_that_stands_still_is_not_cut() -> None:
    plan = formed(leader(2.9, 3.0), *(shoot(s.shoot, s.at_m or 0, grown_cm=3) for s in GOOD))
    assert not plan.work
    assert any("find out" in n.lower() or "look for grass" in n.lower() for n in plan.notes)
    assert plan.ahead == ()


def one_sided(*more: ShootRecord) -> YoungTree:
    return tree(
        leader(2.9, 60.0),
        *(shoot(str(k), 1.85 + 0.12 * k, 60.0 + 30.0 * k) for k in range(3)),
        *more,
    )


def test_no_good_set_says_what_is_wanting_and_what_brings_it() -> None:
    plan = form_plan(one_sided(), SHEEP, year=YEAR)
    assert plan.choice is not None
    assert not plan.choice.good
    assert "Nothing fit grows between south-east and north-east" in plan.choice.missing[0]
    assert any("nick the bark" in r and "north-west" in r for r in plan.choice.remedies) or any(
        "nick the bark" in r and "west" in r for r in plan.choice.remedies
    )
    assert any("leader is cut again" in r for r in plan.choice.remedies)
    assert row(plan, "leader").work == "head"
    assert {r.role for r in plan.rows if r.shoot in "012"} == {"able"}

    waits = form_plan(one_sided(shoot("s", 2.0, 270.0, 40.0, 0.15)), SHEEP, year=YEAR)
    assert waits.choice is not None
    assert any("Wait for shoot s on the west" in r for r in waits.choice.remedies)

    two = form_plan(tree(leader(2.15, 0.0), *GOOD[:2]), SHEEP, year=YEAR)
    assert two.choice is not None
    assert "Only 2 shoots could be scaffold limbs; 3 at least" in two.choice.missing[0]
    assert any("uppermost shoot" in r for r in two.choice.remedies)


def test_a_gap_a_little_too_wide_may_be_closed_by_a_tie() -> None:
    near = [shoot(str(k), 1.85 + 0.15 * k, b) for k, b in enumerate((0.0, 80.0, 160.0))]
    plan = form_plan(tree(leader(2.9), *near), SHEEP, year=YEAR)
    assert plan.choice is not None
    assert any("draw shoot" in r and "30 degrees" in r for r in plan.choice.remedies)


def test_after_years_of_waiting_the_best_there_is_will_do() -> None:
    young = one_sided()
    late = form_plan(young, SHEEP, None, ROOMY, year=2023 + 6)
    assert late.choice is not None
    assert late.choice.missing
    assert late.choice.good
    assert row(late, "leader").work == "shorten"


def test_the_runner_up_is_told_with_what_it_loses_on() -> None:
    plan = formed(*GOOD, shoot("e", 2.05, 25.0, 40.0, 0.5, diameter_mm=7))
    assert plan.choice is not None
    assert plan.choice.runner_up is not None
    assert "comes next with" in plan.choice.against
    assert "loses most on" in plan.choice.against
    assert len(plan.choice.terms) == 6

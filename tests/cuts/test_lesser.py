"""Heading to a bud: lesser work with a dose of its own, where the tree bears it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.cuts.old_tree import Drawn, draw

from limbwright.cuts.plan import Plan, plan
from limbwright.cuts.weights import Settings
from limbwright.model.records import StationRecord
from limbwright.statics.assess import assess

ROUTINE = StationRecord("1", condition="good, pruned yearly", extension_cm=30.0)


def young(station: StationRecord, species: str = "apple", **change: object) -> Plan:
    """A young standard of four thin leaders."""
    limbs = [
        Drawn("stem", "", 0.0, 120, 2.0, 0, 90),
        *(Drawn(str(k), "stem", 1.0, 40, 1.6, 90.0 * k, 50) for k in range(1, 5)),
    ]
    limbs[1] = replace(limbs[1], **change)  # type: ignore[arg-type]
    return plan(assess(draw(limbs, species=species, leaf_m2=6.0)), station, season="winter 2026/27")


def heads(made: Plan) -> dict[str, str]:
    return {c.limb: c.reason for c in made.lesser if c.cut == "head"}


def test_leaders_of_a_young_tree_in_work_are_headed_by_a_third_of_last_years_growth() -> None:
    made = young(ROUTINE)
    cut = {c.limb for c in made.cuts}
    assert set(heads(made)) == {"1", "2", "3", "4"} - cut
    for row in made.lesser:
        assert "by a third of last year's growth (30 cm last season)" in row.reason
        assert row.piece_length_m == pytest.approx(0.10, abs=1e-9)
        assert row.to_lateral == "to an outward bud"
        assert "bears at the tips" in row.effect
        assert row.tool.startswith("secateurs")


def test_heading_stays_within_its_own_dose_and_what_the_cuts_leave() -> None:
    made = young(ROUTINE)
    spent = sum(c.dose for c in made.lesser)
    assert 0.0 < spent <= Settings()["head_dose"] + 1e-12
    assert made.dose + spent <= made.dose_limit + 1e-9


@pytest.mark.parametrize(
    ("condition", "species"),
    [
        ("neglected", "apple"),  # answers heading with watershoots
        ("overgrown", "apple"),
        ("poor", "apple"),
        ("good, pruned yearly", "plum"),  # stone fruit bears little cutting
    ],
)
def test_other_trees_are_not_headed_where_their_limbs_have_laterals(
    condition: str, species: str
) -> None:
    assert heads(young(replace(ROUTINE, condition=condition), species)) == {}


def test_a_thin_limb_without_a_lateral_is_headed_on_a_neglected_tree_too() -> None:
    limbs = [
        Drawn("stem", "", 0.0, 150, 2.0, 0, 90),
        Drawn("1", "stem", 1.0, 60, 2.0, 0, 50),
        Drawn("whip", "stem", 0.9, 20, 1.6, 180, 60),
    ]
    tree = draw(limbs, derived=False, leaf_m2=6.0)
    found = plan(assess(tree), StationRecord("1", condition="neglected"))
    if "whip" not in {c.limb for c in found.cuts}:
        assert "it has no lateral to shorten to" in heads(found)["whip"]
    else:
        pytest.fail("the whip is cut otherwise, so that nothing is shown")


def test_kept_and_dead_limbs_are_not_headed() -> None:
    assert "1" not in heads(young(ROUTINE, keep="nest"))


def test_nothing_is_headed_where_no_dose_is_allowed_for_it() -> None:
    tree = draw(
        [
            Drawn("stem", "", 0.0, 120, 2.0, 0, 90),
            Drawn("1", "stem", 1.0, 40, 1.6, 90, 50),
            Drawn("2", "stem", 1.0, 40, 1.6, 270, 50),
        ],
        leaf_m2=6.0,
    )
    made = plan(assess(tree), ROUTINE, settings=Settings({"head_dose": 0.0}))
    assert heads(made) == {}

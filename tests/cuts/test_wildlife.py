"""Limbs that hold habitat stay whole, unless the adviser insists, and mistletoe goes by clumps."""

from __future__ import annotations

import re

import numpy as np
import pytest
from tests.cuts.old_tree import draw, old_apple

from limbwright.cuts.lesser import mistletoe_work
from limbwright.cuts.plan import Plan, plan
from limbwright.cuts.results import Wishes
from limbwright.cuts.weights import Settings
from limbwright.cuts.wildlife import forced_habitat, with_wildlife
from limbwright.errors import PlanError
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Skeleton
from limbwright.statics.assess import assess


def tree(**change: dict[str, object]) -> Skeleton:
    return draw(old_apple(**change))


def made(wishes: Wishes | None = None, station: StationRecord | None = None, **change) -> Plan:  # type: ignore[no-untyped-def]
    return plan(assess(tree(**change)), station, wishes, season="winter 2026/27", engine="fast")


def gone(found: Plan, skeleton: Skeleton, label: str) -> bool:
    k = next(i for i, x in enumerate(skeleton.limbs) if x.label == label)
    return bool(found.gone[skeleton.limb == k].any())


def test_a_limb_whose_note_names_habitat_is_kept_whole_with_its_reason() -> None:
    # limb 10 is diseased and goes otherwise
    assert gone(made(), tree(), "10")
    found = made(L10={"note": "woodpecker hole"})
    assert not gone(found, tree(), "10")
    assert "nest or nest hole" in dict(found.keep)["10"]


def test_what_is_denied_or_only_to_be_looked_at_keeps_nothing() -> None:
    for note in ("no bats, no frass", "rot hole", "lichens"):
        skeleton = tree(L10={"note": note})
        assert with_wildlife(skeleton, Wishes()) is skeleton


def test_the_adviser_may_force_it_and_is_told_what_is_there() -> None:
    found = made(Wishes(force=frozenset({"10"})), L10={"note": "woodpecker hole"})
    assert gone(found, tree(), "10")
    assert any("Limb 10 is to go though" in one for one in found.cautions)
    assert "10" not in dict(found.keep)


def test_a_limb_that_carries_habitat_may_be_forced_too() -> None:
    skeleton = tree(L9={"note": "frass"}, L6={"note": "bats"})
    wishes = Wishes(force=frozenset({"3"}))
    assert forced_habitat(skeleton, wishes) == (("9", "wood mould or frass"),)
    marked = with_wildlife(skeleton, wishes)
    kept = {limb.label for limb in marked.limbs if limb.keep}
    assert kept == {"6"}


def test_what_the_surveyor_marked_to_be_kept_is_not_forced() -> None:
    with pytest.raises(PlanError, match="is to be kept"):
        made(Wishes(force=frozenset({"10"})), L10={"keep": "woodpecker hole"})


def test_the_wood_of_a_kept_limb_is_marked_and_nothing_else() -> None:
    skeleton = tree(L9={"note": "frass"})
    marked = with_wildlife(skeleton, Wishes())
    k = next(i for i, x in enumerate(skeleton.limbs) if x.label == "9")
    np.testing.assert_array_equal(marked.keep > 0, (skeleton.limb == k) & skeleton.surveyed)
    assert marked.keep_reasons[int(marked.keep.max())].startswith("wood mould")


CLUMPS = {
    "L1": {"note": "4 clumps of mistletoe"},
    "L2": {"note": "3 clumps of mistletoe"},
    "L3": {"note": "2 clumps of mistletoe"},
}


def test_clumps_come_off_the_weakest_limbs_first_and_a_third_stays() -> None:
    skeleton = tree(**CLUMPS)
    label = {x.label: k for k, x in enumerate(skeleton.limbs)}
    use = {label["1"]: 0.2, label["2"]: 0.9, label["3"]: 0.5}
    none = np.zeros(skeleton.n, dtype=np.bool_)
    rows = mistletoe_work(skeleton, None, none, use, Settings(), first_order=7)
    # of nine, four go: all three of the weakest limb, one of the next
    assert [(r.limb, r.order) for r in rows] == [("2", 7), ("3", 8)]
    assert "Cut all 3 clumps of mistletoe off limb 2" in rows[0].reason
    assert "Cut 1 of the 2 clumps of mistletoe off limb 3" in rows[1].reason
    assert all(r.dose == 0.0 and r.wound_area_cm2 == 0.0 and r.cut == "thin" for r in rows)
    assert all("comes again" in r.effect for r in rows)


def test_clumps_that_go_with_a_limb_count_as_taken_and_kept_limbs_keep_theirs() -> None:
    skeleton = tree(**CLUMPS)
    label = {x.label: k for k, x in enumerate(skeleton.limbs)}
    cut = np.zeros(skeleton.n, dtype=np.bool_)
    cut[skeleton.in_subtree(skeleton.limbs[label["1"]].first_segment)] = True
    assert mistletoe_work(skeleton, None, cut, {}, Settings(), first_order=1) == ()
    kept = tree(**{**CLUMPS, "L2": {"note": "3 clumps of mistletoe", "keep": "nest"}})
    none = np.zeros(kept.n, dtype=np.bool_)
    rows = mistletoe_work(kept, None, none, {label["2"]: 0.9}, Settings(), first_order=1)
    assert "2" not in {r.limb for r in rows}


def test_the_card_of_a_tree_with_clumps_has_a_row_for_them() -> None:
    found = made(station=StationRecord("1", features="9 clumps of mistletoe"), **CLUMPS)
    rows = [r for r in found.lesser if "mistletoe" in r.reason]
    assert rows
    taken = [int(re.findall(r"\d+", r.reason)[0]) for r in rows]
    assert sum(taken) <= 4
    assert any("of 9 clumps take 4" in one for one in found.cautions)

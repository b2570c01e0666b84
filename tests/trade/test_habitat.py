"""Habitat is recognised and counted, and says which limbs stay whole."""

from __future__ import annotations

import pytest
from tests.cuts.old_tree import draw, old_apple

from limbwright.model.records import StationRecord
from limbwright.model.skeleton import State
from limbwright.trade.habitat import (
    Feature,
    count_features,
    features,
    features_in,
    features_of,
    reason_to_keep,
)


def counted(text: str) -> dict[str, int]:
    return {f.feature.key: f.count for f in features_in(text)}


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("2 rot holes; frass", {"rot_hole": 2, "wood_mould": 1}),
        ("three large rot holes 2 m up", {"rot_hole": 3}),
        ("rot holes: 4", {"rot_hole": 4}),
        ("limb 3 rot hole", {"rot_hole": 1}),
        ("rot hole on limb 2; 2 rot holes in the stem", {"rot_hole": 3}),
        ("several dead limbs", {"dead_limb": 3}),
        ("hollow trunk, loose bark and ivy", {"hollow": 1, "loose_bark": 1, "ivy": 1}),
        ("woodpecker hole, in use", {"nest": 1}),
        ("no bats seen; no holes or frass", {}),
        ("lichens; moss", {"lichen": 2}),
        ("0 rot holes", {}),
    ],
)
def test_features_are_known_by_their_words_and_counted(text: str, found: dict[str, int]) -> None:
    assert counted(text) == found


def test_whether_a_number_was_given_and_whether_the_surveyor_was_sure_is_told() -> None:
    (rot,) = features_in("2 rot holes")
    assert (rot.counted, rot.sure) == (True, True)
    (few,) = features_in("rot holes")
    assert (few.count, few.counted) == (2, False)
    bats = next(f for f in features_in("bats may roost") if f.feature.key == "roost")
    assert not bats.sure


@pytest.mark.parametrize(
    ("note", "kept"),
    [
        ("frass below a hole", "wood mould"),
        ("bats may roost in it", "bat roost"),  # a doubt is enough
        ("woodpecker hole", "nest"),
        ("wild bees", "bees"),
        ("rot hole", ""),  # look first, but it is not kept for itself
        ("lichens", ""),
        ("no bats, no frass", ""),
        ("", ""),
    ],
)
def test_some_features_keep_their_limb(note: str, kept: str) -> None:
    why = reason_to_keep(note)
    assert (kept in why) if kept else why == ""


def test_what_limbs_hold_is_not_counted_again_for_the_tree() -> None:
    tree = draw(
        old_apple(
            L3={"note": "2 rot holes"},
            L12={"diameter_mm": 120.0, "state": State.DEAD},
            L6={"keep": "woodpecker hole"},
        )
    )
    record = StationRecord("1", features="3 rot holes; woodpecker hole; ivy")
    found = {(f.feature.key, f.where): f.count for f in features_of(record, tree)}
    assert found == {
        ("rot_hole", "3"): 2,
        ("dead_limb", "12"): 1,
        ("nest", "6"): 1,
        ("rot_hole", ""): 1,
        ("ivy", ""): 1,
    }


def test_features_add_up_by_orchard_and_holding() -> None:
    records = [
        StationRecord("1", "A", features="2 rot holes"),
        StationRecord("2", "A", status="dead", features="frass"),
        StationRecord("3", "A", status="gap", note="hole where it stood"),
        StationRecord("1", "B", features="rot hole"),
        StationRecord("2", "B"),
    ]
    tally = count_features(records)
    assert tally["A"].by_feature == {"rot_hole": 2, "wood_mould": 1}
    assert (tally["A"].trees, tally["A"].standing_dead, tally["A"].with_habitat) == (2, 1, 2)
    assert tally[""].by_feature == {"rot_hole": 3, "wood_mould": 1}
    assert (tally[""].trees, tally[""].with_habitat) == (4, 3)


@pytest.mark.parametrize("one", features(), ids=lambda one: one.key)
def test_a_feature_is_recognised_by_its_own_words_and_says_what_it_asks(one: Feature) -> None:
    assert one.asks
    assert one.source
    for phrase in one.words:
        assert one.key in counted(phrase.rstrip("*")), phrase

"""The cuts offered are the ones a pruner would recognise."""

from __future__ import annotations

import numpy as np
import pytest
from tests.cuts.old_tree import Drawn, draw, old_apple
from tests.trees import random_skeleton

from limbwright.cuts.candidates import Candidate, Offer, candidates
from limbwright.cuts.crossing import crossings
from limbwright.cuts.results import Wishes
from limbwright.cuts.weights import Settings
from limbwright.errors import PlanError
from limbwright.model.skeleton import Skeleton, State
from limbwright.statics.assess import assess
from limbwright.trade.species import species


def offer(tree: Skeleton, wishes: Wishes | None = None) -> Offer:
    settings = Settings()
    return candidates(
        assess(tree), species(tree.species), crossings(tree, settings), wishes or Wishes(), settings
    )


def on(tree: Skeleton, given: Offer, label: str) -> list[Candidate]:
    return [c for c in given.candidates if tree.limbs[c.limb].label == label]


def test_cuts_are_at_surveyed_wood_only() -> None:
    tree = draw(old_apple())
    assert all(tree.surveyed[c.segment] for c in offer(tree).candidates)


def test_a_lateral_the_rules_put_there_is_worded_as_one_to_look_for() -> None:
    tree = draw(old_apple())
    short = [c for c in on(tree, offer(tree), "9") if c.kind == "shorten"]
    assert 1 <= len(short) <= 4
    for cut in short:
        assert f"near {cut.at_m:.1f} m along" in cut.to_lateral
        need = float(cut.to_lateral.split("at least ")[1].split(" mm")[0])
        assert need >= cut.diameter_mm / 3 - 1e-9


def test_a_measured_lateral_is_named_and_thick_enough() -> None:
    tree = draw(old_apple(), derived=False)
    named = [c for c in offer(tree).candidates if c.kind == "shorten" and c.laterals]
    assert named
    for cut in named:
        thickest = max(tree.start_diameter_mm[list(cut.laterals)])
        assert thickest >= cut.diameter_mm / 3
        assert "limb" in cut.to_lateral


def test_a_lateral_thinner_than_a_third_holds_no_shortening() -> None:
    limbs = [
        Drawn("stem", "", 0.0, 300, 2.0, 0, 90),
        Drawn("1", "stem", 1.0, 90, 4.0, 0, 45),
        Drawn("thin", "1", 0.5, 15, 1.0, 90, 45),
    ]
    tree = draw(limbs, derived=False)
    assert [c.kind for c in on(tree, offer(tree), "1")] == ["remove"]


def test_the_stem_is_lowered_no_further_than_its_upper_half() -> None:
    limbs = [
        Drawn("stem", "", 0.0, 75, 4.0, 0, 88),
        *(Drawn(str(k), "stem", 0.15 * k, 30, 2.0, 70.0 * k, 40) for k in range(1, 6)),
    ]
    tree = draw(limbs)
    lowered = [c.at_m for c in on(tree, offer(tree), "stem")]
    assert lowered
    assert min(lowered) >= 0.5 * 4.0 - 1e-9


def test_what_is_kept_stays_and_so_does_all_that_carries_it() -> None:
    tree = draw(old_apple(L9={"keep": "woodpecker hole"}))
    given = offer(tree)
    nest = {int(i) for i in np.flatnonzero(tree.keep > 0)}
    for cut in given.candidates:
        inside = tree.in_subtree(cut.segment)
        assert not nest & set(range(inside.start, inside.stop))
    assert ("9", "woodpecker hole") in given.keep


def test_a_sound_limb_above_the_ordinary_largest_cut_is_refused_and_a_diseased_one_offered() -> (
    None
):
    thick = {"diameter_mm": 130.0}
    sound = draw(old_apple(L4=thick))
    assert not [c for c in on(sound, offer(sound), "4") if c.kind == "remove"]
    ill = draw(old_apple(L4={**thick, "state": State.DISEASED}))
    assert [c for c in on(ill, offer(ill), "4") if c.kind == "remove"]


def test_a_limb_asked_for_is_offered_whatever_its_size() -> None:
    tree = draw(old_apple())
    cut = next(c for c in on(tree, offer(tree, Wishes(force=frozenset({"1"}))), "1") if c.forced)
    assert (cut.kind, cut.at_m) == ("remove", 0.0)


@pytest.mark.parametrize(
    ("wishes", "said"),
    [
        (Wishes(force=frozenset({"99"})), "no limb '99'"),
        (Wishes(force=frozenset({"9"}), protect=frozenset({"9"})), "both to go and to stay"),
        (Wishes(force=frozenset({"3"}), protect=frozenset({"9"})), "carries"),
    ],
)
def test_a_wish_that_cannot_be_is_told_with_the_limb(wishes: Wishes, said: str) -> None:
    with pytest.raises(PlanError, match=said):
        offer(draw(old_apple()), wishes)


def test_a_tape_survey_gives_at_most_80_and_a_whole_tree_at_most_300() -> None:
    many = [Drawn("stem", "", 0.0, 400, 3.0, 0, 90)]
    many += [Drawn(f"{k}", "stem", 0.5 + 0.02 * k, 90, 4.0, 14.0 * k, 40) for k in range(25)]
    tape = offer(draw(many)).candidates
    assert 25 < len(tape) <= 80
    whole = offer(random_skeleton(3, 900)).candidates
    assert 0 < len(whole) <= 300


def test_candidates_come_in_preorder_once_each() -> None:
    for seed in range(8):
        at = [c.segment for c in offer(random_skeleton(seed, 60, faults=True)).candidates]
        assert at == sorted(set(at))
        assert 0 not in at

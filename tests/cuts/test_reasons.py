"""Every reason is what the plan would lose without that one cut, with true numbers."""

from __future__ import annotations

import re

import numpy as np
import pytest
from tests.cuts.old_tree import draw, old_apple

from limbwright.cuts.plan import plan
from limbwright.cuts.reasons import chance_words
from limbwright.cuts.results import Plan, Wishes
from limbwright.cuts.weights import Settings
from limbwright.model.skeleton import Skeleton, State
from limbwright.statics.assess import Assessment, assess, reassess


def both(tree: Skeleton, **more: object) -> tuple[Assessment, Plan]:
    held = assess(tree)
    return held, plan(held, **more)  # type: ignore[arg-type]


def peak(held: Assessment, label: str, case: str) -> float:
    k = next(i for i, c in enumerate(held.loads.cases) if c.label == case)
    limb = next(i for i, x in enumerate(held.skeleton.limbs) if x.label == label)
    return float(held.utilisation[k, held.skeleton.limb == limb].max())


def test_the_percentages_are_those_of_the_plan_with_and_without_the_cut() -> None:
    held, made = both(draw(old_apple()))
    after = reassess(held, ~made.gone)
    told = 0
    for cut in made.cuts:
        found = re.search(
            r"uses (\d+) % of what its union can bear (.+?) \((\d+) % with the cut\)", cut.reason
        )
        if not found:
            continue
        told += 1
        undone = made.gone.copy()
        undone[held.skeleton.in_subtree(cut.segment)] = False
        other = reassess(held, ~undone)
        first = next(x for x in held.skeleton.limbs if x.label == cut.limb).first_segment
        k = next(i for i, c in enumerate(held.loads.cases) if c.label == found.group(2))
        assert 100 * other.utilisation[k, first] == pytest.approx(int(found.group(1)), abs=0.51)
        assert 100 * after.utilisation[k, first] == pytest.approx(int(found.group(3)), abs=0.51)
    assert told


def test_no_load_is_claimed_below_the_utilisation_worth_a_word() -> None:
    for reason in [c.reason for c in both(draw(old_apple()))[1].cuts]:
        for clause in ("it uses", "it takes limb", "own load uses"):
            if clause in reason:
                first = int(reason.split(clause)[1].split(" %")[0].split()[-1])
                assert first >= 100 * Settings()["mention"] - 0.5


def test_a_dead_a_diseased_and_a_rubbing_limb_are_called_what_they_are() -> None:
    cuts = {c.limb: c.reason for c in both(draw(old_apple()))[1].cuts}
    assert "it is dead" in cuts["12"]
    assert "it is diseased" in cuts["10"]
    assert any("rubs limb" in r for limb, r in cuts.items() if limb in ("5", "7"))


def test_a_sound_limb_is_never_called_unhealthy() -> None:
    tree = draw(old_apple())
    label_of = {x.label: x for x in tree.limbs}
    for cut in both(tree)[1].cuts:
        carries = tree.state[tree.in_subtree(cut.segment)]
        if label_of[cut.limb].state == State.LIVE and bool(np.all(carries == State.LIVE)):
            assert not re.search(r"\b(dead|diseased|broken)\b", cut.reason)


def test_a_forced_cut_says_that_it_was_asked_for() -> None:
    made = both(draw(old_apple()), wishes=Wishes(force=frozenset({"9"})))[1]
    assert "you asked for it" in next(c.reason for c in made.cuts if c.limb == "9")


def test_the_rub_is_no_reason_once_the_other_limb_is_gone() -> None:
    made = both(draw(old_apple()), wishes=Wishes(force=frozenset({"5", "7"})))[1]
    assert sum("rubs limb" in c.reason for c in made.cuts if c.limb in ("5", "7")) == 0


@pytest.mark.parametrize(
    ("chances", "words"),
    [
        ((0.025, 0.005, 0.083), "about 1 in 40 a year (1 in 200 to 1 in 12)"),
        ((0.5, 0.3, 0.7), "50 % a year (30 to 70 %)"),
        ((0.00935, 0.0048, 0.0165), "about 1 in 110 a year (1 in 210 to 1 in 61)"),
        ((0.0101, 0.0099, 0.0165), "1 in 100 to 1 in 61 a year"),
        ((0.0101, 0.0101, 0.0101), "about 1 in 99 a year"),
        ((0.301, 0.299, 0.7), "30 % to 70 % a year"),
    ],
)
def test_chances_are_told_as_one_in_so_many(
    chances: tuple[float, float, float], words: str
) -> None:
    assert chance_words(*chances) == words

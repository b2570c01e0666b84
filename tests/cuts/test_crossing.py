"""Which limbs rub, and which of a pair goes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize
from tests.cuts.old_tree import Drawn, draw

from limbwright.cuts.crossing import _closest, axis_segments, crossings, loser
from limbwright.cuts.plan import plan
from limbwright.cuts.results import Wishes
from limbwright.cuts.weights import Settings
from limbwright.model.skeleton import State, Union
from limbwright.statics.assess import assess

STEM = Drawn("stem", "", 0.0, 300, 2.0, 0, 90)
WEST = Drawn("west", "stem", 1.0, 100, 4.0, 0, 45)
EAST = Drawn("east", "stem", 0.5, 100, 4.0, 90, 45)


def pair(**changes: object) -> list[Drawn]:
    """Two scaffold limbs, each with a lateral; the laterals meet between them."""
    one = replace(Drawn("a", "1", 0.5, 60, 3.0, 90, 30), **changes)
    return [
        STEM,
        Drawn("1", "stem", 1.0, 120, 4.0, 0, 45),
        Drawn("2", "stem", 1.0, 120, 4.0, 90, 45),
        one,
        Drawn("b", "2", 0.5, 60, 3.0, 0, 30),
    ]


def test_two_axes_through_one_point_are_found_and_trusted_less_than_a_surveyor() -> None:
    found = crossings(draw(pair(), derived=False), Settings())
    assert [(c.a, c.b) for c in found] == [(3, 4)]
    # the axes meet, so that the barks overlap by half of both diameters there, 60 mm at most
    assert -60.0 <= found[0].gap_mm < 0.0
    assert 0.0 < found[0].confidence < 1.0


def test_the_surveyor_is_believed_where_the_drawn_axes_do_not_meet() -> None:
    limbs = [STEM, replace(WEST, rubs="east"), replace(EAST, bearing_deg=180)]
    found = crossings(draw(limbs, derived=False), Settings())
    assert [(c.a, c.b, c.confidence) for c in found] == [(1, 2, 1.0)]


def test_a_limb_does_not_rub_what_carries_it_nor_its_neighbour_at_their_union() -> None:
    limbs = [STEM, WEST, replace(EAST, at=1.0), Drawn("x", "west", 0.3, 40, 1.5, 0, 46)]
    assert crossings(draw(limbs, derived=False), Settings()) == ()


@pytest.mark.parametrize(
    ("changes", "goes", "words"),
    [
        ({"state": State.DISEASED}, "a", "less sound"),
        ({"union": Union.INCLUDED}, "a", "tighter union"),
        ({"state": State.DISEASED, "keep": "nest hole"}, "b", "kept"),
        ({"diameter_mm": 40.0}, "a", "smaller wound"),
    ],
)
def test_the_first_test_that_tells_the_two_apart_decides(
    changes: dict[str, object], goes: str, words: str
) -> None:
    tree = draw(pair(**changes), derived=False)
    found = next(c for c in crossings(tree, Settings()) if c.a == 3)
    assert tree.limbs[found.loser].label == goes
    assert words in found.because


def told_apart(limbs: list[Drawn], leaf_share: float = 1.0) -> tuple[str, str]:
    """Return which of the limbs a and b goes, met in their middles, and why.

    ``leaf_share`` is the leaf of a over what it would be.
    """
    tree = draw([STEM, *limbs], derived=False)
    a, b = (next(k for k, x in enumerate(tree.limbs) if x.label == n) for n in "ab")
    leaf = np.where(tree.limb == a, leaf_share, 1.0) * tree.leaf_area_m2
    tree = replace(tree, leaf_area_m2=leaf)
    at_a, at_b = (int(axis_segments(tree, k)[3]) for k in (a, b))
    goes, because = loser(tree, a, b, at_a, at_b)
    turned, again = loser(tree, b, a, at_b, at_a)
    assert (goes, because) == (turned, again), "whichever is named first"
    return (tree.limbs[goes].label if goes >= 0 else ""), because


ONE = Drawn("1", "stem", 1.0, 120, 4.0, 0, 45)
TWO = Drawn("2", "stem", 1.0, 120, 4.0, 180, 45)
A = Drawn("a", "1", 0.8, 50, 2.0, 90, 0)
B = Drawn("b", "2", 0.8, 50, 2.0, 270, 0)


@pytest.mark.parametrize(
    ("limbs", "leaf_share", "words"),
    [
        # 10 degrees off the stem, not 50
        ([replace(A, parent="stem", rise_deg=80), replace(B, parent="stem", rise_deg=40)], 1.0,
         "tighter union"),
        ([ONE, TWO, replace(A, bearing_deg=180), B], 1.0, "grows inward"),
        # all the same, half a stem lower
        ([replace(ONE, at=0.5), TWO, A, B], 1.0, "lies under"),
        ([ONE, TWO, A, B], 0.5, "weaker"),
        ([ONE, TWO, replace(A, diameter_mm=35.0), B], 1.0, "smaller wound"),
    ],
)  # fmt: skip
def test_each_of_the_pruners_tests_tells_two_limbs_apart_when_all_before_it_do_not(
    limbs: list[Drawn], leaf_share: float, words: str
) -> None:
    """The order of docs/method/cuts.md; in each pair a goes."""
    goes, because = told_apart(limbs, leaf_share)
    assert (goes, words in because) == ("a", True), because


def test_limbs_told_apart_by_nothing_both_stay() -> None:
    assert told_apart([ONE, TWO, A, B])[0] == ""


def test_an_earlier_test_outweighs_a_later_one() -> None:
    """b lies under, but a grows inward; b is weaker, but a lies under."""
    inward = [ONE, replace(TWO, at=0.5), replace(A, bearing_deg=180), B]
    assert told_apart(inward)[0] == "a"
    under = [replace(ONE, at=0.5), TWO, A, B]
    assert told_apart(under, 3.0)[0] == "a"


def test_two_limbs_alike_in_all_both_stay() -> None:
    found = crossings(draw(pair(), derived=False), Settings())[0]
    assert found.loser == -1


def test_closest_points_agree_with_a_general_minimiser() -> None:
    rng = np.random.default_rng(4)
    for _ in range(25):
        p0, p1, q0, q1 = rng.normal(size=(4, 1, 3))

        def gap(x: np.ndarray, p0=p0, p1=p1, q0=q0, q1=q1) -> float:  # type: ignore[no-untyped-def]
            return float(np.sum((p0 + x[0] * (p1 - p0) - q0 - x[1] * (q1 - q0)) ** 2))

        best = min(
            (minimize(gap, x0, bounds=[(0, 1), (0, 1)]).fun for x0 in ((0.1, 0.9), (0.9, 0.1))),
        )
        assert _closest(p0, p1, q0, q1)[0][0] == pytest.approx(np.sqrt(best), abs=1e-4)


def apart(gap_mm: float) -> list[Drawn]:
    """Two laterals that would meet, one set higher by a clear gap between their barks [mm]."""
    limbs = pair()
    # the barks touch when the axes are half the sum of the diameters apart, where they meet
    lower, upper = limbs[-2], limbs[-1]
    return [*limbs[:-2], lower, replace(upper, at=min(1.0, upper.at + gap_mm / 4000.0))]


def test_axes_nearer_than_their_bark_and_the_margin_count_and_no_further() -> None:
    """The gap told is that of the drawn axes; whether it counts is decided by the margin alone."""
    counted = 0
    for limbs in (pair(), apart(300.0), apart(800.0)):
        wide = crossings(draw(limbs, derived=False), Settings({"rub_margin": 5000.0}))
        found = {(c.a, c.b): c.gap_mm for c in wide}
        for margin in (0.0, 20.0, 60.0, 400.0):
            near = crossings(draw(limbs, derived=False), Settings({"rub_margin": margin}))
            assert {(c.a, c.b) for c in near} == {k for k, g in found.items() if g <= margin}
            counted += len(near)
    assert counted >= 6, "the axes never come near: nothing is shown"


def test_a_drawn_rub_weighs_less_than_one_seen_and_the_weight_is_a_setting() -> None:
    seen = crossings(draw(pair(rubs="b"), derived=False), Settings())
    drawn = crossings(draw(pair(), derived=False), Settings())
    doubted = crossings(draw(pair(), derived=False), Settings({"rub_geometry_factor": 0.1}))
    assert seen[0].confidence == 1.0
    assert drawn[0].confidence == Settings()["rub_geometry_factor"] < 1.0
    assert doubted[0].confidence == 0.1
    assert len(seen) == 1, "a rub that was seen is not told a second time as drawn"


def crowded(rubs: str = "") -> list[Drawn]:
    """An old tree whose limbs 5 and 7 meet in the drawing."""
    limbs = pair(rubs=rubs, crown=3.0)
    return [*limbs, Drawn("c", "stem", 0.9, 90, 4.0, 225, 45)]


def test_a_drawn_rub_is_worded_as_one_to_look_at_and_a_seen_one_is_not() -> None:
    """The survey is coarse: what only the drawing shows is never stated as a fact."""
    high = Settings({"rub": 30.0})  # the rub decides, so that it is told
    words = (("", "seems to cross limb", " rubs limb"), ("b", "rubs limb", "seems"))
    for rubs, says, never in words:
        made = plan(assess(draw(crowded(rubs), leaf_m2=4.0)), settings=high)
        told = [c for c in made.cuts if says in c.reason]
        assert told, [c.reason for c in made.cuts]
        assert not any(never in c.reason for c in made.cuts)
        for cut in told:
            coarse = "the survey is coarse, so look before you cut" in cut.reason
            assert coarse == (rubs == "")
            assert ("wound open" in cut.effect) <= (rubs != "")


def test_a_drawn_rub_moves_a_plan_less_than_one_seen() -> None:
    """The price of leaving both stand is in proportion to how far the rub is trusted."""
    nothing = Settings({"rub_geometry_factor": 0.0, "rub": 3.0})
    some = Settings({"rub": 3.0})
    tree = draw(crowded(), leaf_m2=25.0)
    seen = draw(crowded("b"), leaf_m2=25.0)
    left = [
        plan(assess(one), wishes=Wishes(max_cuts=0), settings=use)
        for one, use in ((tree, nothing), (tree, some), (seen, some))
    ]
    costs = [made.objective_h for made in left]
    factor = some["rub_geometry_factor"]
    assert costs[0] < costs[1] < costs[2]
    assert costs[1] - costs[0] == pytest.approx(factor * (costs[2] - costs[0]), rel=0.02, abs=1e-6)

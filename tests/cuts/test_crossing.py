"""Which limbs rub, and which of a pair goes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize
from tests.cuts.old_tree import Drawn, draw

from limbwright.cuts.crossing import _closest, crossings
from limbwright.cuts.weights import Settings
from limbwright.model.skeleton import State, Union

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
    assert found[0].gap_mm < 0.0
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

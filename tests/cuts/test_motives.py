"""What speaks for wood going, in hours, by hand (docs/method/cuts.md, Weights)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.cuts.old_tree import Drawn, draw

from limbwright.cuts.crossing import Crossing
from limbwright.cuts.motives import Motives, crown, motives
from limbwright.cuts.weights import Settings
from limbwright.model import Skeleton
from limbwright.model.skeleton import State, Union

STEM = Drawn("stem", "", 0.0, 300, 2.0, 0, 90)
EAST = Drawn("east", "stem", 1.0, 150, 4.0, 90, 30)
WEST = Drawn("west", "stem", 1.0, 150, 4.0, 270, 30)


def reckoned(
    *limbs: Drawn, crossing: tuple[Crossing, ...] = (), east_kg: float = 1.0
) -> tuple[Skeleton, Motives]:
    """A tree of 1 kg a segment, ``east_kg`` on the first limb, and its motives."""
    tree = draw([STEM, *limbs], derived=False)
    wood = np.where(tree.limb == 1, east_kg, 1.0)
    shape = crown(tree, wood, Settings())
    return tree, motives(tree, wood, shape, crossing, Settings())


def of(tree: Skeleton, hours: np.ndarray, label: str) -> float:
    return float(hours[[tree.limbs[k].label == label for k in tree.limb]].sum())


def test_a_level_crown_gains_nothing_by_balance() -> None:
    _, found = reckoned(EAST, WEST)
    assert not found.by_name["balance"].any()


def test_what_hangs_on_the_heavy_side_speaks_for_going_and_the_other_side_against() -> None:
    tree, found = reckoned(EAST, WEST, east_kg=9.0)
    balance = found.by_name["balance"]
    assert of(tree, balance, "east") > 0.0 > of(tree, balance, "west")
    # nine to one at the same distance
    assert of(tree, balance, "east") == pytest.approx(-9.0 * of(tree, balance, "west"))


def test_the_whole_lopsidedness_is_worth_the_weight_of_balance() -> None:
    """5 h for all of it (weights.csv), growing from nothing at the level to that at twice it."""
    tree, found = reckoned(EAST, WEST, east_kg=9.0)
    wood = np.where(tree.limb == 1, 9.0, 1.0)
    middle = 0.5 * (tree.start_m + tree.end_m)[:, :2]
    off = float(np.linalg.norm((wood[:, None] * middle).sum(axis=0)))
    level = 0.12 * crown(tree, wood, Settings()).radius_m * float(wood.sum())
    assert off > 2.0 * level
    assert found.by_name["balance"].sum() == pytest.approx(5.0)
    wood = np.where(tree.limb == 1, 2.5, 1.0)
    off = float(np.linalg.norm((wood[:, None] * middle).sum(axis=0)))
    level = 0.12 * crown(tree, wood, Settings()).radius_m * float(wood.sum())
    assert level < off < 2.0 * level
    _, less = reckoned(EAST, WEST, east_kg=2.5)
    assert less.by_name["balance"].sum() == pytest.approx(5.0 * (off / level - 1.0))


@pytest.mark.parametrize(
    ("change", "hours"),
    [
        ({"state": State.DISEASED}, 3.0),
        ({"state": State.BROKEN}, 1.2),
        ({"state": State.DEAD}, 0.7),
        ({"state": State.DEAD, "diameter_mm": 60.0}, 0.7 * 0.6),  # in proportion to thickness
    ],
)
def test_unhealthy_wood_counts_once_where_it_begins(
    change: dict[str, object], hours: float
) -> None:
    """3.0, 1.2 and 0.7 h, dead in proportion to thickness up to 100 mm (weights.csv)."""
    tree, found = reckoned(replace(EAST, **change), WEST)
    unhealthy = found.by_name["unhealthy"]
    assert unhealthy.sum() == pytest.approx(hours)
    assert unhealthy[tree.limbs[1].first_segment] == pytest.approx(hours)


def test_a_crack_and_a_rub_count_where_they_are() -> None:
    rub = Crossing(1, 2, 5, 11, -3.0, 0.4, 2, "it grows inward")
    tree, found = reckoned(replace(EAST, union=Union.CRACKED), WEST, crossing=(rub,))
    crack = np.zeros(tree.n)
    crack[tree.limbs[1].first_segment] = 1.0  # weights.csv: 1 h
    np.testing.assert_allclose(found.by_name["crack"], crack)
    rubbed = np.zeros(tree.n)
    rubbed[11] = 0.3 * 0.4  # 0.3 h for the loser, trusted to 0.4
    np.testing.assert_allclose(found.by_name["rub"], rubbed)

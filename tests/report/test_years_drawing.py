"""A tree over the years: one scale, what goes told apart, the figures of the trees themselves."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.report.drawn import SVG, read, said, size_of

from limbwright.demo import make_holding
from limbwright.errors import InputError
from limbwright.growth.prune import pruned
from limbwright.growth.rates import rates
from limbwright.growth.season import after_season, dose_of
from limbwright.model.skeleton import Bools, Skeleton, State
from limbwright.report.small_tree import extent_m, small_tree
from limbwright.report.strokes import INK, PLUM
from limbwright.report.views import SOUTH, WEST, View
from limbwright.report.years_drawing import Stand, tree_years
from limbwright.survey.build import build_skeleton

TREE = build_skeleton(make_holding(1).surveys()[2])[0]
LEAST_MM = 7 / 72 * 25.4


def some_gone(tree: Skeleton, seed: int = 1, dose: float = 0.15) -> Bools:
    rng = np.random.default_rng(seed)
    gone = np.zeros(tree.n, dtype=np.bool_)
    for k in rng.permutation(np.flatnonzero(tree.surveyed)[4:]).tolist():
        tried = gone.copy()
        tried[k] = True
        if dose_of(tree, tried) <= dose:
            gone = tried
    return gone


def points(svg: str, colour: str) -> np.ndarray:
    """Return every point of the paths of a colour."""
    paths = [p.get("d", "") for p in read(svg).iter(f"{SVG}path") if p.get("stroke") == colour]
    found = [(float(x), float(y)) for p in paths for x, y in re.findall(r"([-\d.]+) ([-\d.]+)", p)]
    return np.array(found).reshape(-1, 2)


def test_what_goes_is_plum_and_broken_and_no_leaf_is_left_there() -> None:
    gone = some_gone(TREE)
    whole, cut = small_tree(TREE), small_tree(TREE, gone)
    assert PLUM not in whole
    broken = [p for p in read(cut).iter(f"{SVG}path") if p.get("stroke") == PLUM]
    assert len(broken) > 1
    assert all(p.get("stroke-dasharray") for p in broken)
    after = small_tree(pruned(TREE, gone), mm_per_m=4.0)
    before = small_tree(TREE, gone, mm_per_m=4.0)
    assert points(after, INK).shape == points(before, INK).shape


def test_a_tree_fills_its_paper_and_its_height_is_to_scale() -> None:
    svg = small_tree(TREE, width_mm=30.0, height_mm=34.0)
    x, y = points(svg, INK).T
    assert x.min() >= 0.0
    assert x.max() <= 30.0
    assert y.min() >= 0.0
    scaled = small_tree(TREE, mm_per_m=3.0, height_mm=40.0)
    wood = points(scaled, INK)
    left, right, low, high = extent_m(TREE, SOUTH)
    foot = 40.0 - 0.5 + 3.0 * low
    assert wood[:, 1].max() == pytest.approx(foot, abs=0.02)
    assert foot - wood[:, 1].min() <= 3.0 * high
    assert right - left >= np.ptp(TREE.end_m[:, 0])


def test_every_stand_tells_the_figures_of_its_tree() -> None:
    gone = some_gone(TREE)
    later = after_season(TREE, gone, rates("apple"), years=2.0)
    svg = tree_years([Stand("today", TREE, gone), Stand("two years on", later, note="rest")])
    told = [one.text for one in said(svg)]
    live = TREE.state != State.DEAD
    left = later.leaf_area_m2[later.state != State.DEAD].sum() / TREE.leaf_area_m2[live].sum()
    for text in (
        "today",
        "two years on",
        "rest",
        f"{TREE.end_m[:, 2].max():.1f} m high",
        f"{later.end_m[:, 2].max():.1f} m high",
        "leaf 100 %",
        f"leaf {100 * left:.0f} %",
        f"{100 * dose_of(TREE, gone):.0f} % of it goes",
    ):
        assert text in told
    assert sum("of it goes" in text for text in told) == 1


def test_all_stands_of_a_strip_have_one_scale() -> None:
    svg = tree_years([Stand("a", TREE), Stand("b", TREE), Stand("c", TREE)])
    (scale,) = (m for one in said(svg) if (m := re.search(r"1 : (\d+)", one.text)))
    stems = [
        p
        for p in read(svg).iter(f"{SVG}path")
        if p.get("stroke-linecap") == "butt" and p.get("stroke") == INK
    ]
    tops = [re.findall(r"M([-\d.]+) ([-\d.]+)L([-\d.]+) ([-\d.]+)", p.get("d", "")) for p in stems]
    assert len(stems) == 3
    mm = TREE.end_m[0, 2] * 1000.0 / float(scale[1])
    for ((_, y0, _, y1),) in tops:
        assert float(y0) - float(y1) == pytest.approx(mm, abs=0.02)


@pytest.mark.parametrize("count", [1, 2, 5, 9, 13])
@pytest.mark.parametrize("width_mm", [60.0, 100.0, 180.0])
def test_words_stay_on_the_page_and_off_one_another(count: int, width_mm: float) -> None:
    gone = some_gone(TREE)
    stands = [Stand(f"winter {2026 + k}-{27 + k}", TREE, gone, "a note") for k in range(count)]
    svg = tree_years(stands, width_mm=width_mm, most_height_mm=250.0, target_height_m=5.0)
    width, height = size_of(svg)
    words = said(svg)
    assert all(one.left >= 0.0 and one.box[1] >= 0.0 and one.box[3] <= height for one in words)
    assert all(one.right <= width for one in words)
    assert min(one.size for one in words) >= LEAST_MM
    captions = [one for one in words if one.text.startswith("winter") or "goes" in one.text]
    for k, one in enumerate(captions):
        for other in captions[k + 1 :]:
            apart = one.right <= other.left or other.right <= one.left
            apart |= one.box[3] <= other.box[1] or other.box[3] <= one.box[1]
            assert apart
    if count <= 5 or width_mm == 180.0:
        assert height <= 250.0


def test_nothing_to_draw_and_what_cannot_be_are_told() -> None:
    with pytest.raises(ValueError, match="nothing to draw"):
        tree_years([])
    with pytest.raises(ValueError, match="at least 60 mm"):
        tree_years([Stand("today", TREE)], width_mm=40.0)
    stem = np.zeros(TREE.n, dtype=np.bool_)
    stem[0] = True
    with pytest.raises(InputError):
        small_tree(TREE, stem)


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.0, 0.9), st.sampled_from([SOUTH, WEST]))
def test_any_cuts_give_a_whole_drawing(seed: int, dose: float, view: View) -> None:
    gone = some_gone(TREE, seed, dose)
    svg = tree_years([Stand("today", TREE, gone), Stand("then", pruned(TREE, gone))], view=view)
    assert read(svg).tag == f"{SVG}svg"
    assert "nan" not in svg

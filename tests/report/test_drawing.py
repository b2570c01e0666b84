"""The drawings: well-formed, to one scale, within the paper, every cut with its number."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest

from limbwright.report.drawing import NUMBER_MM, Scene, draw_view, fit_scale
from limbwright.report.strokes import KERF_PEN_MM, PLUM
from limbwright.report.views import ABOVE, EAST, NORTH, SOUTH, WEST, choose_sides

SVG = "{http://www.w3.org/2000/svg}"
WIDTH_MM, HEIGHT_MM = 65.0, 66.0
VIEWS = (SOUTH, NORTH, EAST, WEST, ABOVE)


def scene_of(item) -> Scene:
    assessment, plan, _ = item
    s = assessment.skeleton
    named = tuple(k for k, limb in enumerate(s.limbs) if s.surveyed[limb.first_segment])
    return Scene(s, plan.cuts, plan.gone, assessment.utilisation.max(axis=0), named)


def drawn(scene: Scene, view, wide: float = WIDTH_MM, high: float = HEIGHT_MM) -> ET.Element:
    scale = fit_scale(scene.skeleton, [(view, wide, high)])
    return ET.fromstring(draw_view(scene, view, wide, high, scale))


def words(root: ET.Element) -> list[str]:
    return [one.text or "" for one in root.iter(f"{SVG}text")]


@pytest.mark.parametrize("view", VIEWS, ids=lambda v: v.name)
def test_every_view_is_well_formed_and_numbers_every_kerf(items, view) -> None:
    for item in items:
        root = drawn(scene_of(item), view)
        flags = [
            one.text for one in root.iter(f"{SVG}text") if one.get("font-size") == f"{NUMBER_MM}"
        ]
        assert sorted(flags) == sorted(str(cut.order) for cut in item[1].cuts)
        assert view.caption in words(root)


def test_a_kerf_is_a_pair_of_strokes_at_its_cut(items) -> None:
    for item in items:
        scene = scene_of(item)
        root = drawn(scene, SOUTH)
        scale = fit_scale(scene.skeleton, [(SOUTH, WIDTH_MM, HEIGHT_MM)])
        strokes = [
            tuple(float(one.get(k, "nan")) for k in ("x1", "y1", "x2", "y2"))
            for one in root.iter(f"{SVG}line")
            if one.get("stroke") == PLUM and one.get("stroke-width") == f"{KERF_PEN_MM:.2f}"
        ]
        assert len(strokes) == 2 * len(scene.cuts)
        middle = np.array([((a + c) / 2, (b + d) / 2) for a, b, c, d in strokes])
        # distances between kerfs on paper are those between cuts in the tree, seen from the south
        at = np.array([[c.point_m[0], -c.point_m[2]] for c in scene.cuts]) * scale
        between = middle.reshape(-1, 2, 2).mean(axis=1)
        assert np.abs((between - between[0]) - (at - at[0])).max() < 1.5


@pytest.mark.parametrize("view", VIEWS, ids=lambda v: v.name)
def test_no_label_or_number_leaves_the_paper(items, view) -> None:
    for item in items:
        for box in drawn(scene_of(item), view).iter(f"{SVG}rect"):
            x, y, wide, high = (float(box.get(k, "nan")) for k in ("x", "y", "width", "height"))
            assert x >= -1e-6
            assert y >= -1e-6
            assert x + wide <= WIDTH_MM + 1e-6
            assert y + high <= HEIGHT_MM + 1e-6


def test_what_goes_is_drawn_broken_and_nothing_else_is(items) -> None:
    scene = scene_of(items[0])
    whole = replace(scene, cuts=(), gone=np.zeros_like(scene.gone))
    assert any(one.get("stroke-dasharray") for one in drawn(scene, SOUTH).iter(f"{SVG}path"))
    assert not any(one.get("stroke-dasharray") for one in drawn(whole, SOUTH).iter(f"{SVG}path"))


def test_more_load_is_more_ink(items) -> None:
    """The dark core grows with the share of strength that is used."""

    def ink(share: float) -> float:
        scene = scene_of(items[0])
        bare = replace(scene, used=np.full(scene.skeleton.n, share), named=())
        total = 0.0
        for one in drawn(bare, SOUTH).iter(f"{SVG}path"):
            if one.get("stroke") == "#1d2226":
                total += float(one.get("stroke-width", "0")) * (one.get("d") or "").count("M")
        return total

    idle, half, full = ink(0.0), ink(0.5), ink(1.0)
    assert idle < half < full
    assert ink(7.0) == full


@pytest.mark.parametrize("label", ["</text><x>", '&"<', "#[$", "苹果", "🍎", "L" * 200])
def test_a_limb_of_any_name_leaves_the_drawing_well_formed(items, label: str) -> None:
    scene = scene_of(items[0])
    s = scene.skeleton
    limbs = tuple(replace(limb, label=label) for limb in s.limbs)
    root = drawn(replace(scene, skeleton=replace(s, limbs=limbs)), SOUTH)
    short = label if len(label) <= 12 else label[:11] + "…"
    assert short in words(root)


def test_the_drawing_is_as_large_as_its_box_allows(items) -> None:
    s = scene_of(items[0]).skeleton
    small = fit_scale(s, [(SOUTH, WIDTH_MM, HEIGHT_MM)])
    assert fit_scale(s, [(SOUTH, 2 * WIDTH_MM, 2 * HEIGHT_MM)]) > 2 * small
    assert fit_scale(s, [(SOUTH, WIDTH_MM, HEIGHT_MM), (ABOVE, 30.0, 30.0)]) <= small


def test_one_stands_on_the_sides_where_the_cuts_are() -> None:
    assert choose_sides([(2.0, 3.0, 1.0)]) == (NORTH, EAST)
    assert choose_sides([(-2.0, -3.0, 1.0)]) == (SOUTH, WEST)
    assert choose_sides([]) == (SOUTH, WEST)

"""All that is told of a tree's light and air, and how sure it is."""

from __future__ import annotations

from dataclasses import replace
from math import isnan

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.light.old_trees import old_trees

import limbwright as lw
from limbwright.errors import InputError
from limbwright.light.air import openness
from limbwright.light.canopy import canopy
from limbwright.light.shape import bowl_gap, close_limbs, inward_growth
from limbwright.light.tree import light_air
from limbwright.model import Skeleton
from limbwright.model.skeleton import Limb
from limbwright.statics.results import assessment_schema
from limbwright.trade.parameters import parameters


def tree(*limbs: tuple[tuple[float, float, float], tuple[float, float, float]]) -> Skeleton:
    """A stem of 2 m and straight limbs of 80 mm from one place to another, 5 m2 of leaf each."""
    n = len(limbs) + 1
    start = np.array([(0, 0, 0), *(a for a, _ in limbs)], dtype=float)
    end = np.array([(0, 0, 2), *(b for _, b in limbs)], dtype=float)
    length = np.linalg.norm(end - start, axis=1)
    return Skeleton.build(
        tree="T",
        species="apple",
        parent=[-1, *[0] * (n - 1)],
        start_m=start,
        end_m=end,
        start_diameter_mm=np.full(n, 80.0),
        end_diameter_mm=np.full(n, 80.0),
        limb=list(range(n)),
        limbs=[Limb(str(k), min(k - 1, 0), k, 2.0, 80.0, length[k], 0.0, 0.0) for k in range(n)],
        leaf_area_m2=np.array([0.0, *[5.0] * (n - 1)]),
    )


def ring(*bearings_deg: float) -> Skeleton:
    ways = np.radians(bearings_deg)
    return tree(*(((0, 0, 2), (3 * np.sin(w), 3 * np.cos(w), 3)) for w in ways))


def by_hand(one: Skeleton, within_m: float) -> dict[tuple[int, int], float]:
    """Least clear distance of each pair of limbs, point by point: slow and plain."""
    table = parameters("light")
    step, share = table["shape.step"].value, table["shape.union_share"].value
    points: dict[int, list[tuple[np.ndarray, float]]] = {}
    along = dict.fromkeys(range(len(one.limbs)), 0.0)
    for i in range(one.n):
        limb = int(one.limb[i])
        length = float(np.linalg.norm(one.end_m[i] - one.start_m[i]))
        pieces = max(int(np.ceil(length / step)), 1)
        for j in range(pieces if one.surveyed[i] and limb > 0 else 0):
            t = (j + 0.5) / pieces
            if along[limb] + t * length > share * one.limbs[limb].length_m:
                d = (1 - t) * one.start_diameter_mm[i] + t * one.end_diameter_mm[i]
                place = one.start_m[i] + t * (one.end_m[i] - one.start_m[i])
                points.setdefault(limb, []).append((place, d / 2000.0))
        along[limb] += length
    found = {}
    for a in points:
        for b in points:
            if a >= b:
                continue
            first, other = one.limbs[a].first_segment, one.limbs[b].first_segment
            if first <= other < one.subtree_end[first] or other <= first < one.subtree_end[other]:
                continue
            gap = min(
                float(np.linalg.norm(p - q)) - r - s for p, r in points[a] for q, s in points[b]
            )
            if gap <= within_m:
                found[a, b] = max(gap, 0.0)
    return found


@pytest.mark.parametrize("which", [0, 1])
def test_close_limbs_are_those_of_a_plain_search(which: int) -> None:
    one = old_trees()[which]
    found = {(c.a, c.b): c.gap_m for c in close_limbs(one, 0.3)}
    assert found == pytest.approx(by_hand(one, 0.3))
    assert found


def test_the_nearer_two_limbs_run_the_surer_they_are_too_close() -> None:
    def sure(apart_m: float) -> float:
        (one,) = close_limbs(tree(((0, 0, 2), (3, 0, 2)), ((0, apart_m, 2), (3, apart_m, 2))))
        return one.confidence

    assert 0.5 < sure(0.35) < sure(0.25) < sure(0.1) < 1.0


def test_an_end_well_inside_is_surely_inward_and_one_hardly_inside_is_even_odds() -> None:
    well, hardly = ((2, 0, 2.5), (0.2, 0, 3)), ((-2, 0, 2.5), (-1.99, 0.1, 4))
    outward = ((0.1, 0, 2), (3, 0, 3))
    first, other = inward_growth(tree(hardly, outward, well))
    assert first.inward_m == pytest.approx(1.8)
    assert first.confidence > 0.99
    assert other.confidence == pytest.approx(0.5, abs=0.02)


def test_a_missing_limb_is_told_with_its_bearing_and_a_full_bowl_has_none() -> None:
    full = ring(*range(0, 360, 15))
    assert light_air(full).gap is None
    lacking = light_air(ring(*(b for b in range(0, 360, 15) if not 90 <= b <= 195))).gap
    assert lacking is not None
    assert lacking.bearing_deg == pytest.approx(142.5, abs=8)
    assert lacking.width_deg == pytest.approx(120, abs=15)
    assert lacking.confidence > 0.99
    assert bowl_gap(full).confidence < 0.01


def test_json_of_light_holds_to_the_schema_and_names_the_lines() -> None:
    schema = assessment_schema()
    part = {"$ref": "#/$defs/light", "$defs": schema["$defs"]}
    told = light_air(old_trees()[1], lw.Site(latitude_deg=52.0, spacing_m=9.0)).to_dict()
    jsonschema.Draft202012Validator(part).validate(told)
    assert [row["line"] for row in told["seen_through_by_line"]][::2] == [
        "north-south",
        "east-west",
    ]
    assert told["close"]


def test_every_part_of_the_crown_has_its_light() -> None:
    """The parts' light, weighed by their leaf, is the whole crown's; the stem carries it all."""
    one = old_trees()[1]
    found = light_air(one)
    told = found.to_dict()
    light = {row["segment"]: row["light"] for row in told["by_segment"]}
    bears = np.flatnonzero(one.leaf_area_m2 > 0)
    assert set(light) == {int(i) for i in one.segment_ids[bears]}
    leaf = one.leaf_area_m2[bears]
    mean = float(np.average([light[int(i)] for i in one.segment_ids[bears]], weights=leaf))
    assert mean == pytest.approx(found.limb_light[0], abs=1e-3)
    assert mean == pytest.approx(found.light.mean, abs=0.02)
    assert [row["limb"] for row in told["by_limb"]] == [x.label for x in one.limbs]
    high = max(range(1, len(one.limbs)), key=lambda k: one.end_m[one.limb == k, 2].max())
    assert found.limb_light[high] > found.limb_light[0]


@pytest.mark.parametrize("which", range(4))
def test_one_sees_through_more_of_a_crown_when_it_is_bare(which: int) -> None:
    held = canopy(old_trees()[which])
    leafy, bare = openness(held)
    assert (bare.share >= leafy.share).all()
    assert bare.mean > leafy.mean


def test_a_tree_without_leaf_is_seen_through_and_no_more() -> None:
    bare = replace(ring(0, 120, 240), leaf_area_m2=np.zeros(4))
    found = light_air(bare)
    assert isnan(found.light.mean)
    assert found.centre == ""
    assert found.gap is None
    told = found.to_dict()
    assert told["mean"] is told["centre"] is told["ground"] is told["hat"] is None
    assert told["seen_through"] == told["seen_through_bare"]
    assert 0.0 < told["seen_through"] < 1.0
    part = {"$ref": "#/$defs/light", "$defs": assessment_schema()["$defs"]}
    jsonschema.Draft202012Validator(part).validate(told)


def test_a_stem_the_rules_put_there_has_a_middle_all_the_same() -> None:
    one = ring(0, 120, 240)
    derived = replace(one, surveyed=np.array([False, True, True, True]))
    assert inward_growth(derived) == inward_growth(one)
    assert bowl_gap(derived) == bowl_gap(one)


def test_a_place_where_the_sun_does_not_rise_is_refused() -> None:
    with pytest.raises(InputError, match="does not rise"):
        light_air(ring(0, 120, 240), lw.Site(latitude_deg=88.0))


@settings(max_examples=15, deadline=None)
@given(st.floats(0.0, 345.0))
def test_turning_a_tree_turns_its_gap_and_nothing_else(by_deg: float) -> None:
    """Sectors are 15 degrees wide, so the gap is told to about one of them."""
    ways = (0.0, 30.0, 60.0, 90.0)
    still, turned = bowl_gap(ring(*ways)), bowl_gap(ring(*(b + by_deg for b in ways)))
    assert abs(still.width_deg - turned.width_deg) <= 15.0 + 1e-9
    moved = (turned.bearing_deg - still.bearing_deg - by_deg + 180.0) % 360.0 - 180.0
    assert abs(moved) <= 15.0 + 1e-9

"""What a survey says of a cavity: thinnest wall, the wall across, how much of the shell is gone."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from tests.trees import random_skeleton

from limbwright.model.skeleton import Skeleton
from limbwright.survey import read_segments, read_survey, write_limbs, write_segments
from limbwright.survey.build import build_skeleton

HEAD = (
    "station,limb,parent,at_m,diameter_mm,length_m,bearing_deg,rise_deg,"
    "cavity_wall_mm,cavity_far_wall_mm,cavity_open_deg\n"
)


def limbs(tmp_path: Path, stem: str, limb: str = ",,"):  # type: ignore[no-untyped-def]
    path = tmp_path / "limbs.csv"
    path.write_text(f"{HEAD}1,stem,,,400,2,0,88,{stem}\n1,1,stem,1.9,200,4,90,40,{limb}\n")
    return read_survey(path, species="apple")


def test_a_limb_tells_where_its_cavity_is(tmp_path: Path) -> None:
    survey = limbs(tmp_path, "60,,45", "30,90,")
    assert [f for f in survey.faults if f.severity == "error"] == []
    tree = build_skeleton(survey.trees[0])[0]
    stem, limb = tree.limbs
    assert (stem.cavity_wall_mm, stem.cavity_far_wall_mm, stem.cavity_open_deg) == (60, None, 45)
    assert (limb.cavity_wall_mm, limb.cavity_far_wall_mm, limb.cavity_open_deg) == (30, 90, None)
    at = limb.first_segment
    assert tree.cavity_far_wall_mm[at] == 90.0
    assert tree.cavity_open_deg[0] == 45.0
    assert np.isnan(tree.cavity_far_wall_mm[0])
    assert np.count_nonzero(tree.cavity_open_deg) == 1
    write_limbs(survey.trees, tmp_path / "again.csv")
    again = read_survey(tmp_path / "again.csv", species="apple")
    for one, other in zip(survey.trees[0].limbs, again.trees[0].limbs, strict=True):
        for name in ("cavity_wall_mm", "cavity_far_wall_mm", "cavity_open_deg"):
            assert getattr(one, name) == getattr(other, name)


@pytest.mark.parametrize(
    ("cells", "column", "words"),
    [
        (",90,", "cavity_far_wall_mm", "without its thinnest wall"),
        (",,60", "cavity_open_deg", "without its thinnest wall"),
        ("60,40,", "cavity_far_wall_mm", "thinner than the thinnest wall"),
        ("60,350,", "cavity_far_wall_mm", "leaves no cavity"),
        ("60,,345", "cavity_open_deg", "outside 0 to 330"),
        ("60,,-5", "cavity_open_deg", "outside 0 to 330"),
        ("210,220,", "cavity_wall_mm", "thicker than half the limb"),
    ],
)
def test_a_cavity_that_cannot_be_is_told_and_the_limb_lives(
    tmp_path: Path, cells: str, column: str, words: str
) -> None:
    survey = limbs(tmp_path, cells)
    (fault,) = [f for f in survey.faults if f.column.startswith("cavity")]
    assert (fault.row, fault.column) == (2, column)
    assert words in fault.fault
    assert fault.remedy
    stem = survey.trees[0].limbs[0]
    assert stem.limb == "stem"
    wrong = getattr(stem, column)
    assert wrong is None


def hollow_tree() -> Skeleton:
    tree = random_skeleton(7, 20, faults=True)
    wall = tree.cavity_wall_mm
    far = np.where(np.arange(tree.n) % 2 == 0, 1.1 * wall, np.nan)
    opening = np.where(np.isfinite(wall) & (np.arange(tree.n) % 3 == 0), 33.3, 0.0)
    assert np.isfinite(far).any()
    assert opening.any()
    return Skeleton.build(
        tree=tree.tree,
        species=tree.species,
        parent=tree.parent,
        start_m=tree.start_m,
        end_m=tree.end_m,
        start_diameter_mm=tree.start_diameter_mm,
        end_diameter_mm=tree.end_diameter_mm,
        limb=tree.limb,
        limbs=tree.limbs,
        leaf_area_m2=tree.leaf_area_m2,
        cavity_wall_mm=wall,
        cavity_far_wall_mm=far,
        cavity_open_deg=opening,
    )


def test_segments_bring_it_back_to_the_last_bit(tmp_path: Path) -> None:
    tree = hollow_tree()
    write_segments([tree], tmp_path / "s.csv")
    (back,) = read_segments(tmp_path / "s.csv").skeletons
    for name in ("cavity_wall_mm", "cavity_far_wall_mm", "cavity_open_deg"):
        np.testing.assert_array_equal(getattr(back, name), getattr(tree, name), err_msg=name)

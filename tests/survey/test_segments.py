"""Whole skeletons go out and come back bit for bit; bad rows are named."""

import csv
import os
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.trees import random_skeleton

import limbwright as lw
from limbwright.cli import main
from limbwright.job import open_trees
from limbwright.survey import read_segments, write_segments
from limbwright.survey.segments import DERIVABLE

DATA = Path(os.environ.get("LIMBWRIGHT_DATA", Path(__file__).parents[2].parent / "shared" / "data"))
ARRAYS = (
    *("parent", "subtree_end", "start_m", "end_m", "start_diameter_mm", "end_diameter_mm"),
    *("state", "leaf_area_m2", "fruit_kg", "fine_wood_kg", "union", "cavity_wall_mm"),
    *("surveyed", "segment_ids"),
)
HEAD = "tree,segment,parent,x0_m,y0_m,z0_m,x1_m,y1_m,z1_m,d0_mm,d1_mm,leaf_area_m2,limb"
GOOD = [
    "T,1,-1,0,0,0,0,0,2,300,250,0,",
    "T,2,1,0,0,2,1,0,3,100,80,1,",
    "T,3,1,0,0,2,0,0,4,200,90,1,",
]


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 40))
def test_round_trip_is_exact(tmp_path_factory, seed, n):
    path = tmp_path_factory.mktemp("t") / "s.csv"
    tree = random_skeleton(seed, n, faults=True)
    write_segments([tree], path)
    found = read_segments(path)
    assert found.faults == ()
    (back,) = found.skeletons
    for name in ARRAYS:
        np.testing.assert_array_equal(getattr(back, name), getattr(tree, name), err_msg=name)
    assert (back.tree, back.species) == (tree.tree, tree.species)
    assert [back.limbs[i].label for i in back.limb] == [tree.limbs[i].label for i in tree.limb]


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 30), st.sampled_from([".csv", ".xlsx"]), st.data())
def test_what_is_told_of_a_limb_comes_back(tmp_path_factory, seed, n, suffix, data):
    path = tmp_path_factory.mktemp("t") / f"s{suffix}"
    tree = random_skeleton(seed, n)
    word = st.text(
        st.characters(codec="utf-8", exclude_categories=["Cc", "Cf", "Cs", "Cn", "Co"]), max_size=12
    ).map(lambda t: " ".join(t.split()).strip("'"))
    told = tuple(
        replace(
            limb,
            crown=data.draw(st.floats(0.0, 3.0)),
            rubs=data.draw(st.sampled_from(["", *(o.label for o in tree.limbs)])),
            note=data.draw(word),
        )
        for limb in tree.limbs
    )
    write_segments([replace(tree, limbs=told)], path)
    found = read_segments(path)
    assert [f for f in found.faults if f.severity == "error"] == []
    by_label = {o.label: o for o in found.skeletons[0].limbs}
    for limb in told:
        back = by_label[limb.label]
        assert (back.rubs, back.note) == (limb.rubs, limb.note)
        # A workbook holds numbers to sixteen figures, CSV to the last bit.
        near = 1e-15 if suffix == ".xlsx" else 0.0
        assert back.crown == pytest.approx(limb.crown, rel=near, abs=0.0)
        assert back.diameter_mm == pytest.approx(limb.diameter_mm, rel=near, abs=0.0)


def test_unknown_columns_of_segments_are_kept(tmp_path):
    rows = [f"{row},{more}" for row, more in zip(GOOD, ("rough,", ",=moss", ","), strict=True)]
    path = tmp_path / "s.csv"
    path.write_text("\n".join([f"{HEAD},bark,growth", *rows]))
    found = read_segments(path, species="apple")
    assert found.extra == {"T": {1: {"bark": "rough"}, 2: {"growth": "=moss"}}}
    write_segments(found.skeletons, tmp_path / "again.csv", extra=found.extra)
    assert read_segments(tmp_path / "again.csv").extra == found.extra


def test_what_the_limbs_table_tells_is_in_the_exported_segments(tmp_path, capsys):
    limbs = tmp_path / "limbs.csv"
    limbs.write_text(
        "station,limb,parent,at_m,diameter_mm,length_m,bearing_deg,rise_deg,crown,rubs,keep,note,bark\n"
        "1,stem,,,300,2,0,88,,,,hollow at the foot,rough\n"
        "1,1,stem,1.8,120,4,10,45,1,2,,worn,\n"
        "1,2,stem,1.9,110,4,200,50,3,,woodpecker,,smooth\n"
    )
    for out in ("whole.csv", "whole.xlsx"):
        assert main(["export", str(limbs), "-o", str(tmp_path / out), "--species", "apple"]) == 0
        opened = open_trees(tmp_path / out)
        told = {o.label: (o.crown, o.rubs, o.keep, o.note) for o in opened.trees[0].limbs}
        assert told["stem"] == (2.0, "", "", "hollow at the foot")
        assert told["1"] == (1.0, "2", "", "worn")
        assert told["2"] == (3.0, "", "woodpecker", "")
        assert [set(c.items()) for c in opened.extra["1"].values()] == [
            {("bark", "rough")},
            {("bark", "smooth")},
        ]


def test_a_survey_written_as_segments_is_assessed_the_same():
    """What a rule derived is less sure than what was measured, also after reading back."""
    where = Path(__file__).parents[2] / "examples"
    survey = lw.read_limbs(where / "limbs.csv", stations=where / "stations.csv")
    trees = [lw.build(tree) for tree in survey.trees]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "whole.csv"
        write_segments(trees, path)
        found = read_segments(path)
    assert found.faults == ()
    for tree, back in zip(trees, found.skeletons, strict=True):
        for name in DERIVABLE:
            np.testing.assert_array_equal(
                back.provenance.is_measured(name, back.n),
                tree.provenance.is_measured(name, tree.n),
                err_msg=name,
            )
        before = {o.label: o for o in lw.assess(tree).limbs}
        after = {o.label: o for o in lw.assess(back).limbs}
        limbs = {o.label: o for o in tree.limbs}
        assert before.keys() == after.keys()
        for label, one in before.items():
            assert after[label].utilisation == pytest.approx(one.utilisation, rel=1e-9)
            assert after[label].chance == pytest.approx(one.chance, rel=1e-6)
        for limb in back.limbs:
            assert limb.length_m == pytest.approx(limbs[limb.label].length_m, rel=1e-9)
            assert limb.at_m == pytest.approx(limbs[limb.label].at_m, rel=1e-9)
            assert limb.parent == -1 or back.limbs[limb.parent].label == (
                tree.limbs[limbs[limb.label].parent].label
            )


def test_a_word_of_derived_that_is_not_known_is_told(tmp_path):
    path = tmp_path / "s.csv"
    path.write_text(
        "\n".join([f"{HEAD},derived,rubs", GOOD[0] + ",diameter guess,", GOOD[1] + ",,9"])
    )
    found = read_segments(path, species="apple")
    assert [(f.row, f.column) for f in found.faults] == [(3, "rubs"), (2, "derived")]
    measured = found.skeletons[0].provenance.is_measured("diameter", 2)
    assert measured.tolist() == [False, True]


def test_a_workbook_of_limbs_and_segments_says_what_is_not_read(tmp_path):
    book = openpyxl.Workbook()
    book.active.title = "segments"
    for row in [HEAD, *GOOD]:
        book.active.append(row.split(","))
    book.create_sheet("limbs").append(["station", "limb"])
    path = tmp_path / "both.xlsx"
    book.save(path)
    opened = open_trees(path, species="apple")
    assert opened.trees[0].n == 3
    assert [f.severity for f in opened.faults if "sheet limbs not read" in f.fault] == ["warning"]


def _read(tmp_path, rows):
    path = tmp_path / "s.csv"
    path.write_text("\n".join([HEAD, *rows]))
    return read_segments(path, species="apple")


def test_forks_make_limbs_the_thickest_goes_on(tmp_path):
    (tree,) = _read(tmp_path, GOOD).skeletons
    label = {int(i): tree.limbs[k].label for i, k in zip(tree.segment_ids, tree.limb, strict=True)}
    assert label == {1: "stem", 2: "2", 3: "stem"}
    side = next(o for o in tree.limbs if o.label == "2")
    assert (side.at_m, side.bearing_deg, side.rise_deg) == pytest.approx((2.0, 90.0, 45.0))


@pytest.mark.parametrize(
    ("row", "column", "severity"),
    [
        ("T,2,1,0,0,2,1,0,3,100,80,1,", "segment", "error"),
        ("T,9,77,0,0,2,1,0,3,100,80,1,", "parent", "error"),
        ("T,9,9,0,0,2,1,0,3,100,80,1,", "parent", "error"),
        ("T,9,-1,0,0,0,1,0,3,100,80,1,", "parent", "error"),
        ("T,9,1,0,0,2,0,0,2,100,80,1,", "x1_m", "warning"),
        ("T,9,1,5,0,2,6,0,3,100,80,1,", "x0_m", "warning"),
        ("T,9,1,0,0,2,1,0,3,0,80,1,", "d0_mm", "error"),
        ("T,9,1,0,0,2,1,0,,100,80,1,", "z1_m", "error"),
        ("T,9,1,0,0,2,1,0,3,100,80,-4,", "leaf_area_m2", "error"),
    ],
)
def test_one_bad_row_is_named_and_the_tree_lives(tmp_path, row, column, severity):
    found = _read(tmp_path, [*GOOD, row])
    assert (5, column, severity) in {(f.row, f.column, f.severity) for f in found.faults}
    assert {1, 2, 3} <= set(found.skeletons[0].segment_ids.tolist())


def test_map_coordinates_are_moved_to_the_foot(tmp_path):
    far = [r.replace(",0,0,", ",400000,5200000,", 1) for r in GOOD[:1]]
    far = ["T,1,-1,400000,5200000,30,400000,5200000,32,300,250,0,"]
    found = _read(tmp_path, far)
    np.testing.assert_allclose(found.skeletons[0].end_m, [[0.0, 0.0, 2.0]])
    assert "map" in found.faults[0].fault


@pytest.mark.parametrize(
    ("rows", "column"),
    [
        (["T,1,-1,0,0,0,0,0,200,300,250,0,", "T,2,1,0,0,200,100,0,300,90,80,1,"], "d0_mm"),
        (["T,1,-1,0,0,0,0,0,2,10,9,0,", "T,2,1,0,0,2,1,0,3,9,8,1,"], "d0_mm"),
        (["T,1,-1,0,0,0,0,0,-2,300,250,0,", "T,2,1,0,0,-2,1,0,-3,90,80,1,"], "z1_m"),
    ],
)
def test_points_in_centimetres_and_trees_upside_down_are_told(tmp_path, rows, column):
    found = _read(tmp_path, rows)
    assert [(f.row, f.column, f.severity) for f in found.faults] == [(2, column, "warning")]
    assert found.skeletons[0].n == 2


def test_no_leaf_column_is_told(tmp_path):
    path = tmp_path / "s.csv"
    path.write_text(
        "tree,segment,parent,x0_m,y0_m,z0_m,x1_m,y1_m,z1_m,d0_mm,d1_mm\n"
        "T,0,-1,0,0,0,0,0,2,300,250\n"
    )
    found = read_segments(path, species="apple")
    assert [(f.column, f.severity) for f in found.faults] == [("leaf_area_m2", "warning")]
    assert not found.skeletons[0].provenance.is_measured("leaf_area", 1).any()


def test_a_measured_tree_comes_in_with_all_its_wood(tmp_path):
    source = DATA / "measured-branches" / "tree_reconstruction.csv"
    if not source.exists():
        pytest.skip("the measured trees are not here: set LIMBWRIGHT_DATA")
    with source.open(newline="", encoding="latin-1") as file:
        rows = [r for r in csv.DictReader(file) if r["species"] == "cherry"]
    placed = _placed(rows)
    path = tmp_path / "s.csv"
    with path.open("w", newline="") as file:
        csv.writer(file).writerows([HEAD.split(","), *placed])
    found = read_segments(path, species="tart-cherry")
    assert not [f for f in found.faults if f.severity == "error"]
    (tree,) = found.skeletons
    assert tree.n == len(placed) > 500
    taped = sum(float(r["length_cm"]) for r in rows if r["branch"] in {str(p[1]) for p in placed})
    assert tree.length_m.sum() * 100.0 == pytest.approx(taped)


def _placed(rows):
    """Lay each branch out straight; where no direction was taken it goes on like its parent."""
    by = {r["branch"]: r for r in rows}
    done = {}

    def place(name):
        if name in done:
            return done[name]
        row = by[name]
        up = None if row["parent"] == "0" else place(row["parent"])
        if row["bearing"] and row["declination"]:
            b, d = np.radians(float(row["bearing"])), np.radians(float(row["declination"]))
            way = np.array([np.sin(b) * np.cos(d), np.cos(b) * np.cos(d), np.sin(d)])
        else:
            way = np.array([0.0, 0.0, 1.0]) if up is None else up[2]
        start = np.zeros(3)
        if up is not None:
            reach = np.linalg.norm(up[1] - up[0])
            start = up[0] + up[2] * min(float(row["parent_dist"] or reach * 100) / 100.0, reach)
        done[name] = (start, start + way * float(row["length_cm"]) / 100.0, way)
        return done[name]

    placed = []
    kept = set()
    for name, row in by.items():
        length, wide = float(row["length_cm"] or 0), float(row["diameter_mm"] or 0)
        if length <= 0 or wide <= 0 or not (row["parent"] == "0" or row["parent"] in kept):
            continue
        kept.add(name)
        start, end, _ = place(name)
        up = -1 if row["parent"] == "0" else row["parent"]
        placed.append(["T", name, up, *start.tolist(), *end.tolist(), wide, wide, 0, ""])
    return placed

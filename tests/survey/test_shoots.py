"""The shoots of young trees, as a hand in the wet writes them."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.model import Faults, StationRecord, YoungTree
from limbwright.survey.shoots import SHOOT_COLUMNS, read_shoots, young_trees
from limbwright.survey.tables import read_table

HEAD = "station,shoot,parent,at_m,length_m,grown_cm,diameter_mm,bearing_deg,rise_deg,state"
GOOD = [
    "7,L,,,2.6,60,34,,88,live",
    "7,1,L,1.8,0.7,70,14,20,40,live",
    "7,2,L,2.0,0.5,50,11,140,45,live",
    "7,3,1,0.3,0.2,20,5,60,50,live",
]


def read(
    tmp_path: Path, lines: list[str], head: str = HEAD, places: tuple[StationRecord, ...] = ()
) -> tuple[tuple[YoungTree, ...], list[str]]:
    path = tmp_path / "shoots.csv"
    path.write_text("\n".join([head, *lines]) + "\n", "utf-8")
    faults = Faults()
    table = read_table(path, "shoots", SHOOT_COLUMNS)
    return young_trees(read_shoots(table, faults), places), [str(f) for f in faults]


def test_a_good_table_gives_each_tree_its_leader_first(tmp_path: Path) -> None:
    trees, faults = read(tmp_path, list(reversed(GOOD)))
    assert faults == []
    assert [s.shoot for s in trees[0].shoots] == ["L", "2", "1", "3"]
    leader = trees[0].shoots[0]
    assert (leader.length_m, leader.grown_cm, leader.diameter_mm) == (2.6, 60.0, 34.0)
    assert trees[0].station.tree == "7"


def test_a_tree_stands_at_its_station(tmp_path: Path) -> None:
    place = StationRecord(station="7", orchard="Home Piece", species="plum")
    lines = [f"Home Piece,{line}" for line in GOOD]
    trees, _ = read(tmp_path, lines, "orchard," + HEAD, (place,))
    assert trees[0].station is place


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("7,1,L,1.9,0.4,40,9,80,45,live", "row 6, shoot is '1': this shoot is already on row 3"),
        ("7,9,X,1.9,0.4,40,9,80,45,live", "row 6, parent is 'X': no such shoot"),
        ("7,9,9,1.9,0.4,40,9,80,45,live", "its chain of parents does not end at the leader"),
        ("7,9,,1.9,0.4,40,9,80,45,live", "blank as for a leader, but row 2 is the leader"),
        ("7,,L,1.9,0.4,40,9,80,45,live", "row 6, shoot: blank, but needed"),
    ],
)
def test_a_bad_row_is_left_out_and_the_tree_lives(tmp_path: Path, row: str, said: str) -> None:
    trees, faults = read(tmp_path, [*GOOD, row])
    assert [s.shoot for s in trees[0].shoots] == ["L", "1", "2", "3"]
    assert len(faults) == 1
    assert said in faults[0]


@pytest.mark.parametrize(
    ("row", "said", "left"),
    [
        ("7,9,L,1.9,40,40,9,80,45,live", "length_m is '40': outside 0.01 to 8 m", "length_m"),
        ("7,9,L,1.9,0.4,4000,9,80,45,live", "grown_cm is '4000': outside", "grown_cm"),
        ("7,9,L,1.9,0.4,40,thick,80,45,live", "diameter_mm is 'thick': not a number", None),
        ("7,9,L,1.9,0.4,90,9,80,45,live", "more than the whole shoot (40 cm)", None),
        ("7,9,L,3.9,0.4,40,9,80,45,live", "beyond the end of L (2.6 m)", None),
    ],
)
def test_a_bad_value_is_told_and_the_shoot_kept(
    tmp_path: Path, row: str, said: str, left: str | None
) -> None:
    trees, faults = read(tmp_path, [*GOOD, row])
    (shoot,) = [s for s in trees[0].shoots if s.shoot == "9"]
    assert any(said in f for f in faults)
    if left:
        assert getattr(shoot, left) is None


def test_a_leader_nobody_measured_is_put_in_and_told(tmp_path: Path) -> None:
    trees, faults = read(tmp_path, GOOD[1:])
    assert [s.shoot for s in trees[0].shoots] == ["L", "1", "2", "3"]
    assert trees[0].shoots[0].length_m is None
    assert len(faults) == 1
    assert "no row for its leader" in faults[0]


def test_unknown_columns_are_kept(tmp_path: Path) -> None:
    trees, _ = read(tmp_path, [GOOD[0] + ",soft"], HEAD + ",tie")
    assert dict(trees[0].shoots[0].extra) == {"tie": "soft"}


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.sampled_from("LABC"), st.sampled_from(["", *"LABCX"])), max_size=8))
def test_whatever_hangs_on_what_the_leader_comes_first(
    tmp_path_factory: pytest.TempPathFactory, pairs: list[tuple[str, str]]
) -> None:
    lines = [f"7,{shoot},{parent},,,,,,,live" for shoot, parent in pairs]
    trees, faults = read(tmp_path_factory.mktemp("s"), lines)
    for tree in trees:
        names = [s.shoot for s in tree.shoots]
        assert len(set(names)) == len(names)
        assert tree.shoots[0].parent == ""
        assert all(s.parent in names[:k] for k, s in enumerate(tree.shoots) if k)
    told = sum("already on row" in f for f in faults)
    told += sum("left out with what it bears" in f for f in faults)
    made = sum("no row for its leader" in f for f in faults)
    assert len(pairs) == sum(len(t.shoots) for t in trees) + told - made

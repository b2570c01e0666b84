"""Every fault at once, each with its row and remedy; the good rows live."""

from pathlib import Path

import pytest

from limbwright.errors import InputError
from limbwright.survey import read_survey, write_limbs, write_stations

ROOT = Path(__file__).parents[2]
HEAD = "station,limb,parent,at_m,diameter_mm,length_m,bearing_deg,rise_deg,state,rubs"
STEM = "1,stem,,,300,2,0,90,,"


def _read(tmp_path, rows, stations=None, species="apple"):
    path = tmp_path / "limbs.csv"
    path.write_text("\n".join([HEAD, *rows]))
    place = None
    if stations is not None:
        place = tmp_path / "stations.csv"
        place.write_text(stations)
    return read_survey(path, place, species=species)


@pytest.mark.parametrize(
    ("row", "column", "severity"),
    [
        ("1,9,none,1,90,2,0,40,,", "parent", "error"),
        ("1,9,9,1,90,2,0,40,,", "parent", "error"),
        ("1,9,stem,1,320,2,0,40,,", "diameter_mm", "warning"),
        ("1,9,stem,1,600,2,0,40,,", "diameter_mm", "error"),
        ("1,9,stem,2.05,90,2,0,40,,", "at_m", "warning"),
        ("1,9,stem,4,90,2,0,40,,", "at_m", "error"),
        ("1,9,stem,1,90,2,-10,40,,", "bearing_deg", "error"),
        ("1,9,stem,1,90,2,0,95,,", "rise_deg", "error"),
        ("1,9,stem,1,90,250,0,40,,", "length_m", "error"),
        ("1,9,stem,1,,2,0,40,,", "diameter_mm", "error"),
        ("1,9,stem,1,nan,2,0,40,,", "diameter_mm", "error"),
        ("1,9,stem,1,90,2,0,40,poorly,", "state", "error"),
        ("1,9,stem,1,90,2,0,40,,77", "rubs", "error"),
        ("1,2,stem,1,90,2,0,40,,", "limb", "error"),
        ("1,9,stem,1,90,2,,40,,", "bearing_deg", "warning"),
        (",9,stem,1,90,2,0,40,,", "station", "error"),
    ],
)
def test_one_bad_row_is_named_and_the_tree_lives(tmp_path, row, column, severity):
    survey = _read(tmp_path, [STEM, "1,2,stem,1.5,90,2,0,40,,", row])
    assert (column, severity, 4) in {(f.column, f.severity, f.row) for f in survey.faults}
    assert all(f.remedy for f in survey.faults)
    (tree,) = survey.trees
    assert {"stem", "2"} <= {o.limb for o in tree.limbs}


def test_negative_bearings_and_centimetres_get_the_likely_value(tmp_path):
    survey = _read(tmp_path, [STEM, "1,2,stem,1,90,250,-10,40,,"])
    remedy = {f.column: f.remedy for f in survey.faults}
    assert "350" in remedy["bearing_deg"]
    assert "2.5" in remedy["length_m"]


def test_a_limb_left_out_takes_its_own_with_it_each_said(tmp_path):
    rows = [STEM, "1,2,stem,9,90,2,0,40,,", "1,3,2,1,50,1,0,40,,", "1,4,3,.5,20,1,0,40,,"]
    survey = _read(tmp_path, rows)
    assert [f.row for f in survey.faults if f.severity == "error"] == [3, 4, 5]
    assert [o.limb for o in survey.trees[0].limbs] == ["stem"]


def test_a_circle_of_parents_is_told(tmp_path):
    survey = _read(tmp_path, [STEM, "1,2,3,1,90,2,0,40,,", "1,3,2,1,50,1,0,40,,"])
    assert [f.row for f in survey.faults if "circle" in f.fault] == [3, 4]


def test_a_missing_stem_is_derived_from_girth_else_from_sections(tmp_path):
    rows = ["1,2,stem,1.5,90,2,0,40,,", "1,3,stem,1.9,120,2,0,40,,"]
    (tree,) = _read(tmp_path, rows).trees
    assert tree.limbs[0].limb == "stem"
    assert tree.limbs[0].diameter_mm == pytest.approx(150.0)  # 90, 120, 150: pipe model
    assert tree.limbs[0].length_m == 1.9
    survey = _read(tmp_path, rows, "station,girth_cm,clear_stem_m\n1,100,2.1\n")
    assert survey.trees[0].limbs[0].diameter_mm == pytest.approx(318.31, abs=0.01)
    assert survey.trees[0].limbs[0].length_m == 2.1
    assert [f.severity for f in survey.faults] == ["warning"]


@pytest.mark.parametrize(
    ("diameter", "length", "rise", "said"),
    [
        (8, 3.5, 90, "centimetres"),
        (80, 350, 90, "cm"),
        (80, 11.5, 90, "feet"),
        (280, 2.2, 90, "girths"),
        (80, 3.5, 2, "vertical"),
    ],
)
def test_units_that_look_slipped(tmp_path, diameter, length, rise, said):
    rows = [f"1,stem,,,300,2,0,{rise},,"]
    rows += [f"1,{k},stem,1,{diameter},{length},0,40,," for k in range(8)]
    path = tmp_path / "limbs.csv"
    path.write_text("\n".join([HEAD, *rows]))
    survey = read_survey(path, species="apple")
    assert any(said in f.fault and f.row == 0 for f in survey.faults)


def test_stations_are_checked_too(tmp_path):
    stations = (
        "station,species,status,condition,girth_cm,height_m,shade\n"
        "1,apple,alive,fair,120,6,oak\n1,apple,,,,,\n2,banana,gap,,,,\n3,apple,,,700,2,\n"
    )
    survey = _read(tmp_path, [STEM], stations)
    told = {(f.row, f.column) for f in survey.faults}
    assert {(2, "status"), (3, "station"), (4, "species"), (5, "girth_cm")} <= told
    assert [s.station for s in survey.stations] == ["1", "2", "3"]
    assert survey.stations[0].extra == {"shade": "oak"}


def test_an_unknown_species_to_fall_back_on_is_refused(tmp_path):
    with pytest.raises(InputError, match="banana"):
        _read(tmp_path, [STEM], species="banana")


def test_the_example_reads_clean_and_round_trips(tmp_path):
    examples = ROOT / "examples"
    survey = read_survey(examples / "limbs.csv", examples / "stations.csv")
    assert survey.faults == ()
    assert len(survey.trees) == 3
    write_limbs(survey.trees, tmp_path / "l.csv")
    write_stations(survey.stations, tmp_path / "s.csv")
    again = read_survey(tmp_path / "l.csv", tmp_path / "s.csv")
    assert again.faults == ()

    def plain(trees):
        keys = [k for k in trees[0].limbs[0].__slots__ if k not in {"file", "row"}]
        return [[[getattr(o, k) for k in keys] for o in t.limbs] for t in trees]

    assert plain(again.trees) == plain(survey.trees)

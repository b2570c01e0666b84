"""Every fault at once, each with its row and remedy; the good rows live."""

import json
from pathlib import Path

import openpyxl
import pytest

from limbwright.cli import main
from limbwright.errors import InputError
from limbwright.job import open_trees
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


def test_a_parent_in_other_capitals_gets_the_name_meant(tmp_path):
    survey = _read(tmp_path, [STEM, "1,2,stem,1,90,2,0,40,,", "1,3,Stem ,1,50,1,0,40,,"])
    (fault,) = survey.faults
    assert (fault.row, fault.column) == (4, "parent")
    assert "Is it stem?" in fault.remedy


def test_of_several_limbs_rubbed_the_unknown_alone_is_left_out(tmp_path):
    rows = [STEM, "1,2,stem,1,90,2,0,40,,3; 9", "1,3,stem,1,80,2,0,40,,2;stem"]
    survey = _read(tmp_path, rows)
    assert [(f.row, f.column, "9" in f.fault) for f in survey.faults] == [(3, "rubs", True)]
    assert [o.rubs for o in survey.trees[0].limbs] == ["", "3", "2;stem"]


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
        (80, 350, 90, "lengths in centimetres"),
        (25, 3.5, 90, "girths in centimetres"),
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
    assert [f for f in survey.faults if said in str(f) and f.severity == "warning"]


@pytest.mark.parametrize(
    ("bearings", "told"),
    [
        (range(12), True),  # hours of a clock
        ([0.5 * k for k in range(13)], True),  # radians
        ([30 * k for k in range(12)], False),
        ([5] * 11, False),  # too few to tell
    ],
)
def test_bearings_that_are_no_degrees(tmp_path, bearings, told):
    rows = [f"1,{k},stem,1,80,3.5,{b},40,," for k, b in enumerate(bearings)]
    survey = _read(tmp_path, [STEM.replace("2,0,90", "2,,90"), *rows])
    assert any("hours of a clock" in f.fault for f in survey.faults) == told


def test_angles_from_the_vertical_in_a_survey_of_several_trees_are_said_once(tmp_path):
    rows = [STEM.replace("1,", f"{k},", 1).replace("0,90", f"0,{k}") for k in range(3)]
    survey = _read(tmp_path, rows)
    assert [(f.row, f.column) for f in survey.faults] == [(0, "rise_deg")]
    assert "from the vertical" in survey.faults[0].fault


@pytest.mark.parametrize(
    ("length", "at", "told"),
    [(6.5, "", True), (6.5, 6.4, True), (6.5, 2.5, False), (5.9, "", False)],
)
def test_a_stem_far_longer_than_the_others_is_told_unless_it_is_a_leader(
    tmp_path, length, at, told
):
    rows = []
    for k in range(1, 8):
        tall = length if k == 4 else 2
        rows += [f"{k},stem,,,300,{tall},0,90,,", f"{k},1,stem,{at if k == 4 else 1.9},90,3,0,40,,"]
    survey = _read(tmp_path, rows)
    assert [(f.row, f.column) for f in survey.faults if "times as long" in f.fault] == (
        [(8, "length_m")] if told else []
    )


@pytest.mark.parametrize(
    ("status", "said"), [("gap", "a gap"), ("stump", "a stump"), ("dead", "not all its limbs are")]
)
def test_limbs_where_no_tree_should_stand_are_told_once_and_kept(tmp_path, status, said):
    stations = f"station,status\n1,{status}\n"
    survey = _read(tmp_path, [STEM, "1,2,stem,1,90,2,0,40,,"], stations)
    (fault,) = survey.faults
    assert (fault.row, fault.column, fault.severity) == (2, "station", "warning")
    assert said in fault.fault
    assert "row 2 of stations.csv" in fault.remedy
    assert len(survey.trees[0].limbs) == 2


def test_limbs_of_a_station_the_table_lacks_are_told_once_and_kept(tmp_path):
    survey = _read(tmp_path, [STEM, "1,2,stem,1,90,2,0,40,,"], "station,status\n2,living\n")
    assert [(f.row, f.column, f.severity) for f in survey.faults] == [(2, "station", "warning")]
    assert "not in the stations table" in survey.faults[0].fault
    assert len(survey.trees[0].limbs) == 2


def test_a_dead_tree_of_dead_limbs_is_in_order(tmp_path):
    rows = [STEM.replace("90,,", "90,dead,"), "1,2,stem,1,90,2,0,40,dead,"]
    assert _read(tmp_path, rows, "station,status\n1,dead\n").faults == ()


def _station(tmp_path, **cells):
    text = ",".join(cells) + "\n" + ",".join(map(str, cells.values())) + "\n"
    limbs = [f"1,{k},stem,1.9,{100 - k},{4 - k / 10},0,50,," for k in range(4)]
    survey = _read(tmp_path, [STEM, *limbs], text)
    return [f"{f.column}: {f}" for f in survey.faults]


def test_a_station_in_its_units_is_in_order(tmp_path):
    assert _station(tmp_path, station=1, girth_cm=94, height_m=5, spread_m=6) == []


@pytest.mark.parametrize(
    ("cells", "column", "said"),
    [
        ({"girth_cm": 940}, "girth_cm", "would 94 be right, if taken in mm"),
        ({"girth_cm": 30}, "diameter_mm", "the girth is a diameter in cm, give 94"),
        ({"girth_cm": 37}, "diameter_mm", "the girth is in inches, give 94"),
        ({"girth_cm": 0.94}, "girth_cm", "would 94 be right, if taken in m"),
        ({"girth_cm": 94, "height_m": 16.4}, "length_m", "no limb reaches beyond"),
        ({"girth_cm": 94, "height_m": 2.4, "spread_m": 3}, "length_m", "has no room"),
        ({"girth_cm": 400, "height_m": 5}, "girth_cm", "hardly the girth"),
        ({"girth_cm": 94, "height_m": 500}, "height_m", "would 5 be right, if taken in cm"),
    ],
)
def test_a_slip_of_one_station_gets_the_likely_value(tmp_path, cells, column, said):
    told = _station(tmp_path, station=1, **cells)
    assert [t for t in told if t.startswith(f"{column}:") and said in t], told


@pytest.mark.parametrize(
    ("row", "said"),
    [("1,9,stem,5.9,90,2,0,40,,", "1.8 be right"), ("1,9,stem,180,90,2,0,40,,", "1.8 be right")],
)
def test_a_place_on_the_parent_in_feet_or_centimetres_gets_the_likely_value(tmp_path, row, said):
    survey = _read(tmp_path, [STEM, row])
    assert [f for f in survey.faults if f.column == "at_m" and said in f.remedy]


@pytest.mark.parametrize("header", ["bearing", "Bearing (deg)", "bearng_deg", "azimuth"])
def test_a_column_that_seems_misspelt_is_told_and_kept(tmp_path, header):
    path = tmp_path / "limbs.csv"
    path.write_text(f"station,limb,diameter_mm,length_m,rise_deg,{header}\n1,stem,300,2,90,7\n")
    survey = read_survey(path, species="apple")
    (fault,) = [f for f in survey.faults if "bearing_deg" in f.remedy]
    assert (fault.row, fault.severity) == (0, "warning")
    assert "7" in survey.trees[0].limbs[0].extra.values()


def test_a_missing_column_is_told_once_with_the_one_that_may_be_it(tmp_path):
    path = tmp_path / "limbs.csv"
    path.write_text("station,limb,Diameter (mm),length_m\n1,stem,300,2\n1,2,90,2\n")
    survey = read_survey(path, species="apple")
    assert [f.row for f in survey.faults if f.column == "diameter_mm"] == [0]
    assert "diameter_(mm)" in next(f.remedy for f in survey.faults if f.column == "diameter_mm")


def test_a_workbook_given_once_is_read_for_its_stations_too(tmp_path):
    book = openpyxl.Workbook()
    book.active.title = "Stations"
    for row in [["station", "species", "girth_cm", "aspect"], [1, "pear", 95, "steep"]]:
        book.active.append(row)
    sheet = book.create_sheet("Limbs")
    for row in [
        ["station", "limb", "parent", "diameter_mm", "length_m"],
        [1, "stem", None, 300, 2],
    ]:
        sheet.append(row)
    path = tmp_path / "survey.xlsx"
    book.save(path)
    survey = read_survey(path)
    (tree,) = survey.trees
    assert (tree.station.species, tree.station.girth_cm) == ("pear", 95.0)
    assert survey.stations[0].extra == {"aspect": "steep"}
    assert len(open_trees(path).trees) == 1
    # An empty sheet beside the limbs does not sink them.
    book["Stations"].delete_rows(1, 2)
    book.save(path)
    survey = read_survey(path, species="pear")
    assert len(survey.trees) == 1
    assert [f.severity for f in survey.faults if "sheet stations" in f.fault] == ["warning"]


def test_a_warning_said_of_many_rows_is_printed_once_with_the_rows(tmp_path, capsys):
    path = tmp_path / "limbs.csv"
    rows = [f"1;{k};stem;1,5;90;2;0;40;;" for k in range(20)]
    path.write_text("\n".join([HEAD.replace(",", ";"), STEM.replace(",", ";"), *rows]))
    assert main(["check", str(path), "--species", "apple"]) == 0
    out, told = capsys.readouterr()
    (line,) = [one for one in told.splitlines() if "decimal comma" in one]
    assert "row 3, at_m is '1,5'" in line
    assert "The same on 19 more rows: 4, 5, 6," in line
    assert "0 faults, 20 warnings" in out
    assert main(["check", str(path), "--species", "apple", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["faults"]) == 20


def test_check_lists_every_fault_even_where_no_tree_is_left(tmp_path, capsys):
    path = tmp_path / "limbs.csv"
    path.write_text(f"{HEAD}\n1,stem,,,thick,2,0,90,,\n1,2,stem,1,90,long,400,40,,\n")
    assert main(["check", str(path), "--species", "apple", "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert told["trees"] == 0
    assert [(f["row"], f["column"]) for f in told["faults"] if f["row"]] == [
        (2, "diameter_mm"),
        (3, "length_m"),
        (3, "bearing_deg"),
    ]


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


def test_percentages_that_look_like_fractions_are_told(tmp_path):
    survey = _read(tmp_path, [STEM], "station,dead_pct\n1,0.1\n2,0.25\n3,0\n")
    assert [(f.row, f.column, f.severity) for f in survey.faults] == [(0, "dead_pct", "warning")]
    assert _read(tmp_path, [STEM], "station,dead_pct\n1,0.5\n2,25\n").faults == ()


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


@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_nothing_of_a_survey_is_lost_between_reading_and_writing(tmp_path, suffix):
    limbs = tmp_path / "in.csv"
    limbs.write_text(
        "station,limb,parent,diameter_mm,length_m,bearing_deg,rise_deg,note,bark,Moss %\n"
        "Long Piece/007,stem,,300,2,0,90,'=1+1,rough,0\n"
        "Long Piece/007,1,stem,90.1,2.2,0,40,-- see 2,-3.50,1,over,more\n"
    )
    stations = tmp_path / "places.csv"
    stations.write_text("orchard,station,species,soil\nLong Piece,007,apple,@clay\n")
    survey = read_survey(limbs, stations)
    write_limbs(survey.trees, tmp_path / f"l{suffix}")
    write_stations(survey.stations, tmp_path / f"s{suffix}")
    again = read_survey(tmp_path / f"l{suffix}", tmp_path / f"s{suffix}")
    assert [f for f in again.faults if f.severity == "error"] == []
    assert again.stations[0].extra == {"soil": "@clay"}
    (tree,) = again.trees
    assert (tree.station.orchard, tree.station.station) == ("Long Piece", "007")
    assert [o.note for o in tree.limbs] == ["=1+1", "-- see 2"]
    assert [o.diameter_mm for o in tree.limbs] == [300.0, 90.1]
    assert [dict(o.extra) for o in tree.limbs] == [
        {"bark": "rough", "moss_%": "0"},
        {"bark": "-3.50", "moss_%": "1", "column_11": "over", "column_12": "more"},
    ]

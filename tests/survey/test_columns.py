"""A table from elsewhere reads as if it were ours."""

import csv
import math
import os
from pathlib import Path

import pytest

from limbwright.errors import InputError
from limbwright.job import open_trees
from limbwright.survey import read_survey, write_limbs
from limbwright.survey.columns import read_columns

ROOT = Path(__file__).parents[2]
DATA = Path(os.environ.get("LIMBWRIGHT_DATA", ROOT.parent / "shared" / "data"))


def _files(tmp_path, table, mapping):
    (tmp_path / "t.csv").write_text(table)
    (tmp_path / "m.toml").write_text(mapping)
    return tmp_path / "t.csv", tmp_path / "m.toml"


def test_units_senses_offsets_words_and_names(tmp_path):
    table = """Plot,Row No,Branch,Dia in,Len ft,Compass,Lean,Grade,Health,Colour
A,7,0,10,6,,0,,ok,red
A,7,1,5,12.5,355,30,100,gone,
"""
    mapping = """
[station]
join = ["Plot", "Row No"]
separator = "/"
[stem]
column = "Branch"
value = 0
[columns]
limb = "Branch"
diameter_mm = { column = "Dia in", unit = "in" }
length_m = { column = "Len ft", unit = "ft" }
bearing_deg = { column = "Compass", offset = 10 }
rise_deg = { column = "Lean", sense = "angle from vertical" }
end_rise_deg = { column = "Grade", unit = "percent grade" }
state = { column = "Health", words = { ok = "live", gone = "dead" } }
species = { constant = "pear" }
"""
    path, columns = _files(tmp_path, table, mapping)
    survey = read_survey(path, columns=columns)
    assert survey.faults == ()
    (tree,) = survey.trees
    stem, limb = tree.limbs
    assert (tree.station.station, tree.station.species) == ("A/7", "pear")
    assert (stem.parent, limb.parent) == ("", "0")
    assert (stem.diameter_mm, limb.length_m) == (254.0, pytest.approx(3.81))
    assert limb.bearing_deg == pytest.approx(5.0)
    assert (stem.rise_deg, limb.rise_deg) == (90.0, 60.0)
    assert limb.end_rise_deg == pytest.approx(math.degrees(math.atan(1.0)))
    assert limb.state == "dead"
    assert stem.extra == {"colour": "red"}


def test_stations_and_segments_have_their_own_sections(tmp_path):
    limbs, columns = _files(
        tmp_path,
        "Tree,limb,parent,diameter_mm,length_m\n1,stem,,300,2\n",
        """
[columns]
station = "Tree"
[stations.station]
join = ["Row", "Place"]
separator = ""
[stations.columns]
species = { constant = "pear" }
girth_cm = { column = "DBH in", unit = "in", sense = "diameter" }
dead_pct = { column = "dead", unit = "fraction" }
height_m = { column = "Height", unit = "ft" }
[segments.tree]
join = ["Row", "Place"]
separator = "/"
[segments.columns]
segment = "id"
parent = { column = "on", words = { root = -1 } }
x0_m = { column = "x", unit = "cm" }
y0_m = { column = "y", unit = "cm" }
z0_m = { column = "z", unit = "cm", offset = -10 }
x1_m = { column = "x2", unit = "cm" }
y1_m = { column = "y2", unit = "cm" }
z1_m = { column = "z2", unit = "cm", offset = -10 }
d0_mm = { column = "g", unit = "cm" }
d1_mm = { column = "g", unit = "cm" }
leaf_area_m2 = { column = "leaf", unit = "cm2" }
""",
    )
    places = tmp_path / "places.csv"
    places.write_text("Row,Place,DBH in,dead,Height,Owner\n,1,5,.2,20,me\nB,2,10,.2,20,me\n")
    survey = read_survey(limbs, places, columns=columns)
    assert [(f.row, f.column) for f in survey.faults if f.severity == "error"] == [
        (2, "rowplace"),
        (2, "species"),
    ]
    (place,) = survey.stations
    assert (place.station, place.species, place.extra) == ("B2", "pear", {"owner": "me"})
    assert place.girth_cm == pytest.approx(10 * 2.54 * math.pi)
    assert (place.dead_pct, place.height_m) == (pytest.approx(20.0), pytest.approx(6.096))
    pieces = tmp_path / "pieces.csv"
    pieces.write_text(
        "Row,Place,id,on,x,y,z,x2,y2,z2,g,leaf,hue\n"
        "B,2,5,root,0,0,1000,0,0,1200,30,0,red\nB,2,6,5,0,0,1200,50,0,1300,10,10000,\n"
    )
    opened = open_trees(pieces, columns=columns, species="pear")
    assert opened.faults == ()
    (tree,) = opened.trees
    assert tree.tree == "B/2"
    assert tree.end_m.tolist() == [[0.0, 0.0, 2.0], [0.5, 0.0, 3.0]]
    assert tree.start_diameter_mm.tolist() == [300.0, 100.0]
    assert tree.leaf_area_m2.tolist() == [0.0, 1.0]
    assert opened.extra == {"B/2": {5: {"hue": "red"}}}


def test_where_a_diameter_was_taken_can_be_mapped_and_written_again(tmp_path):
    path, columns = _files(
        tmp_path,
        "station,limb,diameter_mm,length_m,half way\n1,stem,300,2,40\n",
        '[columns]\ntaken_at_m = { column = "half way", unit = "cm" }\n',
    )
    survey = read_survey(path, columns=columns, species="apple")
    assert survey.trees[0].limbs[0].extra == {"taken_at_m": "0.4"}
    write_limbs(survey.trees, tmp_path / "again.csv")
    again = read_survey(tmp_path / "again.csv", species="apple")
    assert again.trees[0].limbs[0].extra == {"taken_at_m": "0.4"}


def test_what_a_mapping_does_not_take_is_kept(tmp_path):
    path, columns = _files(
        tmp_path,
        "station,limb,diameter_mm,length_m,len2,note,remarks\n1,stem,300,2,9,mine,theirs\n",
        '[columns]\nlength_m = { column = ["length_m", "len2"] }\nnote = "remarks"\n',
    )
    (limb,) = read_survey(path, columns=columns, species="apple").trees[0].limbs
    assert (limb.length_m, limb.note) == (2.0, "theirs")
    assert limb.extra == {"len2": "9", "note_as_given": "mine"}


def test_the_example_from_elsewhere_reads_clean():
    where = ROOT / "examples"
    survey = read_survey(
        where / "elsewhere-limbs.csv",
        where / "elsewhere-stations.csv",
        columns=where / "elsewhere.toml",
    )
    assert [str(f) for f in survey.faults if f.severity == "error"] == []
    (tree,) = survey.trees
    stem, first, _, last = tree.limbs
    assert (tree.station.station, tree.station.species) == ("Low-4", "apple")
    assert tree.station.girth_cm == pytest.approx(15 * 2.54 * math.pi)
    assert stem.diameter_mm == pytest.approx(1200 / math.pi)
    assert (stem.rise_deg, first.bearing_deg, last.bearing_deg) == (88.0, 35.0, 359.0)
    assert (first.parent, last.state, last.extra) == ("trunk", "dead", {"colour_of_bark": "grey"})
    assert tree.station.extra == {"owner": "invented owner"}


@pytest.mark.parametrize(
    ("mapping", "said"),
    [
        ('[stations.columns]\ngirth = "x"\n', "stations.columns.girth is not a column of stations"),
        ('[segments.columns]\nx0_m = { column = "x", unit = "kg" }\n', "kg is one of mass"),
        ('[columns]\nlength_m = { column = "x", sense = "girth" }\n', "sense girth"),
        ('[columns]\nlength_m = { column = "x", offset = inf }\n', "offset"),
        ("[stations.trunk]\ncolumn = 1\n", "stations.trunk"),
    ],
)
def test_a_section_that_is_wrong_is_named(tmp_path, mapping, said):
    path = tmp_path / "m.toml"
    path.write_text(mapping)
    with pytest.raises(InputError, match=said):
        read_columns(path)


def test_a_fault_names_the_column_and_value_of_the_file_itself(tmp_path):
    path, columns = _files(
        tmp_path,
        "station,limb,dia,length_m\n1,stem,thick,2\n1,2,30,2\n",
        '[columns]\ndiameter_mm = { column = "dia", unit = "cm" }',
    )
    fault = read_survey(path, columns=columns, species="apple").faults[0]
    assert (fault.row, fault.column, fault.value) == (2, "dia", "thick")


def test_all_faults_of_a_mapping_at_once(tmp_path):
    path = tmp_path / "m.toml"
    path.write_text('colour = 1\n[columns]\nlength_m = { column = "x", unit = "yard" }\n')
    with pytest.raises(InputError) as told:
        read_columns(path)
    assert "colour" in str(told.value)
    assert "columns.length_m" in str(told.value)
    path.write_text('[columns]\nlenght = "x"\nrise_deg = { column = "x", unit = "ft" }\n')
    with pytest.raises(InputError, match=r"lenght.*rise_deg"):
        read_columns(path)


@pytest.mark.parametrize(
    ("mapping", "said"),
    [
        ("limb = 3", "columns.limb is neither the name of a column nor settings in braces"),
        ("limb = { column = 3 }", "columns.limb.column is not the name of a column or several"),
        ('at_m = { column = "x", unit = "yd" }', "columns.at_m.unit is 'yd', none of 'mm', 'cm'"),
        ('at_m = { colum = "x" }', "columns.at_m.colum is not a setting known here"),
    ],
)
def test_what_is_wrong_with_a_mapping_is_said_once_in_plain_words(tmp_path, mapping, said):
    path = tmp_path / "m.toml"
    path.write_text(f"[columns]\n{mapping}\n")
    with pytest.raises(InputError) as told:
        read_columns(path)
    message = str(told.value)
    assert said in message
    assert message.count("columns.") == 1
    assert "Column " not in message.replace("Column mapping", "")
    assert "dictionary" not in message


def test_columns_the_table_lacks_are_all_named(tmp_path):
    path, columns = _files(tmp_path, "a,b\n1,2\n", '[columns]\nlimb = "c"\nstate = "d"\n')
    with pytest.raises(InputError, match="c, d"):
        read_survey(path, columns=columns)


@pytest.fixture(scope="module")
def scaffolds():
    path = DATA / "limb-surveys" / "scaffolds.csv"
    if not path.exists():
        pytest.skip("the survey of scaffolds is not here: set LIMBWRIGHT_DATA")
    with path.open(newline="") as file:
        rows = list(csv.DictReader(file))
    return rows, read_survey(path, columns=ROOT / "examples" / "scaffolds.toml")


def test_the_real_survey_of_scaffolds(scaffolds):
    rows, survey = scaffolds
    named = {(r["grower"], r["block"], r["id"], r["tree"]) for r in rows}
    assert len(survey.trees) == len(named)
    assert all(len(t.limbs) >= 2 and not t.limbs[0].parent for t in survey.trees)
    # Every row is a limb or has its own error.
    refused = [f for f in survey.faults if f.severity == "error"]
    assert sum(len(t.limbs) for t in survey.trees) + len({f.row for f in refused}) == len(rows)
    limbs = {(o.row): o for t in survey.trees for o in t.limbs}
    for number, row in enumerate(rows, start=2):
        if number in limbs:
            assert limbs[number].length_m * 100.0 == pytest.approx(float(row["length"]))
            assert limbs[number].diameter_mm == float(row["diameter"])


def test_a_real_survey_gives_no_false_alarm(scaffolds):
    rows, survey = scaffolds
    told = {(f.row, f.column) for f in survey.faults}
    # By the table itself: limbs thicker than their trunk, and lengths left blank.
    trunk = {(r["grower"], r["block"], r["tree"]): r for r in rows if r["scaffold"] == "0"}
    true = set()
    for number, row in enumerate(rows, start=2):
        stem = trunk[row["grower"], row["block"], row["tree"]]
        if float(row["diameter"]) > float(stem["diameter"]):
            true.add((number, "diameter"))
        if not row["length"]:
            true.add((number, "length"))
        # Two trunks are said to bear their first limb above 4 m, the 118 others below 1.4 m.
        if row["scaffold"] == "0" and float(row["length"]) > 140.0:
            true.add((number, "length"))
    assert told == true
    assert len(survey.faults) == len(true)


def test_the_real_survey_holds_a_trunk_for_each_of_its_trees(scaffolds):
    # Its description says 114 trees, without a rule; the table has 24 blocks of five, each tree
    # with one trunk, and each is read. (114 is how many trunks differ within their block: six
    # pairs in a block share one diameter, as happens among five trees.)
    rows, survey = scaffolds
    trunks = [r for r in rows if r["scaffold"] == "0"]
    assert len(survey.trees) == len(trunks) == 24 * 5
    assert len({(r["grower"], r["block"], r["diameter"]) for r in trunks}) == 114


@pytest.mark.parametrize(
    ("column", "times", "said"),
    [
        ("diameter", 0.1, "diameters in centimetres"),
        ("diameter", math.pi, "girths in millimetres"),
        ("diameter", math.pi / 10.0, "girths in centimetres"),
        ("diameter", 1.0 / 25.4, "diameters in inches"),
        ("length", 1.0 / 0.3048, "lengths in feet"),
        ("length", 1.0 / 0.0254, "lengths in inches"),
        ("length", 100.0, "lengths in centimetres"),
    ],
)
def test_a_unit_that_slips_in_a_real_survey_is_named(scaffolds, tmp_path, column, times, said):
    rows, _ = scaffolds
    slipped = [{**r, column: f"{float(r[column]) * times:.4g}" if r[column] else ""} for r in rows]
    path = tmp_path / "slipped.csv"
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(slipped)
    survey = read_survey(path, columns=ROOT / "examples" / "scaffolds.toml")
    assert [f.fault for f in survey.faults if f.row == 0 and said in f.fault]

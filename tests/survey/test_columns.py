"""A table from elsewhere reads as if it were ours."""

import csv
import math
import os
from pathlib import Path

import pytest

from limbwright.errors import InputError
from limbwright.survey import read_survey
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


def test_columns_the_table_lacks_are_all_named(tmp_path):
    path, columns = _files(tmp_path, "a,b\n1,2\n", '[columns]\nlimb = "c"\nstate = "d"\n')
    with pytest.raises(InputError, match="c, d"):
        read_survey(path, columns=columns)


def test_the_real_survey_of_scaffolds():
    path = DATA / "limb-surveys" / "scaffolds.csv"
    if not path.exists():
        pytest.skip("the survey of scaffolds is not here: set LIMBWRIGHT_DATA")
    survey = read_survey(path, columns=ROOT / "examples" / "scaffolds.toml")
    with path.open(newline="") as file:
        rows = list(csv.DictReader(file))
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

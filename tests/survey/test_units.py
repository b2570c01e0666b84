"""Numbers as people write them."""

import pytest

from limbwright.survey import read_survey
from limbwright.survey.units import read_number


@pytest.mark.parametrize(
    ("text", "column", "value", "said"),
    [
        ("45", "diameter_mm", 45.0, ""),
        ("\N{MINUS SIGN}3.5", "rise_deg", -3.5, ""),
        ("4,5", "length_m", 4.5, "comma"),
        ("4,500", "length_m", 4.5, "comma"),
        ("45 mm", "diameter_mm", 45.0, "its unit"),
        ("4.5cm", "diameter_mm", 45.0, "in cm"),
        ("12'", "length_m", 3.6576, "in ft"),
        ('2"', "diameter_mm", 50.8, "in in"),
        ("30 °", "rise_deg", 30.0, "its unit"),
        ("30%", "dead_pct", 30.0, "its unit"),
        ("NNE", "bearing_deg", 22.5, "compass"),
        ("nw", "lean_bearing_deg", 315.0, "compass"),
        ("n/a", "at_m", None, "not taken"),
        ("NNE", "rise_deg", None, "not a number"),
        ("45%", "rise_deg", None, "not a number"),
        ("3 kg", "length_m", None, "not a number"),
        ("110-130", "diameter_mm", None, "not a number"),
        ("01-Aug", "at_m", None, "date"),
        ("2026-08-01", "at_m", None, "date"),
        ("1.8.2026", "at_m", None, "date"),
        ("#DIV/0!", "at_m", None, "formula"),
        ("1e999", "at_m", None, "not a number"),
    ],
)
def test_what_a_cell_says_as_a_number(text, column, value, said):
    found = read_number(text, column)
    assert found.value == (None if value is None else pytest.approx(value))
    assert said in found.said
    assert bool(found.said) == bool(found.remedy)


def test_a_name_that_a_spreadsheet_made_a_date_is_told(tmp_path):
    path = tmp_path / "limbs.csv"
    path.write_text("station,limb,parent,diameter_mm,length_m\n1,stem,,300,2\n1,02-Jan,stem,90,3\n")
    survey = read_survey(path, species="apple")
    assert ("limb", "02-Jan") in {(f.column, f.value) for f in survey.faults if "date" in f.fault}
    assert [o.limb for o in survey.trees[0].limbs] == ["stem", "02-Jan"]

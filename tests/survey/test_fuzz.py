"""Nothing a file can hold gives a traceback."""

import csv
import io
import json
import tempfile
import zipfile
from contextlib import redirect_stderr, redirect_stdout
from datetime import datetime
from pathlib import Path

import openpyxl
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

from limbwright.cli import main
from limbwright.errors import InputError
from limbwright.job import open_trees
from limbwright.survey import read_segments, read_survey
from limbwright.survey.columns import read_columns

CELL = st.one_of(
    st.sampled_from(
        [
            *("45 mm", "4,5", "1,234", "12'", "NNE", "n/a", "#REF!", "2026-08-01", "01-Aug"),
            *("=1+1", "'=1", "-x", "a\tb", '"', "30%", "\u2212 3", "gap", "segment", "-1e-300"),
            "",
            "1",
            "stem",
            "-1",
            "nan",
            "inf",
            "1e308",
            "-5",
            "1,5",
            "2",
            "0",
            "dead",
            "apple",
            "\u0663",
        ]
    ),
    st.text(max_size=6),
)


def _try(data, suffix):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"x{suffix}"
        path.write_bytes(data)
        for read in (
            lambda: read_survey(path, path, species="apple"),
            lambda: read_segments(path, species="apple"),
        ):
            try:
                found = read()
            except InputError as error:
                said = str(error)
                if not said:
                    raise AssertionError("an error without a word") from error
            else:
                assert all(f.fault and f.remedy for f in found.faults)


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=300), st.sampled_from([".csv", ".xlsx"]), st.booleans())
def test_any_bytes(data, suffix, zipped):
    _try((b"PK\x03\x04" if zipped else b"") + data, suffix)


@settings(max_examples=80, deadline=None)
@given(st.lists(st.lists(CELL, min_size=12, max_size=12), max_size=6), st.booleans())
def test_any_cells_under_the_right_header(rows, segments):
    limbs = "station,limb,parent,at_m,diameter_mm,length_m,bearing_deg,rise_deg,state,rubs,keep,x"
    pieces = "tree,segment,parent,x0_m,y0_m,z0_m,x1_m,y1_m,z1_m,d0_mm,d1_mm,limb"
    body = "\n".join(",".join('"' + c.replace('"', '""') + '"' for c in row) for row in rows)
    text = (pieces if segments else limbs) + "\n" + body
    _try(text.encode("utf-8", errors="surrogatepass"), ".csv")


@settings(max_examples=80, deadline=None)
@given(
    st.lists(
        st.lists(
            st.sampled_from(["0", "1", "2", "3", "-1", "0.5", "100", "90", "1e8", "1e-10", "stem"]),
            min_size=12,
            max_size=12,
        ),
        max_size=6,
    ),
    st.booleans(),
)
def test_any_numbers_under_the_right_header(rows, segments):
    limbs = "station,limb,parent,at_m,diameter_mm,length_m,bearing_deg,rise_deg,state,rubs,keep,x"
    pieces = "tree,segment,parent,x0_m,y0_m,z0_m,x1_m,y1_m,z1_m,d0_mm,d1_mm,limb"
    body = "\n".join(",".join(row) for row in rows)
    _try(((pieces if segments else limbs) + "\n" + body).encode(), ".csv")


def _told(read):
    """Read; an error must say something."""
    try:
        read()
    except InputError as error:
        if not str(error):
            raise AssertionError("an error without a word") from error


def _sheet(rows, title="limbs"):
    book = openpyxl.Workbook()
    book.active.title = title
    for row in rows:
        book.active.append(row)
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


WORKBOOK = _sheet([["station", "limb", "diameter_mm", "length_m"], [1, "stem", 300, "=1+1"]])


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_any_damage_to_a_workbook(data):
    """Bytes changed or cut off inside a good workbook, in its parts or in their wrapping."""
    broken = bytearray(WORKBOOK)
    for _ in range(data.draw(st.integers(1, 6))):
        broken[data.draw(st.integers(0, len(broken) - 1))] = data.draw(st.integers(0, 255))
    _try(bytes(broken[: data.draw(st.integers(4, len(broken)))]), ".xlsx")
    with zipfile.ZipFile(io.BytesIO(WORKBOOK)) as old:
        parts = {i.filename: old.read(i) for i in old.infolist()}
    name = data.draw(st.sampled_from(sorted(parts)))
    part = bytearray(parts[name])
    at = data.draw(st.integers(0, len(part) - 1))
    part[at : at + data.draw(st.integers(0, 9))] = data.draw(st.binary(max_size=9))
    again = io.BytesIO()
    with zipfile.ZipFile(again, "w") as new:
        for key, content in parts.items():
            new.writestr(key, bytes(part) if key == name else content)
    _try(again.getvalue(), ".xlsx")


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.lists(
            st.one_of(
                st.none(),
                st.booleans(),
                st.integers(-(10**9), 10**9),
                st.floats(allow_nan=False, allow_infinity=False),
                st.datetimes(datetime(1901, 1, 1), datetime(2100, 1, 1)),
                CELL.map(lambda t: ILLEGAL_CHARACTERS_RE.sub("", t)),
            ),
            max_size=9,
        ),
        max_size=5,
    ),
    st.sampled_from(["limbs", "stations", "segments", "Sheet"]),
)
def test_any_cells_of_a_workbook(rows, title):
    header = ["station", "limb", "parent", "at_m", "diameter_mm", "length_m", "bearing_deg"]
    _try(_sheet([header, *rows], title), ".xlsx")


@settings(max_examples=60, deadline=None)
@given(st.lists(st.text(max_size=12), max_size=4), st.lists(st.lists(CELL, max_size=5), max_size=5))
def test_any_header(header, rows):
    out = io.StringIO()
    csv.writer(out).writerows([["station", "limb", *header], *rows])
    _try(out.getvalue().encode("utf-8", errors="surrogatepass"), ".csv")


@settings(max_examples=80, deadline=None)
@given(
    st.sampled_from(["", "stations.", "segments."]),
    st.dictionaries(
        st.sampled_from(["station", "limb", "length_m", "bearing_deg", "x0_m", "girth_cm", "x"]),
        st.fixed_dictionaries(
            {},
            optional={
                "column": st.sampled_from(["a", "b", "limb", ["a", "b"], [], 7]),
                "constant": st.sampled_from([1, 2.5, "x", True]),
                "unit": st.sampled_from(["mm", "ft", "deg", "percent grade", "gon", "yard"]),
                "sense": st.sampled_from(["girth", "angle from vertical", "up"]),
                "offset": st.sampled_from([0, 1e308, float("nan"), -1]),
                "words": st.sampled_from([{"1": "x"}, {"a": 2}, {}]),
            },
        ),
        max_size=3,
    ),
    st.lists(st.lists(CELL, min_size=3, max_size=3), max_size=4),
)
def test_any_mapping(section, columns, rows):
    mapping = as_toml(section, columns)
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "m.toml").write_text(mapping, encoding="utf-8")
        with (Path(folder) / "t.csv").open("w", newline="", errors="replace") as file:
            csv.writer(file).writerows([["a", "b", "limb"], *rows])
        path = Path(folder) / "t.csv"
        _told(lambda: open_trees(path, stations=path, columns=Path(folder) / "m.toml", empty=True))


def as_toml(section, columns):
    """Write a mapping as TOML; a JSON value is a TOML value but for its inline tables."""

    def value(v):
        if isinstance(v, dict):
            return "{" + ", ".join(f"{json.dumps(k)} = {value(x)}" for k, x in v.items()) + "}"
        return "nan" if v != v else json.dumps(v)

    lines = [f"{key} = {value(column)}" for key, column in columns.items()]
    return "\n".join([f"[{section}columns]", *lines])


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_as_a_mapping(data):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "m.toml"
        path.write_bytes(data)
        _told(lambda: read_columns(path))


@settings(max_examples=40, deadline=None)
@given(st.binary(max_size=300), st.booleans())
def test_the_command_tells_and_never_shows_a_traceback(data, headed):
    """`check` ends with 0 or 1 whatever the file holds."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.csv"
        path.write_bytes((b"station,limb,diameter_mm,length_m\n" if headed else b"") + data)
        out, told = io.StringIO(), io.StringIO()
        with redirect_stdout(out), redirect_stderr(told):
            code = main(["check", str(path), "--species", "apple"])
        assert code in (0, 1)
        assert "Traceback" not in told.getvalue()
        assert code == 0 or told.getvalue().strip()

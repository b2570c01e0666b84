"""Nothing a file can hold gives a traceback."""

import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.errors import InputError
from limbwright.survey import read_segments, read_survey

CELL = st.one_of(
    st.sampled_from(
        [
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

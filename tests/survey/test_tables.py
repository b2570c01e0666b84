"""Tables as people really keep them."""

import io

import openpyxl
import pytest

from limbwright.errors import InputError
from limbwright.survey.tables import MAX_FILE_BYTES, read_table

LINES = ["station,limb,note", "1,stem,", "1,2,old wound"]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_any_dialect_reads_the_same(tmp_path, end, delimiter, encoding):
    path = tmp_path / "limbs.csv"
    path.write_bytes(end.join(LINES).replace(",", delimiter).encode(encoding))
    table = read_table(path, "limbs")
    assert table.header == ("station", "limb", "note")
    assert [(r.number, r.cells["limb"]) for r in table.rows] == [(2, "stem"), (3, "2")]
    assert table.faults == ()


def test_latin_1_is_read_with_a_warning(tmp_path):
    path = tmp_path / "limbs.csv"
    path.write_bytes("station,limb,note\n1,stem,mistelé\n".encode("latin-1"))
    table = read_table(path, "limbs")
    assert table.rows[0].cells["note"] == "mistelé"
    assert [f.severity for f in table.faults] == ["warning"]


def test_blank_lines_keep_the_row_numbers_of_a_spreadsheet(tmp_path):
    path = tmp_path / "limbs.csv"
    path.write_text('station,limb,note\n\n1,stem,"two\nlines"\n1,2,\n')
    assert [r.number for r in read_table(path, "limbs").rows] == [3, 5]


def test_the_named_sheet_or_the_first(tmp_path):
    book = openpyxl.Workbook()
    book.active.title = "Read me"
    book.active.append(["hello"])
    sheet = book.create_sheet("Limbs")
    sheet.append(["station", "limb", "length_m"])
    sheet.append([1, "stem", 2.5])
    path = tmp_path / "survey.xlsx"
    book.save(path)
    table = read_table(path, "limbs")
    assert table.rows[0].cells == {"station": "1", "limb": "stem", "length_m": "2.5"}
    assert read_table(path, "stations").header == ("hello",)


def test_a_file_too_large_is_refused(tmp_path):
    path = tmp_path / "big.csv"
    with path.open("wb") as file:
        file.truncate(MAX_FILE_BYTES + 1)
    with pytest.raises(InputError, match="MB"):
        read_table(path, "limbs")


def test_a_workbook_that_unpacks_to_too_much_is_refused(tmp_path):
    import zipfile

    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("a", b"x")
    data = bytearray(path.read_bytes())
    at = data.rfind(b"PK\x01\x02")  # central directory: claim an unpacked size of 3 GiB
    data[at + 24 : at + 28] = (3 * 2**30).to_bytes(4, "little")
    path.write_bytes(data)
    with pytest.raises(InputError, match="unpacks"):
        read_table(path, "limbs")


@pytest.mark.parametrize(
    "data", [b"", b"\n\n", b"\x00\x01", b"PK\x03\x04junk", b"\xd0\xcf\x11\xe0"]
)
def test_what_is_no_table_says_so(tmp_path, data):
    path = tmp_path / "x.csv"
    path.write_bytes(io.BytesIO(data).getvalue())
    with pytest.raises(InputError):
        read_table(path, "limbs")


def test_a_missing_file_and_a_folder_say_so(tmp_path):
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(InputError):
            read_table(path, "limbs")

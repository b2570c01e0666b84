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


def test_what_a_spreadsheet_under_windows_saves_keeps_its_dashes(tmp_path):
    path = tmp_path / "limbs.csv"
    path.write_bytes("station,limb,note\n1,stem,“so” – mistelé\n".encode("cp1252"))
    assert read_table(path, "limbs").rows[0].cells["note"] == "“so” – mistelé"
    path.write_bytes(b"station,limb,note\n1,stem,\x81\xe9\n")  # no letter of Windows-1252
    assert read_table(path, "limbs").rows[0].cells["note"] == "\x81é"


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


def _csv(tmp_path, text, known=()):
    path = tmp_path / "limbs.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_table(path, "limbs", known)


def test_a_file_in_two_bytes_a_letter_without_its_mark_is_read(tmp_path):
    table = _csv(tmp_path, "\n".join(LINES).encode("utf-16-le"))
    assert [r.cells["limb"] for r in table.rows] == ["stem", "2"]


def test_a_line_that_names_the_separator_is_no_header(tmp_path):
    table = _csv(tmp_path, "sep=;\n" + "\n".join(LINES).replace(",", ";"))
    assert table.header == ("station", "limb", "note")
    assert [r.number for r in table.rows] == [3, 4]


def test_titles_above_the_header_are_told_and_passed_over(tmp_path):
    known = {"station", "limb", "note"}
    table = _csv(tmp_path, "Survey of the Long Piece,,\n\n" + "\n".join(LINES), known)
    assert [(r.number, r.cells["limb"]) for r in table.rows] == [(4, "stem"), (5, "2")]
    assert [(f.row, f.value, f.severity) for f in table.faults] == [
        (1, "Survey of the Long Piece", "warning")
    ]


def test_a_row_of_units_is_told_and_passed_over(tmp_path):
    table = _csv(tmp_path, "limb,at_m,diameter_mm\n,(m),mm\n1,1.5,90\n")
    assert [r.cells["at_m"] for r in table.rows] == ["1.5"]
    assert [(f.row, f.severity) for f in table.faults] == [(2, "warning")]


def test_cells_beyond_the_header_are_kept(tmp_path):
    table = _csv(tmp_path, "station,limb\n1,stem,old, dead wood\n1,2\n")
    assert table.rows[0].cells == {
        "station": "1",
        "limb": "stem",
        "column_3": "old",
        "column_4": "dead wood",
    }
    assert "kept" in table.faults[0].fault


def test_one_quotation_mark_left_open_costs_its_own_row_alone(tmp_path):
    rows = ["1,stem,", '1,2,"old wound', "1,3,", '1,4,"said ""so"""', '1,5,"a"b']
    table = _csv(tmp_path, "\n".join([LINES[0], *rows]))
    assert [r.cells["limb"] for r in table.rows] == ["stem", "2", "3", "4", "5"]
    assert [r.cells["note"] for r in table.rows] == ["", "old wound", "", 'said "so"', 'a"b']
    assert [f.row for f in table.faults] == [3, 6]


def test_many_broken_quotation_marks_still_lose_no_row(tmp_path):
    rows = [f'1,{k},"open' for k in range(60)]
    table = _csv(tmp_path, "\n".join([LINES[0], *rows]))
    assert [r.cells["limb"] for r in table.rows] == [str(k) for k in range(60)]
    assert any("over 20 rows" in f.fault for f in table.faults)


def test_a_row_too_long_to_be_one_is_told_and_the_others_are_read(tmp_path):
    table = _csv(tmp_path, "\n".join([*LINES, "1,3," + "x" * 200_000, "1,4,"]))
    assert [r.cells["limb"] for r in table.rows] == ["stem", "2", "4"]
    assert [(f.row, f.severity) for f in table.faults] == [(4, "error")]


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "picture"),
        (b"\xff\xd8\xff\xe0" + bytes(range(256)), "picture"),
        (b"%PDF-1.7\nhello", "PDF"),
        (b"<html><table></table></html>", "web page"),
        (b'{"trees": []}', "JSON"),
        (b"\xd0\xcf\x11\xe0" + bytes(100), "password"),
        (b"station,limb\n1,st\x00em\n", "no text has"),
    ],
)
@pytest.mark.parametrize("name", ["limbs.csv", "limbs.xlsx"])
def test_another_kind_of_file_is_called_by_its_name(tmp_path, data, said, name):
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(InputError, match=said):
        read_table(path, "limbs")


def _book(tmp_path, **sheets):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    path = tmp_path / "survey.xlsx"
    book.save(path)
    return path


def test_a_formula_never_worked_out_is_told_and_not_lost_silently(tmp_path):
    path = _book(tmp_path, limbs=[["limb", "diameter_mm"], [1, "=100+20"], [2, 90]])
    table = read_table(path, "limbs")
    assert [r.cells["diameter_mm"] for r in table.rows] == ["", "90"]
    assert [(f.row, f.column, f.value) for f in table.faults] == [(2, "B", "=100+20")]


def test_a_workbook_without_the_sheet_says_which_it_has(tmp_path):
    path = _book(tmp_path, stations=[["station"], [1]])
    with pytest.raises(InputError, match="no sheet limbs; it has: stations"):
        read_table(path, "limbs")


def test_sheets_of_no_known_name_that_are_passed_over_are_told(tmp_path):
    path = _book(tmp_path, year2025=[["station"], [1]], year2026=[["station"], [2]])
    (fault,) = read_table(path, "limbs").faults
    assert (fault.severity, "year2026 not" in fault.fault) == ("warning", True)


def test_a_cell_at_the_far_corner_of_a_sheet_costs_nothing(tmp_path):
    path = _book(tmp_path, limbs=[["station", "limb"], ["1", "stem"]])
    book = openpyxl.load_workbook(path)
    book["limbs"]["XFD60000"] = 1
    book.save(path)
    assert len(read_table(path, "limbs").rows) == 1


def test_entities_that_swell_are_refused(tmp_path):
    import zipfile

    path = _book(tmp_path, limbs=[["station", "limb"], ["1", "stem"]])
    swell = "".join(f'<!ENTITY a{k} "{f"&a{k - 1};" * 10}">' for k in range(1, 9))
    sheet = (
        f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a0 "aaaaaaaaaa">{swell}]>'
        '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
        '<row r="1"><c r="A1" t="inlineStr"><is><t>&a8;</t></is></c></row></sheetData></worksheet>'
    )
    with zipfile.ZipFile(path) as old:
        parts = {i.filename: old.read(i) for i in old.infolist()}
    parts["xl/worksheets/sheet1.xml"] = sheet.encode()
    with zipfile.ZipFile(path, "w") as new:
        for name, data in parts.items():
            new.writestr(name, data)
    with pytest.raises(InputError, match="not a workbook that can be read"):
        read_table(path, "limbs")

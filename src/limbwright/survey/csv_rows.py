"""The rows of a CSV file as people save it: any dialect, any encoding, broken quotes and all."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence

from limbwright.errors import InputError
from limbwright.model import Fault
from limbwright.survey.spreadsheet import with_plain_blanks

__all__ = ["csv_rows"]

_KINDS = (
    (b"\xd0\xcf\x11\xe0", "an old (.xls) or a password-protected workbook"),
    (b"\x89PNG", "a picture (PNG)"),
    (b"\xff\xd8\xff", "a picture (JPEG)"),
    (b"GIF8", "a picture (GIF)"),
    (b"%PDF", "a PDF"),
    (b"\x1f\x8b", "a compressed file (gzip)"),
    (b"7z\xbc\xaf", "a compressed file (7z)"),
    (b"SQLite format 3", "a database"),
    (b"{\\rtf", "a text document (RTF)"),
)
"""First bytes of files often taken for a table; source: each format's specification."""
_SEPARATORS = ",;\t|"
MOST_BROKEN_QUOTES = 20
"""Rows with broken quotation marks that are mended, each at the cost of a look at the whole
file; judgement: beyond that the file is no CSV."""


def csv_rows(file: str, data: bytes) -> tuple[list[tuple[int, Sequence[str]]], list[Fault]]:
    """Return the rows of a CSV file, each with the row number an editor shows, and the faults.

    Raises
    ------
    InputError
        The bytes are not text, or cannot be cut into rows.
    """
    faults: list[Fault] = []
    text = with_plain_blanks(_decoded(file, data, faults))
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    skip = 0
    first = next((line for line in lines if line.strip()), "")
    separator = max(_SEPARATORS, key=first.count)
    if first.strip().lower().startswith("sep=") and len(first.strip()) <= 5:
        # A line some spreadsheets write above the header: the separator, and no more.
        separator = first.strip()[4:] or "\t"
        skip = lines.index(first) + 1
    return list(_rows(file, lines, skip, separator, faults)), faults


def _rows(
    file: str, lines: list[str], start: int, separator: str, faults: list[Fault]
) -> Iterator[tuple[int, Sequence[str]]]:
    broken = 0
    while start < len(lines):
        rest = (line + "\n" for line in lines[start:])
        reader = csv.reader(rest, delimiter=separator, strict=True)
        done = 0
        try:
            for cells in reader:
                yield start + done + 1, cells
                done = reader.line_num
            return
        except csv.Error:
            start += done
            broken += 1
        if broken > MOST_BROKEN_QUOTES:
            fault = f"over {MOST_BROKEN_QUOTES} rows have broken quotation marks"
            remedy = (
                f"Save it as CSV from a spreadsheet; read without them from row {start + 1} on."
            )
            faults.append(Fault(file, 0, "", "", fault, remedy, "warning"))
            yield from (
                (number, _unquoted(line, separator))
                for number, line in enumerate(lines[start:], start + 1)
            )
            return
        if len(lines[start]) > csv.field_size_limit():
            fault = f"a row of {len(lines[start])} characters"
            remedy = f"Up to {csv.field_size_limit()} are read: look for a lost line end."
            faults.append(Fault(file, start + 1, "", lines[start][:60], fault, remedy))
            start += 1
            continue
        faults.append(
            Fault(
                file,
                start + 1,
                "",
                lines[start][:60],
                "a quotation mark is not closed, or text follows the closing one",
                "Close it or double it; this line is read as it stands.",
                "warning",
            )
        )
        yield start + 1, _unquoted(lines[start], separator)
        start += 1


def _unquoted(line: str, separator: str) -> list[str]:
    return [c.strip('"') for c in line.split(separator)]


def _decoded(file: str, data: bytes, faults: list[Fault]) -> str:
    for head, kind in _KINDS:
        if data.startswith(head):
            remedy = "Save the table as XLSX or CSV."
            if kind == "a database":
                remedy += " A project file is known by its name, which ends in .gpkg."
            raise InputError(f"{file} is {kind}, not a table.", remedy)
    if data.lstrip()[:9].lower().startswith((b"<!doctype", b"<html", b"<?xml", b"<table")):
        raise InputError(
            f"{file} is a web page or XML, not a table.", "Save the table as XLSX or CSV."
        )
    if data[:1] in (b"{", b"[") and data.rstrip()[-1:] in (b"}", b"]"):
        raise InputError(f"{file} is JSON, not a table.", "Give a CSV or XLSX file.")
    code = _wide(data)
    if code:
        text = data.decode(code, errors="replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            # Spreadsheets under Windows save Latin-1 with dashes and quotation marks added. Where
            # that fails, every byte is a letter in Latin-1 itself.
            try:
                text, code = data.decode("cp1252"), "Windows-1252"
            except UnicodeDecodeError:
                text, code = data.decode("latin-1"), "Latin-1"
            fault, remedy = f"the file is not UTF-8; read as {code}", "Save it as CSV UTF-8."
            faults.append(Fault(file, 0, "", "", fault, remedy, "warning"))
    if "\x00" in text:
        raise InputError(
            f"{file} is not a table of text: it holds bytes no text has.",
            "Give a CSV or XLSX file.",
        )
    return text.removeprefix("\ufeff")


def _wide(data: bytes) -> str:
    """Return the code of text in two bytes a letter, with its mark or without; else nothing."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    head = data[:2000]
    if len(head) < 8 or len(data) % 2:
        return ""
    for code, zero in (("utf-16-le", head[1::2]), ("utf-16-be", head[::2])):
        if zero.count(0) > 0.9 * len(zero):
            return code
    return ""

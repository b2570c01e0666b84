"""The sheets of a workbook as rows of text, with what its formulas and dates hide told."""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time
from typing import Any

from limbwright.errors import InputError
from limbwright.model import Fault
from limbwright.survey.spreadsheet import with_plain_blanks

__all__ = ["Sheets", "open_workbook"]

MAX_UNPACKED_BYTES = 512 * 2**20
"""Largest unpacked workbook; judgement: still fits the memory of a small laptop."""
MAX_SHEET_ROWS = 1_048_576
"""Rows a sheet can have; source: ECMA-376 as spreadsheets implement it."""
_OTHERS = (
    ("mimetype", "an OpenDocument file"),
    ("word/document.xml", "a text document"),
    ("ppt/presentation.xml", "a set of slides"),
    ("Index/Document.iwa", "a workbook of another kind"),
)


class Sheets:
    """An open workbook: the names of its sheets in order, and the rows of each."""

    def __init__(self, file: str, data: bytes, columns: int) -> None:
        import openpyxl

        self.file = file
        self._data = data
        self._columns = columns
        self._book: Any = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        self._sheets = {s.title.strip().lower(): s for s in self._book.worksheets}
        self.names = tuple(self._sheets)

    def rows(self, name: str) -> tuple[list[tuple[int, Sequence[str]]], list[Fault]]:
        """Return the filled rows of a sheet as text, and the faults of its cells.

        Raises
        ------
        InputError
            The sheet cannot be read.
        """
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # styles and validations of no concern here
                rows: list[tuple[int, Sequence[str]]] = [
                    (n, [_text(c) for c in row]) for n, row in self._filled(self._book, name)
                ]
                return rows, self._uncomputed(name, dict(rows))
        except InputError:
            raise
        except Exception as error:
            raise _unreadable(self.file, error) from None

    def _filled(self, book: Any, name: str) -> Iterator[tuple[int, Sequence[object]]]:
        sheet = next(s for s in book.worksheets if s.title.strip().lower() == name)
        # One column more than is read, so that the reader of the table can say there are too many.
        for number, row in enumerate(sheet.iter_rows(max_col=self._columns + 1, values_only=True)):
            if number > MAX_SHEET_ROWS:
                raise InputError(
                    f"{self.file} has over {MAX_SHEET_ROWS} rows.", "Split it by orchard."
                )
            filled = len(row)
            while filled and row[filled - 1] is None:
                filled -= 1
            if filled:
                yield number + 1, row[:filled]

    def _uncomputed(self, name: str, seen: dict[int, Sequence[str]]) -> list[Fault]:
        """Return a fault for each formula whose value was never saved: it reads as blank."""
        if not self._has_formulas():
            return []
        import openpyxl

        found = []
        book = openpyxl.load_workbook(io.BytesIO(self._data), read_only=True)
        for number, row in self._filled(book, name):
            read = seen.get(number, ())
            for k, cell in enumerate(row):
                formula = str(getattr(cell, "text", cell))
                if formula.startswith("=") and not (k < len(read) and read[k]):
                    found.append(
                        Fault(
                            self.file,
                            number,
                            _letters(k),
                            formula[:60],
                            "a formula whose value is not saved in the file; read as blank",
                            "Open it in a spreadsheet and save it, or put the value.",
                        )
                    )
        book.close()
        return found

    def _has_formulas(self) -> bool:
        with zipfile.ZipFile(io.BytesIO(self._data)) as archive:
            for item in archive.infolist():
                if not item.filename.startswith("xl/worksheets/"):
                    continue
                with archive.open(item) as part:
                    tail = b""
                    while chunk := part.read(2**20):
                        if b"<f>" in tail + chunk or b"<f " in tail + chunk:
                            return True
                        tail = chunk[-3:]
        return False


def open_workbook(file: str, data: bytes, columns: int) -> Sheets:
    """Open a workbook of which up to ``columns`` columns are read.

    Raises
    ------
    InputError
        It is another kind of file, unpacks to too much, has no sheet, or is broken.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            items = archive.infolist()
            held = {item.filename for item in items}
        unpacked = sum(item.file_size for item in items)
        if unpacked > MAX_UNPACKED_BYTES:
            raise InputError(
                f"{file} unpacks to {unpacked / 2**20:.0f} MB.",
                f"Up to {MAX_UNPACKED_BYTES // 2**20} MB is read: keep one survey in it.",
            )
        for part, kind in _OTHERS:
            if part in held:
                raise InputError(f"{file} is {kind}.", "Save the table as XLSX or CSV.")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            sheets = Sheets(file, data, columns)
    except InputError:
        raise
    except Exception as error:  # a broken workbook fails in the library in a dozen ways
        raise _unreadable(file, error) from None
    if not sheets.names:
        raise InputError(f"{file} has no sheet of cells.", "Add a sheet named limbs.")
    return sheets


def _unreadable(file: str, error: Exception) -> InputError:
    return InputError(
        f"{file} is not a workbook that can be read ({type(error).__name__}).",
        "Open it in a spreadsheet and save it again as XLSX or CSV.",
    )


def _letters(column: int) -> str:
    """Return the letters a spreadsheet shows above a column."""
    name, rest = "", column + 1
    while rest:
        rest, digit = divmod(rest - 1, 26)
        name = chr(65 + digit) + name
    return name


def _text(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    if isinstance(cell, datetime) and cell.time() == time():
        cell = cell.date()
    return cell.isoformat() if isinstance(cell, date | time) else with_plain_blanks(str(cell))

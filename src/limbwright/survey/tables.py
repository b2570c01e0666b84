"""Tables as people keep them: CSV in several dialects, and spreadsheets."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from limbwright.errors import InputError
from limbwright.model import Fault

__all__ = ["Row", "Table", "read_table"]

MAX_FILE_BYTES = 64 * 2**20
"""Largest file read; judgement: a thousand times a large survey of limbs."""
MAX_UNPACKED_BYTES = 512 * 2**20
"""Largest unpacked spreadsheet; judgement: still fits the memory of a small laptop."""
MAX_ROWS = 2_000_000
MAX_COLUMNS = 500


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its number in the file (header is 1), its cells, and what they first held.

    ``given`` holds only the cells a column mapping changed.
    """

    number: int
    cells: Mapping[str, str]
    given: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Table:
    """A table of text; ``sources`` names the column a mapped column came from."""

    file: str
    header: tuple[str, ...]
    rows: tuple[Row, ...]
    faults: tuple[Fault, ...] = ()
    sources: Mapping[str, str] = field(default_factory=dict)

    def fault(
        self, row: Row, column: str, fault: str, remedy: str, *, warning: bool = False
    ) -> Fault:
        """Return a fault of one cell, in the words of the file itself."""
        value = row.given.get(column, row.cells.get(column, ""))
        return Fault(
            self.file,
            row.number,
            self.sources.get(column, column),
            value,
            fault,
            remedy,
            "warning" if warning else "error",
        )


def read_table(path: Path, sheet: str) -> Table:
    """Read a CSV file or one sheet of a workbook as text.

    Parameters
    ----------
    path
        CSV (UTF-8, else Latin-1; comma, semicolon or tab; any line ends) or XLSX.
    sheet
        Name of the sheet wanted; a workbook without it gives its first sheet.

    Raises
    ------
    InputError
        There is no such file, it is too large, empty, or not a table at all.
    """
    path = Path(path)
    try:
        size = path.stat().st_size
        if path.is_dir():
            raise InputError(f"{path} is a folder.", "Give a CSV or XLSX file.")
        if size > MAX_FILE_BYTES:
            raise InputError(
                f"{path.name} holds {size / 2**20:.0f} MB.",
                f"Up to {MAX_FILE_BYTES // 2**20} MB is read: split it by orchard.",
            )
        data = path.read_bytes()
    except FileNotFoundError:
        raise InputError(f"There is no file {path.name}.", "Check its name and folder.") from None
    except (OSError, ValueError) as error:
        raise InputError(f"{path.name} cannot be read: {error}.") from None
    if data[:4] == b"PK\x03\x04" or path.suffix.lower() in {".xlsx", ".xlsm"}:
        return _table(path.name, _workbook_rows(path.name, data, sheet), [])
    return _csv(path.name, data)


def _csv(file: str, data: bytes) -> Table:
    faults: list[Fault] = []
    if data[:4] == b"\xd0\xcf\x11\xe0":
        raise InputError(f"{file} is an old kind of workbook.", "Save it as XLSX or CSV.")
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = data.decode("utf-16", errors="replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("latin-1")
            fault, remedy = "the file is not UTF-8; read as Latin-1", "Save it as CSV UTF-8."
            faults.append(Fault(file, 0, "", "", fault, remedy, "warning"))
    if "\x00" in text:
        raise InputError(f"{file} is not a table of text.", "Give a CSV or XLSX file.")
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    first = next((line for line in text.split("\n") if line.strip()), "")
    delimiter = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows: list[tuple[int, Sequence[str]]] = []
    start = 1
    try:
        for cells in reader:
            rows.append((start, cells))
            start = reader.line_num + 1
    except csv.Error as error:
        raise InputError(
            f"{file}, row {reader.line_num} cannot be read as CSV: {error}.",
            "Look for a quotation mark that is never closed.",
        ) from None
    return _table(file, rows, faults)


def _workbook_rows(file: str, data: bytes, sheet: str) -> list[tuple[int, Sequence[str]]]:
    import openpyxl

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            unpacked = sum(item.file_size for item in archive.infolist())
        if unpacked > MAX_UNPACKED_BYTES:
            raise InputError(
                f"{file} unpacks to {unpacked / 2**20:.0f} MB.",
                f"Up to {MAX_UNPACKED_BYTES // 2**20} MB is read: keep one survey in it.",
            )
        import warnings

        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # styles and validations of no concern to a reader
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            named = {s.title.strip().lower(): s for s in book.worksheets}
            chosen = named.get(sheet) or (book.worksheets[0] if book.worksheets else None)
            if chosen is None:
                raise InputError(f"{file} has no sheet of cells.", f"Add a sheet named {sheet}.")
            rows: list[tuple[int, Sequence[str]]] = []
            for number, cells in enumerate(chosen.iter_rows(values_only=True), start=1):
                rows.append((number, [_text(c) for c in cells[:MAX_COLUMNS]]))
                if number > MAX_ROWS:
                    raise InputError(f"{file} has over {MAX_ROWS} rows.", "Split it by orchard.")
            book.close()
            return rows
    except InputError:
        raise
    except Exception as error:  # a broken workbook fails in openpyxl in a dozen different ways
        raise InputError(
            f"{file} is not a workbook that can be read ({type(error).__name__}).",
            "Save it again as XLSX or CSV.",
        ) from None


def _text(cell: object) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    return str(cell)


def _table(file: str, rows: Iterable[tuple[int, Sequence[str]]], faults: list[Fault]) -> Table:
    filled = [(n, cells) for n, cells in rows if any(c.strip() for c in cells)]
    if not filled:
        raise InputError(f"{file} is empty.", "Its first row names the columns.")
    if len(filled) > MAX_ROWS:
        raise InputError(f"{file} has over {MAX_ROWS} rows.", "Split it by orchard.")
    number, first = filled[0]
    header: list[str] = []
    for k, cell in enumerate(first[:MAX_COLUMNS]):
        name = "_".join(cell.strip().lower().split()) or f"column_{k + 1}"
        if name in header:
            faults.append(
                Fault(
                    file,
                    number,
                    name,
                    "",
                    "two columns bear this name; only the first is used",
                    "Give each column its own name.",
                    "warning",
                )
            )
            while name in header:
                name += "_again"
        header.append(name)
    found: list[Row] = []
    for number, cells in filled[1:]:
        over = [c.strip() for c in cells[len(header) :] if c.strip()]
        if over:
            faults.append(
                Fault(
                    file,
                    number,
                    "",
                    "; ".join(over)[:80],
                    "the row has more cells than there are columns",
                    "Name the column, or put text with commas in quotation marks.",
                    "warning",
                )
            )
        padded = [*cells, *[""] * (len(header) - len(cells))]
        found.append(Row(number, {h: c.strip() for h, c in zip(header, padded, strict=False)}))
    return Table(file, tuple(header), tuple(found), tuple(faults))

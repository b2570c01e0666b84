"""Tables as people keep them: CSV in several dialects, and the sheets of a workbook."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from limbwright.errors import InputError
from limbwright.model import Fault
from limbwright.survey.csv_rows import csv_rows
from limbwright.survey.spreadsheet import unguarded
from limbwright.survey.workbook import Sheets, open_workbook

__all__ = ["Book", "Row", "Table", "plain_name", "read_book", "read_table"]

MAX_FILE_BYTES = 64 * 2**20
"""Largest file read; judgement: a thousand times a large survey of limbs."""
MAX_ROWS = 2_000_000
MAX_COLUMNS = 500
SHEETS = ("limbs", "stations", "segments")
LAYERS = (".geojson", ".json")
"""Ends of names of files that hold layers of a map, which are read where a project is filled."""
_TITLE_ROWS = 10
"""Rows in which the header is looked for below titles; judgement."""
_UNITS = "mm cm m in ft deg degrees degree ° % kg g m2 m² cm2 years year 0-3 - n/a text"
_UNIT_WORDS = frozenset(_UNITS.split())


_Rows = list[tuple[int, Sequence[str]]]


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


@dataclass(frozen=True, slots=True)
class Book:
    """A file of tables: one CSV table, or the sheets of a workbook; ``read`` keeps their rows."""

    file: str
    data: bytes
    sheets: Sheets | None
    read: dict[str, tuple[_Rows, list[Fault]]] = field(default_factory=dict)

    def has(self, sheet: str) -> bool:
        """Return whether a workbook has a sheet of this name; a CSV file has none."""
        return self.sheets is not None and sheet in self.sheets.names

    def header(self, sheet: str, known: Collection[str] = ()) -> tuple[str, ...]:
        """Return the names of the columns of `table`, without the cost of its rows."""
        file, rows, _ = self._read(sheet)
        return _table(file, rows[: _TITLE_ROWS + 1], [], frozenset(known)).header

    def table(self, sheet: str, known: Collection[str] = ()) -> Table:
        """Return the CSV table, or the sheet of this name, else the first of no known name.

        ``known`` names columns by which the header is found below rows of titles.

        Raises
        ------
        InputError
            The table is empty, broken, or in none of the sheets.
        """
        file, rows, faults = self._read(sheet)
        return _table(file, rows, [*self._passed_over(sheet), *faults], frozenset(known))

    def _passed_over(self, sheet: str) -> list[Fault]:
        """Return a warning where one of several sheets of no known name had to be chosen."""
        names = () if self.sheets is None else self.sheets.names
        others = [name for name in names if name not in SHEETS]
        if sheet in names or len(others) < 2:
            return []
        fault = f"no sheet is named {sheet}; {others[0]} is read, {', '.join(others[1:])} not"
        return [Fault(self.file, 0, "", "", fault, f"Name the right one {sheet}.", "warning")]

    def _read(self, sheet: str) -> tuple[str, _Rows, list[Fault]]:
        """Return the rows of the CSV file, or of a sheet, read but once."""
        if self.sheets is None:
            name, file = "", self.file
        else:
            names = self.sheets.names
            found = sheet if sheet in names else next((n for n in names if n not in SHEETS), None)
            if found is None:
                raise InputError(
                    f"{self.file} has no sheet {sheet}; it has: {', '.join(names)}.",
                    f"Name the sheet {sheet}.",
                )
            name, file = found, f"{self.file} ({found})" if len(names) > 1 else self.file
        if name not in self.read:
            rows, faults = (
                csv_rows(self.file, self.data) if self.sheets is None else self.sheets.rows(name)
            )
            filled = [(n, cells) for n, cells in rows if any(c.strip() for c in cells)]
            if not filled:
                raise InputError(f"{file} is empty.", "Its first row names the columns.")
            if len(filled) > MAX_ROWS:
                raise InputError(f"{file} has over {MAX_ROWS} rows.", "Split it by orchard.")
            self.read[name] = (filled, faults)
        return file, *self.read[name]


def read_book(path: Path) -> Book:
    """Read a CSV file or a workbook, whichever it is, whatever its name.

    Raises
    ------
    InputError
        There is no such file, it is too large, or no workbook though it seems one.
    """
    path = Path(path)
    try:
        if path.is_dir():
            raise InputError(f"{path} is a folder.", "Give a CSV or XLSX file.")
        size = path.stat().st_size
        if size > MAX_FILE_BYTES:
            raise InputError(
                f"{path.name} holds {size / 2**20:.0f} MB.",
                f"Up to {MAX_FILE_BYTES // 2**20} MB is read: split it by orchard.",
            )
        data = path.read_bytes()
    except FileNotFoundError:
        raise InputError(f"There is no file {path.name}.", "Check its name and folder.") from None
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or error
        raise InputError(f"{path.name} cannot be read: {said}.") from None
    if not data:
        raise InputError(f"{path.name} is empty.", "Its first row names the columns.")
    if path.suffix.lower() in LAYERS:
        raise InputError(
            f"{path.name} is a layer of a map, not a table.",
            "Take it into a project: limbwright add PROJECT FILE; or give a CSV or XLSX file.",
        )
    packed = data[:4] == b"PK\x03\x04"
    if not packed and path.suffix.lower() in {".xlsx", ".xlsm"}:
        csv_rows(path.name, data)  # says what it is where it is not even text
        raise InputError(
            f"{path.name} is not a workbook, whatever its name says.",
            "Open it in a spreadsheet and save it as XLSX, or name it .csv if it is one.",
        )
    sheets = open_workbook(path.name, data, MAX_COLUMNS) if packed else None
    return Book(path.name, data, sheets)


def read_table(path: Path, sheet: str, known: Collection[str] = ()) -> Table:
    """Read a CSV file or one sheet of a workbook as text; see `Book.table`.

    Parameters
    ----------
    path
        CSV (UTF-8, UTF-16, else Latin-1; comma, semicolon, tab or bar; any line ends) or XLSX.
    sheet
        Name of the sheet wanted.
    known
        Columns by which the header is found below rows of titles.

    Raises
    ------
    InputError
        There is no such file, it is too large, empty, or not a table at all.
    """
    return read_book(path).table(sheet, known)


def plain_name(name: str) -> str:
    """Return a column's name as the header of a `Table` has it."""
    return "_".join(name.strip().lower().split())


def _header_at(filled: Sequence[tuple[int, Sequence[str]]], known: frozenset[str]) -> int:
    """Return which row is the header: the first, unless one just below it is far more like it."""

    def score(cells: Sequence[str]) -> int:
        return len({plain_name(c) for c in cells} & known)

    scores = [score(cells) for _, cells in filled[:_TITLE_ROWS]]
    best = max(range(len(scores)), key=scores.__getitem__)
    return best if scores[best] >= 2 and scores[best] > 2 * scores[0] else 0


def _table(
    file: str,
    filled: _Rows,
    faults: list[Fault],
    known: frozenset[str],
) -> Table:
    def warn(number: int, column: str, value: str, fault: str, remedy: str) -> None:
        faults.append(Fault(file, number, column, value[:80], fault, remedy, "warning"))

    at = _header_at(filled, known)
    for number, cells in filled[:at]:
        words = "; ".join(c.strip() for c in cells if c.strip())
        warn(number, "", words, "read as a title above the header", "Put nothing above it.")
    number, first = filled[at]
    if any(c.strip() for c in first[MAX_COLUMNS:]):
        remedy = "Take out the columns that are not needed."
        warn(number, "", "", f"over {MAX_COLUMNS} columns; the rest are not read", remedy)
    header: list[str] = []
    last = max((k for k, c in enumerate(first[:MAX_COLUMNS]) if c.strip()), default=0)
    for k, cell in enumerate(first[: last + 1]):
        name = plain_name(unguarded(cell.strip())) or f"column_{k + 1}"
        if name in header:
            fault = "two columns bear this name; only the first is used"
            warn(number, name, "", fault, "Give each column its own name.")
            while name in header:
                name += "_again"
        header.append(name)
    body = filled[at + 1 :]
    if body and _is_units(body[0][1], header):
        words = "; ".join(c.strip() for c in body[0][1] if c.strip())
        fault = "read as a row of units, and left out"
        warn(body[0][0], "", words, fault, "Give values in the units the columns' names say.")
        body = body[1:]
    found: list[Row] = []
    for number, cells in body:
        kept = {h: unguarded(c.strip()) for h, c in zip(header, cells, strict=False)}
        kept.update((h, "") for h in header[len(cells) :])
        over = {
            f"column_{k + 1}": unguarded(c.strip())
            for k, c in enumerate(cells[len(header) : MAX_COLUMNS], len(header))
            if c.strip()
        }
        if over:
            fault = "the row has more cells than there are columns; kept as a note"
            remedy = "Name the column, or put text with commas in quotation marks."
            warn(number, "", "; ".join(over.values()), fault, remedy)
        found.append(Row(number, kept | {k: v for k, v in over.items() if k not in header}))
    return Table(file, tuple(header), tuple(found), tuple(faults))


def _is_units(cells: Sequence[str], header: Sequence[str]) -> bool:
    words = [c.strip().strip("()[]").lower() for c in cells[: len(header)] if c.strip()]
    return len(words) >= 2 and all(w in _UNIT_WORDS for w in words) and set(words) != {"-"}

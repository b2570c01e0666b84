"""Write several tables as the sheets of one workbook, text typed as text."""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping, Sequence

from limbwright.survey.spreadsheet import LONGEST_CELL, guarded, unguarded, with_plain_blanks

__all__ = ["workbook_bytes"]


def workbook_bytes(
    sheets: Mapping[str, tuple[Sequence[str], Iterable[Sequence[object]]]],
) -> bytes:
    """Return a workbook of sheets, each with its columns and its rows.

    Text is never taken for a formula, not even when its cell is edited. Text that begins with an
    apostrophe and a sign gets one more apostrophe, which reading takes off again. Control
    characters, which no workbook can hold, become the replacement character.
    """
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    book = Workbook(write_only=True)
    for title, (columns, rows) in sheets.items():
        sheet = book.create_sheet(title)
        for row in [columns, *rows]:
            cells: list[object] = []
            for value in row:
                if not isinstance(value, str) or not value:
                    cells.append(value or None if isinstance(value, str) else value)
                    continue
                plain = ILLEGAL_CHARACTERS_RE.sub("\N{REPLACEMENT CHARACTER}", value)
                plain = plain[:LONGEST_CELL].encode("utf-8", errors="replace").decode("utf-8")
                bare = with_plain_blanks(plain).strip()
                if unguarded(bare) != bare:  # the reader takes one apostrophe off such text
                    plain = plain.replace("'", "''", 1)
                runs = guarded(plain) != plain
                if not runs and not plain.startswith("#"):
                    cells.append(plain)
                    continue
                typed = WriteOnlyCell(sheet, plain)
                typed.data_type = "s"  # the library takes "=1" for a formula, "#N/A" for an error
                typed.quotePrefix = runs  # and a spreadsheet does when the cell is edited
                cells.append(typed)
            sheet.append(cells)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()

"""Text a spreadsheet must not run: written as text, and read back as it was.

A spreadsheet takes a cell of a CSV file that begins with a sign such as ``=`` for a formula. Text
like that is written with an apostrophe before it, which spreadsheets and `unguarded` both know;
numbers such as ``-3.2`` stay numbers. A workbook types its cells: see `workbook_out`.
The list of signs: OWASP, "CSV Injection".
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

__all__ = ["LONGEST_CELL", "csv_bytes", "guarded", "unguarded", "with_plain_blanks"]

_RUN = re.compile(r"['\s]*[=+\-@\uFF1D\uFF0B\uFF0D\uFF20|]|'*[\t\r\n]")
_NUMBER = re.compile(r"\s*[-+]?(\d+([.,]\d*)?|[.,]\d+)([eE][-+]?\d+)?\s*", re.ASCII)
LONGEST_CELL = 32_767
"""Characters a cell of a workbook holds; source: ECMA-376 as spreadsheets implement it."""
_BLANKS = "\u00a0\u2007\u202f\u200b\ufeff"
"""Blanks a spreadsheet or a web page leaves in a cell, which look like nothing."""


def with_plain_blanks(text: str) -> str:
    """Return the text with ordinary spaces for the blanks that only look like them."""
    if not text.isascii():
        for blank in _BLANKS:
            text = text.replace(blank, " ")
    return text


def guarded(text: str) -> str:
    """Return the text as it goes into CSV: never the start of a formula."""
    if _NUMBER.fullmatch(text) or not _RUN.match(text):
        return text
    return f"'{text}"


def unguarded(text: str) -> str:
    """Return the text of a cell without the apostrophe `guarded` put before it."""
    return text[1:] if text.startswith("'") and _RUN.match(text[1:]) else text


def csv_bytes(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """Return a table as CSV (UTF-8, header, line feeds); numbers are written in full."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([guarded(c) for c in columns])
    for row in rows:
        writer.writerow([_text(value) for value in row])
    return out.getvalue().encode("utf-8", errors="replace")


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return repr(float(value))
    return guarded(value) if isinstance(value, str) else str(value)

"""The report of a year to owner and funder, as PDF."""

from __future__ import annotations

import os
from pathlib import Path

from limbwright.report.book import set_book
from limbwright.report.book_year import year_data
from limbwright.report.whole import write_whole
from limbwright.report.year_done import YearlyReport

__all__ = ["YearlyReport", "yearly_report"]


def yearly_report(year: YearlyReport, path: str | os.PathLike[str]) -> Path:
    """Write the report of a year as PDF, whole or not at all, and return its path."""
    data, pictures = year_data(year)
    return write_whole(Path(path), set_book("yearly.typ", data, pictures)[0])

"""Read the rules of one's own place: a table, a row a rule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from limbwright.errors import InputError, LimbwrightError
from limbwright.model import Faults
from limbwright.survey.cells import Cells
from limbwright.survey.tables import Table, read_book
from limbwright.survey.times import read_time
from limbwright.trade.seasons.days import YearDay, year_day
from limbwright.trade.seasons.local import LOCAL_STRENGTHS, LocalRule
from limbwright.trade.seasons.rules import JOBS, find_job
from limbwright.trade.species import species as find_species

__all__ = ["RULE_COLUMNS", "local_rules", "read_local_rules", "rule_rows"]

RULE_COLUMNS = (
    *("job", "species", "first_day", "last_day", "strength"),
    *("scheme", "place", "dated", "source", "note"),
)
NEEDED = ("job", "species", "first_day", "last_day", "strength", "scheme")
GROUPS = {
    "all": "all",
    "pome": "pome",
    "pome fruit": "pome",
    "stone": "stone",
    "stone fruit": "stone",
}


def read_local_rules(path: Path) -> tuple[tuple[LocalRule, ...], Faults]:
    """Read local rules from a CSV file, or the sheet ``rules`` of a workbook.

    Columns: ``job, species, first_day, last_day, strength, scheme, place, dated, source, note``.
    Days are month and day, such as ``11-01``; a rule whose first day comes after its last runs
    over the new year. A row with a fault is left out, the others are read.

    Raises
    ------
    InputError
        The file cannot be read, or lacks a column that is needed.
    """
    table = read_book(path).table("rules", RULE_COLUMNS)
    faults = Faults(list(table.faults))
    return local_rules(table, faults), faults


def local_rules(table: Table, faults: Faults) -> tuple[LocalRule, ...]:
    """Return the rules of a table; rows with faults are left out.

    Raises
    ------
    InputError
        The table lacks a column that is needed.
    """
    lacking = [column for column in NEEDED if column not in table.header]
    if lacking:
        raise InputError(
            f"{table.file} has no column {', '.join(lacking)}.",
            f"A table of local rules has: {', '.join(RULE_COLUMNS)}.",
        )
    read = (_rule(Cells(table, row, faults)) for row in table.rows)
    return tuple(rule for rule in read if rule is not None)


def rule_rows(rules: Iterable[LocalRule]) -> tuple[Mapping[str, str], ...]:
    """Return local rules as rows of the table, to be written."""
    return tuple(
        {
            "job": one.job,
            "species": one.species,
            "first_day": str(one.first),
            "last_day": str(one.last),
            "strength": one.strength,
            "scheme": one.scheme,
            "place": one.place,
            "dated": one.dated,
            "source": one.source,
            "note": one.note,
        }
        for one in rules
    )


def _rule(cells: Cells) -> LocalRule | None:
    if not any(cells.text(column) for column in RULE_COLUMNS):
        return None
    job, kind = _job(cells), _species(cells)
    first, last = _day(cells, "first_day"), _day(cells, "last_day")
    text = cells.text("strength").strip().lower()
    strength = next((one for one in LOCAL_STRENGTHS if one == text), None)
    if strength is None:
        words = "; ".join(f"{word} ({means})" for word, means in LOCAL_STRENGTHS.items())
        cells.fault("strength", "not a strength known here", f"Give one of: {words}.")
    scheme = cells.needed("scheme")
    if not (job and kind and first and last and strength and scheme):
        return None
    return LocalRule(
        job,
        kind,
        first,
        last,
        strength,
        scheme,
        cells.text("place"),
        cells.text("dated"),
        cells.text("source"),
        cells.text("note"),
    )


def _job(cells: Cells) -> str:
    text = cells.needed("job")
    if not text or text.strip().lower() == "all":
        return text.strip().lower()
    try:
        return find_job(text).key
    except LimbwrightError:
        cells.fault("job", "not a job known here", f"Give all, or one of: {', '.join(JOBS)}.")
        return ""


def _species(cells: Cells) -> str:
    text = cells.needed("species")
    plain = " ".join(text.casefold().split())
    if not text or plain in GROUPS:
        return GROUPS.get(plain, "")
    try:
        return find_species(text).key
    except LimbwrightError as error:
        cells.fault("species", "not a species known here", f"Or all, pome, stone. {error.remedy}")
        return ""


def _day(cells: Cells, column: str) -> YearDay | None:
    text = cells.needed(column)
    found = year_day(text) if text else None
    if not text or found is not None:
        return found
    dated = read_time(text, None)  # a spreadsheet makes dates of days
    if dated is None:
        cells.fault(column, "not a day of the year", "Write month and day, such as 11-01.")
        return None
    found = YearDay(dated.at.month, dated.at.day)
    cells.fault(column, "a date with its year", f"Read as {found} of every year.", warning=True)
    return found

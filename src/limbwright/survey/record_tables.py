"""Tables of records: visits, cuts done, how trees answered, and photos."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from limbwright.errors import InputError
from limbwright.model import CutDone, Fault, Faults, Photo, Response, Visit
from limbwright.survey.cells import Cells
from limbwright.survey.columns import ColumnMap, apply_columns
from limbwright.survey.header import check_header
from limbwright.survey.record_columns import (
    RECORD_COLUMNS,
    RECORD_DAY,
    RECORD_KEYS,
    record_kind,
)
from limbwright.survey.stations import CONDITIONS
from limbwright.survey.tables import Book, Table, read_book
from limbwright.survey.times import DayOrder, day_order, read_time

__all__ = ["RECORD_COLUMNS", "RECORD_KEYS", "Records", "read_records", "record_kind"]

CUTS = ("remove", "shorten", "head", "thin")
DONE = ("yes", "no", "other")
SHOWS = ("before", "after", "defect", "whole")
_TICKS = {
    **dict.fromkeys(("x", "y", "1", "true", "done", "ok", "\N{CHECK MARK}"), "yes"),
    **dict.fromkeys(("n", "0", "false", "-", "not done"), "no"),
    "\N{HEAVY CHECK MARK}": "yes",
}
"""Marks that crews put for the words of ``done``; common practice."""
_PLANNED = "piece_kg"
"""A column of the cut list alone: there ``at_m`` and ``diameter_mm`` are the plan's."""
_FORETOLD = "hours_low"
"""A column of the list of tasks alone: there ``tree`` says what stands there, and ``hours`` is what
was foretold."""
_WRITTEN = ("done_on", "who", "found")
"""What a crew writes into the list of tasks; a row where all of it is blank was not done yet."""
_MOST = {
    "hours": (1000.0, "h"),
    "brash_hours": (1000.0, "h"),
    "shoots": (5000.0, ""),
    "shoot_length_cm": (400.0, "cm"),
    "wound_mm": (1500.0, "mm"),
    "wound_closed_mm": (1500.0, "mm"),
}
"""Largest value taken; judgement: beyond it the unit or the figure has slipped."""


@dataclass(frozen=True, slots=True)
class Records:
    """What tables of records hold, and everything found wrong with them."""

    visits: tuple[Visit, ...] = ()
    responses: tuple[Response, ...] = ()
    photos: tuple[Photo, ...] = ()
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True)
class _DatedCut:
    cells: Cells
    tree: str
    season: str
    done_on: date | None
    cut: CutDone


def read_records(
    paths: Path | Book | Sequence[Path | Book],
    *,
    known: Sequence[Visit] = (),
    order: DayOrder | None = None,
    columns: ColumnMap | None = None,
) -> Records:
    """Read tables of records, keeping every good row and reporting every fault at once.

    A workbook's sheets ``visits``, ``cuts``, ``responses`` and ``photos`` are read; any other
    table is known by its columns. Cuts go to the visit of their tree on their day; without a day
    of their own, to the one visit of their tree and season.

    Parameters
    ----------
    paths
        One file or several, CSV or XLSX.
    known
        Visits recorded before, which cuts without a visit in these tables may belong to; such a
        visit is returned with them.
    order
        Whether day or month comes first in dates such as 3/4/2026, where no date of the column
        tells.
    columns
        A column mapping for tables from elsewhere.

    Raises
    ------
    InputError
        A file cannot be read at all, or is no table of records, or lacks a column of the mapping.
    """
    several = [paths] if isinstance(paths, str | Path | Book) else list(paths)
    faults = Faults()
    visits: dict[tuple[str, date], Visit] = {}
    cuts: list[_DatedCut] = []
    responses: list[Response] = []
    photos: list[Photo] = []
    mapping = columns or ColumnMap()
    for kind, table in [part for path in several for part in _tables(path, mapping)]:
        faults.extend(table.faults)
        named = "tree" if "tree" in table.header else "station"
        check_header(table, RECORD_COLUMNS[kind], (named, *RECORD_KEYS[kind]), faults)
        rows = [Cells(table, row, faults) for row in table.rows]
        if kind == "visits" and _is_list_of_tasks(table):
            rows = [cells for cells in rows if any(cells.text(c) for c in _WRITTEN)]
        day = RECORD_DAY[kind]
        written = [text for cells in rows if (text := cells.text(day))]
        days = day_order(written) or order
        if kind == "visits":
            _take_visits(rows, days, visits)
        elif kind == "cuts":
            cuts += [cut for cells in rows if (cut := _cut(cells, days))]
        elif kind == "responses":
            responses += [seen for cells in rows if (seen := _response(cells, days))]
        else:
            photos += [photo for cells in rows if (photo := _photo(cells, days))]
    return Records(_with_cuts(visits, cuts, known), tuple(responses), tuple(photos), tuple(faults))


def _tables(source: Path | Book, mapping: ColumnMap) -> list[tuple[str, Table]]:
    """Return the tables of records of one file, each with its kind.

    Raises
    ------
    InputError
        It holds none.
    """
    book = source if isinstance(source, Book) else read_book(Path(source))
    sheets = [kind for kind in RECORD_COLUMNS if book.has(kind)]
    if sheets:
        return [(kind, _mapped(book, kind, kind, mapping)) for kind in sheets]
    every = {c for kind in RECORD_COLUMNS for c in mapping.known_in(kind)}
    header = book.header("visits", every)
    kind = mapping.kind_of(header, RECORD_COLUMNS) or record_kind(header)
    if not kind:
        raise InputError(
            f"{book.file} is no table of records: {', '.join(header)[:120]}.",
            "Visits have a column done_on, cuts order, limb and cut, responses seen_on, photos "
            "file and taken_on.",
        )
    return [(kind, _mapped(book, "visits", kind, mapping))]


def _mapped(book: Book, sheet: str, kind: str, mapping: ColumnMap) -> Table:
    return apply_columns(book.table(sheet, mapping.known_in(kind)), mapping.of(kind))


def _is_list_of_tasks(table: Table) -> bool:
    """Return whether a table of visits is the list of tasks, filled in."""
    return _FORETOLD in table.header


def _tree(cells: Cells) -> str:
    """Return the tree a row is of, empty with a fault where it names none."""
    if not cells.text("station"):
        given = cells.text("tree")
        return given or cells.needed("tree" if "tree" in cells.table.header else "station")
    station, orchard = cells.name("station"), cells.text("orchard")
    named = f"{orchard}/{station}" if orchard else station
    if not _is_list_of_tasks(cells.table) and cells.text("tree") not in ("", named, station):
        fault = f"another name than orchard and station give; read as {named}"
        cells.fault("tree", fault, "Give the one or the other.", warning=True)
    return named


def _day(cells: Cells, column: str, order: DayOrder | None, *, needed: bool = True) -> date | None:
    """Return the day of a cell, None with a fault where it holds none."""
    text = cells.needed(column) if needed else cells.text(column)
    if not text:
        return None
    taken = read_time(text, order)
    if taken is not None:
        return taken.at.date()
    either = order is None and read_time(text, "dmy") is not None
    fault = "day and month could be either way round" if either else "not a date"
    cells.fault(column, fault, "Write it as 2026-01-31; the row is left out.")
    return None


def _amount(cells: Cells, column: str) -> float | None:
    """Return a number in its range, which the fields of a survey share where they can."""
    value = cells.number(column)
    if value is None or column not in _MOST:
        return value
    most, unit = _MOST[column]
    if 0.0 <= value <= most:
        return value
    cells.fault(column, f"outside 0 to {most:g} {unit}".rstrip(), "Check the value and its unit.")
    return None


def _whole(cells: Cells, column: str) -> int | None:
    value = _amount(cells, column)
    if value is None:
        return None
    if value != int(value) or value < 0.0:
        cells.fault(column, "not a whole number from 0", "Count them: 0, 1, 2 ...")
        return None
    return int(value)


def _take_visits(
    rows: Iterable[Cells], order: DayOrder | None, visits: dict[tuple[str, date], Visit]
) -> None:
    """Add the visits of a table; a second row of a tree and day is left out with a fault."""
    for cells in rows:
        tree, day = _tree(cells), _day(cells, "done_on", order)
        if not tree or day is None:
            continue
        if (tree, day) in visits:
            fault = f"a visit of {tree} on {day.isoformat()} is there already"
            cells.fault("done_on", fault, "Put hours and people of one day in one row.")
            continue
        visits[tree, day] = Visit(
            tree=tree,
            season=cells.text("season"),
            done_on=day,
            who=cells.text("who"),
            hours=None if _is_list_of_tasks(cells.table) else _amount(cells, "hours"),
            brash_hours=_amount(cells, "brash_hours"),
            found=cells.text("found"),
            note=cells.text("note"),
        )


def _cut(cells: Cells, order: DayOrder | None) -> _DatedCut | None:
    tree, limb = _tree(cells), cells.needed("limb") and cells.name("limb")
    written = bool(cells.text("done_on"))
    day = _day(cells, "done_on", order, needed=False)
    if not tree or not limb or (written and day is None):
        return None
    number = _whole(cells, "order") or 0
    done = _done(cells)
    at, across = _amount(cells, "at_m"), _amount(cells, "diameter_mm")
    if _PLANNED in cells.table.header and done != "other" and number:
        at = across = None  # a ticked cut list: these are the plan's own figures
    cut = CutDone(
        order=number,
        limb=limb,
        cut=cells.word("cut", CUTS, "remove"),
        done=done,
        at_m=at,
        diameter_mm=across,
        note=cells.text("note"),
    )
    return _DatedCut(cells, tree, cells.text("season"), day, cut)


def _done(cells: Cells) -> str:
    """Return whether a cut was made: without the column all were, a blank in it was not."""
    if "done" not in cells.table.header:
        return "yes"
    text = cells.text("done").lower()
    return _TICKS[text] if text in _TICKS else cells.word("done", DONE, "no")


def _response(cells: Cells, order: DayOrder | None) -> Response | None:
    tree, day = _tree(cells), _day(cells, "seen_on", order)
    if not tree or day is None:
        return None
    wound, closed = _amount(cells, "wound_mm"), _amount(cells, "wound_closed_mm")
    if wound is not None and closed is not None and closed > wound:
        fault = f"more than the whole wound ({wound:g} mm)"
        cells.fault("wound_closed_mm", fault, "Give how far the callus has come in, both sides.")
        closed = None
    lost = cells.text("limbs_lost").replace(";", ",").split(",")
    return Response(
        tree=tree,
        seen_on=day,
        who=cells.text("who"),
        shoots=_whole(cells, "shoots"),
        shoot_length_cm=_amount(cells, "shoot_length_cm"),
        extension_cm=_amount(cells, "extension_cm"),
        girth_cm=_amount(cells, "girth_cm"),
        wound_mm=wound,
        wound_closed_mm=closed,
        condition=cells.word("condition", CONDITIONS, ""),
        limbs_lost=tuple(name.strip() for name in lost if name.strip()),
        note=cells.text("note"),
    )


def _photo(cells: Cells, order: DayOrder | None) -> Photo | None:
    tree, file = _tree(cells), cells.needed("file")
    day = _day(cells, "taken_on", order)
    if not tree or not file or day is None:
        return None
    return Photo(
        tree=tree,
        file=file,
        taken_on=day,
        shows=cells.word("shows", SHOWS, "whole"),
        bearing_deg=_amount(cells, "bearing_deg"),
        note=cells.text("note"),
    )


def _with_cuts(
    visits: dict[tuple[str, date], Visit], cuts: Iterable[_DatedCut], known: Sequence[Visit]
) -> tuple[Visit, ...]:
    """Return the visits with their cuts; a cut nobody can place is told."""
    before = {(v.tree, v.done_on): v for v in known}
    found = {
        key: replace(visit, cuts=before[key].cuts) if key in before else visit
        for key, visit in visits.items()
    }
    for one in cuts:
        key = _visit_of(one, found, before)
        if key is None:
            continue
        visit = found.get(key) or before.get(key) or Visit(one.tree, one.season, key[1])
        held = {(c.order, c.limb, c.cut): c for c in visit.cuts}
        held[one.cut.order, one.cut.limb, one.cut.cut] = one.cut
        season = visit.season or one.season
        found[key] = replace(visit, season=season, cuts=tuple(held.values()))
    return tuple(found.values())


def _visit_of(
    one: _DatedCut,
    found: Mapping[tuple[str, date], Visit],
    before: Mapping[tuple[str, date], Visit],
) -> tuple[str, date] | None:
    if one.done_on is not None:
        return one.tree, one.done_on
    fit = [
        key
        for visits in (found, before)
        for key, visit in visits.items()
        if key[0] == one.tree and (not one.season or visit.season in {"", one.season})
    ]
    if len(set(fit)) == 1:
        return fit[0]
    days = ", ".join(sorted(day.isoformat() for _, day in set(fit)))
    fault = f"the tree was visited on several days: {days}" if fit else "no visit says when"
    remedy = "Give the day of the cut in done_on; the cut is left out."
    one.cells.fault("done_on", fault, remedy)
    return None

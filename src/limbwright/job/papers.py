"""Cards, tables and reports of a holding just planned, set side by side."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any, Literal

from limbwright.form.results import FormPlan
from limbwright.job.gather import gather
from limbwright.job.outputs import CARDS, first_cards, write_year_tables
from limbwright.job.pool import spread
from limbwright.job.reports import ORDER, write_report
from limbwright.report.batches import bound
from limbwright.report.card import card_batches, set_cards
from limbwright.report.form_card import form_batches, set_forms
from limbwright.report.whole import write_whole
from limbwright.stages.results import YearsPlan

__all__ = ["Papers", "parts_of", "write_papers"]

FORMS = "form-cards.pdf"
REPORTS = "reports"
CUT, FORMING = "cut cards", "forming cards"
Leaf = Literal["a4", "a5"]


@dataclass(frozen=True, slots=True)
class Papers:
    """What was written: ``paths`` of cards and tables by kind, ``reports`` by file name."""

    paths: dict[str, Path] = field(default_factory=dict)
    reports: dict[str, Path] = field(default_factory=dict)


def write_papers(
    project: Path,
    planned: Sequence[YearsPlan],
    forms: Sequence[FormPlan],
    folder: Path,
    *,
    today: date,
    seasons: int,
    period: tuple[date, date],
    holding: str = "",
    page: str = "a4",
    marked: str = "",
    workers: int | None = None,
    on_progress: Callable[[int, str], None] | None = None,
) -> Papers:
    """Write all that is printed of a holding whose plans are at hand and in its project file.

    Each PDF is written whole or not at all, as soon as its parts are set. A stop leaves what is
    written.

    Parameters
    ----------
    project
        The project file; the plans are in it.
    planned
        The same plans, over years, as they were made.
    forms
        The plans of the young trees.
    folder
        Where to; the reports go into a folder ``reports`` in it.
    today, seasons
        As of `gather`.
    period
        First and last day of the yearly report.
    holding, page, marked
        As of `cut_cards`.
    workers
        Processes that share the work, all cores by default; 1: all in this one.
    on_progress
        Called with the number of parts that are done, of all in `parts_of`, and what is.

    Raises
    ------
    InputError
        The project cannot be opened.
    LimbwrightError
        The system ended one of the processes.
    """
    folder.mkdir(parents=True, exist_ok=True)
    leaf: Leaf = "a5" if page == "a5" else "a4"
    cards, young = card_batches(first_cards(planned)), form_batches(forms)
    papers = Papers()
    tables: dict[str, Path] = {}

    def tasks() -> Iterator[partial[Any]]:
        for batch in cards:
            yield partial(set_cards, batch, holding=holding, page=leaf, marked=marked)
        # drawn while the cards are being set
        gathered = gather(project, today=today, seasons=seasons)
        for kind in ORDER:
            yield partial(write_report, gathered, kind, folder / REPORTS, period=period)
        for some in young:  # small parts last, so that no process is left alone with a large one
            yield partial(set_forms, some, holding=holding, marked=marked)
        tables.update(write_year_tables(planned, folder, holding=holding, marked=marked))

    parts = parts_of(planned, forms)
    pdfs: dict[str, list[bytes]] = {}
    with closing(spread(_done, tasks(), workers=workers)) as results:
        for count, (part, made) in enumerate(zip(parts, results, strict=True), 1):
            if part in ORDER:
                papers.reports.update(made[0])
            else:
                pdfs.setdefault(part, []).append(made)
            if part == CUT and len(pdfs[part]) == len(cards):
                whole = bound(pdfs[part], even=leaf == "a5")
                papers.paths["cards"] = write_whole(folder / CARDS, whole)
            elif part == FORMING and len(pdfs[part]) == len(young):
                papers.paths["forming"] = write_whole(folder / FORMS, bound(pdfs[part]))
            if on_progress is not None:
                on_progress(count, part)
    kinds = ("cards", *tables, "forming")
    paths = {**papers.paths, **tables}
    return Papers({kind: paths[kind] for kind in kinds if kind in paths}, papers.reports)


def parts_of(planned: Sequence[YearsPlan], forms: Sequence[FormPlan]) -> tuple[str, ...]:
    """Return what `write_papers` sets one by one: in this order."""
    cards, young = card_batches(first_cards(planned)), form_batches(forms)
    return (CUT,) * len(cards) + ORDER + (FORMING,) * len(young)


def _done(task: Callable[[], Any]) -> Any:
    return task()

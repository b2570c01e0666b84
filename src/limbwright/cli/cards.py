"""The command that writes cut cards alone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from limbwright.cli import options as opt
from limbwright.cli.fits import (
    is_project_name,
    known_orchard,
    only_for_projects,
    only_for_tables,
)
from limbwright.cli.site import one_of
from limbwright.cli.told import day_of, exit_code
from limbwright.errors import InputError, LimbwrightError

if TYPE_CHECKING:
    from limbwright.job.season_cards import Item
    from limbwright.project.store import Project

__all__ = ["cards"]


def cards(
    survey: opt.Survey,
    output: Annotated[Path, typer.Option("--output", "-o", help="The PDF to write.")] = Path(
        "cut-cards.pdf"
    ),
    stations: opt.Stations = None,
    columns: opt.Columns = None,
    species: opt.SpeciesName = None,
    season: Annotated[
        str | None,
        typer.Option(
            metavar="WORDS",
            help="Season of a project's plans, such as 'winter 2027-28'; the next of each kind of "
            "fruit if left out.",
        ),
    ] = None,
    orchard: opt.OrchardName = None,
    page: opt.Page = "a4",
    on: opt.Today = "",
    workers: opt.Workers = None,
) -> None:
    """Write only the cut cards, one tree on one page; of a project, those of its plans."""
    from limbwright.cli.places import check_file
    from limbwright.cli.show import counted, print_failed, print_faults, progress
    from limbwright.job import Order, open_trees, work_all
    from limbwright.report.card import cut_cards

    one_of("--page", page, ("a5", "a4"))
    kind: Literal["a5", "a4"] = "a5" if page == "a5" else "a4"
    check_file(output, (survey, stations, columns))
    if output.suffix.lower() != ".pdf":
        raise InputError(f"{output.name} is no name for a PDF.", "End it in .pdf.")
    if is_project_name(survey):
        only_for_tables(
            survey, {"--stations": stations, "--columns": columns, "--species": species}
        )
        _of_project(
            survey, output, season=season, orchard=orchard, page=kind, on=on, workers=workers
        )
        return
    only_for_projects(survey, {"--season": season, "--orchard": orchard})
    opened = open_trees(survey, stations=stations, columns=columns, species=species)
    order = Order(today=day_of(on))
    with progress("Planning", len(opened.trees), quiet=False) as tick:
        done = list(work_all(opened.trees, order, workers=workers, on_progress=tick))
    print_faults(opened.faults, every=False)
    items = [
        (d.assessment, d.plan, d.station)
        for d in done
        if d.assessment is not None and d.plan is not None
    ]
    if not items:
        print_failed(done)
        raise typer.Exit(1)
    cut_cards(items, output, holding=survey.stem, page=kind, workers=workers)
    print(f"{counted(len(items), 'card')} in {output}")
    raise typer.Exit(exit_code(done))


def _of_project(
    path: Path,
    output: Path,
    *,
    season: str | None,
    orchard: str | None,
    page: Literal["a5", "a4"],
    on: str,
    workers: int | None,
) -> None:
    from limbwright.cli.show import counted, progress
    from limbwright.project.records import holding
    from limbwright.project.store import Project
    from limbwright.report.card import cut_cards

    with Project.open(path, write=False) as project:
        place = holding(project)
        known_orchard(orchard, (one.name for one in place.orchards))
        made = _wanted(project, season, orchard, on)
        remedy = _other_seasons(project, path, orchard)
    items, failed = [], []
    with progress("Drawing", len(made), quiet=False) as tick:
        for count, (tree, make) in enumerate(made, 1):
            try:
                item = make()
            except LimbwrightError as error:
                failed.append(f"{tree}: {error}")
            else:
                items += [] if item is None else [item]
            tick(count, tree)
    for words in failed:
        typer.echo(f"limbwright: {words}", err=True)
    if not items:
        raise InputError(
            f"{path.name} has no plan with cuts in {season or 'the next season'}"
            f"{f' for {orchard}' if orchard else ''}.",
            remedy,
        )
    cut_cards(items, output, holding=place.name, page=page, marked=place.marked, workers=workers)
    print(f"{counted(len(items), 'card')} in {output}")
    raise typer.Exit(1 if failed else 0)


def _other_seasons(project: Project, path: Path, orchard: str | None) -> str:
    """Return what to do where no card is wanted: ask for a season that has a plan, or plan."""
    from limbwright.project.plans import plans
    from limbwright.project.records import stations
    from limbwright.report.book_works import season_key

    trees = {one.tree for one in stations(project, orchard)}
    named = {
        str(one["season"])
        for stored in plans(project, kind="years")
        for one in stored.document.get("seasons", [])  # type: ignore[attr-defined]
        if stored.tree in trees and (one.get("plan") or {}).get("cuts")
    }
    if not named:
        return f"Plan it: limbwright plan {path}."
    return f"Seasons with cuts: {', '.join(sorted(named, key=season_key))}."


def _wanted(
    project: Project, season: str | None, orchard: str | None, on: str
) -> list[tuple[str, Callable[[], Item | None]]]:
    """Return each tree whose plan has the season asked for, and how its card is come by."""
    from functools import partial

    from limbwright.job.open_project import trees_of
    from limbwright.job.project_settings import project_settings
    from limbwright.job.season import next_season
    from limbwright.job.season_cards import card_item
    from limbwright.job.tree_years import YearsOrder
    from limbwright.job.work import tree_of
    from limbwright.model import Faults
    from limbwright.project.plans import plans, rules
    from limbwright.project.records import holding, stations
    from limbwright.trade.species import species

    today = day_of(on)
    with project.reading():
        own, factors = project_settings(project)
        site = holding(project).site
        order = YearsOrder(site=site, today=today, settings=own, factors=factors)
        places = {s.tree: s for s in stations(project, orchard)}
        items = {tree_of(item): item for item in trees_of(project, Faults())}
        held = plans(project, kind="years")
        local = rules(project, Faults())
    found: list[tuple[str, Callable[[], Item | None]]] = []
    for stored in held:
        item, station = items.get(stored.tree), places.get(stored.tree)
        if item is None or station is None:
            continue
        named = [str(one["season"]) for one in stored.document.get("seasons", [])]  # type: ignore[attr-defined]
        now = season or next_season(species(station.species), site, today, local)
        if now in named:
            found.append((stored.tree, partial(card_item, stored, item, station, order, now)))
    return found

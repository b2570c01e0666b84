"""The command that finds the cuts: of one season, or of several."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from limbwright.cli import options as opt
from limbwright.cli.fits import is_project_name, only_for_projects, only_for_tables
from limbwright.cli.site import one_of, site
from limbwright.cli.told import day_of, exit_code, place_of, print_results
from limbwright.errors import InputError

if TYPE_CHECKING:
    from limbwright.cli.plan_years import Wanted
    from limbwright.cuts.results import Wishes
    from limbwright.job import Opened
    from limbwright.model import Fault, Site

__all__ = ["plan"]


def plan(
    survey: opt.Survey,
    stations: opt.Stations = None,
    columns: opt.Columns = None,
    species: opt.SpeciesName = None,
    years: opt.Years = None,
    orchard: opt.OrchardName = None,
    out: opt.OutFolder = None,
    protect: opt.Protect = None,
    force: opt.Force = None,
    forbid: opt.Forbid = None,
    dose: opt.Dose = None,
    settings: opt.SettingsFile = None,
    engine: opt.Engine = "proof",
    again: Annotated[
        bool, typer.Option("--again", help="Plan those trees too whose plan would be the same.")
    ] = False,
    no_ways: opt.NoWays = False,
    page: opt.Page = "a4",
    wind: opt.Wind = None,
    terrain: opt.Terrain = None,
    snow: opt.Snow = None,
    ice: opt.Ice = None,
    southern: opt.Southern = False,
    years_stood: opt.YearsStood = None,
    latitude: opt.Latitude = None,
    clearness: opt.Clearness = None,
    spacing: opt.Spacing = None,
    on: opt.Today = "",
    workers: opt.Workers = None,
    as_json: opt.Json = False,
) -> None:
    """Find the few best cuts: of a table for one season or more, of a project for five.

    A table's cards, cut list and summary go into the folder given by -o; a project keeps its
    plans itself, and the same command goes on where it was stopped.
    """
    from limbwright.cli.plan_years import Wanted, plan_project, plan_table_years
    from limbwright.cuts.results import Wishes
    from limbwright.cuts.weights import Settings, read_settings
    from limbwright.job import open_trees, parse_wishes

    one_of("--engine", engine, ("proof", "fast"))
    one_of("--page", page, ("a5", "a4"))
    if dose is not None and not 0.0 < dose <= 1 / 3:
        raise InputError(
            f"--dose {dose} is more than common practice takes, or nothing at all.",
            "Take more than 0 and never above a third, such as 0.2.",
        )
    every = Wishes(dose=dose)
    sun = (latitude, clearness, spacing)

    def wishes(trees: Iterable[str]) -> Mapping[str, Wishes]:
        return parse_wishes(protect or [], force or [], forbid or [], every, trees)

    def place(base: Site | None) -> Site:
        return site(wind, terrain, snow, ice, southern, years_stood, sun, base=base)

    wanted = Wanted(
        years=years,
        today=day_of(on),
        every=every,
        wishes=wishes,
        place=place,
        settings=read_settings(settings) if settings else Settings(),
        proof=engine == "proof" and years == 1,
        compare=not no_ways,
        workers=workers,
        page=page,
    )
    if is_project_name(survey):
        only_for_tables(
            survey, {"--stations": stations, "--columns": columns, "--species": species}
        )
        printed = {"-o": out, "--page": page if page != "a4" else None}
        only_for_tables(
            survey, printed, f"A project keeps its plans; print them: limbwright cards {survey}."
        )
        plan_project(survey, wanted, orchard=orchard, again=again, as_json=as_json)
        return
    only_for_projects(survey, {"--orchard": orchard, "--again": again})
    folder = out or opt.OUT
    opened = open_trees(survey, stations=stations, columns=columns, species=species)
    if years is not None and years > 1:
        _check(folder, as_json, (survey, stations, columns, settings), years=True)
        _print_faults(opened.faults)
        plan_table_years(survey, opened, wanted, out=folder, as_json=as_json)
        return
    _check(folder, as_json, (survey, stations, columns, settings), years=False)
    _one_season(survey, opened, wanted, engine, folder, as_json=as_json)


def _one_season(
    survey: Path,
    opened: Opened,
    wanted: Wanted,
    engine: str,
    out: Path,
    *,
    as_json: bool,
) -> None:
    from limbwright.cli.show import print_failed, print_json, print_plans, progress
    from limbwright.cuts.results import plans_to_dict
    from limbwright.job import Order, work_all
    from limbwright.job.outputs import write_plans
    from limbwright.job.work import tree_of

    order = Order(
        site=wanted.place(place_of(opened)),
        today=wanted.today,
        every=wanted.every,
        wishes=wanted.wishes(map(tree_of, opened.trees)),
        engine=engine,
        settings=dict(wanted.settings.overrides),
    )
    with progress("Planning", len(opened.trees), quiet=as_json) as tick:
        done = list(work_all(opened.trees, order, workers=wanted.workers, on_progress=tick))
    _print_faults(opened.faults)
    if as_json:
        print_json(plans_to_dict([d.plan for d in done if d.plan is not None]))
        print_failed(done)
        raise typer.Exit(exit_code(done))
    if not any(d.plan for d in done):
        print_failed(done)
        raise typer.Exit(1)
    paths = write_plans(done, out, holding=survey.stem, page=wanted.page, workers=wanted.workers)
    if len(done) <= 3:
        print_plans(done)
    print_results(done, paths)
    raise typer.Exit(exit_code(done))


def _print_faults(faults: Sequence[Fault]) -> None:
    from limbwright.cli.show import print_faults

    print_faults(faults, every=False)


def _check(folder: Path, as_json: bool, inputs: Iterable[Path | None], *, years: bool) -> None:
    from limbwright.cli.places import RESULTS, check_folder
    from limbwright.cli.plan_years import TABLE_RESULTS

    if not as_json:
        check_folder(folder, inputs, names=TABLE_RESULTS if years else RESULTS)

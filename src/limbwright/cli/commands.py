"""The commands of limbwright."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from limbwright.cli import options as opt
from limbwright.cli.add import add
from limbwright.cli.dates import read_day
from limbwright.cli.holding import history, new, undo
from limbwright.cli.site import lit, one_of, site
from limbwright.cli.weather import weather
from limbwright.cli.windows import windows
from limbwright.errors import InputError

if TYPE_CHECKING:
    from limbwright.job import Opened
    from limbwright.model import Site

__all__ = ["app"]

app = typer.Typer(
    help="From a survey of an old fruit tree's limbs to the few best cuts, each with its reason.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

OUT = Path("limbwright-out")


@app.command()
def check(
    survey: opt.Survey,
    stations: opt.Stations = None,
    columns: opt.Columns = None,
    species: opt.SpeciesName = None,
    as_json: opt.Json = False,
) -> None:
    """List everything that is wrong with a survey, and what would be right."""
    from limbwright.cli.show import counted, print_faults, print_json
    from limbwright.job import open_trees

    opened = open_trees(survey, stations=stations, columns=columns, species=species, empty=True)
    # As one walks down the table; what is said of the whole file comes first.
    faults = sorted(opened.faults, key=lambda f: (f.file, f.row))
    errors = [f for f in faults if f.severity == "error"]
    if as_json:
        print_json({"faults": [f.to_dict() for f in faults], "trees": len(opened.trees)})
    else:
        print_faults(faults, every=True)
        print(
            f"{counted(len(opened.trees), 'tree')} can be used; {counted(len(errors), 'fault')}, "
            f"{counted(len(faults) - len(errors), 'warning')}."
        )
    raise typer.Exit(1 if errors else 0)


@app.command()
def assess(
    survey: opt.Survey,
    stations: opt.Stations = None,
    columns: opt.Columns = None,
    species: opt.SpeciesName = None,
    loads: opt.LoadNames = "",
    green_density: opt.Density = None,
    wind: opt.Wind = None,
    terrain: opt.Terrain = None,
    snow: opt.Snow = None,
    ice: opt.Ice = None,
    southern: opt.Southern = False,
    years_stood: opt.YearsStood = None,
    latitude: opt.Latitude = None,
    clearness: opt.Clearness = None,
    spacing: opt.Spacing = None,
    workers: opt.Workers = None,
    as_json: opt.Json = False,
) -> None:
    """Work out load, strength and chance of failure of every limb, and each tree's light and air.

    With --loads light and air are left out.
    """
    from limbwright.cli.show import (
        print_assessments,
        print_failed,
        print_faults,
        print_json_trees,
        progress,
    )
    from limbwright.cli.show_light import print_light
    from limbwright.job import Order, assessed_to_dict, open_trees, work_all
    from limbwright.statics.results import SCHEMA

    only = tuple(name.strip() for name in loads.split(",") if name.strip())
    opened = open_trees(survey, stations=stations, columns=columns, species=species)
    sun = (latitude, clearness, spacing)
    place = site(wind, terrain, snow, ice, southern, years_stood, sun, base=_place(opened))
    order = Order(
        site=place,
        today=date.today(),
        only=only,
        light=not only,
        vectors=as_json,
        green_density_kg_m3=green_density,
    )
    if as_json:
        print_faults(opened.faults, every=False)
        done = work_all(opened.trees, order, with_plan=False, workers=workers)
        failed = []

        def able() -> Iterator[object]:
            for one in done:
                tree = assessed_to_dict(one)
                if tree is None:
                    failed.append(one)
                else:
                    yield tree

        print_json_trees(SCHEMA, able())
        print_failed(failed)
        raise typer.Exit(_told(failed))
    with progress("Assessing", len(opened.trees), quiet=False) as tick:
        shown = list(
            work_all(opened.trees, order, with_plan=False, workers=workers, on_progress=tick)
        )
    print_faults(opened.faults, every=False)
    print_assessments(shown)
    print_light(shown, spacing_m=place.spacing_m)
    raise typer.Exit(_told(shown))


@app.command()
def plan(
    survey: opt.Survey,
    stations: opt.Stations = None,
    columns: opt.Columns = None,
    species: opt.SpeciesName = None,
    out: opt.Out = OUT,
    protect: opt.Protect = None,
    force: opt.Force = None,
    forbid: opt.Forbid = None,
    dose: opt.Dose = None,
    settings: opt.SettingsFile = None,
    engine: opt.Engine = "proof",
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
    """Find the few best cuts for one season; write cut cards, cut list and summary."""
    from limbwright.cli.places import check_folder
    from limbwright.cli.show import print_failed, print_faults, print_json, print_plans, progress
    from limbwright.cuts.results import Wishes, plans_to_dict
    from limbwright.cuts.weights import read_settings
    from limbwright.job import Order, open_trees, parse_wishes, work_all
    from limbwright.job.outputs import write_plans
    from limbwright.job.work import tree_of

    one_of("--engine", engine, ("proof", "fast"))
    one_of("--page", page, ("a5", "a4"))
    opened = open_trees(survey, stations=stations, columns=columns, species=species)
    sun = (latitude, clearness, spacing)
    place = site(wind, terrain, snow, ice, southern, years_stood, sun, base=_place(opened))
    if dose is not None and not 0.0 < dose <= 1 / 3:
        raise InputError(
            f"--dose {dose} is more than common practice takes, or nothing at all.",
            "Take more than 0 and never above a third, such as 0.2.",
        )
    every = Wishes(dose=dose)
    order = Order(
        site=place,
        today=_date(on),
        every=every,
        wishes=parse_wishes(
            protect or [], force or [], forbid or [], every, map(tree_of, opened.trees)
        ),
        engine=engine,
        settings=dict(read_settings(settings).overrides) if settings else {},
    )
    if not as_json:
        check_folder(out, (survey, stations, columns, settings))
    with progress("Planning", len(opened.trees), quiet=as_json) as tick:
        done = list(work_all(opened.trees, order, workers=workers, on_progress=tick))
    print_faults(opened.faults, every=False)
    if as_json:
        print_json(plans_to_dict([d.plan for d in done if d.plan is not None]))
        print_failed(done)
        raise typer.Exit(_told(done))
    paths = write_plans(done, out, holding=survey.stem, page=page)
    if len(done) <= 3:
        print_plans(done)
    _print_results(done, paths)
    raise typer.Exit(_told(done))


@app.command()
def cards(
    survey: opt.Survey,
    output: Annotated[Path, typer.Option("--output", "-o", help="The PDF to write.")] = Path(
        "cut-cards.pdf"
    ),
    stations: opt.Stations = None,
    columns: opt.Columns = None,
    species: opt.SpeciesName = None,
    page: opt.Page = "a4",
    on: opt.Today = "",
    workers: opt.Workers = None,
) -> None:
    """Write only the cut cards, one tree on one page."""
    from limbwright.cli.places import check_file
    from limbwright.cli.show import counted, print_faults, progress
    from limbwright.job import Order, open_trees, work_all
    from limbwright.model import Site
    from limbwright.report.card import cut_cards

    one_of("--page", page, ("a5", "a4"))
    opened = open_trees(survey, stations=stations, columns=columns, species=species)
    order = Order(site=_place(opened) or Site(), today=_date(on))
    check_file(output, (survey, stations, columns))
    with progress("Planning", len(opened.trees), quiet=False) as tick:
        done = list(work_all(opened.trees, order, workers=workers, on_progress=tick))
    print_faults(opened.faults, every=False)
    items = [
        (d.assessment, d.plan, d.station)
        for d in done
        if d.assessment is not None and d.plan is not None
    ]
    cut_cards(items, output, holding=survey.stem, page="a5" if page == "a5" else "a4")
    print(f"{counted(len(items), 'card')} in {output}")
    raise typer.Exit(_told(done))


@app.command()
def export(
    survey: opt.Survey,
    output: Annotated[Path, typer.Option("--output", "-o", help="The CSV or XLSX to write.")],
    stations: opt.Stations = None,
    columns: opt.Columns = None,
    species: opt.SpeciesName = None,
) -> None:
    """Write the whole trees built from a limb survey as a table of segments."""
    from limbwright.cli.places import check_file
    from limbwright.cli.show import counted, print_faults
    from limbwright.job import open_trees
    from limbwright.job.work import build
    from limbwright.model import TreeSurvey
    from limbwright.survey import limb_extra, write_segments

    opened = open_trees(survey, stations=stations, columns=columns, species=species)
    check_file(output, (survey, stations, columns))
    skeletons = [build(tree)[0] for tree in opened.trees]
    extra = dict(opened.extra) | {
        skeleton.tree: limb_extra(tree, skeleton)
        for tree, skeleton in zip(opened.trees, skeletons, strict=True)
        if isinstance(tree, TreeSurvey)
    }
    write_segments(skeletons, output, extra=extra)
    print_faults(opened.faults, every=False)
    print(
        f"{counted(sum(s.n for s in skeletons), 'segment')} of "
        f"{counted(len(skeletons), 'tree')} in {output}"
    )


@app.command()
def demo(
    out: opt.Out = OUT,
    seed: Annotated[
        int, typer.Option(min=0, help="Another invented holding for another number.")
    ] = 1,
    page: opt.Page = "a4",
    latitude: opt.Latitude = None,
    clearness: opt.Clearness = None,
    spacing: opt.Spacing = None,
    on: opt.Today = "",
    workers: opt.Workers = None,
) -> None:
    """Make an invented holding, assess it, plan one season, write the cut cards."""
    one_of("--page", page, ("a5", "a4"))
    today = _date(on)
    print("Making an invented holding ...", flush=True)
    from limbwright.cli.places import check_folder
    from limbwright.cli.show import print_faults, progress
    from limbwright.cli.weather import say_spells
    from limbwright.demo import make_holding, write_holding, write_weather
    from limbwright.job import Order, open_trees, work_all

    check_folder(out)
    holding = make_holding(seed)
    stations, limbs = write_holding(holding, out / "survey")
    record = write_weather(out / "survey" / "weather.csv", seed)
    print(
        f"{holding.name} (invented example): survey written to {stations.parent}, "
        "a spring's weather with it",
        flush=True,
    )
    opened = open_trees(limbs, stations=stations)
    place = lit(holding.site, latitude, clearness, spacing)
    order = Order(site=place, today=today, marked="invented example")
    with progress("Assessing and planning", len(opened.trees), quiet=False) as tick:
        done = list(work_all(opened.trees, order, workers=workers, on_progress=tick))
    print_faults(opened.faults, every=False)
    print("Drawing the cut cards ...", flush=True)
    from limbwright.job.outputs import write_plans

    paths = write_plans(done, out, holding=holding.name, page=page, marked="invented example")
    _print_results(done, paths)
    say_spells(record)
    raise typer.Exit(_told(done))


for command in (new, add, history, undo, windows, weather):
    app.command()(command)


def _print_results(done: list, paths: dict[str, Path]) -> None:  # type: ignore[type-arg]
    from limbwright.report.summary import matter_most

    items = [(d.assessment, d.plan, d.station) for d in done if d.plan is not None]
    if items:
        print(f"\nThe trees that matter most, of {len(items)}:")
    for line in matter_most(items, k=3):
        print(f"  {line}")
    print("\nWritten:")
    for kind, path in paths.items():
        print(f"  {kind:<9} {path}")
    for one in done:
        if one.failed:
            print(f"  not planned: {one.tree}: {one.failed}")


def _place(opened: Opened) -> Site | None:
    """Return the place of a project file, None for a table."""
    return None if opened.holding is None else opened.holding.site


def _told(done: list) -> int:  # type: ignore[type-arg]
    return 1 if any(d.failed for d in done) else 0


def _date(given: str) -> date:
    return read_day("--on", given) or date.today()

"""The commands of limbwright."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import typer

from limbwright.cli import options as opt
from limbwright.cli.add import add
from limbwright.cli.cards import cards
from limbwright.cli.demo import demo
from limbwright.cli.export import export
from limbwright.cli.fits import is_project_name
from limbwright.cli.form import form
from limbwright.cli.holding import history, new, undo
from limbwright.cli.needs import needs, tape
from limbwright.cli.plan import plan
from limbwright.cli.problems import problems
from limbwright.cli.record import lookback, record
from limbwright.cli.report import report
from limbwright.cli.site import site
from limbwright.cli.told import exit_code, place_of
from limbwright.cli.weather import weather
from limbwright.cli.windows import windows

__all__ = ["app"]

app = typer.Typer(
    help="From a survey of an old fruit tree's limbs to the few best cuts, each with its reason.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


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
    from limbwright.job.open_project import carry_renamed

    renamed = carry_renamed(survey) if is_project_name(survey) else ()
    opened = open_trees(survey, stations=stations, columns=columns, species=species, empty=True)
    # As one walks down the table; what is said of the whole file comes first.
    faults = sorted(opened.faults, key=lambda f: (f.file, f.row))
    errors = [f for f in faults if f.severity == "error"]
    if as_json:
        print_json(
            {
                "faults": [f.to_dict() for f in faults],
                "trees": len(opened.trees),
                "renamed": [{"before": one.before, "now": one.now} for one in renamed],
            }
        )
    else:
        print_faults(faults, every=True)
        for one in renamed:
            print(
                f"{one.before} is now {one.now}, by an edit in another program: its limbs, plans "
                "and records went with it."
            )
        if renamed:
            print(f"'limbwright undo {survey}' takes that edit back.")
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
    place = site(wind, terrain, snow, ice, southern, years_stood, sun, base=place_of(opened))
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
        raise typer.Exit(exit_code(failed))
    with progress("Assessing", len(opened.trees), quiet=False) as tick:
        shown = list(
            work_all(opened.trees, order, with_plan=False, workers=workers, on_progress=tick)
        )
    print_faults(opened.faults, every=False)
    print_assessments(shown)
    print_light(shown, spacing_m=place.spacing_m)
    raise typer.Exit(exit_code(shown))


for command in (
    *(demo, new, add, needs, tape, plan, cards, form, record, lookback, report),
    *(windows, problems, weather, export, history, undo),
):
    app.command()(command)

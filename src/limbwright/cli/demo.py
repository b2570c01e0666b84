"""The command that does the whole job on an invented holding."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from limbwright.cli import options as opt
from limbwright.cli.site import lit, one_of
from limbwright.errors import InputError

if TYPE_CHECKING:
    from limbwright.demo import InventedHolding
    from limbwright.job.tree_years import YearsDone, YearsOrder
    from limbwright.project.store import Project

__all__ = ["demo"]

PROJECT = "holding.gpkg"
RESULTS = (PROJECT, "cut-cards.pdf", "cut-list.csv", "years.json", "summary.md", "form-cards.pdf")
COMPARED = 12
"""The most pressing trees are planned beside other ways too; it saves the demo some seconds."""
DAYS_AFTER = 21
"""Days from the last walk to the day of planning; any time before the season serves."""


def demo(
    out: opt.Out = opt.OUT,
    seed: Annotated[
        int, typer.Option(min=0, help="Another invented holding for another number.")
    ] = 1,
    years: Annotated[
        int, typer.Option(min=1, max=6, metavar="NUMBER", help="Seasons to plan ahead, 1 to 6.")
    ] = 5,
    no_ways: opt.NoWays = False,
    page: opt.Page = "a4",
    latitude: opt.Latitude = None,
    clearness: opt.Clearness = None,
    spacing: opt.Spacing = None,
    on: Annotated[
        str,
        typer.Option(
            metavar="DATE",
            help="Day on which you plan; three weeks after the last walk if left out.",
        ),
    ] = "",
    workers: opt.Workers = None,
) -> None:
    """Make an invented holding with two years of records, plan it for years, print all of it."""
    one_of("--page", page, ("a5", "a4"))
    print("Making an invented holding ...", flush=True)
    from limbwright.cli.dates import read_day
    from limbwright.cli.places import check_folder
    from limbwright.cli.weather import say_spells
    from limbwright.demo import make_holding, write_holding, write_weather
    from limbwright.demo.earlier import LAST_WALK

    check_folder(out, names=RESULTS)
    today = read_day("--on", on) or LAST_WALK + timedelta(days=DAYS_AFTER)
    holding = make_holding(seed)
    holding = replace(
        holding,
        place=replace(holding.place, site=lit(holding.site, latitude, clearness, spacing)),
    )
    write_holding(holding, out / "survey")
    record = write_weather(out / "survey" / "weather.csv", seed)
    told = f"{len(holding.stations)} stations, {len(holding.surveys())} of them taped"
    print(
        f"{holding.name} (invented example): {told}; tables in {out / 'survey'}. "
        f"It is planned as of {today.day} {today:%B %Y}.",
        flush=True,
    )
    path = _fresh(out / PROJECT, holding)
    failed = _work(path, holding, out, today, page, workers, years=years, compare=not no_ways)
    say_spells(record)
    print(f"\nTry: limbwright needs {path}; limbwright lookback {path}; limbwright history {path}")
    raise typer.Exit(1 if failed else 0)


def _fresh(path: Path, holding: InventedHolding) -> Path:
    """Make the project file anew; only an invented one is written over."""
    from limbwright.demo import fill_project
    from limbwright.project.records import holding as held
    from limbwright.project.store import Project

    if path.exists():
        with Project.open(path, write=False) as before:
            mark = held(before).marked
        if not mark or mark != holding.place.marked:
            raise InputError(
                f"{path} is there already, and is no invented holding.",
                "Name another folder with -o.",
            )
        path.unlink()
    with Project.create(path, holding.place) as project:
        fill_project(project, holding)
    return path


def _work(
    path: Path,
    holding: InventedHolding,
    out: Path,
    today: date,
    page: str,
    workers: int | None,
    *,
    years: int,
    compare: bool,
) -> dict[str, str]:
    from limbwright.cli.report import period_of
    from limbwright.cli.show import progress
    from limbwright.job.holding_plan import plan_forms
    from limbwright.job.papers import parts_of, write_papers
    from limbwright.project.store import Project
    from limbwright.report.summary import matter_most

    with Project.open(path) as project:
        done, order = _plan(project, today, workers, years=years, compare=compare)
        forms, unformed = plan_forms(project, order)
    planned = [d.plan for d in done if d.plan is not None]
    period = period_of(None, today)
    parts = len(parts_of(planned, forms))
    with progress("Drawing cards and reports", parts, quiet=False) as tick:
        papers = write_papers(
            path,
            planned,
            forms,
            out,
            today=today,
            seasons=years,
            period=period,
            holding=holding.name,
            page=page,
            marked=holding.place.marked,
            workers=workers,
            on_progress=tick,
        )
    first = [plan.seasons[0] for plan in planned]
    items = [(s.assessment, s.plan, None) for s in first if s.assessment and s.plan]
    print(f"\nThe trees that matter most, of {len(planned)}:")
    for line in matter_most(items, k=3):
        print(f"  {line}")
    _print_years(planned)
    print("\nWritten:")
    for kind, target in papers.paths.items():
        print(f"  {kind:<9} {target}")
    for target in papers.reports.values():
        print(f"  {'report':<9} {target}")
    print(f"  {'project':<9} {path}")
    failed = {d.tree: d.failed for d in done if d.failed} | dict(unformed)
    for tree, why in failed.items():
        print(f"  not planned: {tree}: {why}")
    return failed


def _plan(
    project: Project, today: date, workers: int | None, *, years: int, compare: bool
) -> tuple[list[YearsDone], YearsOrder]:
    from limbwright.cli.show import progress
    from limbwright.job.holding_plan import plan_holding, prepare
    from limbwright.job.look_back import past_doses
    from limbwright.job.tree_years import YearsOrder, asked_of
    from limbwright.project.records import holding

    order = YearsOrder(
        site=holding(project).site,
        today=today,
        years=years,
        before=past_doses(project, today),
        compare=False,
    )
    asked = list(prepare(project, order).asked)
    if compare:
        asked[:COMPARED] = [
            asked_of(a.item, a.station, replace(a.order, compare=True)) for a in asked[:COMPARED]
        ]
    seasons = "1 season" if years == 1 else f"{years} seasons"
    with progress(f"Planning {seasons}", len(asked), quiet=False) as tick:
        done = list(plan_holding(project, asked, order, workers=workers, on_progress=tick))
    return done, order


def _print_years(planned: list) -> None:  # type: ignore[type-arg]
    from limbwright.cli.plan_years import print_seasons

    print_seasons([plan.to_dict() for plan in planned])

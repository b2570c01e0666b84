"""The command that writes the reports of a holding: plan, year and tasks."""

from __future__ import annotations

from datetime import date, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from limbwright.cli import options as opt
from limbwright.cli.dates import FIRST_YEAR, LAST_YEAR, read_day

__all__ = ["period_of", "report"]


class Kind(StrEnum):
    """The reports there are."""

    PLAN = "plan"
    YEAR = "year"
    TASKS = "tasks"
    ALL = "all"


class Leaf(StrEnum):
    """The pages a list of tasks is printed on."""

    A4 = "a4"
    A5 = "a5"


def report(
    project: opt.ProjectFile,
    kind: Annotated[
        Kind,
        typer.Argument(
            help="plan: the management plan for the owner; year: what was done against what was "
            "planned; tasks: what to do in the seasons that come next, to tick.",
        ),
    ] = Kind.ALL,
    out: opt.Out = opt.OUT,
    on: opt.Today = "",
    years: Annotated[
        int, typer.Option(min=1, max=10, metavar="NUMBER", help="Seasons of each kind told ahead.")
    ] = 5,
    year: Annotated[
        int | None,
        typer.Option(
            min=FIRST_YEAR,
            max=LAST_YEAR,
            metavar="YEAR",
            help="Calendar year of the yearly report; the twelve months up to --on if left out.",
        ),
    ] = None,
    season: Annotated[
        str,
        typer.Option(
            metavar="SEASON",
            help="Season of the tasks, such as 'winter 2026-27'; those that come next if left out.",
        ),
    ] = "",
    page: Annotated[Leaf, typer.Option(help="Page of the tasks.")] = Leaf.A4,
    rate: Annotated[
        float | None,
        typer.Option(
            min=0.01, metavar="MONEY", help="What a person-hour costs; hours alone if left out."
        ),
    ] = None,
    currency: Annotated[
        str, typer.Option(metavar="NAME", help="Currency of the rate, such as EUR.")
    ] = "",
    scheme: Annotated[
        str, typer.Option(metavar="NAME", help="The scheme that pays, printed as it is given.")
    ] = "",
    scheme_dated: Annotated[
        str, typer.Option(metavar="DAY", help="Day or year of the scheme's terms.")
    ] = "",
    by: Annotated[
        str, typer.Option(metavar="NAME", help="Who answers for the report, printed on each page.")
    ] = "",
    as_json: opt.Json = False,
) -> None:
    """Write the reports of a holding: management plan, yearly report, list of tasks."""
    from limbwright.cli.places import check_folder
    from limbwright.cli.show import print_json
    from limbwright.job.gather import gather
    from limbwright.job.reports import FILES, ORDER, write_reports
    from limbwright.report.task_list import task_pages

    today = read_day("--on", on) or date.today()
    kinds = ORDER if kind is Kind.ALL else (kind.value,)
    check_folder(out, [project], names=[name for one in kinds for name in FILES[one]])
    gathered = gather(
        project,
        today=today,
        seasons=years,
        who=by,
        rate=rate,
        currency=currency,
        scheme=scheme,
        scheme_dated=scheme_dated,
    )
    if season and "tasks" in kinds:
        task_pages(gathered, season)  # refused before anything is written
    found, told = write_reports(
        gathered,
        kinds,
        out,
        period=period_of(year, today),
        season=season,
        page=page,
        tell=None if as_json else lambda words: typer.echo(f"{words} ...", err=True),
    )
    if as_json:
        print_json({**told, "written": {name: str(path) for name, path in found.items()}})
        return
    _print(told, found)


def period_of(year: int | None, today: date) -> tuple[date, date]:
    """Return the first and last day of a calendar year, or of the twelve months up to a day."""
    if year is not None:
        return date(year, 1, 1), date(year, 12, 31)
    try:
        before = today.replace(year=today.year - 1)
    except ValueError:  # 29 February
        before = date(today.year - 1, 2, 28)
    return before + timedelta(days=1), today


def _print(told: dict[str, Any], written: dict[str, Path]) -> None:
    from limbwright.cli.show import counted

    plan, year, tasks = (told.get(name) for name in ("plan", "year", "tasks"))
    if plan:
        first = plan["seasons"][0]
        hours = sum(one["hours"] for one in plan["seasons"] if one["season"])
        print(
            f"Plan: {counted(plan['stations'], 'station')}, {hours:.0f} h over the seasons told; "
            f"{first['season']}: {counted(first['trees'], 'tree')}, {first['hours']:.0f} h "
            f"({first['hours_low']:.0f} to {first['hours_high']:.0f})."
        )
    if year:
        done = year["cuts"]
        print(
            f"Year, {year['first']} to {year['last']}: {counted(year['trees'], 'tree')} worked on; "
            f"cuts: {done['made']} made, {done['otherwise']} otherwise, {done['not made']} not "
            f"made, {done['besides']} besides."
        )
    if tasks:
        print(
            f"Tasks: {counted(tasks['trees'], 'tree')} on {counted(tasks['pages'], 'page')}, "
            f"{tasks['hours']:.0f} h."
            if tasks["pages"]
            else "Tasks: none in these seasons, so no list was written."
        )
    if written:
        print("\nWritten:")
    for path in written.values():
        print(f"  {path}")

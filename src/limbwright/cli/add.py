"""The command that takes tables and layers into a project file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from limbwright.cli import options as opt

__all__ = ["add"]


def add(
    project: opt.ProjectFile,
    files: Annotated[
        list[Path],
        typer.Argument(
            metavar="FILE...",
            help="Tables and layers: CSV, XLSX, GeoJSON, GeoPackage, or a folder of them.",
            show_default=False,
        ),
    ],
    kind: Annotated[
        str | None,
        typer.Option(
            metavar="NAME",
            help="What a table holds, such as limbs, where its columns do not tell.",
        ),
    ] = None,
    taken_on: Annotated[
        str,
        typer.Option(
            metavar="DATE",
            help="Day of the survey, such as 2027-01-31, where rows do not tell.",
        ),
    ] = "",
    who: Annotated[str, typer.Option(metavar="NAME", help="Who took the survey.")] = "",
    orchard: Annotated[
        str | None, typer.Option(metavar="NAME", help="Orchard of rows that name none.")
    ] = None,
    crs: Annotated[
        str | None,
        typer.Option(
            metavar="CODE", help="Map coordinates of x and y in the files, such as EPSG:27700."
        ),
    ] = None,
    columns: opt.Columns = None,
    species: opt.SpeciesName = None,
    every: opt.EveryChange = False,
    as_json: opt.Json = False,
) -> None:
    """Take surveys, orchards, records and local rules into a project; the same again is nothing."""
    from limbwright.cli.dates import read_day
    from limbwright.cli.show import print_faults, print_json
    from limbwright.project.add import add_to_project
    from limbwright.project.changes_shown import SHOWN
    from limbwright.project.store import Project

    day = read_day("--taken-on", taken_on)
    with Project.open(project) as opened:
        added = add_to_project(
            opened,
            files,
            kind=kind,
            taken_on=day,
            who=who,
            columns=columns,
            species=species,
            crs=crs,
            orchard=orchard,
        )
    if as_json:
        print_json(added.to_dict())
    else:
        print_faults(added.faults, every=every, rest="--every lists them all")
        for line in added.lines(shown=None if every else SHOWN):
            print(line)
    raise typer.Exit(1 if any(f.severity == "error" for f in added.faults) else 0)

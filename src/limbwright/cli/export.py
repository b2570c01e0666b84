"""The command that writes out: a project in other formats, or whole trees as segments."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from limbwright.cli import options as opt
from limbwright.cli.fits import is_project_name, only_for_projects, only_for_tables
from limbwright.errors import InputError

__all__ = ["export"]

TABLE_ENDINGS = (".csv", ".xlsx")


def export(
    survey: opt.Survey,
    output: Annotated[
        Path,
        typer.Option(
            "--output",
            "-o",
            help="What to write: of a project CSV, XLSX, GeoJSON, GPKG or, without an ending, a "
            "new folder of CSV files; of a table of limbs CSV or XLSX.",
        ),
    ],
    what: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="One table of a project, such as stations or limbs."),
    ] = None,
    crs: Annotated[
        str | None,
        typer.Option(metavar="CODE", help="Map coordinates to write, such as EPSG:4326."),
    ] = None,
    orchard: opt.OrchardName = None,
    copy: Annotated[
        bool,
        typer.Option(
            "--copy", help="Copy the project file itself, with its plans, settings and history."
        ),
    ] = False,
    stations: opt.Stations = None,
    columns: opt.Columns = None,
    species: opt.SpeciesName = None,
) -> None:
    """Write a project in another format, or the trees of a limb survey as segments."""
    from limbwright.cli.places import check_file

    parts = {"--what": what, "--crs": crs, "--orchard": orchard}
    if is_project_name(survey):
        only_for_tables(
            survey, {"--stations": stations, "--columns": columns, "--species": species}
        )
        if copy and (named := [option for option, value in parts.items() if value is not None]):
            raise InputError(
                f"--copy copies the whole file as it is; {', '.join(named)} cannot go with it.",
                "Leave out the one or the other.",
            )
        if copy:
            _copy(survey, output)
        else:
            _project(survey, output, what, crs, orchard)
        return
    only_for_projects(survey, parts | {"--copy": copy})
    check_file(output, (survey, stations, columns))
    if output.suffix.lower() not in TABLE_ENDINGS:
        raise InputError(f"{output.name} is no name for a table.", "End it in .csv or .xlsx.")
    _segments(survey, output, stations, columns, species)


def _copy(path: Path, output: Path) -> None:
    from limbwright.project.store import Project

    if output.suffix.lower() != path.suffix.lower():
        raise InputError(f"{output.name} is no name for a project file.", "End it in .gpkg.")
    with Project.open(path, write=False) as project:
        print(f"{project.copy_to(output)}: a whole copy, as of now.")


def _project(
    path: Path, output: Path, what: str | None, crs: str | None, orchard: str | None
) -> None:
    from limbwright.project.export import export_project
    from limbwright.project.store import Project

    with Project.open(path, write=False) as project:
        done = export_project(project, output, what=what or "all", crs=crs, orchard=orchard)
    for line in done.lines():
        print(line)


def _segments(
    survey: Path,
    output: Path,
    stations: Path | None,
    columns: Path | None,
    species: str | None,
) -> None:
    from limbwright.cli.show import counted, print_faults
    from limbwright.job import open_trees
    from limbwright.job.work import build
    from limbwright.model import TreeSurvey
    from limbwright.survey import limb_extra, write_segments

    opened = open_trees(survey, stations=stations, columns=columns, species=species)
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

"""The commands that make a project file and go back and forth in its history."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from limbwright.cli import options as opt
from limbwright.cli.site import site

if TYPE_CHECKING:
    from limbwright.project.store import Change

__all__ = ["history", "new", "undo"]


def new(
    project: Annotated[
        Path,
        typer.Argument(metavar="PROJECT", help="The project file to make, such as holding.gpkg."),
    ],
    name: Annotated[str, typer.Option(metavar="TEXT", help="Name of the holding.")] = "",
    owner: Annotated[str, typer.Option(metavar="TEXT", help="Whose it is.")] = "",
    aim: Annotated[
        list[str] | None,
        typer.Option(
            metavar="TEXT",
            help="An aim of the owner, the most important first. May be given again.",
        ),
    ] = None,
    crs: Annotated[
        str,
        typer.Option(
            metavar="CODE",
            help="Map coordinates of all x and y, such as EPSG:27700; a local grid in metres if "
            "left out.",
        ),
    ] = "",
    note: Annotated[str, typer.Option(metavar="TEXT", help="Words of your own.")] = "",
    wind: opt.Wind = None,
    terrain: opt.Terrain = None,
    snow: opt.Snow = None,
    ice: opt.Ice = None,
    southern: opt.Southern = False,
    years_stood: opt.YearsStood = None,
    latitude: opt.Latitude = None,
    clearness: opt.Clearness = None,
    spacing: opt.Spacing = None,
) -> None:
    """Make the project file of a holding: one GeoPackage that any GIS opens."""
    from dataclasses import replace

    from limbwright.model import Holding
    from limbwright.project.store import Project

    place = site(wind, terrain, snow, ice, southern, years_stood, (latitude, clearness, spacing))
    called = name or project.stem
    place = replace(place, name=called)
    holding = Holding(called, owner, place, crs=crs, aims=tuple(aim or ()), note=note)
    with Project.create(project, holding) as made:
        grid = made.crs or "a local grid in metres"
        print(f"Made {made.path} for {called}; its coordinates are {grid}.")
    print(f"Next: limbwright add {project} stations.csv limbs.csv")


def history(project: opt.ProjectFile, as_json: opt.Json = False) -> None:
    """List the changes made in a project file, the last first."""
    from limbwright.cli.show import print_json
    from limbwright.project.store import Project

    with Project.open(project, write=False) as opened:
        changes = opened.history()
    if as_json:
        print_json({"changes": [_told(change) for change in changes]})
        return
    for change in reversed(changes):
        print(_line(change))
    if not changes:
        print("Nothing was changed yet.")


def undo(
    project: opt.ProjectFile,
    redo: Annotated[
        bool, typer.Option("--redo", help="Make the change taken back last again.")
    ] = False,
) -> None:
    """Take back the last change in a project file; again for the one before."""
    from limbwright.project.store import Project

    with Project.open(project) as opened:
        change = opened.redo() if redo else opened.undo()
        left = opened.history()
    if change is None:
        print("There is nothing to make again." if redo else _nothing(left, project))
        raise typer.Exit(1)
    print(f"{'Made again' if redo else 'Taken back'}: {change.what}")


def _nothing(left: Sequence[Change], project: Path) -> str:
    """Say why no change can be taken back."""
    if any(_state(one) == "done" for one in left):
        return (
            "There is nothing more to take back: only the making of the project itself is left. To "
            f"give up the whole project, delete {project}."
        )
    if any(one.past for one in left):
        return "There is nothing to take back: what was changed before is too long ago."
    return "There is nothing to take back."


def _told(change: Change) -> dict[str, object]:
    return {
        "number": change.number,
        "made_at": change.made_at,
        "what": change.what,
        "rows": change.touched,
        "state": _state(change),
        "elsewhere": change.elsewhere,
    }


def _state(change: Change) -> str:
    return "past" if change.past else "taken back" if change.undone else "done"


def _line(change: Change) -> str:
    from limbwright.cli.show import counted

    marks = {"taken back": " (taken back)", "past": " (too long ago to take back)", "done": ""}
    # what another program did says its rows itself
    rows = "" if change.elsewhere else f", {counted(change.touched, 'row')}"
    return f"{_when(change):<16}  {change.what}{rows}{marks[_state(change)]}"


def _when(change: Change) -> str:
    """Return when a change was made, by the clock of this place."""
    if not change.made_at:
        return "since then"
    return datetime.fromisoformat(change.made_at).astimezone().strftime("%Y-%m-%d %H:%M")

"""Open the trees of a project file: the latest survey of each, by tape or as a whole skeleton."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from limbwright.job.opened import Opened, Tree
from limbwright.model import Fault, Faults, Skeleton, TreeSurvey
from limbwright.project.connect import may_write
from limbwright.project.look import look_over
from limbwright.project.records import holding, stations
from limbwright.project.renamed import Renamed
from limbwright.project.store import Project
from limbwright.project.surveys import latest, surveys, surveys_taken
from limbwright.survey.segments import SEGMENT_COLUMNS, read_segments
from limbwright.survey.tables import Row, Table
from limbwright.trade.species import species as find_species

__all__ = ["carry_renamed", "open_project", "trees_of"]


def open_project(path: Path, *, species: str | None = None) -> Opened:
    """Read the trees of a project file, and what other programs left amiss in it.

    Parameters
    ----------
    species
        Species of the trees for which neither station nor survey names one.

    Raises
    ------
    InputError
        The file cannot be opened; see `limbwright.project.Project.open`.
    """
    with Project.open(path, write=False) as project, project.reading():
        faults = Faults(list(look_over(project)))
        trees = trees_of(project, faults, species=species)
        return Opened(
            trees,
            tuple(faults),
            {s.tree: s for s in stations(project)},
            holding=holding(project),
        )


def carry_renamed(path: Path) -> tuple[Renamed, ...]:
    """Carry over what hangs on the old names of stations that another program renamed.

    Returns the stations; none where the file cannot be written, for that is told when it is read.

    Raises
    ------
    InputError
        The file cannot be opened; see `limbwright.project.Project.open`.
    """
    with Project.open(path, write=False) as project:
        if not project.renamed_elsewhere() or not may_write(path):
            return ()
    with Project.open(path) as project:
        return project.renamed


def trees_of(project: Project, faults: Faults, *, species: str | None = None) -> tuple[Tree, ...]:
    """Return each surveyed tree once: its latest limbs, or its skeleton where that is later.

    Trees of no known species are left out, with a fault.
    """
    fallback = find_species(species).key if species else ""
    skeletons = _skeletons(project, faults, fallback)
    days = {s.number: s.taken_on for s in surveys_taken(project)}
    taped = latest(project, "limbs")
    whole = latest(project, "segments")
    found: list[Tree] = []
    for tree in surveys(project, faults=faults):
        name = tree.station.tree
        skeleton = skeletons.pop(name, None)
        by_tape, by_scan = days.get(taped.get(name, -1)), days.get(whole.get(name, -1))
        later = by_scan is not None and (by_tape is None or by_scan >= by_tape)
        if skeleton is not None and later:
            found.append(skeleton)
            continue
        kind = tree.station.species or fallback
        if not kind:
            faults.add(_no_species(project, name))
            continue
        found.append(TreeSurvey(replace(tree.station, species=kind), tree.limbs))
    return (*found, *skeletons.values())


def _no_species(project: Project, tree: str) -> Fault:
    return Fault(
        f"{project.path.name}, stations",
        0,
        "species",
        "",
        f"the tree {tree} has no species; it is left out",
        "Fill in species at its station, or give --species.",
    )


def _skeletons(project: Project, faults: Faults, species: str) -> dict[str, Skeleton]:
    """Return the latest whole skeleton of each tree that has one."""
    chosen = latest(project, "segments")
    if not chosen:
        return {}
    rows = [
        Row(number, {c: _cell(row[c]) for c in SEGMENT_COLUMNS if row[c] is not None})
        for number, row in enumerate(project.rows("segments", survey=set(chosen.values())), 1)
        if chosen[str(row["tree"])] == row["survey"]
    ]
    table = Table(f"{project.path.name}, segments", SEGMENT_COLUMNS, tuple(rows))
    found = read_segments(table, species=species or None)
    faults.extend(found.faults)
    return {one.tree: one for one in found.skeletons}


def _cell(value: object) -> str:
    return repr(value) if isinstance(value, float) else str(value)

"""Put an invented holding into a project file, in the order in which it would have come about."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import limbwright
from limbwright.demo.earlier import FIRST_WALK, LAST_WALK
from limbwright.demo.holding import InventedHolding
from limbwright.demo.names import MARK
from limbwright.demo.tables import EARLIER, write_holding
from limbwright.learn.season import Planned
from limbwright.project.add import add_to_project
from limbwright.project.plans import save_plan, set_plan_status
from limbwright.project.records import save_holding, save_picture, save_responses, save_visits
from limbwright.project.store import Project

__all__ = ["fill_project"]


def fill_project(project: Project, holding: InventedHolding) -> None:
    """Write an invented holding into a new project file, in a few changes that can be undone.

    First the ground; then the walk of two autumns ago; season by season the plans, marked as done,
    with visits and answers; last this autumn's walk with limbs and shoots. Tables go the way that
    a person's would.

    Raises
    ------
    InputError
        The project cannot be written, or is not on a local grid.
    """
    past = holding.past
    with TemporaryDirectory() as made:
        folder = Path(made)
        write_holding(holding, folder)
        with project.change(f"begin {holding.name} ({MARK})"):
            save_holding(project, holding.place)
        with project.change(f"walk of {FIRST_WALK:%B %Y}"):
            first = [folder / EARLIER / "stations.csv"]
            add_to_project(project, first, taken_on=FIRST_WALK, who=past.walker)
        for season, plans in _by_season(past.plans).items():
            trees = {p.tree for p in plans}
            visits = [v for v in past.visits if v.tree in trees and v.season == season]
            with project.change(f"work of {season}"):
                _keep_plans(project, plans)
                save_visits(project, visits)
                save_responses(project, [r for r in past.responses if r.tree in trees])
                for photo in past.photos:
                    if photo.tree in trees:
                        save_picture(project, photo, (folder / photo.file).read_bytes())
        tables = [folder / f"{name}.csv" for name in ("stations", "limbs", "shoots")]
        with project.change(f"walk and tape of {LAST_WALK:%B %Y}"):
            add_to_project(project, tables, taken_on=LAST_WALK, who=past.walker)


def _by_season(plans: Iterable[Planned]) -> Mapping[str, Sequence[Planned]]:
    found: dict[str, list[Planned]] = {}
    for one in plans:
        found.setdefault(one.season, []).append(one)
    return found


def _keep_plans(project: Project, plans: Iterable[Planned]) -> None:
    """Keep plans of a season gone by, as worked to."""
    for one in plans:
        kept = save_plan(
            project,
            one.tree,
            one.season,
            "season",
            one.document,
            made_on=one.made_on or FIRST_WALK,
            version=limbwright.__version__,
            note=MARK,
        )
        set_plan_status(project, kept, "done")

"""Planning over several seasons: a whole project, or the trees of a table."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from limbwright.cli.fits import known_orchard

if TYPE_CHECKING:
    from limbwright.cuts.results import Wishes
    from limbwright.cuts.weights import Settings
    from limbwright.job import Opened
    from limbwright.job.tree_years import YearsDone, YearsOrder
    from limbwright.model import Faults, Site, StationRecord

__all__ = ["Wanted", "plan_project", "plan_table_years", "print_seasons"]

SEASONS_OF_A_PROJECT = 5
"""Common practice: a restoration is planned for some five years, then looked at anew."""
TABLE_RESULTS = ("cut-cards.pdf", "cut-list.csv", "years.json", "summary.md")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the options of `plan` ask for, the same for a table and a project."""

    years: int | None
    today: date
    every: Wishes
    wishes: Callable[[Iterable[str]], Mapping[str, Wishes]]
    place: Callable[[Site | None], Site]
    settings: Settings
    proof: bool
    compare: bool
    workers: int | None
    page: str


def plan_project(
    path: Path, wanted: Wanted, *, orchard: str | None, again: bool, as_json: bool
) -> None:
    """Plan all surveyed trees of a project over several seasons, and write the plans into it."""
    from limbwright.cli.show import counted, print_faults, print_json, progress
    from limbwright.job.holding_plan import plan_forms, plan_holding, prepare
    from limbwright.model import Faults
    from limbwright.project.plans import plans
    from limbwright.project.records import stations
    from limbwright.project.store import Project
    from limbwright.stages.results import SCHEMA

    with Project.open(path) as project:
        known_orchard(orchard, (s.orchard for s in stations(project)))
        unread = Faults()
        order = _order(project, wanted, unread)
        only = None if orchard is None else _of_orchard(orchard)
        asked = prepare(project, order, again=again, only=only)
        done: list[YearsDone] = []
        with progress("Planning", len(asked.asked), quiet=as_json) as tick:
            steps = plan_holding(
                project, asked.asked, order, workers=wanted.workers, on_progress=tick
            )
            with closing(steps):  # type: ignore[type-var]
                try:
                    done.extend(steps)
                except KeyboardInterrupt:
                    steps.close()  # type: ignore[attr-defined]
                    left = len(asked.asked) - len(done)
                    typer.echo(
                        f"Stopped with {counted(left, 'tree')} to go. The same command goes on "
                        "from here.",
                        err=True,
                    )
                    raise
        forms, unformed = plan_forms(project, order, only=only)
        held = plans(project, kind="years")
    failed = {d.tree: d.failed for d in done if d.failed} | dict(asked.failed) | dict(unformed)
    if as_json:
        print_json({"schema": SCHEMA, "trees": [dict(p.document) for p in held]})
    else:
        faults = [*unread, *asked.faults, *(f for d in done for f in d.faults)]
        print_faults(faults, every=False, rest=f"'limbwright check {path}' lists them all")
        told = [counted(len(done) - sum(bool(d.failed) for d in done), "tree") + " planned"]
        if asked.kept:
            told.append(f"{len(asked.kept)} as planned before")
        if asked.agreed:
            told.append(f"{len(asked.agreed)} agreed or worked on, left as they are")
        if forms:
            told.append(f"{counted(len(forms), 'young tree')} to form")
        print(", ".join(told) + ".")
        print_seasons([p.document for p in held if orchard is None or _in(p.tree, orchard)])
        print(f"\nNext: limbwright cards {path} -o cut-cards.pdf; limbwright report {path}")
    for tree, why in failed.items():
        typer.echo(f"limbwright: {tree}: {why}", err=True)
    if failed:
        raise typer.Exit(1)


def plan_table_years(
    path: Path, opened: Opened, wanted: Wanted, *, out: Path, as_json: bool
) -> None:
    """Plan the trees of a table over several seasons; write cards, cut list and JSON."""
    from limbwright.cli.show import print_json, progress
    from limbwright.job.outputs import write_years
    from limbwright.job.pool import spread
    from limbwright.job.tree_years import YearsOrder, asked_of, plan_tree
    from limbwright.job.work import tree_of
    from limbwright.stages.results import years_to_dict

    order = YearsOrder(
        site=wanted.place(None),
        today=wanted.today,
        years=wanted.years or SEASONS_OF_A_PROJECT,
        settings=wanted.settings,
        every=wanted.every,
        wishes=wanted.wishes(map(tree_of, opened.trees)),
        proof=wanted.proof,
        compare=wanted.compare,
    )
    asked = [asked_of(t, opened.stations.get(tree_of(t)), order) for t in opened.trees]
    done = []
    with progress("Planning", len(asked), quiet=as_json) as tick:
        for count, one in enumerate(spread(plan_tree, asked, workers=wanted.workers, few=2), 1):
            tick(count, one.tree)
            done.append(one)
    planned = [d.plan for d in done if d.plan is not None]
    if as_json:
        print_json(years_to_dict(planned))
    elif planned:
        paths = write_years(
            planned, out, holding=path.stem, page=wanted.page, workers=wanted.workers
        )
        print_seasons([p.to_dict() for p in planned])
        print("\nWritten:")
        for kind, written in paths.items():
            print(f"  {kind:<9} {written}")
    failed = [d for d in done if d.failed]
    for one in failed:
        typer.echo(f"limbwright: {one.tree}: {one.failed}", err=True)
    if failed:
        raise typer.Exit(1)


def _order(project: Any, wanted: Wanted, faults: Faults) -> YearsOrder:
    from limbwright.cuts.weights import Settings
    from limbwright.job.look_back import past_doses
    from limbwright.job.project_settings import project_settings
    from limbwright.job.tree_years import YearsOrder
    from limbwright.project.records import holding, stations

    own, factors = project_settings(project, faults)
    trees = [s.tree for s in stations(project)]
    return YearsOrder(
        site=wanted.place(holding(project).site),
        today=wanted.today,
        years=wanted.years or SEASONS_OF_A_PROJECT,
        settings=Settings({**own.overrides, **wanted.settings.overrides}),
        factors=factors,
        every=wanted.every,
        wishes=wanted.wishes(trees),
        before=past_doses(project, wanted.today),
        proof=wanted.proof,
        compare=wanted.compare,
    )


def _in(tree: str, orchard: str) -> bool:
    return tree.rpartition("/")[0] == orchard


def _of_orchard(orchard: str) -> Callable[[StationRecord], bool]:
    return lambda station: station.orchard == orchard


def print_seasons(documents: Iterable[Mapping[str, Any]]) -> None:
    """Print what each season holds: trees, cuts, hours, and those at rest."""
    from limbwright.cli.show import counted
    from limbwright.report.book_works import season_key

    totals: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0, 0.0, 0.0])
    for document in documents:
        for one in document.get("seasons", []):
            row = totals[str(one["season"])]
            made = len((one.get("plan") or {}).get("cuts", []))
            row[0] += made > 0
            row[1] += made
            row[2] += float(one["hours"])
            row[3] += bool(one["rest"])
    if not totals:
        return
    print(f"\n{'season':<18}{'trees':>7}{'cuts':>7}{'hours':>8}{'at rest':>9}")
    for season, (trees, cuts, hours, rest) in sorted(
        totals.items(), key=lambda item: season_key(item[0])
    ):
        print(f"{season:<18}{trees:>7.0f}{cuts:>7.0f}{hours:>8.1f}{rest:>9.0f}")
    work = sum(row[2] for row in totals.values())
    print(f"In all {counted(round(work), 'hour')} of cutting and clearing, by forecast.")

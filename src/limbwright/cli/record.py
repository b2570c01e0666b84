"""The commands that take in what was done, and look back at what had been foretold."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from limbwright.cli import options as opt
from limbwright.cli.lines import say

if TYPE_CHECKING:
    from limbwright.learn.lessons import Lesson, Lessons
    from limbwright.learn.look_back import LookBack

__all__ = ["lookback", "record"]

LISTED = 12
"""Surprises, notes and conditions shown before the rest are counted; judgement: half a screen."""


def record(
    project: opt.ProjectFile,
    tables: Annotated[
        list[Path],
        typer.Argument(
            metavar="TABLES...",
            help="Tables of visits, cuts, responses or photos (CSV or XLSX, also one workbook); "
            "see docs/formats.md.",
            show_default=False,
        ),
    ],
    columns: opt.Columns = None,
    every: opt.EveryChange = False,
    as_json: opt.Json = False,
) -> None:
    """Take in what was done and how trees answered, in one change that can be undone."""
    from limbwright.cli.show import counted, print_faults, print_json
    from limbwright.job.look_back import keep_worked_plans
    from limbwright.project.add import add_to_project
    from limbwright.project.changes_shown import SHOWN
    from limbwright.project.store import Project

    _only_records(tables, columns)
    with Project.open(project) as opened:
        names = ", ".join(path.name for path in tables)
        with opened.change(f"record {names}"[:200]):
            added = add_to_project(opened, tables, columns=columns)
            kept = keep_worked_plans(opened)
    code = 1 if any(f.severity == "error" for f in added.faults) else 0
    if as_json:
        print_json({**added.to_dict(), "plans_kept": kept})
        raise typer.Exit(code)
    print_faults(added.faults, every=every, rest="--every lists them all")
    for line in added.lines(shown=None if every else SHOWN):
        print(line)
    if added.changes_nothing:
        known = any(counts.same for counts in added.counts.values())
        print(
            "Nothing new is in it; nothing is changed."
            if known
            else "No row tells of work; nothing is recorded."
        )
    if kept:
        print(f"{counted(kept, 'plan')} kept as worked on: planning again leaves them as they are.")
    if added.counts:
        print(f"Next: limbwright lookback {project}")
    raise typer.Exit(code)


def lookback(
    project: opt.ProjectFile,
    apply: Annotated[
        bool,
        typer.Option("--apply", help="Write the lessons into the settings of the project."),
    ] = False,
    on: opt.Today = "",
    as_json: opt.Json = False,
) -> None:
    """Set forecasts beside what was found, and show what the records would change."""
    from limbwright.cli.dates import read_day
    from limbwright.cli.show import print_json
    from limbwright.job.look_back import apply_lessons, look_back_on
    from limbwright.project.store import Project

    day = read_day("--on", on) or date.today()
    with Project.open(project, write=apply) as opened:
        found, lessons = look_back_on(opened)
        written = apply_lessons(opened, lessons, day) if apply else ()
    if as_json:
        told = [
            {"name": s.name, "value": s.value, "source": s.source, "since": s.since.isoformat()}
            for s in written
        ]
        print_json({**found.to_dict(), **lessons.to_dict(), "applied": told})
        return
    _print_found(found)
    _print_lessons(lessons)
    waiting = lessons.settings(day)
    if written:
        print(f"\nWritten to the settings; 'limbwright undo {project}' takes it back:")
        for one in written:
            print(f"  {one.name} = {one.value:g}, {one.source}")
    elif waiting:
        print(f"\nNothing is changed. To write these: limbwright lookback {project} --apply")
    else:
        print("\nNothing would change.")


def _only_records(tables: Sequence[Path], columns: Path | None) -> None:
    """Raise an `InputError` where a file holds anything besides records."""
    from limbwright.errors import InputError
    from limbwright.project.sources import read_sources
    from limbwright.survey.columns import ColumnMap, read_columns

    mapping = ColumnMap() if columns is None else read_columns(columns)
    for path in tables:
        other = {p.kind for p in read_sources([path], mapping) if p.kind != "records"}
        if other:
            raise InputError(
                f"{path.name} holds {', '.join(sorted(other))}, not records of work.",
                "Records are visits, cuts, responses and photos; 'limbwright add' takes the rest.",
            )


def _print_found(found: LookBack) -> None:
    from limbwright.cli.show import counted

    if not found.works and not found.compared and not found.watched:
        print("There is nothing to look back on: no visit or response has a plan beside it.")
    for work in found.works:
        dose = "dose not told" if work.dose_taken is None else f"dose {work.dose_taken:.0%}"
        if work.dose_planned is not None:
            dose += f" of {work.dose_planned:.0%} planned"
        hours = "hours not noted" if work.hours is None else f"{work.hours:.1f} h in the tree"
        if work.cuts and work.hours is not None:
            hours += f" ({work.hours_planned:.1f} foretold)"
        parts = [
            f"{work.count(outcome)} {outcome}"
            for outcome in ("made", "otherwise", "not made", "besides")
            if work.count(outcome)
        ]
        cuts = f"cuts: {', '.join(parts)}" if parts else "no cut told"
        say(f"{work.tree}, {work.season}: {cuts}; {dose}; {hours}.", "  ")
    if found.calibrations:
        print("\nForecast and found")
        for one in found.calibrations:
            say(f"  {one.sentence[0].upper()}{one.sentence[1:]}", "    ")
    _listed("\nOutside the range foretold", [s.sentence + "." for s in found.surprising])
    changed = [
        f"{c.tree}: {c.before}, then {c.found}" for c in found.conditions if c.before != c.found
    ]
    _listed("\nCondition", changed)
    if found.notes:
        _listed(
            f"\n{counted(len(found.notes), 'note')}",
            [f"{tree}: {said}" for tree, said in found.notes],
        )


def _listed(title: str, lines: Sequence[str]) -> None:
    if not lines:
        return
    print(title)
    for line in lines[:LISTED]:
        say(f"  {line}", "    ")
    if len(lines) > LISTED:
        print(f"  and {len(lines) - LISTED} more; --json lists them all.")


def _print_lessons(lessons: Lessons) -> None:
    if lessons.lessons:
        print("\nWhat the records would change")
        print(f"  {'factor':<40}{'before':>18}{'after':>18}{'in force':>10}{'new':>7}")
    for one in lessons.lessons:
        print(
            f"  {one.setting:<40}{_band(one, 'before'):>18}{_band(one, 'after'):>18}"
            f"{one.in_force:>10.3g}{one.value:>7.3g}"
        )
    for one in lessons.lessons:
        say(f"  {one.sentence}", "    ")
    for note in lessons.notes:
        say(f"  {note}", "    ")


def _band(one: Lesson, which: str) -> str:
    band = one.before if which == "before" else one.after
    return f"{band.value:.2f} ({band.low:.2f}-{band.high:.2f})"

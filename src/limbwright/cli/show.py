"""What the commands print: faults, progress, tables, JSON."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager

from limbwright.job import Done
from limbwright.model import Fault

__all__ = [
    "counted",
    "print_assessments",
    "print_failed",
    "print_faults",
    "print_json",
    "print_json_trees",
    "print_plans",
    "progress",
]

CAUTION = (
    "Reckoned from a survey, not an inspection. Look at the tree before each cut; work at height, "
    "with chainsaws\nor near power lines is for trained people; nests, bats and protected trees "
    "come first, by the law of your land.\nThe cut cards tell what applies to each tree."
)

MANY = 12
"""Beyond this many faults only their number is shown beside a run; `check` lists all."""
ALIKE = 3
"""Up to so many rows with the same warning are each printed."""


def counted(number: int, what: str) -> str:
    """Return a number with what it counts, one or many."""
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def print_json(value: object) -> None:
    """Print a value as JSON on standard output; outside UTF-8, as ASCII with escapes."""
    plain = (sys.stdout.encoding or "").lower().replace("-", "") != "utf8"
    json.dump(value, sys.stdout, ensure_ascii=plain, indent=1, allow_nan=False)
    sys.stdout.write("\n")


def print_json_trees(schema: str, trees: Iterable[object]) -> None:
    """Print a document of many trees as they come, so that none is kept."""
    plain = (sys.stdout.encoding or "").lower().replace("-", "") != "utf8"
    out = sys.stdout
    out.write(f'{{\n "schema": {json.dumps(schema)},\n "trees": [')
    comma = ""
    for tree in trees:
        out.write(comma + "\n")
        json.dump(tree, out, ensure_ascii=plain, indent=1, allow_nan=False)
        comma = ","
    out.write("\n ]\n}\n")


def print_faults(
    faults: Sequence[Fault], *, every: bool, rest: str = "'limbwright check' lists them all"
) -> None:
    """Print faults on standard error: all, or the first few, the gravest first, and a count.

    ``rest`` says what to do about those not shown. A warning said of many rows of a column alike is
    printed once, with the rows.
    """
    lines = _gathered(faults)
    if not every:
        lines.sort(key=lambda line: line[0].severity)  # "error" before "warning"
    shown = lines if every else lines[:MANY]
    for fault, more in shown:
        mark = "fault  " if fault.severity == "error" else "warning"
        print(f"{mark}  {fault}{more}", file=sys.stderr)
    if len(shown) < len(lines):
        print(f"... and {len(lines) - len(shown)} more; {rest}.", file=sys.stderr)


def _gathered(faults: Sequence[Fault]) -> list[tuple[Fault, str]]:
    """Return each fault with the other rows of which the same is said."""
    alike: dict[tuple[str, str, str], list[Fault]] = {}
    for fault in faults:
        if fault.severity == "warning":
            alike.setdefault((fault.file, fault.column, fault.fault), []).append(fault)
    found = []
    for fault in faults:
        group = alike.get((fault.file, fault.column, fault.fault), [])
        if fault.severity == "error" or len(group) <= ALIKE:
            found.append((fault, ""))
        elif fault is group[0]:
            rows = ", ".join(str(one.row) for one in group[1 : MANY + 1])
            end = " ..." if len(group) > MANY + 1 else "."
            found.append((fault, f" The same on {len(group) - 1} more rows: {rows}{end}"))
    return found


def print_failed(done: Iterable[Done]) -> None:
    """Print on standard error which trees could not be worked through, and why."""
    for one in done:
        if one.failed:
            print(f"limbwright: {one.tree}: {one.failed}", file=sys.stderr)


@contextmanager
def progress(title: str, total: int, *, quiet: bool) -> Iterator[Callable[[int, str], None]]:
    """Show a bar on standard error while trees are worked through."""
    if quiet:
        yield lambda done, tree: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=Console(stderr=True), transient=False) as bar:
        task = bar.add_task(title, total=total)
        yield lambda done, tree: bar.update(task, completed=done)


def print_assessments(done: Iterable[Done]) -> None:
    """Print one line a limb: what it carries, how hard it works, its chance of failure."""
    print(f"{'tree':<18}{'limb':<8}{'carries':>10}{'use':>7}{'fails a year':>14}  hardest")
    for one in done:
        if one.assessment is None:
            print(f"{one.tree:<18}{one.failed}")
            continue
        for limb in one.assessment.limbs:
            case = one.assessment.loads.cases[limb.case]
            print(
                f"{one.tree:<18}{limb.label:<8}{limb.wood_green_kg:>7.0f} kg"
                f"{limb.utilisation:>6.0%} {limb.chance:>13.2%}  {case.label}"
            )


def print_plans(done: Iterable[Done]) -> None:
    """Print the cuts of each tree with their reasons."""
    for one in done:
        if one.plan is None:
            print(f"\n{one.tree}: {one.failed}")
            continue
        plan = one.plan
        print(
            f"\n{one.tree}  {plan.season}  dose {plan.dose:.0%} of at most {plan.dose_limit:.0%}, "
            f"wound share {plan.wound_share:.0%} of at most {plan.wound_limit:.0%}"
        )
        if not plan.cuts:
            print("  Leave it this year: no cut is worth its wound.")
        for cut in plan.cuts:
            print(f"  {cut.order}. {cut.reason}")
        before, after = plan.light_before, plan.light_after
        if plan.cuts and before.mean > 0.0 and after.mean > 0.0:
            print(
                f"  Light on the leaf that stays: {before.mean:.0%} of that in the open, then "
                f"{after.mean:.0%}; of 100 hats thrown {100 * before.hat:.0f} pass, then "
                f"{100 * after.hat:.0f}."
            )
        print(f"  {plan.certificate}")
    print(f"\n{CAUTION}")

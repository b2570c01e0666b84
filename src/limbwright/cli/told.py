"""What several commands tell at their end, and read alike at their beginning."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from limbwright.cli.dates import read_day

if TYPE_CHECKING:
    from limbwright.job import Done, Opened
    from limbwright.model import Site

__all__ = ["day_of", "exit_code", "place_of", "print_results"]


def print_results(done: Sequence[Done], paths: Mapping[str, Path]) -> None:
    """Print the trees that matter most, and where the results are."""
    from limbwright.report.summary import matter_most

    items = [
        (d.assessment, d.plan, d.station)
        for d in done
        if d.assessment is not None and d.plan is not None
    ]
    if items:
        print(f"\nThe trees that matter most, of {len(items)}:")
    for line in matter_most(items, k=3):
        print(f"  {line}")
    print("\nWritten:")
    for kind, path in paths.items():
        print(f"  {kind:<9} {path}")
    for one in done:
        if one.failed:
            print(f"  not planned: {one.tree}: {one.failed}")


def place_of(opened: Opened) -> Site | None:
    """Return the place of a project file, None for a table."""
    return None if opened.holding is None else opened.holding.site


def exit_code(done: Iterable[Done]) -> int:
    """Return 1 where a tree could not be worked through."""
    return 1 if any(d.failed for d in done) else 0


def day_of(given: str) -> date:
    """Return the day on which one plans: as given, or today."""
    return read_day("--on", given) or date.today()

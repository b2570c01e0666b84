"""The file-reading half of what ``import limbwright as lw`` offers."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from limbwright.cuts.results import Plan
from limbwright.job.work import build as build_with_faults
from limbwright.model import Skeleton, StationRecord, TreeSurvey
from limbwright.report.card import cut_cards
from limbwright.statics.assess import Assessment
from limbwright.survey import Survey, read_survey

__all__ = ["build", "read_limbs", "write_cards"]


def read_limbs(
    path: str | Path,
    *,
    stations: str | Path | None = None,
    columns: str | Path | None = None,
    species: str | None = None,
) -> Survey:
    """Read a limb survey; its faults are in ``.faults``, its good trees in ``.trees``.

    Raises
    ------
    InputError
        A file that cannot be read at all.
    """
    return read_survey(
        Path(path),
        None if stations is None else Path(stations),
        columns=None if columns is None else Path(columns),
        species=species,
    )


def write_cards(
    items: Sequence[tuple[Assessment, Plan, StationRecord | None]],
    path: str | Path,
    *,
    page: Literal["a4", "a5"] = "a4",
) -> Path:
    """Write one cut card a tree into one PDF and return its path."""
    cut_cards(items, Path(path), page=page)
    return Path(path)


def build(tree: TreeSurvey | Skeleton, *, seed: int = 0) -> Skeleton:
    """Return the whole tree of one surveyed tree; the same seed gives the same tree."""
    return build_with_faults(tree, seed=seed)[0]

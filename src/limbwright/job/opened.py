"""What opening a survey gives: its trees, its faults, the stations and the holding."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from limbwright.model import Fault, Holding, Skeleton, StationRecord, TreeSurvey
from limbwright.survey.segments import Extra

__all__ = ["Opened", "Tree"]

Tree = TreeSurvey | Skeleton
"""A tree as it comes: its limbs by tape, or its whole skeleton."""


@dataclass(frozen=True, slots=True)
class Opened:
    """The trees of a survey, what was wrong with it, and the station of each tree.

    ``extra`` holds, for a table of segments, the unknown columns of each tree; ``holding`` is that
    of a project file, None for a table.
    """

    trees: tuple[Tree, ...]
    faults: tuple[Fault, ...]
    stations: Mapping[str, StationRecord]
    extra: Mapping[str, Extra] = field(default_factory=dict)
    holding: Holding | None = None

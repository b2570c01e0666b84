"""The columns of the tables of records, and how each table is known by them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

__all__ = ["RECORD_COLUMNS", "RECORD_DAY", "RECORD_KEYS", "record_kind"]

_TREE = ("tree", "orchard", "station")
RECORD_COLUMNS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "visits": (*_TREE, "season", "done_on", "who", "hours", "brash_hours", "found", "note"),
        "cuts": (
            *(*_TREE, "season", "done_on", "order", "limb", "cut", "done", "at_m"),
            *("diameter_mm", "note"),
        ),
        "responses": (
            *(*_TREE, "seen_on", "who", "shoots", "shoot_length_cm", "extension_cm", "girth_cm"),
            *("wound_mm", "wound_closed_mm", "condition", "limbs_lost", "note"),
        ),
        "photos": (*_TREE, "file", "taken_on", "shows", "bearing_deg", "note"),
    }
)
"""The columns of each table of records."""
RECORD_KEYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "visits": ("done_on",),
        "cuts": ("limb",),
        "responses": ("seen_on",),
        "photos": ("file", "taken_on"),
    }
)
"""The columns no row of a table can do without, its tree aside."""
RECORD_DAY: Mapping[str, str] = MappingProxyType(
    {"visits": "done_on", "cuts": "done_on", "responses": "seen_on", "photos": "taken_on"}
)
"""The column of each table that holds its day."""
_MARKS: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "photos": frozenset(("file", "taken_on")),
        "responses": frozenset(("seen_on",)),
        "cuts": frozenset(("limb", "cut", "order")),
        "visits": frozenset(("done_on",)),
    }
)
"""The columns by which a table is known, asked in this order."""


def record_kind(header: Iterable[str]) -> str:
    """Return which table of records has these columns; empty where none has."""
    held = frozenset(header)
    return next((kind for kind, marks in _MARKS.items() if marks <= held), "")

"""Columns that only a project has a use for: of orchards, and when a row was surveyed."""

__all__ = ["DATED", "ORCHARD_COLUMNS"]

ORCHARD_COLUMNS = ("orchard", "grazed_by", "access", "people_below", "note", "boundary")
DATED = ("taken_on", "who")
"""Columns that tell of which survey a row is; they are no part of its values."""

"""Days as options give them."""

from __future__ import annotations

from datetime import date

from limbwright.errors import InputError

__all__ = ["FIRST_YEAR", "LAST_YEAR", "read_day"]

FIRST_YEAR, LAST_YEAR = 1900, 2200
"""Years asked for beyond these are slips of the pen; judgement."""


def read_day(option: str, given: str) -> date | None:
    """Return the day an option names, None where it is blank.

    Raises
    ------
    InputError
        It is not a date, or one that no holding is planned on.
    """
    try:
        day = date.fromisoformat(given) if given else None
    except ValueError:
        raise InputError(f"{option} {given!r} is not a date.", "Write it as 2027-01-31.") from None
    if day is not None and not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise InputError(
            f"{option} {given} lies too far off.", f"Give a day of {FIRST_YEAR} to {LAST_YEAR}."
        )
    return day

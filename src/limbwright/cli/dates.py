"""Days as options give them."""

from __future__ import annotations

from datetime import date

from limbwright.errors import InputError

__all__ = ["read_day"]


def read_day(option: str, given: str) -> date | None:
    """Return the day an option names, None where it is blank.

    Raises
    ------
    InputError
        It is not a date.
    """
    try:
        return date.fromisoformat(given) if given else None
    except ValueError:
        raise InputError(f"{option} {given!r} is not a date.", "Write it as 2027-01-31.") from None

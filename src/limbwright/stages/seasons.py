"""Names of seasons, one after another."""

from __future__ import annotations

import re

from limbwright.errors import InputError

__all__ = ["following", "year_of"]

NAMED = re.compile(r"^(?P<word>.*?)(?P<year>\d{4})(?:(?P<dash>[-/])\d{2})?$")


def following(first: str, count: int) -> tuple[str, ...]:
    """Return ``count`` seasons a year apart, from such as ``winter 2026-27`` or ``summer 2027``.

    Raises
    ------
    InputError
        No year can be read from the first.
    """
    found = NAMED.match(first.strip())
    if found is None:
        raise InputError(
            f"{first!r} names no season.", "Give it with its year: winter 2026-27, summer 2027."
        )
    word, year, dash = found["word"], int(found["year"]), found["dash"]
    tails = [f"{dash}{(year + k + 1) % 100:02d}" if dash else "" for k in range(count)]
    return tuple(f"{word}{year + k}{tails[k]}" for k in range(count))


def year_of(season: str) -> int | None:
    """Return the first year named in a season, None for none."""
    found = re.search(r"\d{4}", season)
    return int(found.group(0)) if found else None

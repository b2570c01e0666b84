"""Small words of forming: sides of the compass, lengths, lists, seasons."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["between", "listed", "side", "span"]

_POINTS = (
    *("north", "north-east", "east", "south-east"),
    *("south", "south-west", "west", "north-west"),
)


def side(bearing_deg: float | None) -> str:
    """Return the nearest of eight points of the compass; empty where the bearing is not known."""
    if bearing_deg is None:
        return ""
    return _POINTS[round(bearing_deg / 45.0) % 8]


def between(first_deg: float, second_deg: float) -> str:
    """Return a stretch of the round in words, clockwise from the first bearing."""
    a, b = side(first_deg), side(second_deg)
    return f"on the {a}" if a == b else f"between {a} and {b}"


def listed(names: Sequence[str]) -> str:
    """Return names as a list in words."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def span(low: float, high: float, unit: str, digits: int = 0) -> str:
    """Return a range with its unit, or one number where both ends read alike."""
    a, b = f"{low:.{digits}f}", f"{high:.{digits}f}"
    return f"{a} {unit}" if a == b else f"{a} to {b} {unit}"

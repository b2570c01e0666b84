"""Records: what was done in a tree, what was found, and how the tree answered."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

__all__ = ["CutDone", "Photo", "Response", "Visit"]


@dataclass(frozen=True, slots=True)
class CutDone:
    """One cut of the list, ticked or not, or one made besides.

    ``order`` is its number on the card, 0 for a cut that was not on it. ``done`` is ``yes``,
    ``no`` or ``other`` (made, but elsewhere or otherwise than planned: ``at_m``, ``diameter_mm``
    then say how, None where as planned).
    """

    order: int
    limb: str
    cut: str = "remove"
    done: str = "yes"
    at_m: float | None = None
    diameter_mm: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Photo:
    """One photo of a tree: where the picture lies, when and from where it was taken.

    ``shows`` is ``before``, ``after``, ``defect`` or ``whole``; ``bearing_deg`` is the direction
    the camera looked, clockwise from north.
    """

    tree: str
    file: str
    taken_on: date
    shows: str = "whole"
    bearing_deg: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Visit:
    """One tree worked on, on one day.

    ``tree`` is ``orchard/station``; ``season`` the words of the plan, such as
    ``winter 2026-27``. ``hours`` are person-hours in the tree, ``brash_hours`` those of hauling
    and clearing, None where not noted. ``found`` is what was found there, in the crew's words.
    """

    tree: str
    season: str
    done_on: date
    who: str = ""
    hours: float | None = None
    brash_hours: float | None = None
    cuts: tuple[CutDone, ...] = ()
    found: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Response:
    """How a tree answered, seen in the growing season after the work (or a later one).

    ``shoots`` counts the new watershoots of the whole tree; ``shoot_length_cm`` is their median
    length, ``extension_cm`` the median growth of outer shoots, ``girth_cm`` the stem's girth.
    ``wound_closed_mm`` is how far the callus of one marked wound of ``wound_mm`` across has come
    in from its edges, both sides together. ``limbs_lost`` names limbs that broke since the last
    look. ``condition`` is good, fair, poor or dead.
    """

    tree: str
    seen_on: date
    who: str = ""
    shoots: int | None = None
    shoot_length_cm: float | None = None
    extension_cm: float | None = None
    girth_cm: float | None = None
    wound_mm: float | None = None
    wound_closed_mm: float | None = None
    condition: str = ""
    limbs_lost: tuple[str, ...] = ()
    note: str = ""

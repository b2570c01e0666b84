"""A young tree as measured for its forming: its leader and shoots, a few numbers each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from limbwright.model.records import StationRecord

__all__ = ["ShootRecord", "YoungTree"]


def _no_notes() -> Mapping[str, str]:
    return {}


@dataclass(frozen=True, slots=True)
class ShootRecord:
    """One shoot or young branch of a tree in its forming years.

    ``parent`` is empty for the leader (the stem and its continuation), else the shoot it grows
    from. ``at_m`` is the height of its base above the ground for shoots on the leader, the
    distance along the parent for others. ``length_m`` is along the shoot to its tip,
    ``grown_cm`` the part that grew last season (None: taken as all of a one-year-old shoot).
    ``diameter_mm`` just past its collar; ``bearing_deg`` clockwise from north; ``rise_deg`` above
    horizontal. ``state`` is live, dead, diseased or broken.
    """

    station: str
    shoot: str
    parent: str = ""
    at_m: float | None = None
    length_m: float | None = None
    grown_cm: float | None = None
    diameter_mm: float | None = None
    bearing_deg: float | None = None
    rise_deg: float | None = None
    state: str = "live"
    keep: str = ""
    note: str = ""
    extra: Mapping[str, str] = field(default_factory=_no_notes)
    file: str = ""
    row: int = 0


@dataclass(frozen=True, slots=True)
class YoungTree:
    """One young tree ready to be formed: its station and its shoots, the leader first."""

    station: StationRecord
    shoots: tuple[ShootRecord, ...]

"""What a person writes down in the orchard: one record a station, one a limb."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["LimbRecord", "StationRecord", "TreeSurvey"]


def _no_notes() -> Mapping[str, str]:
    return {}


@dataclass(frozen=True, slots=True)
class StationRecord:
    """A numbered planting place and the tree that stands there, as surveyed.

    ``None`` means not recorded. ``extra`` keeps every unknown column, so that nothing is lost.
    ``file`` and ``row`` say where the record came from.
    """

    station: str
    orchard: str = ""
    species: str = ""
    cultivar: str = ""
    x: float | None = None
    y: float | None = None
    lon_deg: float | None = None
    lat_deg: float | None = None
    status: str = "living"
    planted: int | None = None
    form: str = ""
    stock: str = ""
    girth_cm: float | None = None
    girth_at_m: float | None = None
    height_m: float | None = None
    spread_ns_m: float | None = None
    spread_ew_m: float | None = None
    clear_stem_m: float | None = None
    lean_deg: float | None = None
    lean_bearing_deg: float | None = None
    condition: str = ""
    extension_cm: float | None = None
    dead_pct: float | None = None
    features: str = ""
    faults: str = ""
    note: str = ""
    extra: Mapping[str, str] = field(default_factory=_no_notes)
    file: str = ""
    row: int = 0

    @property
    def tree(self) -> str:
        """The name a tree bears everywhere: ``orchard/station``, or the station alone."""
        return f"{self.orchard}/{self.station}" if self.orchard else self.station

    @property
    def spread_m(self) -> float | None:
        """Mean crown spread [m], None where neither direction was taken."""
        taken = [s for s in (self.spread_ns_m, self.spread_ew_m) if s is not None]
        return sum(taken) / len(taken) if taken else None


@dataclass(frozen=True, slots=True)
class LimbRecord:
    """One limb as taped: the stem is a limb whose ``parent`` is empty.

    ``at_m`` is measured along the parent from its base; ``bearing_deg`` clockwise from north;
    ``rise_deg`` above horizontal (negative droops). ``crown`` runs from 0 (bare) to 3 (full).
    ``cavity_wall_mm`` is the thinnest sound wall of a cavity, ``cavity_far_wall_mm`` the wall
    across from it, ``cavity_open_deg`` the angle of the shell that is gone.
    """

    station: str
    limb: str
    parent: str
    diameter_mm: float
    length_m: float
    at_m: float | None = None
    end_diameter_mm: float | None = None
    bearing_deg: float | None = None
    rise_deg: float | None = None
    end_rise_deg: float | None = None
    crown: float | None = None
    state: str = "live"
    union: str = "sound"
    cavity_wall_mm: float | None = None
    cavity_far_wall_mm: float | None = None
    cavity_open_deg: float | None = None
    keep: str = ""
    rubs: str = ""
    species: str = ""
    note: str = ""
    extra: Mapping[str, str] = field(default_factory=_no_notes)
    file: str = ""
    row: int = 0


@dataclass(frozen=True, slots=True)
class TreeSurvey:
    """One tree ready to be built: its station and its limbs, the stem first, parents first."""

    station: StationRecord
    limbs: tuple[LimbRecord, ...]

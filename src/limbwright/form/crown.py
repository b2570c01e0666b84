"""A young tree with every number filled in: measured where it was, else by a stated rule."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from limbwright.errors import InputError
from limbwright.form.settings import FormSettings
from limbwright.model.records import StationRecord
from limbwright.model.shoots import ShootRecord, YoungTree

__all__ = ["Crown", "Shoot", "fill_crown", "tree_growth_cm"]

OLD_WOOD_SHARE, TIP_SHARE = 0.7, 0.25
"""Judgement: where last year's growth begins a young stem is seven tenths as thick as at its foot,
and at its tip a quarter."""
USUAL_RISE_DEG = 45.0
"""Judgement: a shoot whose slope nobody took rises halfway."""
USUAL_LENGTH_M = 0.4
"""Judgement: a shoot whose length nobody took, on a tree where none was."""
ONE_YEAR_SHARE = 0.85
"""Judgement: a shoot that grew this share of its length last season is one year old."""
EDGE_M = 0.01

Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Shoot:
    """One shoot with its numbers filled in.

    ``level`` is 0 for the leader, 1 for shoots on it, 2 and more further out. ``bearing_deg`` is
    None where nobody took it. ``base_m`` and ``tip_m`` are east, north and height [m].
    ``assumed`` names the values that were not measured.
    """

    name: str
    parent: str
    level: int
    at_m: float
    length_m: float
    grown_m: float
    diameter_mm: float
    bearing_deg: float | None
    rise_deg: float
    state: str
    keep: str
    base_m: Point
    tip_m: Point
    assumed: tuple[str, ...] = ()

    @property
    def angle_deg(self) -> float:
        """The angle from the upright: 0 straight up, 90 level."""
        return 90.0 - self.rise_deg

    @property
    def sound(self) -> bool:
        """Whether it is live and whole."""
        return self.state == "live"

    @property
    def one_year_old(self) -> bool:
        """Whether all of it grew last season."""
        return self.grown_m >= ONE_YEAR_SHARE * self.length_m

    @property
    def direction(self) -> Point:
        """The unit vector along it."""
        flat = math.cos(math.radians(self.rise_deg))
        turn = math.radians(self.bearing_deg or 0.0)
        return (
            flat * math.sin(turn),
            flat * math.cos(turn),
            math.sin(math.radians(self.rise_deg)),
        )

    def point_at(self, along_m: float) -> Point:
        """Return the point [m] a way along it."""
        d, b = self.direction, self.base_m
        return (b[0] + along_m * d[0], b[1] + along_m * d[1], b[2] + along_m * d[2])


@dataclass(frozen=True, slots=True)
class Crown:
    """The leader of one young tree and all that grows on it, parents before their shoots.

    ``lost`` are shoots that could not be placed, each with why.
    """

    leader: Shoot
    shoots: tuple[Shoot, ...]
    lost: tuple[tuple[str, str], ...] = ()

    @property
    def every(self) -> tuple[Shoot, ...]:
        """The leader and all shoots."""
        return (self.leader, *self.shoots)

    @property
    def on_leader(self) -> tuple[Shoot, ...]:
        """The shoots that grow from the leader, the lowest first."""
        found = [s for s in self.shoots if s.level == 1]
        return tuple(sorted(found, key=lambda s: (s.at_m, s.name)))

    @property
    def by_name(self) -> Mapping[str, Shoot]:
        """All shoots by name."""
        return MappingProxyType({s.name: s for s in self.every})

    @property
    def height_m(self) -> float:
        """Height of the highest tip [m]."""
        return max(max(s.tip_m[2], s.base_m[2]) for s in self.every)

    @property
    def spread_m(self) -> float:
        """Twice the furthest reach of any shoot from the stem [m]."""
        return 2.0 * max(math.hypot(s.tip_m[0], s.tip_m[1]) for s in self.every)

    def stem_mm(self, height_m: float) -> float:
        """Return the diameter of the stem at a height [mm]: its taper quickens in new growth."""
        foot, tip = self.leader.diameter_mm, self.leader.length_m
        new = max(tip - self.leader.grown_m, EDGE_M)
        if height_m <= new:
            return foot * (1.0 - (1.0 - OLD_WOOD_SHARE) * max(height_m, 0.0) / new)
        share = min((height_m - new) / max(tip - new, EDGE_M), 1.0)
        return foot * (OLD_WOOD_SHARE - (OLD_WOOD_SHARE - TIP_SHARE) * share)

    def borne_by(self, name: str) -> tuple[Shoot, ...]:
        """Return what grows from a shoot, and from what grows from it."""
        names = {name}
        found = []
        for shoot in self.shoots:
            if shoot.parent in names:
                names.add(shoot.name)
                found.append(shoot)
        return tuple(found)


def fill_crown(tree: YoungTree, settings: FormSettings) -> Crown:
    """Return a young tree with every number filled in.

    Parameters
    ----------
    tree
        The tree; the first shoot without a parent is its leader.
    settings
        The figures of forming; `shoot_slim`, `grow_cm` and `bud_spacing` fill gaps.

    Raises
    ------
    InputError
        There is no shoot, no leader, or nothing tells how tall the leader is.
    """
    if not tree.shoots:
        raise InputError(
            f"Tree {tree.station.tree} has no shoots to form it by.", "Measure at least its leader."
        )
    records = list(tree.shoots)
    stem = next((r for r in records if not r.parent), None)
    if stem is None:
        raise InputError(
            f"None of the shoots of tree {tree.station.tree} is its leader.",
            "Give the leader a blank parent.",
        )
    records.remove(stem)
    leader = _leader(stem, records, tree.station, settings)
    usual: dict[bool, float] = {}
    for high in (False, True):
        taken = sorted(
            r.length_m for r in records if r.length_m and (r.parent != stem.shoot) == high
        )
        usual[high] = taken[len(taken) // 2] if taken else USUAL_LENGTH_M
    placed = {leader.name: leader}
    lost: list[tuple[str, str]] = []
    while records:  # round after round, as a parent may stand below its shoots
        later = []
        for record in records:
            parent = placed.get(record.parent)
            if parent is None:
                later.append(record)
            elif record.at_m is None:
                where = (
                    "its base above the ground" if parent.level == 0 else "its way along its parent"
                )
                lost.append((record.shoot, f"nobody measured {where}"))
            elif record.shoot in placed:
                lost.append((record.shoot, "another shoot of this tree bears its name"))
            else:
                length = record.length_m or usual[parent.level > 0]
                placed[record.shoot] = _shoot(record, parent, length, settings)
        if len(later) == len(records):
            lost += [(r.shoot, f"it grows from {r.parent!r}, which is not placed") for r in later]
            break
        records = later
    return Crown(leader, tuple(s for s in placed.values() if s.level > 0), tuple(lost))


def tree_growth_cm(tree: YoungTree, crown: Crown) -> float | None:
    """Return how much the tree grew last season [cm]: as surveyed, else of its longer shoots.

    None where nothing was measured.
    """
    if tree.station.extension_cm is not None:
        return tree.station.extension_cm
    grown = sorted(
        (
            100.0 * s.grown_m
            for s in crown.every
            if s.sound and s.grown_m > 0.0 and "growth" not in s.assumed and s.level <= 1
        ),
        reverse=True,
    )
    if not grown:
        return None
    best = grown[: max(1, (len(grown) + 1) // 2)]
    return sum(best) / len(best)


def _leader(
    record: ShootRecord,
    others: list[ShootRecord],
    station: StationRecord,
    settings: FormSettings,
) -> Shoot:
    assumed: list[str] = []
    length = record.length_m
    if not length:
        highest = max((s.at_m for s in others if s.at_m is not None), default=None)
        length = station.height_m or (None if highest is None else highest + EDGE_M)
        if not length:
            raise InputError(
                f"Tree {station.tree}: nothing tells how tall its leader is.",
                "Give length_m of the leader, or height_m of the station.",
            )
        assumed.append("length")
    if record.grown_cm is None:
        assumed.append("growth")
        grown = min((station.extension_cm or settings["grow_cm"]) / 100.0, length)
    else:
        grown = min(record.grown_cm / 100.0, length)
    diameter = record.diameter_mm
    if not diameter and station.girth_cm:
        diameter = station.girth_cm * 10.0 / math.pi
    if not diameter:
        # judgement: a young stem is about one and a half times as thick as one shoot of its length
        diameter = 2.0 + 1.2 * settings["shoot_slim"] * 100.0 * length
        assumed.append("thickness")
    return Shoot(
        record.shoot,
        "",
        0,
        0.0,
        length,
        grown,
        diameter,
        None,
        90.0,
        record.state,
        record.keep,
        (0.0, 0.0, 0.0),
        (0.0, 0.0, length),
        tuple(assumed),
    )


def _shoot(record: ShootRecord, parent: Shoot, length: float, settings: FormSettings) -> Shoot:
    assumed = [] if record.length_m else ["length"]
    at = min(max(record.at_m or 0.0, 0.0), max(parent.length_m - EDGE_M, 0.0))
    rise = record.rise_deg
    if rise is None:
        rise = USUAL_RISE_DEG if parent.level == 0 else max(parent.rise_deg - 10.0, 0.0)
        assumed.append("slope")
    bearing = record.bearing_deg
    if bearing is None:
        assumed.append("bearing")
        if parent.level > 0:
            bearing = parent.bearing_deg
    if record.grown_cm is None:
        grown = length  # as the survey's contract says: all of a one-year-old shoot
        assumed.append("growth")
    else:
        grown = min(record.grown_cm / 100.0, length)
    diameter = record.diameter_mm
    if not diameter:
        diameter = 2.0 + settings["shoot_slim"] * 100.0 * length
        assumed.append("thickness")
    base = parent.point_at(at)
    shoot = Shoot(
        record.shoot,
        parent.name,
        parent.level + 1,
        at,
        length,
        grown,
        diameter,
        None if bearing is None else bearing % 360.0,
        rise,
        record.state,
        record.keep,
        base,
        base,
        tuple(assumed),
    )
    return replace(shoot, tip_m=shoot.point_at(length))

"""Invented trees in their forming years: the station, and the shoots a few numbers each.

Not a growth model: a way to draw young standards that look as a surveyor meets them, some formed
as a book would have it, some not. All values are judgement.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbwright.demo.names import FRUIT_NAMES, MARK
from limbwright.demo.walked import LAST_YEAR
from limbwright.model import ShootRecord, StationRecord

__all__ = ["form_tree"]

AGES = (2, 8)
"""Least and most years since planting."""
HEADED_AGE = 6
"""From this age the leader was headed and the scaffold chosen."""
GOLDEN_DEG = 137.5
"""From one shoot to the next around the stem: leaves stand so (from memory: phyllotaxis)."""


def form_tree(
    rng: np.random.Generator, bare: StationRecord, species: str, clear_m: float
) -> tuple[StationRecord, tuple[ShootRecord, ...]]:
    """Return a young tree's station and its shoots, the leader first.

    Parameters
    ----------
    clear_m
        The clear stem the stock beneath asks for [m].
    """
    age = int(rng.integers(AGES[0], AGES[1] + 1))
    stone = species in ("plum", "damson", "gage", "cherry")
    if age >= HEADED_AGE:
        shoots = _headed(rng, bare.station, clear_m, age)
    else:
        shoots = _rising(rng, bare.station, clear_m, age)
    leader = shoots[0]
    top = max((s.at_m or 0.0) + (s.length_m or 0.0) * _up(s) for s in shoots if s.parent != "")
    height = max(leader.length_m or 0.0, top if age >= HEADED_AGE else 0.0)
    reach = max((s.length_m or 0.0) * _out(s) for s in shoots[1:])
    faults = ("", "", "", "tie tight", "guard broken", "guard gone; bark stripped by sheep")
    found = replace(
        bare,
        species=species,
        cultivar=str(rng.choice([name for name in FRUIT_NAMES[species] if name])),
        status="living",
        planted=LAST_YEAR - age,
        form="standard",
        stock="St Julien A" if stone and species != "cherry" else "seedling",
        girth_cm=float(round((leader.diameter_mm or 20.0) * np.pi / 10.0)),
        girth_at_m=0.5,
        height_m=round(height, 1),
        spread_ns_m=round(2.0 * reach, 1),
        spread_ew_m=round(2.0 * reach * float(rng.uniform(0.8, 1.0)), 1),
        clear_stem_m=round(min(clear_m, height - 0.3), 1) if age >= HEADED_AGE else None,
        lean_deg=0.0,
        condition="good" if float(rng.uniform()) < 0.8 else "fair",
        extension_cm=float(round(float(np.median([s.grown_cm or 0.0 for s in shoots[1:]])))),
        dead_pct=0.0,
        faults=str(rng.choice(faults)),
        note=MARK,
    )
    return found, shoots


def _up(shoot: ShootRecord) -> float:
    return float(np.sin(np.radians(shoot.rise_deg or 0.0)))


def _out(shoot: ShootRecord) -> float:
    return float(np.cos(np.radians(shoot.rise_deg or 0.0)))


def _shoot(
    station: str,
    name: str,
    parent: str,
    at_m: float,
    length_m: float,
    grown_cm: float,
    diameter_mm: float,
    bearing_deg: float,
    rise_deg: float,
    keep: str = "",
) -> ShootRecord:
    """Return a shoot with its numbers as a rule and a compass give them."""
    length = round(length_m, 2)
    return ShootRecord(
        station=station,
        shoot=name,
        parent=parent,
        at_m=round(at_m, 2),
        length_m=length,
        grown_cm=float(min(round(grown_cm), round(100.0 * length))),
        diameter_mm=float(max(round(diameter_mm), 3)),
        bearing_deg=5.0 * round((bearing_deg % 360.0) / 5.0) % 360.0,
        rise_deg=5.0 * round(rise_deg / 5.0),
        keep=keep,
        note=MARK,
    )


def _leader(station: str, length_m: float, grown_cm: float, diameter_mm: float) -> ShootRecord:
    bare = _shoot(station, "leader", "", 0.0, length_m, grown_cm, diameter_mm, 0.0, 90.0)
    return replace(bare, at_m=None, bearing_deg=None)


def _rising(
    rng: np.random.Generator, station: str, clear_m: float, age: int
) -> tuple[ShootRecord, ...]:
    """Draw a tree whose leader still grows, with feathers below and shoots of the crown above."""
    tall = clear_m + (0.3, 0.45, 0.8, 1.1)[age - AGES[0]] + float(rng.uniform(-0.35, 0.2))
    grown = float(rng.uniform(45.0, 85.0))
    found = [_leader(station, tall, grown, 12.5 * tall * float(rng.uniform(0.9, 1.1)))]
    turn = float(rng.uniform(0.0, 360.0))
    heights = np.sort(rng.uniform(0.3 * tall, tall - 0.15, int(rng.integers(5, 10))))
    for k, at in enumerate(heights):
        young = at > tall - grown / 100.0
        length = float(rng.uniform(0.25, 0.5) if young else rng.uniform(0.35, 0.8))
        length *= 0.7 if at < clear_m else 1.0
        part = 1.0 if young else float(rng.uniform(0.6, 1.0))
        bearing = turn + GOLDEN_DEG * k + float(rng.uniform(-25.0, 25.0))
        rise = float(rng.uniform(20.0, 58.0)) if float(rng.uniform()) < 0.8 else 75.0
        name = str(k + 1)
        thick = 3.0 + 13.0 * length
        found.append(
            _shoot(station, name, "leader", at, length, 100 * length * part, thick, bearing, rise)
        )
    if float(rng.uniform()) < 0.25:
        found[-2] = replace(found[-2], state="broken")
    return tuple(found)


def _headed(
    rng: np.random.Generator, station: str, clear_m: float, age: int
) -> tuple[ShootRecord, ...]:
    """Draw a tree headed above its clear stem, its scaffold chosen a year or more ago."""
    winters = age - HEADED_AGE + 1
    count = int(rng.integers(3, 5))
    tall = clear_m + 0.12 * count + 0.1
    found = [_leader(station, tall, 0.0, 45.0 + 6.0 * winters + float(rng.uniform(-4.0, 4.0)))]
    turn = float(rng.uniform(0.0, 360.0))
    chosen = f"scaffold {LAST_YEAR - winters}"
    for k in range(count):
        grown = float(rng.uniform(45.0, 70.0))
        length = 0.32 * winters + grown / 100.0
        bearing = turn + 360.0 / count * k + float(rng.uniform(-20.0, 20.0))
        name = str(k + 1)
        at = clear_m + 0.05 + 0.12 * k
        thick = 13.0 + 8.0 * length
        rise = float(rng.uniform(35.0, 50.0))
        found.append(
            _shoot(station, name, "leader", at, length, grown, thick, bearing, rise, chosen)
        )
        for n, side in enumerate((-1.0, 1.0)[: int(rng.integers(1, 3))]):
            own = float(rng.uniform(0.3, 0.55))
            place = length - grown / 100.0 - 0.06 * (n + 1)
            found.append(
                _shoot(
                    *(station, f"{name}{'ab'[n]}", name, max(place, 0.1), own, 100.0 * own),
                    *(3.0 + 13.0 * own, bearing + 60.0 * side, float(rng.uniform(15.0, 40.0))),
                )
            )
    up = float(rng.uniform(0.4, 0.7))
    found.append(
        _shoot(
            *(station, str(count + 1), "leader", tall - 0.05, up, 100.0 * up, 3.0 + 12.0 * up),
            *(turn + 60.0, 85.0),
        )
    )
    return tuple(found)

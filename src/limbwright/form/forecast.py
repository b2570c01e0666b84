"""One season's growth of a young tree after its cuts, by a few settings with their ranges.

A forecast to plan visits by, no more: where the new shoots will stand nobody knows, so their
bearings follow the botany of buds from a made-up first one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from limbwright.form.crown import Crown, Shoot
from limbwright.form.results import FormRow
from limbwright.form.settings import FormSettings
from limbwright.model.records import StationRecord
from limbwright.model.shoots import ShootRecord, YoungTree

__all__ = ["grown_on"]

FIRST_BEARING_DEG = 30.0
"""Made up: nobody knows which bud stands uppermost."""
BREAK_ANGLES_DEG = (18.0, 42.0, 50.0, 58.0, 65.0)
"""Angle off the stem of shoots below a heading cut, the uppermost first: the top one steep, lower
ones wider; judgement after common practice (low buds make wide unions)."""
BREAK_LENGTHS = (1.0, 0.85, 0.75, 0.65, 0.55)
"""Their lengths over the tree's growth; judgement."""
SIDE_TURN_DEG = (-55.0, 55.0, -45.0)
SIDE_LENGTHS = (0.6, 0.5, 0.4)
"""Side shoots behind the cut of a scaffold limb; judgement."""
SIDE_BACK_M = (0.06, 0.16, 0.26)
STEM_SIDES_AT = (0.35, 0.6)
"""Where along last year's growth a leader makes side shoots; judgement."""
RISE_GAIN_DEG = 2.0
"""Judgement: new growth turns up a little."""


def grown_on(
    station: StationRecord,
    crown: Crown,
    rows: Iterable[FormRow],
    settings: FormSettings,
    *,
    growth_cm: float,
    year: int,
) -> YoungTree:
    """Return the tree as it might stand a year on, if the rows are done and it grows so much.

    Parameters
    ----------
    station
        The station; its girth and height, now out of date, are left out of the result.
    rows
        What is done this season.
    growth_cm
        Growth of the tree in the coming season [cm].
    year
        The year of the season, written beside the limbs chosen in it.
    """
    row_of = {row.shoot: row for row in rows}
    grow = growth_cm / 100.0
    records: list[ShootRecord] = []
    kept: dict[str, Shoot] = {}
    new_leader = next(
        (r.shoot for r in row_of.values() if r.role == "leader" and r.shoot != crown.leader.name),
        "",
    )
    for shoot in crown.every:
        row = row_of.get(shoot.name)
        gone = row is None or row.work == "remove" or row.what.startswith("Goes with ")
        if gone or (shoot.level > 0 and shoot.parent not in kept):
            continue
        kept[shoot.name] = shoot
        records += _one(shoot, row_of, crown, settings, grow, year)
    if new_leader:
        records = _led_by(records, crown.leader.name, new_leader)
    bare = replace(
        station,
        height_m=None,
        girth_cm=None,
        extension_cm=None,
        spread_ns_m=None,
        spread_ew_m=None,
        status="living",
        condition="" if station.condition == "poor" else station.condition,
    )
    return YoungTree(bare, tuple(records))


def _one(
    shoot: Shoot,
    row_of: Mapping[str, FormRow],
    crown: Crown,
    settings: FormSettings,
    grow: float,
    year: int,
) -> list[ShootRecord]:
    """Return a kept shoot as it stands a year on, and the shoots it makes."""
    row = row_of[shoot.name]
    headed = row.work == "head"
    keep = shoot.length_m if row.keep_cm is None else row.keep_cm / 100.0
    scaffold = row.role == "scaffold"
    rise = shoot.rise_deg if row.spread_to_deg is None else 90.0 - row.spread_to_deg
    thicker = settings["grow_stem_mm"] * shoot.diameter_mm / max(crown.leader.diameter_mm, 1e-9)
    made: list[ShootRecord] = []
    if shoot.level == 0:
        open_now = row.work in ("shorten", "head") or shoot.grown_m < 0.03
        grown = 0.0 if open_now else grow
        if row.work == "head":
            made = _breaks(shoot, keep, settings, grow, year)
        elif not open_now:
            made = _feathers(shoot, settings, grow, year)
    elif row.role == "leader":  # a shoot that carries the stem on
        grown = 0.0 if headed else grow
        made = _breaks(shoot, keep, settings, grow, year) if headed else []
    elif headed:
        answer = 1.0 + settings["grow_answer"] * row.share
        grown = grow * answer * (1.0 if scaffold else 0.6)
        if scaffold:
            made = _sides(shoot, keep, rise, settings, grow, year)
    elif scaffold:
        grown = grow
        made = _sides(shoot, keep, rise, settings, grow, year)[:1]
    else:
        grown = grow * settings["grow_uncut"] * (1.0 if shoot.level == 1 else 0.6)
    mark = shoot.keep
    if scaffold and "scaffold" not in mark.lower():
        mark = f"scaffold {year}"
    record = ShootRecord(
        station="",
        shoot=shoot.name,
        parent=shoot.parent,
        at_m=None if shoot.level == 0 else shoot.at_m,
        length_m=keep + grown,
        grown_cm=100.0 * grown,
        diameter_mm=shoot.diameter_mm + thicker,
        bearing_deg=shoot.bearing_deg,
        rise_deg=rise if shoot.level == 0 else min(rise + RISE_GAIN_DEG, 85.0),
        state="live",
        keep=mark,
    )
    return [record, *made]


def _new(
    parent: Shoot,
    number: int,
    year: int,
    at: float,
    length: float,
    turn: float,
    rise: float,
    settings: FormSettings,
) -> ShootRecord:
    return ShootRecord(
        station="",
        shoot=f"{parent.name}/{year % 100:02d}{'abcdefgh'[number % 8]}",
        parent=parent.name,
        at_m=max(at, 0.01),
        length_m=max(length, 0.03),
        grown_cm=100.0 * max(length, 0.03),
        diameter_mm=2.0 + settings["shoot_slim"] * 100.0 * max(length, 0.03),
        bearing_deg=turn % 360.0,
        rise_deg=rise,
    )


def _breaks(
    leader: Shoot, keep: float, settings: FormSettings, grow: float, year: int
) -> list[ShootRecord]:
    count = min(int(settings["grow_breaks"]), len(BREAK_ANGLES_DEG))
    step = min(settings["head_zone"], keep) / max(count, 1)
    return [
        _new(
            leader,
            k,
            year,
            keep - 0.02 - k * step,
            grow * BREAK_LENGTHS[k],
            FIRST_BEARING_DEG + k * settings["phyllotaxis"],
            90.0 - BREAK_ANGLES_DEG[k],
            settings,
        )
        for k in range(count)
    ]


def _feathers(leader: Shoot, settings: FormSettings, grow: float, year: int) -> list[ShootRecord]:
    base = leader.length_m - leader.grown_m
    return [
        _new(
            leader,
            k,
            year,
            base + share * max(leader.grown_m, 0.05),
            0.4 * grow,
            FIRST_BEARING_DEG + 60.0 * year + k * settings["phyllotaxis"],
            35.0,
            settings,
        )
        for k, share in enumerate(STEM_SIDES_AT)
    ]


def _sides(
    limb: Shoot, keep: float, rise: float, settings: FormSettings, grow: float, year: int
) -> list[ShootRecord]:
    count = min(int(settings["grow_sides"]), len(SIDE_TURN_DEG))
    return [
        _new(
            limb,
            k,
            year,
            keep - SIDE_BACK_M[k],
            grow * SIDE_LENGTHS[k],
            (limb.bearing_deg or 0.0) + SIDE_TURN_DEG[k] * (1 if year % 2 else -1),
            max(rise - 10.0, 5.0),
            settings,
        )
        for k in range(count)
    ]


def _led_by(records: list[ShootRecord], old: str, new: str) -> list[ShootRecord]:
    """Return the records with the stem carried on by another shoot, as one leader."""
    stem = next(r for r in records if r.shoot == old)
    shoot = next(r for r in records if r.shoot == new)
    foot = float(shoot.at_m or 0.0)
    leader = replace(
        stem,
        length_m=foot + float(shoot.length_m or 0.0),
        grown_cm=shoot.grown_cm,
        state="live",
    )
    found = [leader]
    for r in records:
        if r.shoot in (old, new):
            continue
        if r.parent == new:
            r = replace(r, parent=old, at_m=foot + float(r.at_m or 0.0))
        found.append(r)
    return found

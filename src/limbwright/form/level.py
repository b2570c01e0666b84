"""How much comes off each scaffold limb, so that their tips end level, and to which bud.

Limbs whose tips stand at one height grow at one pace (practice of German-speaking orchards; tips
level: meadow-orchard advice and regional press). Lower limbs so stay longer, and a weak one is left
a little higher. Each cut stays within the shares of last year's growth that sources give.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.form.crown import Shoot
from limbwright.form.settings import FormSettings
from limbwright.form.words import side

__all__ = ["CutBack", "Share", "level_cuts", "outward_bud", "share_of_growth"]

LEAST_RISE_DEG = 20.0
"""Judgement: flatter than this a limb's tip hardly sinks as it is shortened."""
STEP_M = 0.01
STRAY_WEIGHT = 1.0
"""Judgement: a centimetre cut off the asked share counts as much as one off the level."""
WEAK_SHARE = 0.8
"""Judgement: a limb thinner than this over the thickest is weak, and may be left uncut."""


@dataclass(frozen=True, slots=True)
class Share:
    """The share of last year's growth to cut off, its range, and why, in words."""

    value: float
    low: float
    high: float
    words: str


@dataclass(frozen=True, slots=True)
class CutBack:
    """What one limb keeps [m], the share of last year's growth that goes, and its tip then [m]."""

    keep_m: float
    share: float
    tip_m: float


def share_of_growth(
    winters: int, growth_cm: float | None, stone: bool, settings: FormSettings
) -> Share:
    """Return the share of last year's growth to cut off the scaffold limbs of one tree.

    Parameters
    ----------
    winters
        Winters since the limbs were chosen; 0 for the first cut.
    growth_cm
        Growth of the tree last season [cm]: a weak tree is cut harder, a strong one lightly.
    stone
        True for stone fruit, which is cut lightly.
    """
    name = "cut_first" if winters == 0 else "cut_later"
    value, low, high = settings[name], settings.low(name), settings.high(name)
    why = ""
    if stone:
        value = 0.5 * (value + low)
        why = ", as stone fruit is cut lightly"
    if growth_cm is not None and growth_cm < settings["growth_weak"]:
        value = high
        why = f", as the tree grew only {growth_cm:.0f} cm and a hard cut wakes it"
    elif growth_cm is not None and growth_cm > settings["growth_strong"]:
        value = low
        why = f", as the tree grew {growth_cm:.0f} cm and a harder cut would drive it on"
    return Share(value, low, high, f"{_fraction(value)} of last year's growth comes off{why}")


def _fraction(share: float) -> str:
    for part, words in ((1 / 4, "a quarter"), (1 / 3, "a third"), (1 / 2, "half")):
        if abs(share - part) < 0.02:
            return words
    return "two thirds" if abs(share - 2 / 3) < 0.02 else f"{100 * share:.0f} %"


def level_cuts(limbs: Sequence[Shoot], share: Share, settings: FormSettings) -> tuple[CutBack, ...]:
    """Return the cut back of each scaffold limb: tips as level as the range of shares allows.

    For a level h the cut of limb i is the share nearest to the one that puts its tip at h (a weak
    limb a little higher), within the range; h is the one, to a centimetre, with the least sum of
    squares of tips off the level and of cuts off the asked share. A weak limb still below the level
    at its lightest cut is not cut.
    """
    if not limbs:
        return ()
    grown = np.array([s.grown_m for s in limbs])
    sine = np.sin(np.radians([s.rise_deg for s in limbs]))
    full = np.array([s.base_m[2] + s.length_m * math.sin(math.radians(s.rise_deg)) for s in limbs])
    thick = np.array([s.diameter_mm for s in limbs])
    lead = settings["weak_tip"] * (1.0 - thick / thick.max())
    steep = (sine > math.sin(math.radians(LEAST_RISE_DEG))) & (grown > STEP_M)
    run = np.where(steep, grown * sine, 1.0)
    low, high = np.where(steep, share.low, share.value), np.where(steep, share.high, share.value)
    asked = np.full(len(limbs), share.value)
    shares = asked.copy()
    if steep.any():
        first, last = (full - high * run)[steep].min(), (full - low * run)[steep].max()
        levels = first + STEP_M * np.arange(int((last - first) / STEP_M) + 2)
        tried = np.clip((full - lead - levels[:, None]) / run, low, high)
        tips = full - tried * run
        off = (tips - lead - levels[:, None]) ** 2 + STRAY_WEIGHT * ((tried - asked) * grown) ** 2
        best = int(np.argmin(np.where(steep, off, 0.0).sum(axis=1)))
        shares = tried[best]
        below = steep & (full - low * run < levels[best] + lead - 0.05) & (shares <= low + 1e-9)
        shares = np.where(below & (thick < WEAK_SHARE * thick.max()), 0.0, shares)
    keep = np.array([s.length_m for s in limbs]) - shares * grown
    return tuple(
        CutBack(float(k), float(s), limb.point_at(float(k))[2])
        for k, s, limb in zip(keep, shares, limbs, strict=True)
    )


def outward_bud(limb: Shoot, others: Sequence[Shoot], settings: FormSettings) -> str:
    """Return in words which bud to cut to: outward, up where the limb is flat, or into a gap."""
    if limb.angle_deg > settings["angle_flat"]:
        return "a bud on its upper side, so that it rises"
    if limb.bearing_deg is None:
        return "an outward bud"
    turns = sorted(
        (o.bearing_deg - limb.bearing_deg) % 360.0
        for o in others
        if o.bearing_deg is not None and o.name != limb.name
    )
    if len(turns) >= 2:
        right, left = turns[0], 360.0 - turns[-1]
        if abs(right - left) > UNEVEN_DEG:
            way = limb.bearing_deg + (90.0 if right > left else -90.0)
            return f"an outward bud, on its {side(way)} side where there is more room"
    return "an outward bud"


UNEVEN_DEG = 45.0
"""Judgement: where the gaps beside a limb differ by more, it is worth steering."""

"""A tree left alone for some years: thicker wood, a fuller or thinner crown, longer tips."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbwright.errors import InputError
from limbwright.growth.rates import Rates
from limbwright.model.skeleton import Floats, Provenance, Skeleton, State
from limbwright.trade.parameters import parameters

__all__ = ["GROWN", "check_years", "grow_wood", "marked", "thicken"]

GROWN = "derived: growth since the survey"
"""The rule named in the provenance of what growth has changed."""
GROWS = ("leaf_area", "fruit", "fine_wood")


def thicken(skeleton: Skeleton, rates: Rates, years: float = 1.0) -> Skeleton:
    """Return the tree as it stands after some years in which nobody cuts; the same segments.

    Parameters
    ----------
    skeleton
        The tree.
    rates
        Its rates.
    years
        Growing seasons, 0 or more.

    Returns
    -------
    Skeleton
        Live wood thicker, leaf, fruit and fine wood of live wood times
        ``(1 + crown_growth) ** years``, living tips longer. Dead wood, cavities and unions stay as
        they were: what a ring adds outside a cavity is taken to be lost to decay inside it.
        Growth over a years and then b is growth over a + b.

    Raises
    ------
    InputError
        The years are below zero or no number.

    Notes
    -----
    The ring of a limb is to that of the stem as their diameters to the power q = 0.8 (the pipe
    model with the same leaf per section gives 1). With ``d' = D' (d / D)^q`` and the stem's
    ``D' = 2 ring``, ``d^(1-q)`` grows by as much as ``D^(1-q)``: exact over any time.
    """
    check_years(years)
    if years == 0.0:
        return skeleton
    d0, d1 = grow_wood(skeleton, rates, years)
    live = skeleton.state != int(State.DEAD)
    factor = np.where(live, (1.0 + rates.crown_growth.value) ** years, 1.0)
    end = skeleton.end_m.copy()
    if rates.reach_m.value > 0.0:
        tip = live & (skeleton.leaf_area_m2 > 0.0)
        tip[skeleton.parent[1:]] = False
        end[tip] += years * rates.reach_m.value * skeleton.axis[tip]
    return marked(
        replace(
            skeleton,
            start_diameter_mm=d0,
            end_diameter_mm=d1,
            end_m=end,
            leaf_area_m2=skeleton.leaf_area_m2 * factor,
            fruit_kg=skeleton.fruit_kg * factor,
            fine_wood_kg=skeleton.fine_wood_kg * factor,
        )
    )


def check_years(years: float) -> None:
    """Raise an `InputError` where a time cannot be."""
    if not (np.isfinite(years) and years >= 0.0):
        raise InputError(f"{years:g} years of growth cannot be.", "Give 0 or more years.")


def grow_wood(
    skeleton: Skeleton, rates: Rates, years: float, share: Floats | None = None
) -> tuple[Floats, Floats]:
    """Return diameters ``(n,)`` at the start and the end of each segment after some years [mm].

    ``share`` ``(n,)`` is the growth of each segment over that of an uncut tree, 1 if None.
    """
    power = 1.0 - parameters("growth")["ring.taper"].value
    stem = float(skeleton.start_diameter_mm[0])
    after = stem + 2.0 * rates.ring_mm.value * years
    growing = skeleton.state != int(State.DEAD)
    if not bool(growing[0]):  # nothing rises through a dead stem
        growing = np.zeros_like(growing)
    much = np.where(growing, 1.0 if share is None else share, 0.0)

    def grown(diameter: Floats) -> Floats:
        if power < 1e-9:
            return np.asarray(diameter * (after / stem) ** much)
        gain = after**power - stem**power
        new = (diameter**power + much * gain) ** (1.0 / power)
        return np.asarray(np.where(much > 0.0, new, diameter))

    return grown(skeleton.start_diameter_mm), grown(skeleton.end_diameter_mm)


def marked(skeleton: Skeleton) -> Skeleton:
    """Return a tree whose grown values say so, its arrays closed to writing.

    Diameters keep their mark: a ring forecast adds less doubt than the mark of a derived diameter
    would, and the chance of failure must not leap by a change of mark.
    """
    rules, codes = skeleton.provenance.rules, dict(skeleton.provenance.codes)
    if GROWN not in rules:
        rules = (*rules, GROWN)
    for name in GROWS:
        codes[name] = np.full(skeleton.n, rules.index(GROWN), dtype=np.int64)
    found = replace(skeleton, provenance=Provenance(rules, codes))
    for name in found.__dataclass_fields__:
        value = getattr(found, name)
        if isinstance(value, np.ndarray):
            value.setflags(write=False)
    return found

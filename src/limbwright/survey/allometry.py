"""Wood, leaf and crop carried by a limb, from its base diameter and its length.

`carried_wood` is the one way from a taped limb to its wood, dry and green; `tree_wood` goes from
a stem and the limbs on it to the whole tree.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.model.skeleton import Bools, Floats, Ints
from limbwright.trade.parameters import parameters
from limbwright.trade.species import species

__all__ = [
    "CarriedWood",
    "Taped",
    "base_diameter_mm",
    "carried_wood",
    "crown_factor",
    "end_leaf_and_fruit",
    "section_cm2",
    "section_share",
    "tree_wood",
]

TABLE = parameters("allometry")


@dataclass(frozen=True, slots=True)
class CarriedWood:
    """Wood carried by a limb or a tree, twigs included, leaf and fruit not.

    ``dry_kg`` is oven-dry, ``green_kg`` as it hangs on the tree. ``ln_spread`` is the standard
    deviation of the logarithm of measured over predicted on trees the fit never saw: two trees
    in three lie between ``green_kg`` divided and multiplied by ``exp(ln_spread)``.
    """

    dry_kg: float
    green_kg: float
    ln_spread: float


@dataclass(frozen=True, slots=True)
class Taped:
    """One limb as taped: diameter over bark [mm], length to the furthest shoot [m].

    ``taken_at_m`` says how far from the limb's base the tape went round, `None` where nobody knows.
    """

    diameter_mm: float
    length_m: float
    taken_at_m: float | None = None


def section_cm2(diameter_mm: float) -> float:
    """Return the cross-section [cm2] of a diameter [mm]."""
    return float(np.pi * (diameter_mm / 10.0) ** 2 / 4.0)


def base_diameter_mm(diameter_mm: float, length_m: float, taken_at_m: float) -> float:
    """Return the diameter [mm] at a limb's base from one taken some way out along it.

    The section falls evenly from the base to nothing at the furthest shoot (pipe model: Shinozaki
    et al. 1964, from memory). Fitted freely to the open data behind `carried_wood`, section goes
    with the length still ahead to the power 0.95 (0.90 to 1.03 as trees are left out).
    """
    out = min(max(taken_at_m / length_m, 0.0), TABLE["furthest_taken"].value)
    return float(diameter_mm / np.sqrt(1.0 - out))


def carried_wood(
    species_key: str, diameter_mm: float, length_m: float, *, taken_at_m: float | None = None
) -> CarriedWood:
    """Return the wood a limb carries, dry and green, from base diameter and length alone.

    Parameters
    ----------
    species_key
        A key of `limbwright.trade.species`. Apple and tart cherry have been measured; other pome
        fruit borrow apple's level, other stone fruit tart cherry's.
    diameter_mm
        Diameter over bark near the limb's base [mm].
    length_m
        Length along the limb to its furthest shoot [m].
    taken_at_m
        How far from the base the diameter was taken [m]; 0 where the tape went round just past
        the collar. It halves the usual error of an apple limb. `None`, where nobody knows, uses
        a fit to diameters as the open data give them: in the middle of the first piece, somewhere
        between the base and the first fork.

    Returns
    -------
    CarriedWood
        Dry and green kilograms, the limb itself and all it bears, and the scatter.

    Notes
    -----
    ``W = a D^b L^c``, fitted by ``benchmarks/allometry_fit.py`` to limbs over 3 cm of 10 apples
    and 3 tart cherries (Brym & Ernest 2018, PeerJ 6:4949, CC BY 3.0, dry masses). Green is 1.75
    times dry. Needs a positive diameter and length; not for limbs under 3 cm.
    """
    kind = "apple" if species(species_key).group == "pome" else "cherry"
    known = "" if taken_at_m is None else "base_"
    diameter = diameter_mm
    if taken_at_m is not None:
        diameter = base_diameter_mm(diameter_mm, length_m, taken_at_m)
    factor = TABLE[f"{kind}_{known}wood_factor"]
    dry = float(
        factor.value
        * (diameter / 10.0) ** TABLE[f"{known}wood_diameter_exponent"].value
        * length_m ** TABLE[f"{known}wood_length_exponent"].value
    )
    return CarriedWood(dry, dry * TABLE["green_over_dry"].value, factor.cov)


def section_share(parent_mm: float, children_mm: Sequence[float], *, at_base: bool = True) -> float:
    """Return how much of their section, up to 1, limbs may count for beside their parent's.

    Limbs cannot carry more pipes than the stem below them: where their sections sum to more than
    their parent's times 1.25 (diameters at the base; 1.1 as the open data give them), what is over
    is collar and swelling, and they are credited with less.
    """
    allowed = TABLE["section_surplus" if at_base else "section_surplus_as_given"].value
    total = sum(d**2 for d in children_mm)
    return min(1.0, allowed * parent_mm**2 / total) if total > 0.0 else 1.0


def tree_wood(species_key: str, stem: Taped, limbs: Sequence[Taped]) -> CarriedWood:
    """Return the wood of a whole tree, dry and green, from its clear stem and the limbs on it.

    The stem's own wood is a cylinder of its diameter up to its first fork; every limb that starts
    on the stem adds its `carried_wood`, less where their sections together outgrow the stem's
    (`section_share`). Limbs on limbs are in their limb's figure already: leave them out.

    Parameters
    ----------
    species_key
        As for `carried_wood`.
    stem
        Diameter half way up the clear stem [mm] and the length of the clear stem [m]. With
        ``taken_at_m`` it is read like a limb's, else as it stands.
    limbs
        Every limb over about 2 cm that starts on the stem, its leading shoot too.
    """
    kind = "apple" if species(species_key).group == "pome" else "cherry"
    own = TABLE[f"{kind}_stem_density"].value * section_cm2(stem.diameter_mm) / 1e4 * stem.length_m
    known = all(one.taken_at_m is not None for one in limbs)
    base = [
        base_diameter_mm(one.diameter_mm, one.length_m, one.taken_at_m or 0.0)
        if known
        else one.diameter_mm
        for one in limbs
    ]
    reach = stem.length_m + max((one.length_m for one in limbs), default=0.0)
    foot = stem.diameter_mm
    if known and stem.taken_at_m is not None:
        foot = base_diameter_mm(foot, reach, stem.taken_at_m)
    share = section_share(foot, base, at_base=known)
    power = TABLE[("base_" if known else "") + "wood_diameter_exponent"].value / 2.0
    borne = sum(
        carried_wood(
            species_key, o.diameter_mm, o.length_m, taken_at_m=o.taken_at_m if known else None
        ).dry_kg
        for o in limbs
    )
    dry = float(own + borne * share**power)
    return CarriedWood(dry, dry * TABLE["green_over_dry"].value, TABLE["tree_wood_spread"].value)


def crown_factor(crown: float | None) -> float:
    """Return leaf and crop over an ordinary limb's for a crown mark 0 to 3 (None: ordinary)."""
    names = ("crown_empty", "crown_thin", "crown_ordinary", "crown_full")
    marks = [TABLE[name].value for name in names]
    return float(np.interp(2.0 if crown is None else crown, [0.0, 1.0, 2.0, 3.0], marks))


def end_leaf_and_fruit(
    species_key: str, parent: Ints, start_diameter_mm: Floats, live: Bools
) -> tuple[Floats, Floats]:
    """Return leaf [m2] and ordinary crop [kg] of a skeleton that gives neither, ``(n,)`` each.

    The pipe rule gives the whole tree its leaf by the section of the stem's foot, the crop rule
    its fruit, at most an ordinary crop of the species; living ends share them by their section.
    """
    section = np.pi * (start_diameter_mm / 10.0) ** 2 / 4.0
    ends = np.ones(parent.size, dtype=np.bool_)
    ends[parent[parent >= 0]] = False
    share = np.where(ends & live, section, 0.0)
    if float(share.sum()) <= 0.0:
        return np.zeros(parent.size), np.zeros(parent.size)
    share /= float(share.sum())
    stem = float(section[parent < 0].sum())
    crop = min(TABLE["crop_per_section"].value * stem, TABLE[f"crop_{species_key}"].value)
    return share * TABLE["leaf_area_per_section"].value * stem, share * crop

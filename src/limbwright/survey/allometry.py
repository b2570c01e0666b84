"""Wood, leaf and crop carried by a limb, from its base diameter and its length.

Masses are dry unless the name says green: the data behind the fits are dry.
"""

from __future__ import annotations

import numpy as np

from limbwright.model.skeleton import Bools, Floats, Ints
from limbwright.trade.parameters import parameters
from limbwright.trade.species import species

__all__ = [
    "crown_factor",
    "end_leaf_and_fruit",
    "limb_wood_dry_kg",
    "limb_wood_green_kg",
    "section_cm2",
]

TABLE = parameters("allometry")


def section_cm2(diameter_mm: float) -> float:
    """Return the cross-section [cm2] of a diameter [mm]."""
    return float(np.pi * (diameter_mm / 10.0) ** 2 / 4.0)


def limb_wood_dry_kg(species_key: str, diameter_mm: float, length_m: float) -> tuple[float, float]:
    """Return the dry wood carried by a limb, twigs included, and the scatter of its logarithm.

    ``W = a D^b L^c`` with D the base diameter [cm] and L the length to the furthest shoot [m],
    fitted to Brym & Ernest 2018 (PeerJ 6:4949) open data on limbs over 3 cm. Apple and tart
    cherry have fits of their own; other pome fruit borrow apple's, other stone fruit cherry's.
    """
    fit = "apple" if species(species_key).group == "pome" else "cherry"
    factor = TABLE[f"{fit}_wood_factor"]
    mean = (
        factor.value
        * (diameter_mm / 10.0) ** TABLE[f"{fit}_wood_diameter_exponent"].value
        * length_m ** TABLE[f"{fit}_wood_length_exponent"].value
    )
    return float(mean), factor.cov


def limb_wood_green_kg(species_key: str, diameter_mm: float, length_m: float) -> float:
    """Return the green wood [kg] carried by a limb: dry wood times green over dry (1.75)."""
    return limb_wood_dry_kg(species_key, diameter_mm, length_m)[0] * TABLE["green_over_dry"].value


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

"""What a cross-section can carry: solid, hollow, opened or split limbs.

Diameters are taken as given, over bark, and sections as round. All functions are pure.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from limbwright.model.skeleton import Floats, Skeleton

__all__ = [
    "OffsetCavity",
    "Sections",
    "curved_limb_tension_mpa",
    "ellipse_modulus_m3",
    "hollow_area_factor",
    "hollow_modulus_factor",
    "offset_cavity",
    "opened_cavity_factors",
    "sections",
    "split_limb_factors",
    "wall_share",
]

LEAST_WALL_SHARE = 0.01
"""Judgement: a thinner shell is taken as this, so that no section is nothing at all."""


@dataclass(frozen=True, slots=True)
class Sections:
    """The section at the base of each segment, cavities taken off.

    ``point_m``, ``axis`` are ``(n, 3)``; ``area_m2``, ``modulus_m3`` (bending) and
    ``torsion_modulus_m3`` are ``(n,)``.
    """

    point_m: Floats
    axis: Floats
    area_m2: Floats
    modulus_m3: Floats
    torsion_modulus_m3: Floats


def wall_share(diameter_mm: Floats, cavity_wall_mm: Floats) -> Floats:
    """Return residual wall over radius, 1 for solid wood.

    Parameters
    ----------
    diameter_mm, cavity_wall_mm
        ``(n,)`` over-bark diameter and sound wall left around the cavity [mm]; a wall of NaN, or
        one that reaches the middle, is solid.
    """
    share = 2.0 * np.asarray(cavity_wall_mm) / np.asarray(diameter_mm)
    return np.clip(np.where(np.isnan(share), 1.0, share), LEAST_WALL_SHARE, 1.0)


def hollow_modulus_factor(wall: ArrayLike) -> Floats:
    """Return section modulus of a concentric hollow over the solid: ``1 - (1 - k)^4``.

    ``wall`` is k, residual wall over radius. The polar modulus falls by the same factor.
    Beam theory; 0.76 at k = 0.3 is published by Huang et al. 2017, R. Soc. Open Sci. 4:160972.
    """
    return np.asarray(1.0 - (1.0 - np.asarray(wall, dtype=np.float64)) ** 4)


def hollow_area_factor(wall: ArrayLike) -> Floats:
    """Return area of a concentric hollow over the solid: ``1 - (1 - k)^2``, k as above."""
    return np.asarray(1.0 - (1.0 - np.asarray(wall, dtype=np.float64)) ** 2)


def sections(skeleton: Skeleton) -> Sections:
    """Return the sections at the base of every segment."""
    diameter_m = skeleton.start_diameter_mm / 1000.0
    wall = wall_share(skeleton.start_diameter_mm, skeleton.cavity_wall_mm)
    modulus = np.pi * diameter_m**3 / 32.0 * hollow_modulus_factor(wall)
    return Sections(
        point_m=skeleton.start_m,
        axis=skeleton.axis,
        area_m2=np.pi * diameter_m**2 / 4.0 * hollow_area_factor(wall),
        modulus_m3=modulus,
        torsion_modulus_m3=2.0 * modulus,  # J = 2 I holds for every round section
    )


def ellipse_modulus_m3(height_m: float, breadth_m: float) -> float:
    """Return the bending modulus [m3] of an ellipse, ``height_m`` along the load."""
    return float(np.pi * breadth_m * height_m**2 / 32.0)


@dataclass(frozen=True, slots=True)
class OffsetCavity:
    """A round section with a round hole off its middle, bent in the plane of both centres.

    ``centroid_m`` is measured from the middle of the outer circle towards the hole.
    """

    area_m2: float
    centroid_m: float
    second_moment_m4: float
    modulus_m3: float


def offset_cavity(radius_m: float, cavity_radius_m: float, offset_m: float) -> OffsetCavity:
    """Return the section of a limb whose cavity lies ``offset_m`` off its middle.

    Derived from the parallel axis theorem.

    Raises
    ------
    ValueError
        The cavity does not lie inside the limb.
    """
    big, small, e = radius_m, cavity_radius_m, offset_m
    if small < 0.0 or abs(e) + small >= big:
        raise ValueError("The cavity must lie wholly inside the limb.")
    centroid = -(small**2) * e / (big**2 - small**2)
    second = np.pi * (big**4 / 4.0 + big**2 * centroid**2)
    second -= np.pi * (small**4 / 4.0 + small**2 * (e - centroid) ** 2)
    return OffsetCavity(
        area_m2=float(np.pi * (big**2 - small**2)),
        centroid_m=float(centroid),
        second_moment_m4=float(second),
        modulus_m3=float(second / (big + abs(centroid))),
    )


def opened_cavity_factors(
    cavity_share: float, opening_deg: float, corners: int = 4096
) -> tuple[float, float]:
    """Return modulus over that of the solid limb, for a cavity open to one side.

    The shell is integrated as a polygon (Green's theorem).

    Parameters
    ----------
    cavity_share
        Radius of the concentric cavity over the radius of the limb, in (0, 1).
    opening_deg
        Angle of the shell that is gone, in (0, 360).
    corners
        Corners along each arc; 4096 leave an error below 1e-6.

    Returns
    -------
    in_plane, across
        Factor for bending in the plane through the opening, and square to it.
    """
    if not 0.0 < cavity_share < 1.0 or not 0.0 < opening_deg < 360.0:
        raise ValueError("The cavity share lies in (0, 1) and the opening in (0, 360) degrees.")
    half = np.radians(opening_deg) / 2.0
    angle = np.linspace(half, 2.0 * np.pi - half, corners)
    arc = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    corner = np.concatenate([arc, cavity_share * arc[::-1]])
    x, y = corner[:, 0], corner[:, 1]
    x1, y1 = np.roll(x, -1), np.roll(y, -1)
    cross = x * y1 - x1 * y
    area = cross.sum() / 2.0
    centroid = ((x + x1) * cross).sum() / (6.0 * area)  # y of the centroid is 0 by symmetry
    in_plane = ((x * x + x * x1 + x1 * x1) * cross).sum() / 12.0 - area * centroid**2
    across = ((y * y + y * y1 + y1 * y1) * cross).sum() / 12.0
    solid = np.pi / 4.0
    return (
        float(in_plane / np.abs(x - centroid).max() / solid),
        float(across / np.abs(y).max() / solid),
    )


def split_limb_factors() -> tuple[float, float]:
    """Return modulus and stiffness over the sound limb, once split along the neutral plane.

    Derived: two half circles that slip freely, each bent about its own centroid, which lies
    ``4 r / (3 pi)`` off the flat.
    """
    off = 4.0 / (3.0 * np.pi)
    both_halves = np.pi / 4.0 - np.pi * off**2
    return float(both_halves / (1.0 - off) / (np.pi / 4.0)), float(both_halves / (np.pi / 4.0))


def curved_limb_tension_mpa(
    bending_mpa: ArrayLike, radius_m: ArrayLike, axis_radius_m: ArrayLike
) -> Floats:
    """Return the tension across the grain [MPa] of a curved limb that is being straightened.

    ``sigma_r = 4 M / (3 R_c A) = sigma_b r / (3 R_c)`` for a round section (derived from
    curved-beam theory): ``radius_m`` r of the section, ``axis_radius_m`` R_c of the limb's curve.
    """
    return np.asarray(
        np.asarray(bending_mpa) * np.asarray(radius_m) / (3.0 * np.asarray(axis_radius_m))
    )

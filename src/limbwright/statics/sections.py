"""What a cross-section can carry: solid, hollow, opened or split limbs.

Diameters are taken as given, over bark, and sections as round. All functions are pure.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from limbwright.model.skeleton import Floats, Skeleton
from limbwright.statics.curves import curvature_per_m
from limbwright.trade.parameters import parameters

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
    "shell_factors",
    "split_limb_factors",
    "wall_share",
]

LEAST_WALL_SHARE = 0.01
"""Judgement: a thinner shell is taken as this, so that no section is nothing at all."""

MOST_OPEN_DEG = 330.0
"""Judgement: a shell open wider is taken as this, so that something is left of it."""

SHELL_CORNERS = 360
"""Corners along each arc of a shell; derived: they leave an error below 1e-3, on the weak side."""


@dataclass(frozen=True, slots=True)
class Sections:
    """The section at the base of each segment, cavities taken off.

    ``point_m``, ``axis`` are ``(n, 3)``; ``area_m2``, ``modulus_m3`` (bending, the weakest way)
    and ``torsion_modulus_m3`` are ``(n,)``. ``split_per_m3`` ``(n, 3)``: a moment M about the
    section pulls its grain apart by ``max(0, split_per_m3 . M)`` [Pa], as it opens the curve of
    the limb; 0 where the limb is straight and at unions, whose own factor holds their splitting.
    """

    point_m: Floats
    axis: Floats
    area_m2: Floats
    modulus_m3: Floats
    torsion_modulus_m3: Floats
    split_per_m3: Floats


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
    area, modulus = hollow_area_factor(wall), hollow_modulus_factor(wall)
    torsion = modulus.copy()  # J = 2 I holds for every round section
    # a cavity is off the middle or open at few sections, so only those are integrated
    odd = np.flatnonzero(
        (wall < 1.0) & (np.isfinite(skeleton.cavity_far_wall_mm) | (skeleton.cavity_open_deg > 0.0))
    )
    if odd.size:
        far = wall_share(skeleton.start_diameter_mm[odd], skeleton.cavity_far_wall_mm[odd])
        far = np.where(np.isfinite(skeleton.cavity_far_wall_mm[odd]), far, wall[odd])
        area[odd], modulus[odd], torsion[odd] = shell_factors(
            wall[odd], far, skeleton.cavity_open_deg[odd]
        )
    solid_m3 = np.pi * diameter_m**3 / 32.0
    axis = skeleton.axis
    return Sections(
        point_m=skeleton.start_m,
        axis=axis,
        area_m2=np.pi * diameter_m**2 / 4.0 * area,
        modulus_m3=solid_m3 * modulus,
        torsion_modulus_m3=2.0 * solid_m3 * torsion,
        split_per_m3=_split_per_m3(skeleton, axis, wall),
    )


def _split_per_m3(skeleton: Skeleton, axis: Floats, wall: Floats) -> Floats:
    """Return what pulls the grain apart, by the moment that straightens the limb, ``(n, 3)``.

    ``M S / (I b R_c)`` at the neutral axis, with S the first moment of half the section and b the
    wood it cuts: for a ring of radii r and c ``4 (r^2 + r c + c^2) / (3 pi (r^4 - c^4) R_c)``
    (derived from curved-beam theory), for a solid limb that of `curved_limb_tension_mpa`.
    """
    curve = curvature_per_m(skeleton)
    # what counts is the moment about the section's own plane
    curve = curve - np.einsum("nk,nk->n", curve, axis)[:, None] * axis
    r = skeleton.start_diameter_mm / 2000.0
    c = r * np.where(wall < 1.0, 1.0 - wall, 0.0)
    per_curve = 4.0 * (r * r + r * c + c * c) / (3.0 * np.pi * (r**4 - c**4))
    # turning further about the binormal closes the curve; the other way opens it
    return np.asarray(-per_curve[:, None] * curve)


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
    _, x, y, in_plane, across = _shell(
        np.array([cavity_share]), np.zeros(1), np.array([opening_deg]), corners
    )
    solid = np.pi / 4.0
    return (
        float(in_plane[0] / np.abs(x).max() / solid),
        float(across[0] / np.abs(y).max() / solid),
    )


def shell_factors(
    wall: Floats, far_wall: Floats, opening_deg: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return area, modulus and torsion modulus of round shells over those of the solid limb.

    The cavity is round and touches the thinnest wall; where the shell is open, it is open there.
    The modulus is that for the weakest direction of bending, whichever that is. In torsion a
    closed shell is a tube of its thinnest wall (Bredt, standard), never more than the round
    section of its modulus. In an open one the whole wood above and below the opening holds the
    shell from warping: the shell is bent along the grain besides, by ``0.194 T l / (r^3 t)`` in a
    slit tube of length l (derived from Vlasov's theory of thin walls, from memory). The
    share of the ring that is gone is taken off on top (judgement).

    Parameters
    ----------
    wall, far_wall
        ``(H,)`` thinnest wall and the wall across from it, over the radius of the limb. A far
        wall less than the near one is taken as equal to it; two that fill the limb are solid.
    opening_deg
        ``(H,)`` angle of the shell that is gone; 0 where it is closed.
    """
    near = np.asarray(wall, dtype=np.float64)
    far = np.maximum(far_wall, near)
    cavity = 1.0 - 0.5 * (near + far)
    hollow = cavity > 1e-6
    cavity = np.where(hollow, cavity, 0.0)
    offset = np.where(hollow, 0.5 * (far - near), 0.0)
    opening = np.clip(np.where(hollow, opening_deg, 0.0), 0.0, MOST_OPEN_DEG)
    area, x, y, in_plane, across = _shell(cavity, offset, opening, SHELL_CORNERS)
    # the greatest stress a unit moment of any direction makes at any corner
    worst = np.hypot(x / in_plane[:, None], y / across[:, None]).max(axis=1)
    modulus = 4.0 / np.pi / worst
    middle = 0.5 * (1.0 + cavity)
    tube = 2.0 * np.pi * middle**2 * near
    table = parameters("strength")
    long = 2.0 * table["opening_length"].value
    warped = middle**3 * near / (0.194 * long) * table["bending_over_shear"].value
    closed = np.minimum(tube / (np.pi / 2.0), modulus)
    left = 1.0 - opening / 360.0
    opened = left / (1.0 / closed + np.pi / 2.0 / warped)
    torsion = np.where(opening > 0.0, opened, closed)
    return (
        np.where(hollow, area / np.pi, 1.0),
        np.where(hollow, modulus, 1.0),
        np.where(hollow, torsion, 1.0),
    )


def _shell(
    cavity_share: Floats, offset: Floats, opening_deg: Floats, corners: int
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Return area, corners off the centroid, and second moments in and across the opening's plane.

    Shells of outer radius 1 ``(H,)``, as polygons ``(H, 2 corners)``, by Green's theorem.
    """
    half = np.radians(opening_deg)[:, None] / 2.0
    angle = half + np.linspace(0.0, 1.0, corners) * (2.0 * np.pi - 2.0 * half)
    cos, sin = np.cos(angle), np.sin(angle)
    c = cavity_share[:, None]
    x = np.concatenate([cos, offset[:, None] + c * cos[:, ::-1]], axis=1)
    y = np.concatenate([sin, c * sin[:, ::-1]], axis=1)
    x1, y1 = np.roll(x, -1, axis=1), np.roll(y, -1, axis=1)
    cross = x * y1 - x1 * y
    area = cross.sum(axis=1) / 2.0
    centroid = ((x + x1) * cross).sum(axis=1) / (6.0 * area)  # that of y is 0 by symmetry
    in_plane = ((x * x + x * x1 + x1 * x1) * cross).sum(axis=1) / 12.0 - area * centroid**2
    across = ((y * y + y * y1 + y1 * y1) * cross).sum(axis=1) / 12.0
    return area, x - centroid[:, None], y, in_plane, across


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

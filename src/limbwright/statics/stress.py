"""Stress and utilisation of a circular section under a force and a moment.

sigma = |N|/A + M_b/W and tau = |T|/W_t + 4V/(3A) (beam theory, e.g. Gere & Timoshenko);
utilisation = sqrt((sigma/f_b)^2 + (tau/f_v)^2), the quadratic interaction. All terms are convex
and grow in proportion to the load, so the utilisation is a convex function of force and moment.
A curved limb may split before it breaks. The grain is pulled apart most at the neutral axis, where
bending pulls along it least, so the worse of the two modes counts, not their sum; the greater of
a convex and a linear function of the load is convex and in proportion too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbwright.model.skeleton import Floats

__all__ = ["Stress", "splitting", "stress", "utilisation"]


@dataclass(frozen=True, slots=True)
class Stress:
    """Parts of the stress in a section [MPa], shaped like the loads less their last axis."""

    axial_mpa: Floats
    bending_mpa: Floats
    torsion_mpa: Floats
    shear_mpa: Floats


def stress(
    force_n: Floats,
    moment_n_m: Floats,
    axis: Floats,
    area_m2: Floats,
    modulus_m3: Floats,
    torsion_modulus_m3: Floats,
) -> Stress:
    """Return the stresses of sections.

    ``force_n``, ``moment_n_m`` ``(..., S, 3)``: everything beyond the section, about its centre;
    ``axis`` ``(S, 3)`` unit vectors; areas and moduli ``(S,)`` [m2, m3].
    """
    axial = np.einsum("...k,...k->...", force_n, axis)
    torsion = np.einsum("...k,...k->...", moment_n_m, axis)
    shear = np.linalg.norm(force_n - axial[..., None] * axis, axis=-1)
    bending = np.linalg.norm(moment_n_m - torsion[..., None] * axis, axis=-1)
    return Stress(
        axial_mpa=np.abs(axial) / area_m2 / 1e6,
        bending_mpa=bending / modulus_m3 / 1e6,
        torsion_mpa=np.abs(torsion) / torsion_modulus_m3 / 1e6,
        shear_mpa=4.0 * shear / (3.0 * area_m2) / 1e6,
    )


def utilisation(parts: Stress, bending_strength_mpa: Floats, shear_strength_mpa: Floats) -> Floats:
    """Return load effect over strength, of the shape of the stresses."""
    normal = (parts.axial_mpa + parts.bending_mpa) / bending_strength_mpa
    tangential = (parts.torsion_mpa + parts.shear_mpa) / shear_strength_mpa
    return np.asarray(np.hypot(normal, tangential))


def splitting(moment_n_m: Floats, split_per_n_m: Floats) -> Floats:
    """Return the utilisation by splitting ``(C, S)``, below 0 where the moment closes the curve.

    ``moment_n_m`` and ``split_per_n_m`` ``(C, S, 3)`` [N m] and [1/(N m)], see
    `results.Assessment.split_per_n_m`.
    """
    return np.asarray(np.einsum("csk,csk->cs", moment_n_m, split_per_n_m))

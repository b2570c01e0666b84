"""Stress and utilisation of a circular section under a force and a moment.

sigma = |N|/A + M_b/W and tau = |T|/W_t + 4V/(3A) (beam theory, e.g. Gere & Timoshenko);
utilisation = sqrt((sigma/f_b)^2 + (tau/f_v)^2), the quadratic interaction. All terms are convex
and grow in proportion to the load, so the utilisation is a convex function of force and moment.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbwright.model.skeleton import Floats

__all__ = ["Stress", "stress", "utilisation", "utilisation_gradient"]

TINY = 1e-12


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


def utilisation_gradient(
    force_n: Floats,
    moment_n_m: Floats,
    axis: Floats,
    area_m2: Floats,
    modulus_m3: Floats,
    torsion_modulus_m3: Floats,
    bending_strength_mpa: Floats,
    shear_strength_mpa: Floats,
) -> tuple[Floats, Floats, Floats]:
    """Return utilisation and its (sub)gradient by force [1/N] and moment [1/(N m)].

    Shapes as in `stress`; all arguments broadcast over the leading axes. As the utilisation is
    homogeneous of degree one, ``u = gf.F + gm.M`` holds exactly.
    """
    n = np.einsum("...k,...k->...", force_n, axis)
    t = np.einsum("...k,...k->...", moment_n_m, axis)
    v = force_n - n[..., None] * axis
    b = moment_n_m - t[..., None] * axis
    v_norm, b_norm = np.linalg.norm(v, axis=-1), np.linalg.norm(b, axis=-1)
    fb, fv = bending_strength_mpa * 1e6, shear_strength_mpa * 1e6
    normal = (np.abs(n) / area_m2 + b_norm / modulus_m3) / fb
    tangential = (np.abs(t) / torsion_modulus_m3 + 4.0 * v_norm / (3.0 * area_m2)) / fv
    u = np.hypot(normal, tangential)
    safe = np.maximum(u, TINY)
    wn, wt = normal / safe, tangential / safe
    unit_v = v / np.maximum(v_norm, TINY)[..., None]
    unit_b = b / np.maximum(b_norm, TINY)[..., None]
    gf = (wn * np.sign(n) / (area_m2 * fb))[..., None] * axis
    gf = gf + (wt * 4.0 / (3.0 * area_m2 * fv))[..., None] * unit_v
    gm = (wn / (modulus_m3 * fb))[..., None] * unit_b
    gm = gm + (wt * np.sign(t) / (torsion_modulus_m3 * fv))[..., None] * axis
    return u, gf, gm

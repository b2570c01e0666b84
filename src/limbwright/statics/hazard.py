"""Chance of failure as straight pieces in the utilisation, for the choice of cuts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtr, ndtri

from limbwright.model.skeleton import Floats, Ints
from limbwright.statics.reliability import NEVER, NODES

if TYPE_CHECKING:
    from limbwright.statics.results import Assessment

__all__ = ["case_chance", "hazard_lines"]

LEAST_CHANCE = 2e-4
"""Below this chance a year (judgement) a section's lines are fitted up to where it is reached, so
that a cut which raises a harmless load still shows."""

BEYOND = 1.25
"""Lines are fitted up to this multiple of the present utilisation (judgement: a cut seldom raises
the load of a section it leaves standing by more)."""

ROWS = 1 << 16
"""Section-case pairs evaluated at a time, to bound memory at about 25 MB."""


def case_chance(assessment: Assessment, segments: Ints, utilisation: Floats) -> Floats:
    """Return the annual chance of failure of sections under one case alone, after learning.

    ``utilisation`` is ``(..., S, C)``: at the level of the case. The spread of the yearly load
    about it stays as it is at present. Returns the same shape.
    """
    ln_ratio, spread, _, _ = _shape(assessment, segments)
    return _chance(assessment, segments, utilisation, ln_ratio, spread)


def hazard_lines(assessment: Assessment, segments: Ints, pieces: int = 5) -> tuple[Floats, Floats]:
    """Return the annual chance of failure as convex straight pieces in the utilisation.

    The chance of section s under case c alone, after learning, is
    ``phi(u) = max_k(slope[s, c, k] * u + intercept[s, c, k])`` with phi(0) = 0. It meets the
    true curve at 0, at the present utilisation and at ``pieces - 2`` points between, and lies
    above it between them: by about ``1 / (2 (pieces - 1)^2)`` of the present chance (3 % for 5
    pieces) where the curve is a power of u, by 6 % at most on the trees tested (where the present
    chance is under 2e-4 a year: of 2e-4). Past the point of inflection of a very likely failure
    the curve is replaced by the straight line that touches it from below. Up to 1.25 times the
    present utilisation the last line runs from the present value to the value there.

    Parameters
    ----------
    assessment
        The tree as it stands.
    segments
        ``(S,)`` the sections wanted.
    pieces
        How many lines, at least 2: all but one up to the present utilisation.

    Returns
    -------
    slope, intercept
        ``(S, C, pieces)``, chance a year per unit of utilisation and chance a year.
    """
    if pieces < 2:
        raise ValueError("hazard_lines needs at least 2 pieces")
    seg = np.asarray(segments, dtype=np.int64)
    ln_ratio, spread, centre, width = _shape(assessment, seg)
    now = assessment.utilisation[:, seg].T
    # where the chance is about LEAST_CHANCE, were what is known a normal distribution
    faint = np.exp(centre + ndtri(LEAST_CHANCE) * np.hypot(spread, width) - ln_ratio)
    top = np.maximum(now, faint)
    near = np.stack([0.8 * top, top, BEYOND * top])
    value = _chance(assessment, seg, near, ln_ratio, spread)
    power = np.log(np.maximum(value[1], 1e-300) / np.maximum(value[0], 1e-300)) / np.log(1.25)
    power = np.clip(power, 2.0, 60.0)
    steps = pieces - 1
    share = np.arange(1, steps) / steps
    inner = top * share[:, None, None] ** (2.0 / power)
    below = _chance(assessment, seg, inner, ln_ratio, spread)
    u = np.concatenate([np.zeros((1, *top.shape)), inner, near[1:]])
    phi = np.concatenate([np.zeros((1, *top.shape)), below, value[1:]])
    # the last straight line of the convex function below the curve on [0, top]
    chord = (phi[-2] - phi[:-2]) / (u[-2] - u[:-2])
    beyond = np.arange(chord.shape[0])[:, None, None] > chord.argmax(axis=0)
    line = phi[-2] - chord.max(axis=0) * (u[-2] - u[:-2])
    phi[:-2] = np.where(beyond, line, phi[:-2])
    slope = np.diff(phi, axis=0) / np.diff(u, axis=0)
    slope = np.maximum.accumulate(slope, axis=0)
    intercept = np.empty_like(slope)
    intercept[:steps] = phi[1:-1] - slope[:steps] * u[1:-1]
    intercept[steps] = phi[-2] - slope[steps] * u[-2]
    intercept = np.minimum(intercept, 0.0)
    return np.moveaxis(slope, 0, -1).copy(), np.moveaxis(intercept, 0, -1).copy()


def _shape(assessment: Assessment, segments: Ints) -> tuple[Floats, Floats, Floats, Floats]:
    """Return ln(median / level) and spread of each case, ``(S, C)``, and mean and width of e."""
    belief = assessment.belief
    ln_median = assessment.yearly.ln_median[:, segments].T
    level = assessment.utilisation[:, segments].T
    loaded = (ln_median > NEVER + 1.0) & (level > 1e-12)
    ln_ratio = np.where(loaded, ln_median - np.log(np.where(loaded, level, 1.0)), 0.0)
    spread = assessment.yearly.zeta[:, segments].T
    weight = belief.mean[segments]
    e = belief.mu[segments, None] + belief.zeta[segments, None] * NODES
    centre = (weight * e).sum(axis=1)
    width = np.sqrt(np.maximum((weight * (e - centre[:, None]) ** 2).sum(axis=1), 0.0))
    return ln_ratio, spread, centre[:, None], width[:, None]


def _chance(
    assessment: Assessment, segments: Ints, u: Floats, ln_ratio: Floats, spread: Floats
) -> Floats:
    belief = assessment.belief
    e = belief.mu[segments, None] + belief.zeta[segments, None] * NODES
    weight = belief.mean[segments]
    ln_u = np.log(np.maximum(u, 1e-300)) + ln_ratio
    flat = ln_u.reshape(-1, *ln_ratio.shape)
    out = np.empty_like(flat)
    step = max(1, ROWS // max(1, ln_ratio.shape[1]))
    for layer in range(flat.shape[0]):
        for s in range(0, segments.size, step):
            part = slice(s, s + step)
            z = (flat[layer, part, :, None] - e[part, None, :]) / spread[part, :, None]
            out[layer, part] = np.einsum("sck,sk->sc", ndtr(z), weight[part])
    return out.reshape(u.shape)

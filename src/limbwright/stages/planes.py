"""The risk of one state of a sequence, and the planes that touch it from below."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbwright.cuts.reach import gradients, uses
from limbwright.model.skeleton import Floats, Ints
from limbwright.stages.years import Years

__all__ = ["Planes", "Sections", "planes", "price_of", "sections"]


@dataclass(frozen=True, slots=True)
class Sections:
    """Price ``(S,)`` [h], worst line ``(S,)`` and summed shares ``(S, C, K)`` in one state."""

    price_h: Floats
    worst: Ints
    parts: Floats


@dataclass(frozen=True, slots=True)
class Planes:
    """Planes at M sections, entry by entry ``(R,)``: of which, which piece, by how much.

    The price of a section is never less than ``low`` ``(M,)`` less ``wood`` of every piece gone in
    the state, and more ``again`` of it by the share of it that has grown again. ``first`` ``(M,)``
    is where the entries of each begin, with its own piece.
    """

    row: Ints
    node: Ints
    wood: Floats
    again: Floats
    low: Floats
    first: Ints
    most: Floats


def price_of(years: Years, y: int) -> Floats:
    """Return ``(S,)`` what the risk of each section costs in state ``y``, worth now [h]."""
    return years.seasons[y].section_cost_h * float(years.weight[y] * years.worth[y])


def sections(years: Years, gone: Floats, y: int) -> Sections:
    """Return what the sections cost in state ``y`` of a sequence ``(Y, N)``, parts allowed."""
    p = years.seasons[y]
    kept = 1.0 - gone[y]
    parts = years.reach[y].parts(kept)
    if y:
        parts = parts + years.leafy_reach[y].parts(years.back[y] @ gone)
    lines = p.slope * uses(parts)[..., None]
    lines += p.intercept * kept[p.section_node][:, None, None]
    flat = lines.reshape(p.sections, lines.shape[1] * lines.shape[2])
    worst = np.argmax(flat, axis=1) if p.sections else np.zeros(0, dtype=np.int64)
    value = np.maximum(flat[np.arange(p.sections), worst], 0.0) * price_of(years, y)
    value[kept[p.section_node] <= 0.0] = 0.0
    return Sections(value, worst, parts)


def planes(years: Years, y: int, told: Sections, at: Ints, per_h: Floats | float) -> Planes:
    """Return the planes that touch sections ``at`` ``(M,)`` where they were told.

    Prices are ``per_h`` times hours. A section that is gone costs nothing, whatever has grown
    again beyond it: its plane is lowered by ``most`` ``(M,)`` where its own piece is gone.
    """
    p, reach = years.seasons[y], years.reach[y]
    case, piece = np.divmod(told.worst[at], p.slope.shape[2])
    cost = price_of(years, y)[at] * per_h
    by = gradients(told.parts[at, case]) * (cost * p.slope[at, case, piece])[:, None]
    row, where, first = reach.rows_of(at)
    wood = np.einsum("qk,qk->q", reach.share[where, case[row]], by[row])
    wood[first] += cost * p.intercept[at, case, piece]
    low = np.add.reduceat(wood, first)
    again, most = np.zeros(wood.size), np.zeros(at.size)
    if y and years.regrown[y] > 0.0:
        leafy = years.leafy_reach[y].share[where, case[row]]
        again = np.einsum("qk,qk->q", leafy, by[row])
        most = years.regrown[y] * np.add.reduceat(np.maximum(again, 0.0), first)
        wood[first] += most
    return Planes(row, reach.node[where], wood, again, low, first, most)

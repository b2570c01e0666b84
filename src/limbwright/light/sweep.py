"""Optical depth of a crown along many directions at once, and its derivative.

Light comes down along a set of fixed directions. In a grid of cells all rays of one direction are
parallel, so the optical depth of a layer of cells follows from that of the layer above: shift it
along the direction, add what the half cells between the two centres hold. One pass from the top
down gives every cell for every direction; no ray is traced twice. Rays nearly level cross several
cells in a layer and take as many steps. Work: (directions) x (cells) x (steps), some ten
operations each.

The same steps run backwards (the adjoint) give the derivative of any sum over the cells' light
by the plant area of every cell, at about twice the price of one pass: what each piece of the
crown costs all the others in light.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbwright.model.skeleton import Floats, Ints

__all__ = ["Sweep", "light_fields", "optical_depth", "shading"]

LAYER_NUMBERS = 60_000
"""Numbers of one layer, over crowns and directions, that are worked on together."""

Planes = NDArray[np.float32]
"""``(D, nx, ny)`` values of one layer along D directions; light needs no more than seven digits."""


@dataclass(frozen=True)
class Sweep:
    """How to go down a grid along D directions.

    Parameters
    ----------
    towards
        ``(D, 3)`` unit vectors towards the light, z up and above zero.
    extinction
        ``(D,)`` extinction coefficient: projected over plant area, clumping in it.
    cell_m
        Edge of a cell [m].
    endless
        True: the grid repeats itself in x and y (an orchard of such trees). False: it stands alone.
    """

    towards: Floats
    extinction: Floats
    cell_m: float
    endless: bool = False

    def groups(self) -> list[tuple[Ints, int]]:
        """Return the directions that take the same number of steps from layer to layer."""
        slope = np.abs(self.towards[:, :2] / self.towards[:, 2:]).max(axis=1)
        steps = np.maximum(np.ceil(slope - 1e-9), 1).astype(np.int64)
        return [(np.flatnonzero(steps == q), int(q)) for q in np.unique(steps)]


class _Shift:
    """Moves planes sideways by less than a cell, each direction by its own way (bilinear)."""

    def __init__(self, way: Floats, shape: tuple[int, int], endless: bool) -> None:
        nx, ny = shape
        whole = np.floor(way).astype(np.int64)
        part = (way - whole).astype(np.float32)
        self._endless = endless
        self._plane = np.zeros((len(way), nx + 2, ny + 2), dtype=np.float32)
        row = np.arange(nx)[None, :, None] + 1 + whole[:, 0, None, None]
        column = np.arange(ny)[None, None, :] + 1 + whole[:, 1, None, None]
        start = np.arange(len(way))[:, None, None] * ((nx + 2) * (ny + 2))
        first = start + row * (ny + 2) + column
        x, y = part[:, 0, None, None], part[:, 1, None, None]
        corners = (
            (0, (1 - x) * (1 - y)),
            (ny + 2, x * (1 - y)),
            (1, (1 - x) * y),
            (ny + 3, x * y),
        )
        # a corner no direction has a share in need not be fetched
        self._corners = [(first + to, share) for to, share in corners if share.any()]
        self._fetched = np.empty(first.shape, dtype=np.float32)

    def __call__(self, planes: Planes) -> Planes:
        held = self._plane
        held[:, 1:-1, 1:-1] = planes
        if self._endless:
            held[:, 0, 1:-1], held[:, -1, 1:-1] = planes[:, -1], planes[:, 0]
            held[:, :, 0], held[:, :, -1] = held[:, :, -2], held[:, :, 1]
        flat = held.reshape(-1)
        moved: Planes = np.empty_like(self._fetched)
        for k, (index, share) in enumerate(self._corners):
            into = self._fetched if k else moved
            # mode "clip" writes straight into memory; the indices are valid by construction
            np.take(flat, index, out=into, mode="clip")
            into *= share
            if k:
                moved += into
        return moved


def _between(upper: int, step: int, steps: int) -> tuple[int, int]:
    """Return the layers that hold the two halves of one step from ``upper`` to the next."""
    first = upper if 2 * step + 1 <= steps else upper + 1
    second = upper if 2 * step + 1 < steps else upper + 1
    return first, second


def optical_depth(area_m2_m3: Floats, sweep: Sweep) -> NDArray[np.float32]:
    """Return ``(D, nx, ny, nz)`` optical depth from each cell's middle out to the open.

    ``area_m2_m3`` is ``(nx, ny, nz)`` plant area density [m2/m3], z upwards.
    """
    nx, ny, nz = area_m2_m3.shape
    layers = np.ascontiguousarray(area_m2_m3.transpose(2, 0, 1)[::-1], dtype=np.float32)
    depth = np.empty((len(sweep.towards), nz, nx, ny), dtype=np.float32)
    for chosen, steps in sweep.groups():
        shift, half = _prepared(sweep, chosen, steps, (nx, ny))
        plane = half * steps * layers[0]
        depth[chosen, 0] = plane
        for upper in range(nz - 1):
            for step in range(steps):
                first, second = _between(upper, step, steps)
                plane = shift(plane + half * layers[first])
                plane += half * layers[second]
            depth[chosen, upper + 1] = plane
    return depth[:, ::-1].transpose(0, 2, 3, 1)


def light_fields(areas_m2_m3: Floats, sweep: Sweep, share: Floats) -> Floats:
    """Return the share of light in each cell of several crowns in one grid.

    ``areas_m2_m3`` is ``(K, nx, ny, nz)``, ``share`` ``(D,)`` the light that comes from each
    direction. Returns ``(K, nx, ny, nz)``. As `optical_depth`, but the light is summed on the way
    down and no depth is kept; crowns are taken a few at a time so that a layer stays in the
    processor's cache.
    """
    count, nx, ny, nz = areas_m2_m3.shape
    found = np.empty((count, nz, nx, ny), dtype=np.float32)
    at_once = max(1, int(LAYER_NUMBERS / (len(share) * nx * ny)))
    for first in range(0, count, at_once):
        some = slice(first, min(first + at_once, count))
        found[some] = _light_of(areas_m2_m3[some], sweep, share.astype(np.float32))
    return np.asarray(found[:, ::-1].transpose(0, 2, 3, 1), dtype=np.float64)


def _light_of(areas_m2_m3: Floats, sweep: Sweep, share: Planes) -> Planes:
    count, nx, ny, nz = areas_m2_m3.shape
    # (nz, K, 1, nx, ny), from the top down; the 1 stands for the directions
    layers = np.ascontiguousarray(areas_m2_m3.transpose(3, 0, 1, 2)[::-1, :, None], np.float32)
    light: Planes = np.zeros((nz, count, nx, ny), dtype=np.float32)
    for chosen, steps in sweep.groups():
        shift, half = _prepared(sweep, np.tile(chosen, count), steps, (nx, ny))
        half = half.reshape(count, len(chosen), 1, 1)
        shape = (count, len(chosen), nx, ny)
        weight = share[chosen]
        plane = half * steps * layers[0]
        light[0] += np.einsum("kdxy,d->kxy", np.exp(-plane), weight)
        for upper in range(nz - 1):
            for step in range(steps):
                one, other = _between(upper, step, steps)
                plane += half * layers[one]
                plane = shift(plane.reshape(-1, nx, ny)).reshape(shape)
                plane += half * layers[other]
            light[upper + 1] += np.einsum("kdxy,d->kxy", np.exp(-plane), weight)
    return light.transpose(1, 0, 2, 3)


def shading(seeds: NDArray[np.float32], sweep: Sweep) -> Floats:
    """Return the derivative by each cell's plant area density of a sum over optical depths.

    ``seeds`` is ``(D, nx, ny, nz)``: the derivative of that sum by each optical depth. Returns
    ``(nx, ny, nz)``.
    """
    _, nx, ny, nz = seeds.shape
    given = seeds.transpose(0, 3, 1, 2)[:, ::-1]
    found = np.zeros((nz, nx, ny))
    for chosen, steps in sweep.groups():
        shift, half = _prepared(sweep, chosen, steps, (nx, ny), back=True)
        plane = np.array(given[chosen, nz - 1], dtype=np.float32)
        for upper in range(nz - 2, -1, -1):
            for step in range(steps - 1, -1, -1):
                first, second = _between(upper, step, steps)
                found[second] += (half * plane).sum(axis=0)
                plane = shift(plane)
                found[first] += (half * plane).sum(axis=0)
            plane = plane + given[chosen, upper]
        found[0] += (half * steps * plane).sum(axis=0)
    return found[::-1].transpose(1, 2, 0)


def _prepared(
    sweep: Sweep, chosen: Ints, steps: int, shape: tuple[int, int], back: bool = False
) -> tuple[_Shift, Planes]:
    """Return the shift of one step, and the optical depth of half a step at unit density."""
    towards = sweep.towards[chosen]
    way = towards[:, :2] / towards[:, 2:] / steps
    half = 0.5 * sweep.extinction[chosen] * sweep.cell_m / towards[:, 2] / steps
    shift = _Shift(-way if back else way, shape, sweep.endless)
    return shift, half.astype(np.float32)[:, None, None]

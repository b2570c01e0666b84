"""Optical depth of a crown along many directions at once, and its derivative.

Light comes down along a set of fixed directions. In a grid of cells all rays of one direction are
parallel, so one ray can stand for each cell of a layer: it enters the cell below (or beside) it in
the next layer, and its optical depth grows by what each cell on its way holds. Every cell of every
layer is met by just one ray of each direction, so no ray is traced twice, nothing is smeared from
layer to layer, and the light that enters is, to the last digit, what is taken, what leaves by the
sides and what reaches the ground. A ray meets the cell nearest to its line, never off by more than
half a cell; rays nearly level cross several cells in a layer and take as many steps.

Work: (directions) x (cells) x (steps), an addition each, and an exponential for each cell and
direction. Planes of rays stay where they are in memory; the grid slides past them (each layer is
held twice over in both ways, so that a slid layer is a plain piece of it), and a ray that leaves by
a side makes room for one that enters opposite.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from limbwright.model.skeleton import Floats, Ints

__all__ = ["Planes", "Sweep", "last_depth", "light_fields", "optical_depth"]

LAYER_NUMBERS = 250_000
"""Numbers of one layer, over crowns and directions, worked on together: they fit into the cache."""
LEAST_AT_ONCE = 8
"""Crowns worked on together at least: below it each step costs more than its numbers (measured)."""

NO_LIGHT = 1e-30
"""Share of a direction that gives none to one of several crowns; its depth is a number still."""

ALL = slice(None)

Planes = NDArray[np.float32]
"""Values of rays; light needs no more than seven digits."""


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

    @property
    def slope(self) -> Floats:
        """``(D, 2)`` cells to the east and north a ray crosses in each layer."""
        return self.towards[:, :2] / self.towards[:, 2:]

    @property
    def steps(self) -> Ints:
        """``(D,)`` steps in a layer, none longer than a cell: odd, so that one is in its middle."""
        most = np.abs(self.slope).max(axis=1, initial=0.0)
        more = np.ceil((most - 1.0 - 1e-9) / 2.0).clip(0)
        return np.asarray(2 * more + 1, dtype=np.int64)

    @property
    def step_depth(self) -> Floats:
        """``(D,)`` optical depth of one step at unit density."""
        return self.extinction * self.cell_m / self.towards[:, 2] / self.steps


_Place = tuple[slice, slice]
_Step = tuple[tuple[int, slice, slice], bool, tuple[_Place, ...]]
"""What the rays of one direction meet next: a piece of the doubled grid (layer, rows, columns),
whether only half of it is passed (up to the cells' middle or on from there), and the places in the
plane of rays that newly enter by a side. Plain tuples: a crown has thousands of them."""
_Way = list[tuple[list[_Step], _Place]]
"""By layer, from the top: the steps to the middle of its cells, and where the rays are then."""


def _entering(before: int, now: int, size: int) -> list[slice]:
    """Return the places of rays that enter where the grid has slid from ``before`` to ``now``."""
    moved = now - before
    if abs(moved) >= size:
        return [slice(0, size)]
    first = (-now if moved > 0 else -now + moved) % size
    last = first + abs(moved)
    if last <= size:
        return [slice(first, last)]
    return [slice(first, size), slice(0, last - size)]


def _way(slope: Floats, steps: int, shape: tuple[int, int, int], endless: bool) -> _Way:
    """Return the way of one direction."""
    nx, ny, nz = shape
    height = (nz - 1) / 2.0 - np.arange(nz)[:, None]
    height = height + ((steps - 1) / 2.0 - np.arange(steps)) / steps
    # measured from the grid's middle: what shades what is then the same seen the other way round
    slid = np.rint(height[:, :, None] * slope).astype(np.int64).reshape(-1, 2)
    of_row = [slice(x, x + nx) for x in range(nx)]
    of_column = [slice(y, y + ny) for y in range(ny)]
    middle = (steps - 1) // 2
    found: _Way = []
    taken: list[_Step] = []
    x, y = slid[0].tolist()
    for k, (to_x, to_y) in enumerate(slid.tolist()):
        layer, step = divmod(k, steps)
        rows, columns = of_row[to_x % nx], of_column[to_y % ny]
        index = (layer, rows, columns)
        fresh: tuple[_Place, ...] = ()
        if not endless:
            if x != to_x:
                fresh = tuple((new, ALL) for new in _entering(x, to_x, nx))
            if y != to_y:
                fresh += tuple((ALL, new) for new in _entering(y, to_y, ny))
            x, y = to_x, to_y
        if step != middle:
            taken.append((index, False, fresh))
            continue
        taken.append((index, True, fresh))
        found.append((taken, (rows, columns)))
        taken = [(index, True, ())]
    return found


@lru_cache(maxsize=8)
def _kept_ways(
    slopes: bytes, steps: bytes, shape: tuple[int, int, int], endless: bool
) -> list[_Way]:
    each = np.frombuffer(slopes).reshape(-1, 2)
    count = np.frombuffer(steps, dtype=np.int64).tolist()
    return [_way(slope, n, shape, endless) for slope, n in zip(each, count, strict=True)]


def _ways(sweep: Sweep, shape: tuple[int, ...]) -> list[_Way]:
    """Return the steps of every direction; kept, since crowns are lit again after each cut."""
    nx, ny, nz = shape
    slopes = np.ascontiguousarray(sweep.slope, dtype=np.float64).tobytes()
    return _kept_ways(slopes, sweep.steps.tobytes(), (nx, ny, nz), sweep.endless)


def _twice(layers: Planes) -> Planes:
    """Return layers ``(nz, nx, ny, K)`` held twice over in both ways."""
    return np.concatenate([np.concatenate([layers, layers], axis=1)] * 2, axis=2)


def _once(twice: Planes, nx: int, ny: int) -> Planes:
    """Return what was summed into layers held twice over."""
    half = twice[:, :nx] + twice[:, nx:]
    return np.asarray(half[:, :, :ny] + half[:, :, ny:])


def _descent(
    areas: Floats | Planes, ways: list[_Way], clear: Planes
) -> Iterator[tuple[int, Planes]]:
    """Go down the layers: yield each and the rays at the middle of its cells.

    ``areas`` is ``(K, nx, ny, nz)``. The rays are ``(D, nx, ny, K)``: the densities met step by
    step, summed, from ``clear`` ``(D, K)`` on. They are to be read before going on, not to be
    kept.
    """
    count, nx, ny, nz = areas.shape
    whole = _twice(np.ascontiguousarray(areas.transpose(3, 1, 2, 0)[::-1], dtype=np.float32))
    part = whole * np.float32(0.5)
    rays: Planes = np.empty((len(clear), nx, ny, count), dtype=np.float32)
    rays[:] = clear[:, None, None, :]
    planes = list(zip(rays, ways, clear, strict=True))
    for layer in range(nz):
        for plane, way, start in planes:
            for index, half, entering in way[layer][0]:
                for fresh in entering:
                    plane[fresh] = start
                plane += part[index] if half else whole[index]
        yield layer, rays


def optical_depth(area_m2_m3: Floats, sweep: Sweep) -> NDArray[np.float32]:
    """Return ``(D, nx, ny, nz)`` optical depth from each cell's middle out to the open.

    ``area_m2_m3`` is ``(nx, ny, nz)`` plant area density [m2/m3], z upwards.
    """
    nx, ny, nz = area_m2_m3.shape
    count = len(sweep.towards)
    ways = _ways(sweep, area_m2_m3.shape)
    scale = sweep.step_depth.astype(np.float32)
    found = np.empty((count, nx, ny, nz), dtype=np.float32)
    for layer, rays in _descent(area_m2_m3[None], ways, np.zeros((count, 1), dtype=np.float32)):
        for plane, way, by, into in zip(rays[..., 0], ways, scale, found, strict=True):
            rows, columns = way[layer][1]
            slid = (rows.start, columns.start)
            into[:, :, nz - 1 - layer] = by * np.roll(plane, slid, axis=(0, 1))
    return found


def last_depth(areas_m2_m3: Floats, sweep: Sweep) -> Planes:
    """Return ``(K, nx, ny)`` optical depth of the lowest layer's middle along one direction.

    ``areas_m2_m3`` is ``(K, nx, ny, nz)``: several crowns in one grid.
    """
    count, nx, ny, nz = areas_m2_m3.shape
    ways = _ways(sweep, (nx, ny, nz))
    clear = np.zeros((1, count), dtype=np.float32)
    for _, rays in _descent(areas_m2_m3, ways, clear):
        last = rays
    rows, columns = ways[0][-1][1]
    met = np.roll(last[0], (rows.start, columns.start), axis=(0, 1))
    return np.asarray(np.float32(sweep.step_depth[0]) * met.transpose(2, 0, 1))


def light_fields(areas_m2_m3: Floats | Planes, sweep: Sweep, share: Floats) -> Planes:
    """Return the share of light in each cell of several crowns in one grid.

    ``areas_m2_m3`` is ``(K, nx, ny, nz)``, ``share`` the light that comes from each direction,
    ``(D,)`` for all crowns or ``(K, D)`` for each. Returns ``(K, nx, ny, nz)``. As
    `optical_depth`, but the light is summed on the way down and no depth is kept; crowns are taken
    a few at a time so that a layer stays in the processor's cache.
    """
    count, nx, ny, nz = areas_m2_m3.shape
    each = np.broadcast_to(share, (count, share.shape[-1]))
    lit = np.flatnonzero((each > 0.0).any(axis=0))
    sweep = replace(sweep, towards=sweep.towards[lit], extinction=sweep.extinction[lit])
    ways = _ways(sweep, (nx, ny, nz))
    scale = sweep.step_depth
    # a ray starts with the depth that leaves the direction's share of all light
    clear = (-np.log(np.maximum(each[:, lit].T, NO_LIGHT)) / scale[:, None]).astype(np.float32)
    by = -scale.astype(np.float32)[:, None, None, None]
    found: Planes = np.empty((count, nx, ny, nz), dtype=np.float32)
    at_once = max(LEAST_AT_ONCE, int(LAYER_NUMBERS / (len(lit) * nx * ny)))
    for first in range(0, count, at_once):
        some = areas_m2_m3[first : first + at_once]
        light = np.zeros((nz, 2 * nx, 2 * ny, len(some)), dtype=np.float32)
        passed: Planes = np.empty((len(lit), nx, ny, len(some)), dtype=np.float32)
        for layer, rays in _descent(some, ways, clear[:, first : first + at_once]):
            np.multiply(rays, by, out=passed)
            np.exp(passed, out=passed)
            into = light[layer]
            for plane, way in zip(passed, ways, strict=True):
                into[way[layer][1]] += plane
        found[first : first + at_once] = _once(light, nx, ny)[::-1].transpose(3, 1, 2, 0)
    return found

"""A crown as a grid of cells: how much leaf and wood stands where, and whose it is.

Leaf sits on spurs and shoots around the wood that bears it, so each segment's leaf is spread over
points along the segment and up to the reach of its shoots, the same pattern for all; each point
counts for the cell it lies in. Many points, each in one cell, keep a clump of leaf as small as it
is; few points, each spread over several cells, make it wider or leave it in crumbs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limbwright.errors import InputError
from limbwright.light.sky import Sky
from limbwright.light.sweep import Sweep
from limbwright.model.skeleton import Bools, Floats, Ints, Skeleton
from limbwright.trade.parameters import parameters

__all__ = ["Canopy", "Grid", "canopy", "leaf_projection", "leaf_weight", "shared_grid"]

POINTS_LEAST, POINTS_ALL = 24, 200_000
POINTS_IN_CELL = 4.0
"""Points the leaf of one segment is spread over: so many for each cell of a cube of its reach,
and as many again for each 4/3 of its reach it is long.

Fewer leave crumbs of leaf denser than the crown and so a crown too dark inside: by an eighth for 12
points in cells of 0.35 m (measured against 2,000 points in cells of 0.1 m).
"""
PIECES = 3
"""Pieces of wood in a cell's length."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Cells of ``cell_m``, the first corner at ``origin_m``; ``shape`` is (nx, ny, nz).

    ``endless``: the orchard around is taken as the same tree at the distance the grid spans.
    """

    origin_m: tuple[float, float, float]
    cell_m: float
    shape: tuple[int, int, int]
    endless: bool

    @property
    def cells(self) -> int:
        """Number of cells."""
        return int(np.prod(self.shape))

    def cell_of(self, points_m: Floats) -> Ints:
        """Return ``(P,)`` the cell each of P points lies in, ``(P, 3)`` [m].

        What hangs to the ground lies on it; cells of an endless grid wrap round.
        """
        at = np.floor((points_m - self.origin_m) / self.cell_m).astype(np.int64)
        size = np.array(self.shape)
        if self.endless:
            at[:, :2] %= size[:2]
        np.clip(at, 0, size - 1, out=at)
        return np.asarray((at[:, 0] * size[1] + at[:, 1]) * size[2] + at[:, 2])

    def around(self, points_m: Floats) -> tuple[Ints, Floats]:
        """Return the eight cells around each of P points, ``(P, 8)``, and their shares.

        A share beyond an open side is 0; cells of an endless grid wrap round.
        """
        at = (points_m - self.origin_m) / self.cell_m - 0.5
        low = np.floor(at).astype(np.int64)
        part = at - low
        index = np.zeros((len(points_m), 1), dtype=np.int64)
        share = np.ones((len(points_m), 1))
        for axis, size in enumerate(self.shape):
            cell = low[:, axis, None] + np.array([0, 1])
            weight = np.column_stack([1.0 - part[:, axis], part[:, axis]])
            if self.endless and axis < 2:
                cell %= size
            elif axis == 2:
                np.maximum(cell, 0, out=cell)  # what hangs to the ground lies on it
            weight[(cell < 0) | (cell >= size)] = 0.0
            np.clip(cell, 0, size - 1, out=cell)
            index = (index[:, :, None] * size + cell[:, None, :]).reshape(-1, 2 << axis)
            share = (share[:, :, None] * weight[:, None, :]).reshape(-1, 2 << axis)
        return index, share


@dataclass(frozen=True)
class Canopy:
    """Leaf and wood of one tree in its grid.

    ``cell``, ``share``, ``segment`` are ``(m,)``: entry j puts ``share`` of the leaf of a segment
    into a cell; ``wood_cell``, ``wood_share``, ``wood_segment`` the same for its wood.
    ``leaf_m2`` and ``wood_m2`` are ``(n,)`` per segment: leaf area, one-sided, and half the
    surface of the wood, which takes light as that much leaf would. ``kept`` is ``(n,)``.
    """

    grid: Grid
    cell: Ints
    share: Floats
    segment: Ints
    wood_cell: Ints
    wood_share: Floats
    wood_segment: Ints
    leaf_m2: Floats
    wood_m2: Floats
    kept: Bools

    def leaf_in_cells(self) -> Floats:
        """Return ``(nx, ny, nz)`` leaf area in each cell [m2]."""
        weight = (self.leaf_m2 * self.kept)[self.segment] * self.share
        total = np.bincount(self.cell, weights=weight, minlength=self.grid.cells)
        return np.asarray(total.reshape(self.grid.shape), dtype=np.float64)

    def wood_in_cells(self) -> Floats:
        """Return ``(nx, ny, nz)`` half the wood's surface in each cell [m2]."""
        weight = (self.wood_m2 * self.kept)[self.wood_segment] * self.wood_share
        total = np.bincount(self.wood_cell, weights=weight, minlength=self.grid.cells)
        return np.asarray(total.reshape(self.grid.shape), dtype=np.float64)

    def plant_m2_m3(self, in_leaf: bool = True) -> Floats:
        """Return ``(nx, ny, nz)`` what takes light, as leaf area density [m2/m3].

        Leaf counts by its clumping and by the root of its absorptance (leaves pass light on:
        Goudriaan 1977), wood in full.
        """
        area = self.wood_in_cells()
        if in_leaf:
            area = area + leaf_weight() * self.leaf_in_cells()
        return np.asarray(area / self.grid.cell_m**3)

    def of_segments(self, field: Floats) -> Floats:
        """Return ``(n,)`` mean of a field over the leaf of each segment; NaN for one without."""
        value = field.reshape(-1)[self.cell] * self.share
        n = len(self.leaf_m2)
        total = np.bincount(self.segment, weights=value, minlength=n)
        weight = np.bincount(self.segment, weights=self.share, minlength=n)
        mean = np.full(n, np.nan)
        np.divide(total, weight, out=mean, where=weight > 0.0)
        return mean

    def without(self, kept: Bools) -> Canopy:
        """Return the canopy with only the segments kept."""
        return replace(self, kept=self.kept & kept)

    def sweep(self, sky: Sky) -> Sweep:
        """Return how to go down this grid along the directions of a sky."""
        table = parameters("light")
        projection = leaf_projection(sky.towards[:, 2], table["leaf.angle_ratio"].value)
        return Sweep(sky.towards, projection, self.grid.cell_m, self.grid.endless)


def leaf_weight() -> float:
    """Return what one square metre of leaf counts as: clumping times the root of absorptance."""
    table = parameters("light")
    return float(table["leaf.clumping"].value * np.sqrt(table["leaf.absorptance"].value))


def leaf_projection(up: Floats, ratio: float) -> Floats:
    """Return the area leaves show square to a ray, over their area.

    Ellipsoidal leaf angles, Campbell 1986, Agric. For. Meteorol. 36:317; Campbell & Norman 1998
    equation 15.4 gives the extinction on level ground, which times ``up``, the sine of the ray's
    elevation, is this. ``ratio`` 1 is spherical: 0.5.
    """
    slope2 = (1.0 - up**2) / np.maximum(up**2, 1e-12)
    level = np.sqrt(ratio**2 + slope2) / (ratio + 1.774 * (ratio + 1.182) ** -0.733)
    return np.asarray(level * up)


def canopy(
    skeleton: Skeleton,
    *,
    spacing_m: float | None = None,
    cell_m: float | None = None,
    leaf_reach_m: float | None = None,
    grid: Grid | None = None,
) -> Canopy:
    """Return the cells of a tree.

    Parameters
    ----------
    skeleton
        The tree.
    spacing_m
        Distance to its neighbours, taken to be like it and to stand all round; None: none stand.
    cell_m
        Edge of a cell; None takes about 1/36 of the crown's largest measure.
    leaf_reach_m
        How far leaves hang from their wood; None takes 0.3 m on wood that was seen, 0.8 m on
        laterals the rules put there, each of which stands for several.
    grid
        Cells that hold the whole tree, in place of its own; spacing and edge are then theirs.

    Raises
    ------
    InputError
        The spacing is not that of trees, or the cell's edge not above zero.
    """
    reach = _reach(skeleton, leaf_reach_m)
    far = float(reach[skeleton.leaf_area_m2 > 0.0].max(initial=0.0))
    if grid is None:
        grid = _grid(*_extent(skeleton, far), spacing_m, cell_m)
    span = skeleton.end_m - skeleton.start_m
    bears = np.flatnonzero(skeleton.leaf_area_m2 > 0.0)
    longest = float(skeleton.length_m[bears].max(initial=0.0))
    wanted = POINTS_IN_CELL * far**2 * (far + 0.75 * longest) / grid.cell_m**3
    most = max(POINTS_ALL / max(bears.size, 1), POINTS_LEAST)
    points = int(np.clip(wanted, POINTS_LEAST, most))
    along, ball = _pattern(points)
    spread = skeleton.start_m[bears, None] + along[None, :, None] * span[bears, None]
    spread = spread + reach[bears, None, None] * ball[None]
    pieces = np.maximum(np.ceil(PIECES * skeleton.length_m / grid.cell_m), 1).astype(np.int64)
    of = np.repeat(np.arange(skeleton.n), pieces)
    first = np.repeat(np.cumsum(pieces) - pieces, pieces)
    middle = (np.arange(len(of)) - first + 0.5) / pieces[of]
    return Canopy(
        grid=grid,
        cell=grid.cell_of(spread.reshape(-1, 3)),
        share=np.full(bears.size * points, 1.0 / points),
        segment=np.repeat(bears, points),
        wood_cell=grid.cell_of(skeleton.start_m[of] + middle[:, None] * span[of]),
        wood_share=1.0 / pieces[of],
        wood_segment=of,
        leaf_m2=skeleton.leaf_area_m2,
        wood_m2=_half_surface_m2(skeleton),
        kept=np.ones(skeleton.n, dtype=np.bool_),
    )


def shared_grid(skeletons: Sequence[Skeleton], *, spacing_m: float | None = None) -> Grid:
    """Return cells that hold each of some trees, such as one tree over the years.

    Their edge is that of the widest or tallest of them.
    """
    ends = [
        _extent(s, float(_reach(s, None)[s.leaf_area_m2 > 0.0].max(initial=0.0))) for s in skeletons
    ]
    low = np.min([one[0] for one in ends], axis=0)
    high = np.max([one[1] for one in ends], axis=0)
    return _grid(low, high, spacing_m, None)


def _reach(skeleton: Skeleton, leaf_reach_m: float | None) -> Floats:
    """Return ``(n,)`` how far leaves hang from the wood of each segment [m]."""
    if leaf_reach_m is not None:
        return np.full(skeleton.n, leaf_reach_m)
    table = parameters("light")
    return np.where(skeleton.surveyed, table["leaf.reach"].value, table["leaf.reach_derived"].value)


def _extent(skeleton: Skeleton, far: float) -> tuple[Floats, Floats]:
    """Return the lowest and highest corner of a tree whose leaves hang ``far`` [m] off."""
    ends = np.concatenate([skeleton.start_m, skeleton.end_m])
    low, high = ends.min(axis=0) - far, ends.max(axis=0) + far
    # leaf may hang down to the ground, which is where the wood begins, not below it
    low[2] = min(float(ends[:, 2].min()), 0.0)
    return low, high


def _grid(low: Floats, high: Floats, spacing_m: float | None, cell_m: float | None) -> Grid:
    table = parameters("light")
    if cell_m is not None and not cell_m > 0.0:
        raise InputError(f"A cell of {cell_m:g} m cannot be.", "Give its edge in metres.")
    if spacing_m is not None and not 1.0 <= spacing_m <= 50.0:
        raise InputError(
            f"Trees {spacing_m:g} m apart cannot be.", "Give the distance between stems in metres."
        )
    fine = float((high - low).max()) / table["grid.cells_across"].value
    if spacing_m is not None:
        # far neighbours would ask for many empty cells
        fine = max(fine, spacing_m / table["grid.spacing_cells"].value)
    cell = max(fine, table["grid.least_cell"].value) if cell_m is None else cell_m
    if spacing_m is not None:
        across = max(round(spacing_m / cell), 1)
        cell = spacing_m / across
        middle = (low + high) / 2.0
        low = np.array([middle[0] - spacing_m / 2, middle[1] - spacing_m / 2, low[2]])
        high = np.array([low[0] + spacing_m, low[1] + spacing_m, high[2]])
    # a margin of one cell, so that light can be told at the rim; below the ground there is none
    margin = 0.0 if spacing_m is not None else cell
    origin = low - np.array([margin, margin, 0.0])
    top = high + np.array([margin, margin, cell])
    shape = np.maximum(np.ceil((top - origin) / cell - 1e-9), 1).astype(int)
    x, y, z = origin.tolist()
    return Grid(
        (x, y, z), cell, (int(shape[0]), int(shape[1]), int(shape[2])), spacing_m is not None
    )


def _half_surface_m2(skeleton: Skeleton) -> Floats:
    """Return ``(n,)`` half the surface of wood and twigs [m2]."""
    table = parameters("light")
    mean_m = (skeleton.start_diameter_mm + skeleton.end_diameter_mm) / 2000.0
    twig_m = table["twig.diameter"].value / 1000.0
    # a kilogram of green twigs is 4 / (density x diameter) of surface; 1000 kg/m3 is near enough
    # (judgement: green apple shoots have 900 to 1100)
    twigs = 4.0 * skeleton.fine_wood_kg / (1000.0 * twig_m)
    return np.asarray((np.pi * mean_m * skeleton.length_m + twigs) / 2.0)


def _pattern(points: int) -> tuple[Floats, Floats]:
    """Return ``(points,)`` places along a segment and ``(points, 3)`` offsets in a unit ball."""
    i = np.arange(points) + 0.5
    up = 1.0 - 2.0 * i / points
    turn = np.pi * (1.0 + 5.0**0.5) * i
    radius = np.cbrt((i * 0.6180339887) % 1.0)  # volume of the ball evenly filled
    level = np.sqrt(1.0 - up**2)
    ball = radius[:, None] * np.column_stack([level * np.cos(turn), level * np.sin(turn), up])
    return np.asarray((i * 0.7548776662) % 1.0), np.asarray(ball - ball.mean(axis=0))

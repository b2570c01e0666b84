"""Time of a season's light in a crown, anew and after a cut, against its floor and a ray caster.

Run: ``python benchmarks/light.py [segments]``. The crown is an old tree of the invented holding
with its segments cut into shorter ones. The floor is the arithmetic no method on this grid can
do without: an addition for each step of a ray into a cell, and a scaling, an exponential and a
weighted sum for each cell and direction, measured as such, layer by layer in the processor's cache.
The ray caster marches every ray from every cell through the same grid in half-cell steps, as one
would with a general library. Times are the processor's, which other work on the machine changes
little. All of it runs on one core but the products of the hat, which NumPy may share out (set
OMP_NUM_THREADS=1 to prevent it). After a cut all is reckoned anew: taking a limb
changes the light of 3 to 62 % of the cells of surveyed trees, all over the crown, so touching only
what changed would save little.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import numpy as np
from scipy.ndimage import map_coordinates

from limbwright.demo import make_holding
from limbwright.light.canopy import Canopy, canopy
from limbwright.light.crown import CrownLight, crown_light, relight
from limbwright.light.hat import hat_share, hat_test
from limbwright.light.sky import Sky, season_sky
from limbwright.light.sweep import _kept_ways, optical_depth
from limbwright.model import Skeleton
from limbwright.survey.build import build_skeleton

CAST = 18
"""Directions that are cast."""


def crown(segments: int) -> Skeleton:
    """Return an old tree of the invented holding in about so many segments."""
    one = build_skeleton(make_holding(1).surveys()[0])[0]
    pieces = max(round(segments / one.n), 1)
    share = np.arange(pieces + 1) / pieces
    parent, start, end, d0, d1, leaf, fine = [], [], [], [], [], [], []
    for i in range(one.n):
        span, taper = (
            one.end_m[i] - one.start_m[i],
            one.end_diameter_mm[i] - one.start_diameter_mm[i],
        )
        for k in range(pieces):
            first = -1 if one.parent[i] < 0 else (one.parent[i] + 1) * pieces - 1
            parent.append(first if k == 0 else len(parent) - 1)
            start.append(one.start_m[i] + share[k] * span)
            end.append(one.start_m[i] + share[k + 1] * span)
            d0.append(one.start_diameter_mm[i] + share[k] * taper)
            d1.append(one.start_diameter_mm[i] + share[k + 1] * taper)
            leaf.append(one.leaf_area_m2[i] / pieces)
            fine.append(one.fine_wood_kg[i] / pieces)
    n = len(parent)
    return Skeleton.build(
        tree="benchmark",
        species=one.species,
        parent=parent,
        start_m=np.array(start),
        end_m=np.array(end),
        start_diameter_mm=np.array(d0),
        end_diameter_mm=np.array(d1),
        leaf_area_m2=np.array(leaf),
        fine_wood_kg=np.array(fine),
        limb=[0] * n,
        limbs=[one.limbs[0]],
    )


def cast(held: Canopy, sky: Sky, directions: int) -> tuple[float, np.ndarray]:
    """March rays from every cell for some of the directions: seconds for all, optical depths."""
    area = np.pad(held.plant_m2_m3().astype(np.float32), 1)
    place = np.stack(np.meshgrid(*(np.arange(s) + 1.0 for s in held.grid.shape), indexing="ij"))
    far = int(2 * np.linalg.norm(held.grid.shape))
    sweep = held.sweep(sky)
    chosen = np.linspace(0, len(sky.share) - 1, directions).astype(int)
    found = []
    begun = time.process_time()
    for d in chosen:
        total = np.zeros(held.grid.shape)
        for step in range(far):
            at = place + (0.5 * step + 0.25) * sky.towards[d][:, None, None, None]
            total += map_coordinates(area, at, order=0, mode="constant")
        found.append(total * 0.5 * held.grid.cell_m * sweep.extinction[d])
    each = (time.process_time() - begun) / directions
    return each * len(sky.share), np.array(found)


def best_ms(work: Callable[[], object], repeats: int = 9) -> tuple[float, float]:
    """Return least and median time [ms]."""
    taken = []
    for _ in range(repeats):
        begun = time.process_time()
        work()
        taken.append(1e3 * (time.process_time() - begun))
    return min(taken), float(np.median(taken))


def main() -> None:
    tree = crown(int(sys.argv[1]) if len(sys.argv) > 1 else 5000)
    sky = season_sky(52.0)
    held = canopy(tree)
    light: CrownLight = crown_light(held, sky)
    kept = np.ones(tree.n, dtype=np.bool_)
    kept[tree.in_subtree(tree.n // 3)] = False
    nx, ny, nz = held.grid.shape
    steps = held.sweep(sky).steps
    planes = np.ones((len(steps), nx * ny), dtype=np.float32)
    more = np.full_like(planes, 1e-3)
    out = np.empty_like(planes)
    weight = sky.share.astype(np.float32)

    def least() -> None:
        for _ in range(nz):
            for step in range(int(steps.max())):
                some = steps > step
                np.add(planes[: some.sum()], more[: some.sum()], out=planes[: some.sum()])
            np.exp(np.multiply(planes, -1e-3, out=out), out=out)
            weight @ out

    floor, _ = best_ms(least)
    print(
        f"{tree.n} segments, {held.grid.cells} cells {held.grid.shape}, {len(sky.share)} directions"
    )
    cell_steps = int(steps.sum()) * nx * ny * nz
    print(f"{f'floor: {cell_steps:,} cell-steps':<46}{floor:9.2f} ms")

    def line(name: str, work: Callable[[], object]) -> float:
        least, median = best_ms(work)
        print(f"{name:<46}{least:9.2f} ms  (median {median:.2f}, {least / floor:.1f} x the floor)")
        return least

    def first() -> None:
        _kept_ways.cache_clear()
        crown_light(held, sky)

    line("cells of the tree", lambda: canopy(tree))
    line("the season's sun and sky", lambda: season_sky(52.0))
    line("the season's light, first on its grid", first)
    line("optical depths alone", lambda: optical_depth(held.plant_m2_m3(), held.sweep(sky)))
    whole = line("the season's light", lambda: crown_light(held, sky))
    line(
        "from the skeleton: cells, sky and light", lambda: crown_light(canopy(tree), season_sky(52))
    )
    line("after one cut", lambda: relight(light, kept))
    test = hat_test(tree, held)
    line("the hat, 512 throws", lambda: hat_test(tree, held))
    line("the hat after one cut", lambda: hat_share(test, kept))
    theirs, depth = cast(held, sky, CAST)
    chosen = np.linspace(0, len(sky.share) - 1, CAST).astype(int)
    ours = optical_depth(held.plant_m2_m3(), held.sweep(sky))[chosen]
    weight = sky.share[chosen] / sky.share[chosen].sum()
    off = np.tensordot(weight, np.exp(-ours) - np.exp(-depth), 1)[held.leaf_in_cells() > 0.0]
    print(f"{f'marching every ray (from {CAST} directions)':<46}{1e3 * theirs:9.0f} ms")
    print(
        f"  ratio {1e3 * theirs / whole:.0f} x; difference of light in leafy cells"
        f" {np.abs(off).mean():.4f} in the mean, bias {off.mean():+.4f}"
    )


if __name__ == "__main__":
    main()

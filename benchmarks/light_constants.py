"""How far each constant of light, and each coarse grid, decides, for docs/method/light.md.

Run: ``python benchmarks/light_constants.py`` (about a minute). The trees of the invented holding
stand alone at 50 degrees north; each constant is set to its low and its high end, all else as it
is. Means over trees, in whole per cent. Then the usual cells against such of 0.1 m, and what single
cuts gain in a plan's coarse cells against cells a third as wide.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from limbwright.demo import make_holding
from limbwright.light import canopy as in_cells
from limbwright.light import crown, cuts, sky
from limbwright.light.summary import Standing
from limbwright.model import Site, Skeleton
from limbwright.survey.build import build_skeleton
from limbwright.trade.parameters import Parameter, parameters

LATITUDE_DEG = 50.0
NAMES = (
    ("leaf.clumping", "clumping {low:g}, {high:g}"),
    ("leaf.reach_derived", "reach of derived leaf {low:g}, {high:g} m"),
    ("leaf.angle_ratio", "leaf angle ratio {low:g}, {high:g}"),
    ("leaf.reach", "reach of taped leaf {low:g}, {high:g} m"),
    ("leaf.absorptance", "absorptance {low:g}, {high:g}"),
    ("twig.diameter", "shoots too fine to be segments {low:g}, {high:g} mm"),
    ("sky.clearness", "clearness {low:g}, {high:g}"),
)


def trees() -> list[Skeleton]:
    """Return the trees of the invented holding."""
    return [build_skeleton(tree)[0] for tree in make_holding(1).surveys()]


@contextmanager
def instead(name: str, value: float) -> Iterator[None]:
    """Put another value in the place of a constant of light."""

    def other(table: str) -> MappingProxyType[str, Parameter]:
        found = dict(parameters(table))
        if table == "light":
            found[name] = replace(found[name], value=value)
        return MappingProxyType(found)

    modules = (in_cells, crown, cuts, sky)
    try:
        for module in modules:
            vars(module)["parameters"] = other
        yield
    finally:
        for module in modules:
            vars(module)["parameters"] = parameters


def means(held: list[Skeleton], site: Site) -> tuple[float, float, float]:
    """Return light on the leaf, leaf with enough for flower buds, light on the grass [%]."""
    lit = [Standing(one, site).summer for one in held]
    return (
        100.0 * float(np.mean([x.mean for x in lit])),
        100.0 * float(np.mean([x.flowering for x in lit])),
        100.0 * float(np.mean([x.ground for x in lit])),
    )


def row(name: str, *found: tuple[float, float, float]) -> None:
    """Print a row of the table, the low end before the high one."""
    cells = [", ".join(f"{x:.0f}" for x in ends) + " %" for ends in zip(*found, strict=True)]
    print("| " + " | ".join([name, *cells]) + " |", flush=True)


def finer_cells(held: list[Skeleton]) -> None:
    """Print how far the usual cells are off cells of 0.1 m [points of full light]."""
    light = sky.season_sky(LATITUDE_DEG)
    pairs = [
        (
            crown.crown_light(in_cells.canopy(one), light),
            crown.crown_light(in_cells.canopy(one, cell_m=0.1), light),
        )
        for one in held
    ]
    for what in ("mean", "ground"):
        off = [getattr(usual, what) - getattr(fine, what) for usual, fine in pairs]
        print(f"usual cells less cells of 0.1 m, {what}: {min(off):+.3f} to {max(off):+.3f}")


def coarse_gains(held: list[Skeleton], cells: int, fine: int, most: int = 14) -> None:
    """Print how much more single cuts gain in coarse cells than in fine ones."""
    count = int(parameters("light")["sky.plan_directions"].value)
    light = sky.season_sky(LATITUDE_DEG, directions=count)
    more = []
    for one in held:
        firsts = [limb.first_segment for limb in one.limbs[1:]]
        leafy = [i for i in firsts if one.leaf_area_m2[one.in_subtree(i)].sum() > 2.0][:most]
        off = np.zeros((len(leafy), one.n), dtype=np.bool_)
        for k, first in enumerate(leafy):
            off[k, one.in_subtree(first)] = True
        pieces, piece = np.unique(off.T, axis=0, return_inverse=True)
        gone = np.ascontiguousarray(pieces.T)
        found = []
        for across in (cells, fine):
            with instead("grid.plan_cells_across", across):
                found.append(cuts.cut_light(one, light, piece.ravel()).gained(gone).sum())
        more.append(found[0] / found[1] - 1.0)
    print(
        f"single cuts in {cells} cells across gain {min(more):+.0%} to {max(more):+.0%} of what"
        f" they gain in {fine}, {np.median(more):+.0%} in the middle"
    )


def main() -> None:
    held, site = trees(), Site(latitude_deg=LATITUDE_DEG)
    print(f"| {len(held)} trees | light on the leaf | enough for flower buds | on the grass |")
    print("|---|---|---|---|")
    row("as it is", means(held, site))
    leafy = [
        means([replace(one, leaf_area_m2=share * one.leaf_area_m2) for one in held], site)
        for share in (0.7, 1.3)
    ]
    row("leaf area 30 % less, 30 % more", *leafy)
    for name, words in NAMES:
        one = parameters("light")[name]
        ends = []
        for value in (one.low, one.high):
            with instead(name, value):
                ends.append(means(held, site))
        row(words.format(low=one.low, high=one.high), *ends)
    row("latitude 45°, 55°", *(means(held, replace(site, latitude_deg=x)) for x in (45.0, 55.0)))
    row("neighbours every 10 m", means(held, replace(site, spacing_m=10.0)))
    finer_cells(held)
    for cells in (20, 14):
        coarse_gains(held, cells, 60)


if __name__ == "__main__":
    main()

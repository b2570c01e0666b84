"""Light foretold at the places where it was measured, in cherry crowns of three growers.

Run: ``python benchmarks/measured_light.py <folder of limb surveys>``. Each tree's own limbs give
its leaf; its own outline says where the rim is. Nothing is fitted to the tree. Readings are single
moments at single points (sunflecks and shade), the forecast is the mean of July days. Told apart
by the light in the open just then, since under thick cloud there are no sunflecks and one reading
comes nearest to a mean. Taking a cloudy sky for dull readings and the sun at the height that goes
with bright ones was tried: rank, correlation and error stay as they are.
"""

from __future__ import annotations

import csv
import itertools
import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.stats import spearmanr

from limbwright.light.canopy import canopy
from limbwright.light.crown import crown_light, light_at
from limbwright.light.sky import even_sky, season_sky
from limbwright.survey import read_survey
from limbwright.survey.build import build_skeleton

LATITUDE_DEG = 40.7  # northern Utah
CLEARNESS = 0.65  # from memory: July there is dry and clear
SPACING_M = 5.5  # from memory: tart cherries stand 5 to 6 m apart there
WAIST_M, REACH_M = 1.0, 2.1  # judgement: waist height and arm's reach of whoever measured
KINDS = ("low rim", "mid rim", "low centre", "mid centre")
COMPASS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


@dataclass(frozen=True)
class Tree:
    """One tree: grower, measured and foretold share of full sun by place 1 to 18.

    ``open_umol`` is the light in the open at each reading [umol m-2 s-1]; ``leaf_m2`` the leaf
    area, ``crown_m2`` the ground below the outline at its widest, ``gaps`` the share of an even
    sky's light that gets down to waist height at the stem.
    """

    grower: str
    name: str
    measured: dict[int, float]
    foretold: dict[int, float]
    open_umol: dict[int, float]
    leaf_m2: float
    crown_m2: float
    gaps: float


def _rows(path: Path) -> Iterator[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as handle:
        yield from csv.DictReader(handle)


def _rims(rows: list[dict[str, str]]) -> tuple[np.ndarray, np.ndarray]:
    """Return the crown's radius [m] at waist height and at arm's reach, in eight directions."""
    shell: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for row in rows:
        if row["direction"] in COMPASS:
            shell[row["direction"]].append(
                (float(row["height_cm"]) / 100, float(row["distance_cm"]) / 100)
            )
    known = sorted((45.0 * COMPASS.index(d), sorted(points)) for d, points in shell.items())
    bearing = np.array([b for b, _ in known] + [known[0][0] + 360.0])

    def around(height_m: float) -> np.ndarray:
        # below the lowest point of the shell the rim is straight under it
        at = [np.interp(height_m, *zip(*points, strict=True)) for _, points in known]
        turn = (45.0 * np.arange(8) - bearing[0]) % 360.0 + bearing[0]
        return np.interp(turn, bearing, [*at, at[0]])

    return around(WAIST_M), around(REACH_M)


def _crown_m2(rows: list[dict[str, str]]) -> float:
    """Return the area [m2] below the widest points of an outline."""
    widest: dict[str, float] = defaultdict(float)
    for row in rows:
        if row["direction"] in COMPASS:
            widest[row["direction"]] = max(
                widest[row["direction"]], float(row["distance_cm"]) / 100
            )
    return float(np.pi * np.mean(np.square(list(widest.values()))))


def foretell(folder: Path, columns: Path) -> list[Tree]:
    """Return every tree whose light was measured."""
    survey = read_survey(folder / "scaffolds.csv", columns=columns)
    found = {one.station.station: one for one in survey.trees}
    outline: dict[tuple[str, str], list[dict[str, str]]] = defaultdict(list)
    for row in _rows(folder / "crown_outline.csv"):
        outline[row["block"], row["tree"]].append(row)
    light: dict[tuple[str, str, str], dict[int, float]] = defaultdict(dict)
    there: dict[tuple[str, str, str], dict[int, float]] = defaultdict(dict)
    for row in _rows(folder / "crown_light.csv"):
        if row["light"] and row["light_sun"] and float(row["light_sun"]) > 0:
            share = min(float(row["light"]) / float(row["light_sun"]), 1.0)  # a cloud passed
            light[row["grower"], row["block"], row["tree"]][int(row["position"])] = share
            there[row["grower"], row["block"], row["tree"]][int(row["position"])] = float(
                row["light_sun"]
            )
    sky = season_sky(LATITUDE_DEG, [7], clearness=CLEARNESS)
    turn = np.radians(45.0 * np.arange(8))
    trees = []
    for (grower, block, tree), measured in sorted(light.items()):
        name = next(
            n for n in found if n.split("-")[:2] == [grower, block] and n.split("-")[-1] == tree
        )
        low, mid = _rims(outline[f"{grower}{int(block):02d}", tree])
        places = [(r * np.sin(t), r * np.cos(t), WAIST_M) for r, t in zip(low, turn, strict=True)]
        places += [(r * np.sin(t), r * np.cos(t), REACH_M) for r, t in zip(mid, turn, strict=True)]
        places += [(0.0, 0.0, WAIST_M), (0.0, 0.0, REACH_M)]
        skeleton, _ = build_skeleton(found[name])
        orchard = canopy(skeleton, spacing_m=SPACING_M)
        held = crown_light(orchard, sky)
        share = light_at(held, np.array(places))
        trees.append(
            Tree(
                grower,
                name,
                measured,
                {p: float(share[p - 1]) for p in measured},
                there[grower, block, tree],
                float(skeleton.leaf_area_m2.sum()),
                _crown_m2(outline[f"{grower}{int(block):02d}", tree]),
                float(light_at(crown_light(orchard, even_sky()), np.array([places[16]]))[0]),
            )
        )
    return trees


def kind_of(place: int) -> int:
    """Return the index in `KINDS` of a place."""
    return 0 if place <= 8 else 1 if place <= 16 else place - 15


def flat(trees: list[Tree]) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return grower, place, measured and foretold share of every reading."""
    rows = [
        (t.grower, place, t.measured[place], t.foretold[place])
        for t in trees
        for place in t.measured
    ]
    grower, place, measured, foretold = (np.array(column) for column in zip(*rows, strict=True))
    return grower, place, measured, foretold


def by_place(grower: np.ndarray, place: np.ndarray, measured: np.ndarray) -> np.ndarray:
    """Return what one foretells who knows the place number alone: its median at other growers."""
    found = np.empty(len(measured))
    for i in range(len(measured)):
        others = (grower != grower[i]) & (place == place[i])
        found[i] = np.median(measured[others])
    return found


def scaled(grower: np.ndarray, measured: np.ndarray, foretold: np.ndarray) -> np.ndarray:
    """Return the forecast with its optical depth times one factor, fitted to the other growers."""
    factors = np.linspace(0.5, 3.0, 101)
    found = np.empty(len(measured))
    for one in np.unique(grower):
        others = grower != one
        error = [np.abs(foretold[others] ** k - measured[others]).mean() for k in factors]
        found[grower == one] = foretold[grower == one] ** factors[int(np.argmin(error))]
    return found


def main() -> None:
    folder = Path(sys.argv[1])
    columns = Path(__file__).resolve().parents[1] / "examples" / "scaffolds.toml"
    trees = foretell(folder, columns)
    grower, place, measured, foretold = flat(trees)
    kind = np.array([kind_of(p) for p in place])
    print(f"{len(trees)} trees, {len(measured)} readings, growers {', '.join(np.unique(grower))}")
    print(f"{'':34}{'rank':>7}{'corr.':>7}{'error':>7}   medians {', '.join(KINDS)}")
    forecasts = {
        "measured": measured,
        "place number alone": by_place(grower, place, measured),
        "from limbs and outline": foretold,
        "  depth scaled at other growers": scaled(grower, measured, foretold),
    }
    for name, values in forecasts.items():
        medians = "  ".join(f"{np.median(values[kind == k]):.2f}" for k in range(4))
        means = "  ".join(f"{values[kind == k].mean():.2f}" for k in range(4))
        if name == "measured":
            print(f"{name:<34}{'':21}   {medians}   means {means}")
            continue
        rank = spearmanr(values, measured).statistic
        corr = np.corrcoef(values, measured)[0, 1]
        error = np.abs(values - measured).mean()
        print(f"{name:<34}{rank:7.2f}{corr:7.2f}{error:7.2f}   {medians}   means {means}")
    print("by light in the open [umol m-2 s-1]: mean measured, foretold by kind; error")
    there = np.array([t.open_umol[place] for t in trees for place in t.measured])
    for low, high in itertools.pairwise((0, 450, 900, 1500, 3000)):
        some = (there >= low) & (there < high)
        pairs = "  ".join(
            f"{measured[some & (kind == k)].mean():.2f} {foretold[some & (kind == k)].mean():.2f}"
            for k in range(4)
        )
        error = np.abs(measured - foretold)[some].mean()
        print(f"  {low:>5} to {high:<5}{some.sum():4} readings   {pairs}   {error:.2f}")
    layers = [t.leaf_m2 / t.crown_m2 for t in trees]
    print(f"leaf over ground below the crown: median {np.median(layers):.1f}")
    print(f"an even sky's light at the stem, waist high: {np.mean([t.gaps for t in trees]):.2f}")
    print("  (plant analyser below other apples and cherries, October 2013, means of 166 readings:")
    print("  leaf layers 1.58, gaps 0.31; it counts clumped leaf as less)")
    crown = [(np.mean([*t.measured.values()]), np.mean([*t.foretold.values()])) for t in trees]
    rank = spearmanr(*zip(*crown, strict=True))
    print(f"whole trees, mean of 18 places: rank {rank.statistic:.2f} (p {rank.pvalue:.2f})")


if __name__ == "__main__":
    main()

"""Old trees left alone for ten years, and what a year of growth costs to reckon.

Run: ``python benchmarks/growth.py [draws]``. Prints, for trees of the invented holding, the chance
that any limb fails in a year as the unpruned tree grows, with a band from draws of the rates; the
same after a dose of about a fifth, with the leaf grown again; and the time of a season against its
floor: copying the arrays that change.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import numpy as np

from limbwright.demo import make_holding
from limbwright.growth.rates import Rates, rates, sample_rates
from limbwright.growth.season import GrownTree, after_season, dose_of, season_on
from limbwright.growth.thicken import thicken
from limbwright.model.site import Site
from limbwright.model.skeleton import Bools, Skeleton
from limbwright.statics.assess import Assessment, assess
from limbwright.survey.build import build_skeleton

SITE = Site()
YEARS = (0, 1, 2, 5, 10)
CHANGES = (
    "start_m",
    "end_m",
    "start_diameter_mm",
    "end_diameter_mm",
    "leaf_area_m2",
    "fruit_kg",
    "fine_wood_kg",
)
PLACES = (0, 2, 5, 6, 9, 12, 16, 19)
"""Places in the invented holding: apples, pears, plums, a cherry; weak ones and a young one."""
DOSE = 0.2


def chance_of_any(found: Assessment) -> float:
    return float(1.0 - np.prod([1.0 - one.chance for one in found.limbs]))


def about_a_fifth(skeleton: Skeleton) -> Bools:
    """Return the limbs, largest first, that together stay within the dose."""
    gone = np.zeros(skeleton.n, dtype=np.bool_)
    order = sorted(skeleton.limbs[1:], key=lambda limb: -limb.diameter_mm)
    for limb in order:
        more = gone.copy()
        more[limb.first_segment] = True
        if dose_of(skeleton, more) <= DOSE:
            gone = more
    return gone


def seconds(work: Callable[[], object], repeats: int = 200) -> float:
    taken = []
    for _ in range(repeats):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return float(np.median(taken))


def left_alone(skeleton: Skeleton, one: Rates, draws: int) -> str:
    row = [chance_of_any(assess(thicken(skeleton, one, float(y)), SITE)) for y in YEARS]
    drawn = sample_rates(one, np.random.default_rng(1), draws)
    ends = [chance_of_any(assess(thicken(skeleton, r, float(YEARS[-1])), SITE)) for r in drawn]
    low, high = np.quantile(ends, [0.05, 0.95])
    shown = " ".join(f"{100 * c:6.2f}" for c in row)
    return f"{shown}   {100 * low:5.2f} to {100 * high:5.2f}"


def cut_once(skeleton: Skeleton, one: Rates) -> str:
    gone = about_a_fifth(skeleton)
    crown = float(skeleton.leaf_area_m2.sum())
    found = [after_season(skeleton, gone, one, years=float(y)) for y in YEARS]
    chances = " ".join(f"{100 * chance_of_any(assess(f, SITE)):6.2f}" for f in found)
    crowns = " ".join(f"{100 * float(f.leaf_area_m2.sum()) / crown:5.0f}" for f in found)
    return f"{100 * dose_of(skeleton, gone):4.0f} %   {chances}   {crowns}"


def main() -> None:
    draws = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    surveys = list(make_holding(7).surveys())
    trees = []
    for place in PLACES:
        skeleton, _ = build_skeleton(surveys[place])
        one = rates(skeleton.species, surveys[place].station, year=2027)
        trees.append((skeleton, one))
    print("Left alone: chance a year that any limb fails [%] after years", *YEARS, "; 10: band")
    for skeleton, one in trees:
        told = (
            f"{skeleton.species:11} {one.vigour:9} stem {skeleton.start_diameter_mm[0]:3.0f} mm, "
            f"ring {one.ring_mm.value:4.2f} mm, crown {100 * one.crown_growth.value:+5.1f} %"
        )
        print(told, left_alone(skeleton, one, draws))
    print("Cut once: dose, chance [%], crown [% of the first] after years", *YEARS)
    for skeleton, one in trees:
        print(f"{skeleton.species:11} {one.vigour:9}", cut_once(skeleton, one))
    skeleton, one = trees[1]
    tree, gone = GrownTree.standing(skeleton), about_a_fifth(skeleton)
    floor = seconds(lambda: [getattr(skeleton, name).copy() for name in CHANGES])
    grown = seconds(lambda: thicken(skeleton, one, 1.0))
    season = seconds(lambda: season_on(tree, gone, one))
    assessed = seconds(lambda: assess(skeleton, SITE), 5)
    print(
        f"{skeleton.n} segments: copy {1e3 * floor:.3f} ms, thicken {1e3 * grown:.2f} ms, "
        f"a season with cuts {1e3 * season:.2f} ms, assess {1e3 * assessed:.0f} ms"
    )


if __name__ == "__main__":
    main()

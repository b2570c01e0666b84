"""What really happens to a tree over the years: prune, grow, and assess it again each year."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.cuts.build_problem import work_hours
from limbwright.cuts.weights import Settings
from limbwright.growth.prune import cut_bases, pruned
from limbwright.growth.ranges import Range
from limbwright.growth.rates import Rates
from limbwright.growth.response import CutKind, Season, watershoots, wound_closing_years
from limbwright.growth.season import GrownTree, dose_of, season_on
from limbwright.light.canopy import canopy, shared_grid
from limbwright.light.crown import CrownLight, crown_lights
from limbwright.light.sky import season_sky
from limbwright.model.skeleton import Bools, Floats, Ints, Skeleton, State
from limbwright.statics.assess import Assessment, LimbAssessment, assess, reassess
from limbwright.statics.results import Belief
from limbwright.trade.parameters import parameters

__all__ = ["Scene", "Year", "lit_years", "replayed", "scenes"]

CLOSE_MM = 1.0  # judgement: smaller wounds are no wounds to count


@dataclass(frozen=True, slots=True)
class Year:
    """One year of a tree, from the season's cuts on; shares unless the name says otherwise.

    ``chance`` that any limb breaks in the year, ``loss_h`` hours that failures of the year are
    expected to cost. ``crown_kept`` live leaf after the cuts over that of the first crown,
    ``mean_light`` and ``fruiting`` over the leaf that stands, no number where not reckoned.
    ``dose`` of the live leaf then standing, ``shoots`` watershoots expected next summer,
    ``wounds_open`` live wounds of this plan not yet closed over.
    """

    year: int
    chance: float
    loss_h: float
    crown_kept: float
    height_m: float
    spread_m: float
    mean_light: float
    fruiting: float
    hours: float
    dose: float
    wound_share: float
    cuts: int
    shoots: Range
    wounds_open: int

    def to_dict(self) -> dict[str, object]:
        """Return the year as plain numbers, units in the keys."""
        out: dict[str, object] = {}
        for name in self.__dataclass_fields__:
            value = getattr(self, name)
            if isinstance(value, Range):
                value = value.to_dict()
            elif isinstance(value, float):
                value = round(value, 6) if math.isfinite(value) else None
            out[name] = value
        return out


@dataclass(frozen=True)
class Scene:
    """A tree as it stands before a season's cuts, and what falls.

    ``index`` ``(n,)`` the segment of the first survey each of its segments is; ``falls`` ``(n,)``;
    ``before`` and ``after`` the assessments with and without what falls.
    """

    year: int
    index: Ints
    falls: Bools
    before: Assessment
    after: Assessment

    @property
    def skeleton(self) -> Skeleton:
        """The tree before the cuts."""
        return self.before.skeleton


def _known(belief: Belief, index: Ints) -> Belief:
    """Return what was known of each segment that still stands."""
    return Belief(
        mu=belief.mu[index],
        zeta=belief.zeta[index],
        mean=belief.mean[index],
        low=belief.low[index],
        high=belief.high[index],
    )


def scenes(
    first: Assessment,
    gone: Bools,
    rates: Rates,
    years: int,
    *,
    season: Season = "winter",
    kinds: Mapping[int, CutKind] | None = None,
) -> Iterator[Scene]:
    """Yield the tree year by year, cut and grown.

    Parameters
    ----------
    first
        The tree as surveyed.
    gone
        ``(Y, n)`` True for segments gone after each season; later years cut nothing.
    rates
        Its growth.
    years
        How many years.
    season
        When it is cut.
    kinds
        Kind of the cut at the base of a segment of the first survey.
    """
    s = first.skeleton
    tree, index = GrownTree.standing(s), np.arange(s.n)
    kinds = kinds or {}
    for y in range(years):
        now = tree.skeleton
        falls = gone[min(y, gone.shape[0] - 1)][index]
        # what it has proven by standing is known still, and taught by no lighter load
        held = first if y == 0 else assess(now, first.site, belief=_known(first.belief, index))
        after = reassess(held, ~falls) if bool(falls.any()) else held
        yield Scene(y, index, falls, held, after)
        here = {i: kinds.get(int(index[i]), "remove") for i in cut_bases(now, falls).tolist()}
        tree = season_on(tree, falls, rates, kinds=here, season=season)
        index = index[~falls]


def _limb_share(scene: Scene) -> Floats:
    """Return by limb the share of the live leaf beyond its base, of the tree after the cuts."""
    s = scene.skeleton
    leaf = np.where((s.state == int(State.DEAD)) | scene.falls, 0.0, s.leaf_area_m2)
    beyond = s.subtree_sum(leaf)
    total = max(float(leaf.sum()), 1e-9)
    return np.asarray([beyond[one.first_segment] / total for one in s.limbs])


def _loss_h(limbs: Sequence[LimbAssessment], share: Floats, settings: Settings) -> float:
    torn = np.clip(settings["failure_tear"] * np.maximum(share, 0.01), 0.0, 1.0)
    chance = np.asarray([one.chance for one in limbs])
    return float(settings["tree_value"] * (torn * chance).sum())


def lit_years(
    ways: Sequence[Sequence[Scene]], lit: Collection[int]
) -> tuple[Mapping[int, CrownLight], ...]:
    """Return by year, of the years ``lit``, the light of each way a tree is cut and grown.

    It is that after the year's cuts. All are in one grid, so that years and ways compare, and lit
    at once. Of as few directions as cuts are chosen by: on 24 trees of the invented
    holding at most 0.003 off the mean and 0.006 off the share with light for fruit, against 288.
    """
    site = ways[0][0].before.site
    count = int(parameters("light")["sky.plan_directions"].value)
    sky = season_sky(site.latitude, clearness=site.clearness, directions=count)
    standing = {
        (k, scene.year): pruned(scene.skeleton, scene.falls)
        for k, found in enumerate(ways)
        for scene in found
        if scene.year in lit
    }
    grid = shared_grid(tuple(standing.values()), spacing_m=site.spacing_m)
    lights = crown_lights([(canopy(s, grid=grid), sky, True) for s in standing.values()])
    out: list[dict[int, CrownLight]] = [{} for _ in ways]
    for (k, year), light in zip(standing, lights, strict=True):
        out[k][year] = light
    return tuple(out)


def replayed(
    found: Sequence[Scene],
    lights: Mapping[int, CrownLight],
    rates: Rates,
    settings: Settings,
    *,
    season: Season = "winter",
) -> tuple[Year, ...]:
    """Return the figures of each year of a tree cut and grown.

    ``lights`` are those of `lit_years`; in other years light is no number.
    """
    first = found[0]
    whole_m2 = max(_live_leaf_m2(first.skeleton), 1e-9)
    wounds: list[tuple[int, float]] = []  # year made, years it takes to close
    out = []
    for scene in found:
        s, falls = scene.skeleton, scene.falls
        standing = pruned(s, falls)
        mean = fruiting = math.nan
        if scene.year in lights:
            mean, fruiting = lights[scene.year].mean, lights[scene.year].fruiting
        bases = cut_bases(s, falls)
        live = s.state[bases] != int(State.DEAD)
        width = s.start_diameter_mm[bases]
        kg = s.subtree_sum(scene.before.loads.wood_kg)[bases]
        for i, mm in zip(bases[live].tolist(), width[live].tolist(), strict=True):
            bearer = float(s.end_diameter_mm[max(int(s.parent[i]), 0)])
            if mm > CLOSE_MM:
                wounds.append((scene.year, wound_closing_years(mm, rates, bearer_mm=bearer).value))
        leaf = _live_leaf_m2(standing)
        dose = dose_of(s, falls)
        middle = standing.end_m
        out.append(
            Year(
                year=scene.year,
                chance=1.0 - float(np.prod([1.0 - one.chance for one in scene.after.limbs])),
                loss_h=_loss_h(scene.after.limbs, _limb_share(scene), settings),
                crown_kept=leaf / whole_m2,
                height_m=float(middle[:, 2].max()),
                spread_m=float(np.ptp(middle[:, :2], axis=0).mean()),
                mean_light=mean,
                fruiting=fruiting,
                hours=float(
                    sum(
                        work_hours(mm, float(s.start_m[i, 2]), settings, piece_kg=float(load))
                        for i, mm, load in zip(bases.tolist(), width.tolist(), kg, strict=True)
                    )
                ),
                dose=dose,
                wound_share=float((width[live] ** 2).sum() / s.start_diameter_mm[0] ** 2),
                cuts=int(bases.size),
                shoots=watershoots(rates, dose, _live_leaf_m2(s) - leaf, season=season).count,
                wounds_open=sum(scene.year - made < closes for made, closes in wounds),
            )
        )
    return tuple(out)


def _live_leaf_m2(skeleton: Skeleton) -> float:
    return float(skeleton.leaf_area_m2[skeleton.state != int(State.DEAD)].sum())

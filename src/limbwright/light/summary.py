"""The light and air of a tree in a few numbers, as it stands and without what is cut."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from functools import cached_property
from math import isfinite

from limbwright.light.air import Openness, centre_filling, openness
from limbwright.light.canopy import Canopy, canopy
from limbwright.light.crown import CrownLight, crown_light, crown_lights, over_leaf_of, relight
from limbwright.light.hat import HatTest, hat_share, hat_test
from limbwright.light.sky import season_sky, winter_sky
from limbwright.model.site import Site
from limbwright.model.skeleton import Bools, Skeleton

__all__ = ["LightAir", "Standing"]


@dataclass(frozen=True, slots=True)
class LightAir:
    """Light and air of one tree.

    Shares of the light in the open, May to July (north): ``mean`` over the crown's leaf,
    ``ground`` on the grass below it, and ``winter_ground`` there in the leafless months.
    ``flowering`` and ``fruiting`` are the shares of the crown's leaf with light enough for flower
    buds (0.30 of full sun) and for good fruit (0.50). ``seen_through`` and ``seen_through_bare``
    are the shares of the crown's outline one sees through from the side; ``centre`` leaf density
    in the middle over that of the whole crown; ``hat`` the share of a hat's throws that pass.
    """

    mean: float
    flowering: float
    fruiting: float
    ground: float
    winter_ground: float
    seen_through: float
    seen_through_bare: float
    centre: float
    hat: float

    def to_dict(self) -> dict[str, float | None]:
        """Return the numbers by name, to four places; None for what a bare tree does not have."""
        return {n: round(v, 4) if isfinite(v) else None for n, v in asdict(self).items()}


class Standing:
    """A tree in its light: worked out once, then asked for with and without cuts.

    Parameters
    ----------
    skeleton
        The tree.
    site
        Its latitude, clearness and, where neighbours stand around it, their distance.
    """

    def __init__(self, skeleton: Skeleton, site: Site) -> None:
        self.skeleton = skeleton
        self.site = site

    @cached_property
    def canopy(self) -> Canopy:
        """The cells of the tree."""
        return canopy(self.skeleton, spacing_m=self.site.spacing_m)

    @cached_property
    def alone(self) -> Canopy:
        """The cells of the tree without neighbours: air and hat meet the one crown only.

        Among neighbours a crown wider than their distance is folded into itself.
        """
        return self.canopy if self.site.spacing_m is None else canopy(self.skeleton)

    @cached_property
    def summer(self) -> CrownLight:
        """Light of the season that makes next year's fruit buds."""
        sky = season_sky(self.site.latitude, clearness=self.site.clearness)
        return crown_light(self.canopy, sky)

    @cached_property
    def winter(self) -> CrownLight:
        """Light of the leafless months."""
        return crown_light(self.canopy, winter_sky(self.site.latitude), in_leaf=False)

    @cached_property
    def hat(self) -> HatTest:
        """The throws of the hat."""
        return hat_test(self.skeleton, self.alone)

    @cached_property
    def openness(self) -> Openness:
        """How far one sees through the tree in leaf."""
        return self._seen_through[0]

    @cached_property
    def _seen_through(self) -> tuple[Openness, Openness]:
        return openness(self.alone)

    def light_air(self, kept: Bools | None = None, *, leaf_of: Bools | None = None) -> LightAir:
        """Return the numbers with only the segments in ``kept`` ``(n,)`` standing; None for all.

        ``leaf_of`` ``(n,)``: segments whose leaf ``mean``, ``flowering`` and ``fruiting`` are told
        of, in the light of all that stands; so leaf can be compared with itself before a cut.
        """
        summer, winter = self.summer, self.winter
        if kept is not None:
            summer, winter = relight(summer, kept), relight(winter, kept)
        return self._told(summer, winter, kept, leaf_of)

    def before_and_after(self, gone: Bools) -> tuple[LightAir, LightAir]:
        """Return the numbers as it stands and without the segments ``gone`` ``(n,)``.

        Both are told of the leaf that stays. As `light_air` twice, but lit all at once.
        """
        summer_sky = season_sky(self.site.latitude, clearness=self.site.clearness)
        bare_sky = winter_sky(self.site.latitude)
        left = self.canopy.without(~gone)
        summer, winter, summer_left, winter_left = crown_lights(
            [
                (self.canopy, summer_sky, True),
                (self.canopy, bare_sky, False),
                (left, summer_sky, True),
                (left, bare_sky, False),
            ]
        )
        return (
            self._told(summer, winter, None, ~gone),
            self._told(summer_left, winter_left, ~gone, None),
        )

    def _told(
        self, summer: CrownLight, winter: CrownLight, kept: Bools | None, leaf_of: Bools | None
    ) -> LightAir:
        held = self.alone if kept is None else self.alone.without(kept)
        if leaf_of is not None:
            summer = over_leaf_of(summer, leaf_of)
        leafy, bare = self._seen_through if kept is None else openness(held)
        return LightAir(
            mean=summer.mean,
            flowering=summer.flowering,
            fruiting=summer.fruiting,
            ground=summer.ground,
            winter_ground=winter.ground,
            seen_through=leafy.mean,
            seen_through_bare=bare.mean,
            centre=centre_filling(held),
            hat=hat_share(self.hat, kept),
        )

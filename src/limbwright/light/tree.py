"""All that is told of one tree's light and air: its numbers, and limbs that stand in the way."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite, nan
from typing import Any

import numpy as np

from limbwright.light.air import LINES, Openness
from limbwright.light.shape import Close, Gap, Inward, bowl_gap, close_limbs, inward_growth
from limbwright.light.summary import LightAir, Standing
from limbwright.model.site import Site
from limbwright.model.skeleton import Floats, Ints, Skeleton
from limbwright.trade.parameters import parameters

__all__ = ["TreeLight", "light_air"]

BANDS = ("low", "middle", "high")


@dataclass(frozen=True, slots=True)
class TreeLight:
    """Light, air and congestion of one tree.

    ``limbs`` are the labels that `Close.a`, `Close.b` and `Inward.limb` index; ``openness`` is in
    leaf. Of a tree that bears no leaf only the shares seen through are known; the others are NaN.
    ``gap`` is None where no bearing lacks a limb. ``segments`` ``(n,)`` is the mean share of light
    on each segment's own leaf, NaN where it bears none; ``segment_ids`` ``(n,)`` their numbers in
    the file; ``limb_light`` the mean over all the leaf a limb carries, NaN where it carries none.
    """

    tree: str
    limbs: tuple[str, ...]
    light: LightAir
    openness: Openness
    close: tuple[Close, ...]
    inward: tuple[Inward, ...]
    gap: Gap | None
    segments: Floats
    segment_ids: Ints
    limb_light: tuple[float, ...]

    @property
    def centre(self) -> str:
        """``hollow``, ``even`` or ``filled``; empty for a tree without leaf."""
        if not isfinite(self.light.centre):
            return ""
        table = parameters("air")
        if self.light.centre < table["centre.hollow"].value:
            return "hollow"
        return "filled" if self.light.centre > table["centre.filled"].value else "even"

    def to_dict(self) -> dict[str, Any]:
        """Return all of it for JSON; None for what a tree without leaf does not have."""
        return {
            **self.light.to_dict(),
            "seen_through_by_line": [
                {"line": name} | dict(zip(BANDS, map(_share, row), strict=True))
                for (_, name), row in zip(LINES, self.openness.share.tolist(), strict=True)
            ],
            "by_limb": [
                {"limb": label, "light": _share(share)}
                for label, share in zip(self.limbs, self.limb_light, strict=True)
            ],
            "by_segment": [
                {"segment": int(number), "light": round(float(share), 4)}
                for number, share in zip(self.segment_ids, self.segments, strict=True)
                if isfinite(share)
            ],
            "close": [
                {
                    "limb": self.limbs[one.a],
                    "other": self.limbs[one.b],
                    "gap_m": round(one.gap_m, 3),
                    "along_m": round(one.along_m, 2),
                    "confidence": round(one.confidence, 4),
                }
                for one in self.close
            ],
            "inward": [
                {
                    "limb": self.limbs[one.limb],
                    "inward_m": round(one.inward_m, 3),
                    "confidence": round(one.confidence, 4),
                }
                for one in self.inward
            ],
            "gap": None
            if self.gap is None
            else {
                "bearing_deg": round(self.gap.bearing_deg, 1),
                "width_deg": round(self.gap.width_deg, 1),
                "confidence": round(self.gap.confidence, 4),
            },
        }


def _share(value: float) -> float | None:
    return round(value, 4) if isfinite(value) else None


def light_air(skeleton: Skeleton, site: Site | None = None) -> TreeLight:
    """Return the light and air of a tree as it stands.

    Parameters
    ----------
    skeleton
        The tree.
    site
        Its latitude, clearness and, where neighbours stand around it, their distance; None for a
        middling place and a tree by itself.

    Raises
    ------
    InputError
        The place cannot be, such as a latitude above 90 or where the sun does not rise in winter.

    Examples
    --------
    >>> import limbwright as lw
    >>> survey = lw.read_limbs("limbs.csv", stations="stations.csv")
    >>> found = lw.light_air(lw.build(survey.trees[0]), lw.Site(latitude_deg=52.0))
    >>> 0 < found.light.mean < found.light.ground < found.light.winter_ground < 1
    True
    """
    standing = Standing(skeleton, site or Site())
    light = standing.light_air()
    leafy = isfinite(light.centre)
    if not leafy:
        # without leaf there is no crown for light to reach, to stand below, or to throw at
        light = replace(
            light,
            mean=nan,
            flowering=nan,
            fruiting=nan,
            ground=nan,
            winter_ground=nan,
            hat=nan,
        )
    gap = bowl_gap(skeleton)
    wide = leafy and gap.width_deg >= parameters("air")["shape.gap"].value
    segments = standing.summer.segments
    lit = np.isfinite(segments)
    leaf = np.where(lit, skeleton.leaf_area_m2, 0.0)
    sums = skeleton.subtree_sum(np.column_stack([leaf, leaf * np.where(lit, segments, 0.0)]))
    at = [one.first_segment for one in skeleton.limbs]
    return TreeLight(
        segments=segments,
        segment_ids=skeleton.segment_ids,
        limb_light=tuple(float(b / a) if a > 1e-9 else nan for a, b in sums[at]),
        tree=skeleton.tree,
        limbs=tuple(one.label for one in skeleton.limbs),
        light=light,
        openness=standing.openness,
        close=close_limbs(skeleton),
        inward=inward_growth(skeleton),
        gap=gap if wide else None,
    )

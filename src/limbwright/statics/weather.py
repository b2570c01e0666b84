"""What weather does to each segment: the push of a gust, the weight of snow and ice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.model.site import Site
from limbwright.model.skeleton import Floats, Skeleton
from limbwright.statics.wind import blowing_towards, peak_pressure_pa
from limbwright.trade.parameters import parameters

__all__ = ["Gusts", "gusts_on", "ice_kg", "ice_sleeve_kg_m", "leaf_drag_area_m2", "snow_kg"]

GUST_IN_LEAF, GUST_BARE = "gust-leaf", "gust-bare"


def leaf_drag_area_m2(leaf_area_m2: Floats) -> Floats:
    """Return the drag area ``c_d A`` [m2] of leaf-bearing shoots by their one-sided leaf [m2].

    Crown drag coefficient over leaf area per frontal crown area: 0.25 / 4 = 0.0625 (0.04-0.117).
    """
    table = parameters("loads")
    return np.asarray(
        leaf_area_m2 * table["drag.crown"].value / table["drag.leaf_per_crown_area"].value
    )


def ice_sleeve_kg_m(diameter_m: Floats, thickness_m: float) -> Floats:
    """Return the mass [kg/m] of a sleeve of glaze ice: ``pi t (d + t) rho``."""
    density = parameters("loads")["ice.density"].value
    return np.asarray(np.pi * thickness_m * (diameter_m + thickness_m) * density)


@dataclass(frozen=True, slots=True)
class Gusts:
    """Level pushes, and how much of each acts in each case: see `statics.parts.Loads`.

    ``pushes`` ``(D, 3, n)``, ``towards`` ``(D, 2)``, ``shares`` ``(C, D)``.
    """

    pushes: Floats
    towards: Floats
    shares: Floats


def gusts_on(skeleton: Skeleton, site: Site, winds: Sequence[tuple[str, float]]) -> Gusts:
    """Return the pushes of gusts exceeded once in 50 years.

    Wood takes its drag square to the wind; in leaf, wood inside the crown is sheltered. The
    shoots of a bare crown take so much that the bare crown as a whole takes ``drag.bare_share``
    of its drag in leaf, or as near to it as its wood allows.

    Parameters
    ----------
    skeleton
        The tree.
    site
        Its wind and terrain.
    winds
        For each of C cases its hazard (``gust-leaf``, ``gust-bare``, or one without wind) and
        the bearing the wind blows from [degrees].
    """
    blown = [(hazard, bearing % 180.0) for hazard, bearing in winds]
    kinds = [k for k in dict.fromkeys(blown) if k[0] in (GUST_IN_LEAF, GUST_BARE)]
    pushes, towards = np.empty((len(kinds), 3, skeleton.n)), np.empty((len(kinds), 2))
    shares = np.zeros((len(winds), len(kinds)))
    if not kinds:
        return Gusts(pushes, towards, shares)
    crown = _Crown.of(skeleton, site)
    for d, (hazard, bearing_deg) in enumerate(kinds):
        towards[d] = blowing_towards(bearing_deg)[:2]
        wood = crown.wood_n * crown.square_to(towards[d])
        shoots = crown.leaf_n
        if hazard == GUST_IN_LEAF:
            wood *= crown.shelter
        else:
            shoots = shoots * crown.bare_shoots_share
        x, y, z = wood * crown.wood_point_m + shoots * crown.leaf_point_m
        np.add(wood, shoots, out=pushes[d, 0])
        pushes[d, 1] = z
        np.subtract(x * towards[d, 1], y * towards[d, 0], out=pushes[d, 2])
    for c, ((_, bearing_deg), kind) in enumerate(zip(winds, blown, strict=True)):
        if kind in kinds:
            # a gust and its opposite push alike, each its own way
            shares[c, kinds.index(kind)] = 1.0 if bearing_deg % 360.0 < 180.0 else -1.0
    return Gusts(pushes, towards, shares)


@dataclass(frozen=True, slots=True)
class _Crown:
    """What of a tree the wind meets.

    ``leaf_n`` is the ``(n,)`` drag of leaf-bearing shoots in leaf [N], ``wood_n`` that of wood
    square to the wind [N]; ``shelter`` the share of it that acts in leaf. Points are ``(3, n)``.
    """

    leaf_n: Floats
    wood_n: Floats
    shelter: Floats
    axis: Floats
    leaf_point_m: Floats
    wood_point_m: Floats
    bare_shoots_share: float

    def square_to(self, towards: Floats) -> Floats:
        """Return ``(n,)`` the sine of the angle between the wood and the wind."""
        cosine = towards[0] * self.axis[0] + towards[1] * self.axis[1]
        return np.asarray(np.sqrt(np.maximum(1.0 - cosine * cosine, 0.0)))

    @classmethod
    def of(cls, skeleton: Skeleton, site: Site) -> _Crown:
        table = parameters("loads")
        start, end = skeleton.start_m, skeleton.end_m
        a, b = skeleton.start_diameter_mm / 1000.0, skeleton.end_diameter_mm / 1000.0
        middle = (start + end) / 2.0
        along = (a + 2.0 * b) / (3.0 * (a + b))  # centroid of a trapezium
        wood_point = start + along[:, None] * (end - start)
        pressure = peak_pressure_pa(middle[:, 2], site)
        in_crown = middle[:, 2] >= _crown_base_m(middle[:, 2], skeleton.leaf_area_m2)
        leaf = pressure * leaf_drag_area_m2(skeleton.leaf_area_m2)
        wood = pressure * table["drag.wood"].value * (a + b) / 2.0 * skeleton.length_m
        shelter = np.where(in_crown, table["drag.wood_shelter"].value, 1.0)
        axis = np.ascontiguousarray(skeleton.axis.T)
        return cls(
            leaf_n=leaf,
            wood_n=wood,
            shelter=shelter,
            axis=axis,
            leaf_point_m=np.ascontiguousarray(middle.T),
            wood_point_m=np.ascontiguousarray(wood_point.T),
            bare_shoots_share=_bare_shoots_share(
                # mean over all directions of the sine is near that of a quarter turn's two
                float(leaf.sum()),
                float((wood * np.sqrt(1.0 - (axis[0] ** 2 + axis[1] ** 2) / 2.0))[in_crown].sum()),
            ),
        )


def _bare_shoots_share(leaf_n: float, wood_n: float) -> float:
    """Return the share of their drag in leaf that bare shoots take.

    ``leaf_n`` is the drag of a crown's shoots in leaf [N], ``wood_n`` that of its wood bare [N].
    """
    table = parameters("loads")
    if leaf_n <= 0.0:
        return 0.0
    in_leaf = leaf_n + table["drag.wood_shelter"].value * wood_n
    share = (table["drag.bare_share"].value * in_leaf - wood_n) / leaf_n
    return max(share, table["drag.bare_shoots_least"].value)


def _crown_base_m(height_m: Floats, leaf_area_m2: Floats) -> float:
    """Return the height above which all but a small share of the leaf hangs; inf if leafless."""
    total = float(leaf_area_m2.sum())
    if total <= 0.0:
        return float("inf")
    order = np.argsort(height_m, kind="stable")
    share = np.cumsum(leaf_area_m2[order]) / total
    lowest = int(np.searchsorted(share, parameters("loads")["drag.crown_base_share"].value))
    return float(height_m[order[min(lowest, height_m.size - 1)]])


def _mean_diameter_m(skeleton: Skeleton) -> Floats:
    return np.asarray((skeleton.start_diameter_mm + skeleton.end_diameter_mm) / 2000.0)


def snow_kg(skeleton: Skeleton, fall_kg_m2: float | None = None) -> Floats:
    """Return ``(n,)`` wet snow on a leafless tree: caught by shoots, and capping the limbs.

    Shoots catch by crown projection, for which their leaf stands; a cap is as deep as the fall
    but no deeper than the limb is thick, on its length as seen from above.
    """
    table = parameters("loads")
    fall = table["snow.event_load"].value if fall_kg_m2 is None else fall_kg_m2
    density = table["snow.density"].value
    caught = fall * table["snow.leafless_interception"].value
    on_shoots = caught * skeleton.leaf_area_m2 / table["drag.leaf_per_crown_area"].value
    span = np.linalg.norm((skeleton.end_m - skeleton.start_m)[:, :2], axis=1)
    diameter = _mean_diameter_m(skeleton)
    cap = diameter * np.minimum(diameter, fall / density) * span * density
    return np.asarray(on_shoots + cap)


def ice_kg(
    skeleton: Skeleton, green_density_kg_m3: float, thickness_mm: float | None = None
) -> Floats:
    """Return ``(n,)`` glaze on every limb, and on the fine wood as twigs of one diameter."""
    table = parameters("loads")
    thickness = (table["ice.thickness"].value if thickness_mm is None else thickness_mm) / 1000.0
    twig_m = table["ice.twig_diameter"].value / 1000.0
    twig_length = skeleton.fine_wood_kg / (green_density_kg_m3 * np.pi * twig_m**2 / 4.0)
    on_limb = ice_sleeve_kg_m(_mean_diameter_m(skeleton), thickness) * skeleton.length_m
    on_twig = ice_sleeve_kg_m(np.asarray(twig_m), thickness) * twig_length
    return np.asarray(on_limb + on_twig)

"""The outer ends of a crown: which stand outside a smaller crown, and where each is cut."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbwright.cuts.order import bearing_deg
from limbwright.model.skeleton import Bools, Floats, Ints, Skeleton, State
from limbwright.trade.parameters import parameters

__all__ = ["NOTHING", "Choice", "Crown", "TipCut"]


@dataclass(frozen=True, slots=True)
class TipCut:
    """One end shortened.

    ``segment`` and ``share``: where along that segment, 0 at its base. ``at_m`` is along the limb
    from its base, ``shorten_m`` the longest way along the wood that goes, ``dose`` its share of
    the live leaf then standing. ``to_lateral`` names a live lateral just below that takes over;
    empty where none was surveyed there, and ``stub_m`` is then left above the last bud.
    ``surveyed`` is False for an end that the rules drew: somewhere there the limb has such a one.
    """

    limb: str
    segment: int
    share: float
    at_m: float
    point_m: tuple[float, float, float]
    height_m: float
    bearing_deg: float
    diameter_mm: float
    shorten_m: float
    dose: float
    wound_area_cm2: float
    to_lateral: str
    stub_m: float
    surveyed: bool


@dataclass(frozen=True, slots=True)
class Choice:
    """Where ends are to be cut: segments, shares along them, leaf that goes with each [m2].

    ``held`` says what stood against cutting more.
    """

    segments: tuple[int, ...]
    shares: tuple[float, ...]
    leaf_m2: tuple[float, ...]
    held: tuple[str, ...]

    @property
    def taken_m2(self) -> float:
        """Leaf that goes with all of them [m2]."""
        return float(sum(self.leaf_m2))


NOTHING = Choice((), (), (), ())


class Crown:
    """The crown as it stands between steps: what share of each segment is still there."""

    def __init__(self, skeleton: Skeleton) -> None:
        s = self.s = skeleton
        self.left: Floats = np.ones(s.n)
        self.live: Bools = np.asarray(s.state == State.LIVE)
        leaf = self.leaf = np.where(self.live, s.leaf_area_m2, 0.0)
        middle = 0.5 * (s.start_m + s.end_m)[:, :2]
        self.centre = np.asarray((leaf[:, None] * middle).sum(axis=0) / leaf.sum())
        self.height_m, self.radius_m = self.size()
        self.first = np.asarray([limb.first_segment for limb in s.limbs], dtype=np.int64)
        self.carriers = [self._carriers(k) for k in range(len(s.limbs))]
        self.kept = s.subtree_sum((s.keep > 0).astype(np.float64)) > 0
        self.shrunk = 0.0
        self.along = _along_limb(s)
        self.thin = _first_thin(s, parameters("retrenchment")["largest_cut"].value)
        self._look()
        self.limb_leaf = self.beyond_m2[self.first]

    def _look(self) -> None:
        """Sum up, for every segment, leaf and longest way along the wood from its base outwards."""
        s = self.s
        self.beyond_m2: Floats = s.subtree_sum(self.leaf * self.left)
        longest = s.length_m * self.left
        further = np.zeros(s.n)
        for i in range(s.n - 1, 0, -1):
            longest[i] += further[i]
            p = int(s.parent[i])
            further[p] = max(further[p], longest[i])
        longest[0] += further[0]
        self.longest_m: Floats = longest

    def size(self) -> tuple[float, float]:
        """Height of the live wood that stands, and how far it reaches from the middle [m]."""
        s = self.s
        ends = s.start_m + self.left[:, None] * (s.end_m - s.start_m)
        there = self.live & (self.left > 0.0)
        away = np.linalg.norm(ends[:, :2] - self.centre, axis=1)
        return float(ends[there, 2].max()), float(away[there].max())

    def choose(self, shrink: float) -> Choice:
        """Return where the ends outside a crown smaller by ``shrink`` are to be cut."""
        s, table = self.s, parameters("retrenchment")
        where = self._first_outside(shrink, table["spread_share"].value)
        at = np.maximum(where, self.thin)
        least, shortest = table["leaf_below"].value, table["least_shortening"].value
        held: set[str] = set()
        standing = self.live & (self.left > 0.0)
        if bool((np.isfinite(where) & ~np.isfinite(self.thin) & standing).any()):
            held.add(f"wood thicker than {table['largest_cut'].value:.0f} mm, which is not cut")
        outside = np.isfinite(at) & (at < self.left) & self.live
        if bool((outside & self.kept).any()):
            held.add("limbs that are kept, or carry what is")
        goes_m = self.longest_m - np.where(outside, at, 0.0) * s.length_m
        goes_m2 = self.beyond_m2 - np.where(outside, at, 0.0) * self.leaf
        short = outside & ~self.kept & (goes_m < shortest)
        spare = self.beyond_m2[self.first] - least * self.limb_leaf
        chosen: list[int] = []
        done = 0
        for i in np.flatnonzero(outside & ~self.kept & ~short).tolist():
            if i < done:
                continue
            leaf = float(goes_m2[i])
            borne = self.carriers[int(s.limb[i])]
            if bool((spare[borne] < leaf).any()):
                held.add("limbs that would keep too little leaf below")
                continue
            spare[borne] -= leaf
            chosen.append(i)
            done = int(s.subtree_end[i])
        if bool((short & ~self._under(chosen)).any()):
            held.add("ends too short to be worth a cut: they wait for the next step")
        return Choice(
            tuple(chosen),
            tuple(float(at[i]) for i in chosen),
            tuple(float(goes_m2[i]) for i in chosen),
            tuple(sorted(held)),
        )

    def _under(self, chosen: list[int]) -> Bools:
        """Return ``(n,)`` True for the segments that go with any of those cut."""
        under = np.zeros(self.s.n, dtype=np.bool_)
        for i in chosen:
            under[self.s.in_subtree(i)] = True
        return under

    def cut(self, choice: Choice) -> tuple[TipCut, ...]:
        """Make the cuts and return them; the crown stands without them afterwards."""
        before = float((self.leaf * self.left).sum())
        places = zip(choice.segments, choice.shares, choice.leaf_m2, strict=True)
        made = tuple(self._one(i, share, leaf / before) for i, share, leaf in places)
        for i, share in zip(choice.segments, choice.shares, strict=True):
            self.left[i], self.left[i + 1 : int(self.s.subtree_end[i])] = share, 0.0
        self._look()
        return made

    def _carriers(self, limb: int) -> Ints:
        """Return a limb and those that carry it, without the stem unless it is the limb itself."""
        found, above = [limb], self.s.limbs[limb].parent
        while above >= 0 and self.s.limbs[above].parent >= 0:
            found.append(above)
            above = self.s.limbs[above].parent
        return np.asarray(found, dtype=np.int64)

    def _first_outside(self, shrink: float, spread: float) -> Floats:
        """Share ``(n,)`` of each segment at which it leaves the smaller crown; inf: it does not."""
        s = self.s
        top = self.height_m * (1.0 - shrink)
        reach = self.radius_m * (1.0 - spread * shrink)
        z0, rise = s.start_m[:, 2], s.end_m[:, 2] - s.start_m[:, 2]
        with np.errstate(divide="ignore", invalid="ignore"):
            above = np.where(z0 > top, 0.0, np.where(rise > 0.0, (top - z0) / rise, np.inf))
        p = s.start_m[:, :2] - self.centre
        d = s.end_m[:, :2] - s.start_m[:, :2]
        a, b = (d * d).sum(axis=1), (p * d).sum(axis=1)
        c = (p * p).sum(axis=1) - reach**2
        with np.errstate(divide="ignore", invalid="ignore"):
            root = (-b + np.sqrt(np.maximum(b * b - a * c, 0.0))) / a
        beyond = np.where(c > 0.0, 0.0, np.where(a > 0.0, root, np.inf))
        first = np.minimum(above, beyond)
        return np.asarray(np.where(first <= 1.0, first, np.inf))

    def _one(self, i: int, share: float, dose: float) -> TipCut:
        s, table = self.s, parameters("retrenchment")
        point = s.start_m[i] + share * (s.end_m[i] - s.start_m[i])
        d0, d1 = float(s.start_diameter_mm[i]), float(s.end_diameter_mm[i])
        diameter = d0 + share * (d1 - d0)
        lateral = self._lateral(i, share)
        return TipCut(
            limb=s.limbs[int(s.limb[i])].label,
            segment=i,
            share=share,
            at_m=float(self.along[i] - (1.0 - share) * s.length_m[i]),
            point_m=(float(point[0]), float(point[1]), float(point[2])),
            height_m=float(point[2]),
            bearing_deg=bearing_deg(float(point[0]), float(point[1])),
            diameter_mm=diameter,
            shorten_m=float(self.longest_m[i] - share * s.length_m[i]),
            dose=dose,
            wound_area_cm2=float(np.pi * (diameter / 20.0) ** 2),
            to_lateral=lateral,
            stub_m=0.0 if lateral else table["stub"].value,
            surveyed=bool(s.surveyed[i]),
        )

    def _lateral(self, i: int, share: float) -> str:
        """Name a live surveyed lateral that springs just below a cut; empty for none."""
        s = self.s
        within = parameters("retrenchment")["lateral_within"].value
        back, at = share * float(s.length_m[i]), i
        while back <= within and s.parent[at] >= 0:
            below = int(s.parent[at])
            inside = np.arange(below + 1, int(s.subtree_end[below]))
            side = inside[(s.parent[inside] == below) & (inside != at)]
            for j in side.tolist():
                if s.surveyed[j] and self.live[j] and self.left[j] > 0.0:
                    label = s.limbs[int(s.limb[j])].label
                    return f"to limb {label}" if s.limb[j] != s.limb[i] else "to a lateral"
            back, at = back + float(s.length_m[below]), below
        return ""


def _first_thin(s: Skeleton, most_mm: float) -> Floats:
    """Share ``(n,)`` of each segment from which it is thin enough to be cut; inf: nowhere."""
    d0, d1 = s.start_diameter_mm, s.end_diameter_mm
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(d1 <= most_mm, (d0 - most_mm) / (d0 - d1), np.inf)
    return np.asarray(np.where(d0 <= most_mm, 0.0, share))


def _along_limb(s: Skeleton) -> Floats:
    """Way along the wood ``(n,)`` from the base of its limb to the end of each segment [m]."""
    along = s.length_m.copy()
    for i in range(1, s.n):
        p = int(s.parent[i])
        if s.limb[p] == s.limb[i]:
            along[i] += along[p]
    return along

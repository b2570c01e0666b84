"""Limbs that rub or cross, and which of a pair goes: ordered tests, the first that tells decides.

The tests are the pruner's own (sounder wood, what is kept, wider union, outward and in the light,
stronger, smaller wound, heavy side): common practice, their order a judgement.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from limbwright.cuts.weights import Settings
from limbwright.model.skeleton import Floats, Ints, Skeleton, State, Union

__all__ = ["Crossing", "axis_segments", "crossings", "loser"]

FIRST_SHARE = 0.15  # judgement: limbs of one union touch near it; a rub is further out than this
WIDE_DEG = 15.0  # judgement: difference of union angles a compass and eye can tell
CLEAR_RATIO = 1.25  # judgement: difference of diameters worth calling stronger
UPPER_M = 0.3  # judgement: difference of height that decides who has the light
INWARD = 0.35  # judgement: difference in how far two limbs point inward that an eye can tell
WEAKER_LN = 0.25  # judgement: difference of the logarithms of leaf that tells the weaker
HOLLOW, CRACKED = 0.5, 0.7  # judgement: how unsound they are beside wood not alive
BARK_DEG = 45.0  # judgement: included or cracked, a union counts as so much tighter


@dataclass(frozen=True, slots=True)
class Crossing:
    """Two limbs that touch: indices in `Skeleton.limbs`, where, and how far it is trusted.

    ``segment_a`` and ``segment_b`` are the segments that meet, ``gap_mm`` the clear distance
    between barks there (negative: they overlap). ``confidence`` is 1 where a person saw the rub.
    """

    a: int
    b: int
    segment_a: int
    segment_b: int
    gap_mm: float
    confidence: float
    loser: int
    because: str


def axis_segments(skeleton: Skeleton, limb: int) -> Ints:
    """Return the surveyed segments of one limb from its base outwards, the thickest chain."""
    chain = [skeleton.limbs[limb].first_segment]
    while True:
        at = chain[-1]
        inside = np.arange(at + 1, int(skeleton.subtree_end[at]))
        mine = (skeleton.parent[inside] == at) & (skeleton.limb[inside] == limb)
        children = inside[mine & skeleton.surveyed[inside]]
        if children.size == 0:
            return np.asarray(chain, dtype=np.int64)
        chain.append(int(children[np.argmax(skeleton.start_diameter_mm[children])]))


def _closest(p0: Floats, p1: Floats, q0: Floats, q1: Floats) -> tuple[Floats, Floats, Floats]:
    """Closest points of segment pairs ``(m, 3)``: distance and the two places along, 0 to 1.

    After the standard clamped solution (Ericson, Real-Time Collision Detection, 5.1.9).
    """
    d1, d2, r = p1 - p0, q1 - q0, p0 - q0
    a, e = (d1 * d1).sum(-1), (d2 * d2).sum(-1)
    b, c, f = (d1 * d2).sum(-1), (d1 * r).sum(-1), (d2 * r).sum(-1)
    det = a * e - b * b
    s = np.where(det > 1e-12, np.clip((b * f - c * e) / np.where(det > 1e-12, det, 1.0), 0, 1), 0.0)
    t = (b * s + f) / e
    s = np.where(t < 0, np.clip(-c / a, 0, 1), np.where(t > 1, np.clip((b - c) / a, 0, 1), s))
    t = np.clip(t, 0.0, 1.0)
    gap = np.linalg.norm(p0 + s[:, None] * d1 - q0 - t[:, None] * d2, axis=-1)
    return gap, s, t


def _meeting(skeleton: Skeleton, a: Ints, b: Ints) -> tuple[int, int, float]:
    """Segments of two axes that come closest, and the clear gap between their barks [mm]."""
    ia, ib = np.repeat(a, b.size), np.tile(b, a.size)
    gap, s, t = _closest(
        skeleton.start_m[ia], skeleton.end_m[ia], skeleton.start_m[ib], skeleton.end_m[ib]
    )
    d0, d1 = skeleton.start_diameter_mm, skeleton.end_diameter_mm
    radius = 0.5 * (d0[ia] + s * (d1 - d0)[ia] + d0[ib] + t * (d1 - d0)[ib])
    clear = 1000.0 * gap - radius
    k = int(np.argmin(clear))
    return int(ia[k]), int(ib[k]), float(clear[k])


def loser(skeleton: Skeleton, a: int, b: int, segment_a: int, segment_b: int) -> tuple[int, str]:
    """Return which of two touching limbs goes and the test that told them apart.

    ``segment_a`` and ``segment_b`` are the segments where they touch. Returns -1 and why when no
    test tells: both stay this year.
    """
    la, lb = skeleton.limbs[a], skeleton.limbs[b]

    def pick(first: float, second: float, margin: float, words: str) -> tuple[int, str] | None:
        """Let the limb with the greater score go."""
        if abs(first - second) <= margin:
            return None
        return (a, words) if first > second else (b, words)

    def kept(limb: int) -> float:
        inside = skeleton.in_subtree(skeleton.limbs[limb].first_segment)
        return float(bool((skeleton.keep[inside] > 0).any()))

    def unsound(limb: int) -> float:
        one = skeleton.limbs[limb]
        hollow = one.cavity_wall_mm is not None
        return (
            float(one.state != State.LIVE)
            + HOLLOW * hollow
            + CRACKED * (one.union == Union.CRACKED)
        )

    def inward(limb: int, segment: int) -> float:
        flat = skeleton.axis[segment, :2]
        middle = 0.5 * (skeleton.start_m + skeleton.end_m)[segment, :2]
        reach = float(np.linalg.norm(middle))
        return -float(flat @ middle) / max(reach, 1e-6)

    def vigour(limb: int) -> float:
        return float(skeleton.leaf_area_m2[_inside(skeleton, limb)].sum())

    for verdict in (
        # a feature worth keeping outranks even soundness: such a limb is never cut
        pick(-kept(a), -kept(b), 0.5, "the other is kept"),
        pick(unsound(a), unsound(b), 0.1, "of the two it is the less sound"),
        pick(
            _squeeze(skeleton, a),
            _squeeze(skeleton, b),
            WIDE_DEG,
            "of the two it has the tighter union",
        ),
        pick(inward(a, segment_a), inward(b, segment_b), INWARD, "it grows inward"),
        pick(
            -float(skeleton.end_m[_inside(skeleton, a), 2].max()),
            -float(skeleton.end_m[_inside(skeleton, b), 2].max()),
            UPPER_M,
            "it lies under the other",
        ),
        pick(
            -np.log(vigour(a) + 1e-9),
            -np.log(vigour(b) + 1e-9),
            WEAKER_LN,
            "of the two it is the weaker",
        ),
        pick(
            -np.log(max(la.diameter_mm, 1e-9)),
            -np.log(max(lb.diameter_mm, 1e-9)),
            np.log(CLEAR_RATIO),
            "of the two it leaves the smaller wound",
        ),
    ):
        if verdict is not None:
            return verdict
    return -1, "neither is clearly the better"


def _inside(skeleton: Skeleton, limb: int) -> slice:
    return skeleton.in_subtree(skeleton.limbs[limb].first_segment)


def _squeeze(skeleton: Skeleton, limb: int) -> float:
    """How tight a union is [degrees below a right angle]; a bad one counts as 45 more."""
    first = skeleton.limbs[limb].first_segment
    parent = int(skeleton.parent[first])
    if parent < 0:
        return 0.0
    cosine = float(skeleton.axis[first] @ skeleton.axis[parent])
    angle = float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))
    bark = BARK_DEG if skeleton.limbs[limb].union != Union.SOUND else 0.0
    return max(0.0, 90.0 - angle) + bark


def crossings(skeleton: Skeleton, settings: Settings) -> tuple[Crossing, ...]:
    """Return the pairs of limbs that rub, seen by the surveyor or found in the geometry.

    Only surveyed axes are compared; limbs one of which carries the other, and places close to a
    shared union, don't count. Each pair comes once, the surveyor's word first.
    """
    index = {limb.label: k for k, limb in enumerate(skeleton.limbs)}
    chains = [axis_segments(skeleton, k) for k in range(len(skeleton.limbs))]
    said: list[tuple[int, int]] = []
    for k, limb in enumerate(skeleton.limbs):
        for label in limb.rubs.replace(";", ",").split(","):
            other = index.get(label.strip())
            if other is not None and other != k:
                pair = (min(k, other), max(k, other))
                if pair not in said:
                    said.append(pair)
    found = [_crossing(skeleton, chains, pair, 1.0) for pair in said]
    outer = [_beyond_union(skeleton, chain) for chain in chains]
    for a, b in _near(skeleton, outer):
        if (a, b) in said or _carries(skeleton, a, b) or _carries(skeleton, b, a):
            continue
        if _meeting(skeleton, outer[a], outer[b])[2] <= settings["rub_margin"]:
            found.append(_crossing(skeleton, outer, (a, b), settings["rub_geometry_factor"]))
    return tuple(found)


def _crossing(
    skeleton: Skeleton, chains: list[Ints], pair: tuple[int, int], trust: float
) -> Crossing:
    a, b = pair
    at_a, at_b, gap = _meeting(skeleton, chains[a], chains[b])
    goes, because = loser(skeleton, a, b, at_a, at_b)
    return Crossing(a, b, at_a, at_b, gap, trust, goes, because)


def _carries(skeleton: Skeleton, a: int, b: int) -> bool:
    inside = _inside(skeleton, a)
    return bool(inside.start <= skeleton.limbs[b].first_segment < inside.stop)


def _beyond_union(skeleton: Skeleton, chain: Ints) -> Ints:
    """Return the segments of an axis that begin clear of its union."""
    length = skeleton.length_m[chain]
    begins = np.cumsum(length) - length
    return np.asarray(chain[begins >= FIRST_SHARE * length.sum()])


def _near(skeleton: Skeleton, chains: list[Ints]) -> list[tuple[int, int]]:
    """Return the pairs of limbs, the stem left out, whose boxes come near enough to rub."""
    reach = 0.5 * float(skeleton.start_diameter_mm.max()) / 1000.0 + 0.1
    count = len(chains)
    low, high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
    for k in range(1, count):
        if chains[k].size:
            ends = np.concatenate([skeleton.start_m[chains[k]], skeleton.end_m[chains[k]]])
            low[k], high[k] = ends.min(axis=0) - reach, ends.max(axis=0) + reach
    meet = (low[:, None] <= high[None]).all(axis=-1) & (low[None] <= high[:, None]).all(axis=-1)
    a, b = np.nonzero(np.triu(meet, 1))
    return [(int(x), int(y)) for x, y in zip(a, b, strict=True)]

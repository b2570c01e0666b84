"""In what order to cut, with what, and in how many pieces."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from limbwright.cuts.candidates import Candidate
from limbwright.cuts.weights import Settings
from limbwright.model.skeleton import Bools, Floats, Skeleton

__all__ = [
    "bearing_deg",
    "lies_over",
    "order_of_work",
    "piece_length_m",
    "point_words",
    "tool_words",
]

FALL_ASIDE_M = 0.5  # judgement: a piece let go lands within this of where it hung
POINTS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


def bearing_deg(east_m: float, north_m: float) -> float:
    """Return the compass bearing of a horizontal direction, clockwise from north."""
    return float(np.degrees(np.arctan2(east_m, north_m)) % 360.0)


def point_words(bearing: float) -> str:
    """Return a bearing as one of eight points of the compass."""
    return POINTS[round(bearing / 45.0) % 8]


def piece_length_m(skeleton: Skeleton, segment: int) -> float:
    """Return the longest way along the wood from a cut to a tip of the piece [m]."""
    inside = skeleton.in_subtree(segment)
    length = skeleton.length_m[inside]
    along: Floats = np.zeros(length.size)
    for k in range(length.size):
        up = int(skeleton.parent[inside.start + k]) - inside.start
        along[k] = length[k] + (along[up] if k else 0.0)
    return float(along.max())


def order_of_work(skeleton: Skeleton, cuts: Sequence[Candidate]) -> list[Candidate]:
    """Return the cuts from the top down, by the middle height of the piece each brings down.

    What hangs highest goes first, so that nothing comes down on a lower piece already half cut,
    and the ladder moves down the tree.
    """
    return sorted(cuts, key=lambda c: (-_drop_height(skeleton, c), c.segment))


def _drop_height(skeleton: Skeleton, cut: Candidate) -> float:
    """Middle of the height of the cut and of the top of its piece [m]."""
    inside = skeleton.in_subtree(cut.segment)
    top = float(skeleton.end_m[inside, 2].max())
    return 0.5 * (float(skeleton.start_m[cut.segment, 2]) + top)


def lies_over(skeleton: Skeleton, segment: int, gone: Bools) -> str:
    """Return the label of a limb marked to be kept that a piece may fall on; empty for none.

    Kept wood counts that stands lower than some wood of the piece within half a metre to the side.
    """
    inside = skeleton.in_subtree(segment)
    kept = np.flatnonzero((skeleton.keep > 0) & ~gone)
    kept = kept[(kept < inside.start) | (kept >= inside.stop)]
    if kept.size == 0:
        return ""
    piece = 0.5 * (skeleton.start_m + skeleton.end_m)[inside]
    below = 0.5 * (skeleton.start_m + skeleton.end_m)[kept]
    aside = np.linalg.norm(piece[:, None, :2] - below[None, :, :2], axis=2)
    hit = (aside <= FALL_ASIDE_M) & (below[None, :, 2] < piece[:, None, 2])
    found = kept[hit.any(axis=0)]
    if found.size == 0:
        return ""
    return skeleton.limbs[int(skeleton.limb[int(found[0])])].label


def tool_words(
    diameter_mm: float,
    height_m: float,
    piece_kg: float,
    length_m: float,
    settings: Settings,
    *,
    over: str = "",
) -> str:
    """Return the tool, how one gets there and how the piece comes down.

    ``over`` is a limb to be kept beneath the piece.
    """
    from_ground = height_m <= settings["ground_reach"]
    by_hand = from_ground or height_m <= settings["ladder_reach"]
    pole = False
    if diameter_mm <= settings["secateurs_to"] and by_hand:
        tool = "secateurs"
    elif diameter_mm <= settings["loppers_to"] and by_hand:
        tool = "loppers"
    elif (
        not from_ground
        and diameter_mm <= settings["pole_saw_to"]
        and height_m <= settings["pole_reach"]
    ):
        tool, pole = "pole saw from the ground", True
    elif diameter_mm <= settings["pruning_saw_to"]:
        tool = "pruning saw"
    else:
        tool = "chainsaw, by trained people only"
    words = [tool]
    if not from_ground and not pole:
        climb = height_m > settings["ladder_reach"]
        words.append("trained climber or lift" if climb else "three-legged ladder")
    if diameter_mm >= settings["three_stage_from"]:
        words.append("three stages, undercut first")
    pieces, longest_m = _pieces(height_m, piece_kg, length_m, settings)
    if pieces > 1:
        words.append(f"{pieces} pieces from the tip, none over {longest_m:.1f} m")
    if over:
        words.append(f"rope it clear of limb {over}, to be kept")
    elif piece_kg >= settings["rope_from"] and not from_ground:
        words.append("lower each on a rope")
    return "; ".join(words)


def _pieces(
    height_m: float, piece_kg: float, length_m: float, settings: Settings
) -> tuple[int, float]:
    """Return in how many pieces, and the longest [m]: each light enough, and short enough to hang.

    A piece longer than the height it is cut at touches down with its tip before it is off, and
    kicks back at whoever cuts.
    """
    longest = min(settings["piece_longest"], max(height_m, settings["piece_shortest"]))
    by_weight = int(np.ceil(piece_kg / settings["in_pieces_from"]))
    by_length = int(np.ceil(length_m / longest - 1e-9))
    pieces = max(1, by_weight, by_length)
    return pieces, max(settings["piece_shortest"], min(longest, length_m / pieces))

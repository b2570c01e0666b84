"""In what order to cut, with what, and in how many pieces."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from limbwright.cuts.candidates import Candidate
from limbwright.cuts.weights import Settings
from limbwright.model.skeleton import Floats, Skeleton

__all__ = ["bearing_deg", "order_of_work", "piece_length_m", "point_words", "tool_words"]

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


def tool_words(
    diameter_mm: float, height_m: float, piece_kg: float, length_m: float, settings: Settings
) -> str:
    """Return the tool, how one gets there and how the piece comes down."""
    from_ground = height_m <= settings["ground_reach"]
    if diameter_mm <= settings["loppers_to"] and (
        from_ground or height_m <= settings["ladder_reach"]
    ):
        tool = "loppers"
    elif (
        not from_ground
        and diameter_mm <= settings["pole_saw_to"]
        and height_m <= settings["pole_reach"]
    ):
        tool = "pole saw from the ground"
    elif diameter_mm <= settings["pruning_saw_to"]:
        tool = "pruning saw"
    else:
        tool = "chainsaw, by trained people only"
    words = [tool]
    if not from_ground and "ground" not in tool:
        climb = height_m > settings["ladder_reach"]
        words.append("trained climber or lift" if climb else "three-legged ladder")
    if diameter_mm >= settings["three_stage_from"]:
        words.append("cut in three stages, undercut first")
    if piece_kg >= settings["in_pieces_from"]:
        pieces = int(np.ceil(piece_kg / settings["in_pieces_from"]))
        words.append(f"take it in {max(2, pieces)} pieces from the tip, side laterals first")
    if piece_kg >= settings["rope_from"] and not from_ground:
        words.append("lower each on a rope")
    elif length_m > height_m and not from_ground:
        words.append("mind the stem: the piece is longer than its fall")
    return "; ".join(words)

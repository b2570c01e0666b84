"""What speaks for the wood of each segment going, in hours, motive by motive."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from limbwright.cuts.crossing import Crossing
from limbwright.cuts.weights import Settings
from limbwright.model.skeleton import Bools, Floats, Skeleton, State, Union

__all__ = ["MOTIVES", "Crown", "Motives", "crown", "motives"]

MOTIVES = ("unhealthy", "crack", "rub", "height", "balance")
"""Motives told wood by wood; load and light are reckoned of whole plans."""

UNHEALTHY = {State.DEAD: "dead", State.DISEASED: "diseased", State.BROKEN: "broken"}


@dataclass(frozen=True, slots=True)
class Crown:
    """Shape of the live crown: its middle, mean radius, top, what stands in the centre.

    ``in_centre`` and ``above`` are ``(n,)``: within the central cylinder; above ``aim_m``, the
    height the crown is to come down to. ``offset_kg_m`` is the crown's lopsidedness about the
    stem foot, a horizontal vector.
    """

    middle_m: Floats
    radius_m: float
    top_m: float
    aim_m: float
    in_centre: Bools
    above: Bools
    offset_kg_m: Floats


@dataclass(frozen=True, slots=True)
class Motives:
    """Hours gained when the wood of each segment goes.

    ``by_name[motive]`` is ``(n,)``; ``leaf_loss`` ``(n,)`` hours lost with its leaf.
    """

    by_name: Mapping[str, Floats]
    leaf_loss: Floats

    @property
    def total(self) -> Floats:
        """``(n,)`` net hours: all motives less the loss of leaf."""
        return np.asarray(sum(self.by_name.values(), start=-self.leaf_loss))


def crown(skeleton: Skeleton, wood_kg: Floats, settings: Settings) -> Crown:
    """Return the shape of the crown from where its leaf stands."""
    middle = 0.5 * (skeleton.start_m + skeleton.end_m)
    leaf = np.where(skeleton.state == State.DEAD, 0.0, skeleton.leaf_area_m2)
    total = float(leaf.sum())
    share = leaf / total if total > 0 else np.full(skeleton.n, 1.0 / skeleton.n)
    centre = share @ middle[:, :2]
    away = np.linalg.norm(middle[:, :2] - centre, axis=1)
    order = np.argsort(away)
    reach = np.searchsorted(np.cumsum(share[order]), 0.95)
    radius = max(float(away[order][min(int(reach), skeleton.n - 1)]), 0.1)
    top = float(skeleton.end_m[:, 2].max())
    aim = max(settings["height_aim"] * top, settings["height_floor"])
    inner = away <= settings["centre_radius"] * radius
    return Crown(
        middle_m=centre,
        radius_m=radius,
        top_m=top,
        aim_m=aim,
        in_centre=np.asarray(inner),
        above=np.asarray(middle[:, 2] > aim),
        offset_kg_m=np.asarray((wood_kg[:, None] * middle[:, :2]).sum(axis=0)),
    )


def motives(
    skeleton: Skeleton,
    wood_kg: Floats,
    shape: Crown,
    crossing: tuple[Crossing, ...],
    settings: Settings,
) -> Motives:
    """Return what speaks for each segment's wood going.

    Unhealthy wood counts once, where it begins; a crack at its union; a rub on the limb the
    ordered tests point to, where the two touch. Height goes with the leaf standing there.
    """
    n = skeleton.n
    leaf = np.where(skeleton.state == State.DEAD, 0.0, skeleton.leaf_area_m2)
    share = leaf / max(float(leaf.sum()), 1e-9)
    state, parent = skeleton.state, skeleton.parent
    starts = (state != State.LIVE) & (state != state[np.maximum(parent, 0)])
    unhealthy = np.zeros(n)
    for kind, name in UNHEALTHY.items():
        here = starts & (state == kind)
        size = np.minimum(1.0, skeleton.start_diameter_mm / 100.0) if name == "dead" else 1.0
        unhealthy = unhealthy + np.where(here, settings[name] * size, 0.0)
    cracked = np.where(skeleton.union == Union.CRACKED, settings["crack"], 0.0)
    cracked[0] = 0.0
    rub = np.zeros(n)
    for pair in crossing:
        if pair.loser >= 0:
            at = pair.segment_a if pair.loser == pair.a else pair.segment_b
            rub[at] += settings["rub_loser"] * pair.confidence
    height = settings["height"] * share * shape.above
    lopsided = float(np.linalg.norm(shape.offset_kg_m))
    level = settings["balance_share"] * shape.radius_m * float(wood_kg.sum())
    balance = np.zeros(n)
    if lopsided > level:
        toward = shape.offset_kg_m / lopsided
        middle = 0.5 * (skeleton.start_m + skeleton.end_m)[:, :2]
        balance = settings["balance"] * wood_kg * (middle @ toward) / lopsided
        balance = balance * min(1.0, (lopsided - level) / level)
    return Motives(
        by_name={
            "unhealthy": unhealthy,
            "crack": cracked,
            "rub": rub,
            "height": height,
            "balance": balance,
        },
        leaf_loss=settings["leaf_loss"] * share,
    )

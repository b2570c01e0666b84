"""An invented old tree drawn limb by limb, with derived laterals, for the tests of plans."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from limbwright.model.skeleton import Limb, Skeleton, State, Union

__all__ = ["Drawn", "draw", "old_apple"]


@dataclass(frozen=True)
class Drawn:
    """One limb: parent's label, share of the parent's length where it springs, and its shape."""

    label: str
    parent: str
    at: float
    diameter_mm: float
    length_m: float
    bearing_deg: float
    rise_deg: float
    state: State = State.LIVE
    union: Union = Union.SOUND
    keep: str = ""
    rubs: str = ""
    note: str = ""
    crown: float = 2.0


def draw(
    limbs: Sequence[Drawn],
    *,
    species: str = "apple",
    steps: int = 6,
    derived: bool = True,
    leaf_m2: float = 60.0,
) -> Skeleton:
    """Draw limbs as chains of ``steps`` segments; ``derived`` adds laterals."""
    parent: list[int] = []
    start: list[np.ndarray] = []
    end: list[np.ndarray] = []
    d0: list[float] = []
    d1: list[float] = []
    limb: list[int] = []
    seen: list[bool] = []
    leaf: list[float] = []
    keep: list[int] = []
    state: list[int] = []
    union: list[int] = []
    reasons = [""]
    chains: dict[str, list[int]] = {}
    made: list[Limb] = []

    def add(p: int, a: np.ndarray, b: np.ndarray, da: float, db: float, k: int, s: bool) -> int:
        parent.append(p)
        start.append(a)
        end.append(b)
        d0.append(da)
        d1.append(db)
        limb.append(k)
        seen.append(s)
        one = limbs[k]
        leaf.append(0.0 if one.state == State.DEAD else (0.0 if k == 0 else 1.0) * one.crown)
        keep.append(reasons.index(one.keep))
        state.append(int(one.state))
        union.append(0)
        return len(parent) - 1

    for k, one in enumerate(limbs):
        if one.keep and one.keep not in reasons:
            reasons.append(one.keep)
        b, r = np.radians(one.bearing_deg), np.radians(one.rise_deg)
        way = np.array([np.sin(b) * np.cos(r), np.cos(b) * np.cos(r), np.sin(r)])
        if k == 0:
            carrier, at = -1, np.zeros(3)
        else:
            chain = chains[one.parent]
            carrier = chain[min(len(chain) - 1, max(0, round(one.at * len(chain)) - 1))]
            at = end[carrier]
        chain = []
        taper = np.linspace(1.0, 0.75 if k == 0 else 0.25, steps + 1) * one.diameter_mm
        first = len(parent)
        for j in range(steps):
            a = at + way * one.length_m * j / steps
            p = carrier if j == 0 else chain[-1]
            at_b = a + way * one.length_m / steps
            chain.append(add(p, a, at_b, taper[j], taper[j + 1], k, True))
            if j == 0:
                union[-1] = int(one.union)
        chains[one.label] = chain
        if derived and k > 0:
            for j in range(2, steps):
                side = np.array([-way[1], way[0], 0.3]) * (1 if j % 2 else -1)
                node = chain[j - 1]
                tip = end[node] + 0.6 * side
                add(node, end[node], tip, 0.4 * taper[j], 4.0, k, False)
        parents = [x.label for x in limbs]
        made.append(
            Limb(
                label=one.label,
                parent=-1 if k == 0 else parents.index(one.parent),
                first_segment=first,
                at_m=0.0 if k == 0 else one.at * limbs[parents.index(one.parent)].length_m,
                diameter_mm=one.diameter_mm,
                length_m=one.length_m,
                bearing_deg=one.bearing_deg,
                rise_deg=one.rise_deg,
                crown=one.crown,
                state=one.state,
                union=one.union,
                keep=one.keep,
                rubs=one.rubs,
                note=one.note,
            )
        )
    weight = np.asarray(leaf) * np.linalg.norm(np.asarray(end) - np.asarray(start), axis=1)
    area = leaf_m2 * weight / max(float(weight.sum()), 1e-9)
    return Skeleton.build(
        tree="Invented orchard/1",
        species=species,
        parent=parent,
        start_m=np.asarray(start),
        end_m=np.asarray(end),
        start_diameter_mm=np.asarray(d0),
        end_diameter_mm=np.asarray(d1),
        limb=limb,
        limbs=made,
        state=np.asarray(state),
        union=np.asarray(union),
        leaf_area_m2=area,
        fruit_kg=1.2 * area,
        fine_wood_kg=0.3 * area,
        keep=np.asarray(keep),
        keep_reasons=tuple(reasons),
        surveyed=np.asarray(seen),
    )


def old_apple(**changes: dict[str, object]) -> list[Drawn]:
    """Return a neglected apple of 13 limbs: crossing, dead, crowded, tall and heavy ones.

    ``changes`` maps a label (``L7`` for ``7``) to fields to put in its place.
    """
    limbs = [
        Drawn("stem", "", 0.0, 320, 2.2, 0, 90),
        Drawn("1", "stem", 1.0, 150, 4.2, 10, 50),
        Drawn("2", "stem", 1.0, 140, 4.0, 130, 45),
        Drawn("3", "stem", 0.9, 150, 5.2, 240, 25),
        Drawn("4", "stem", 1.0, 110, 4.6, 300, 82),
        Drawn("5", "1", 0.4, 70, 2.6, 80, 60),
        Drawn("6", "1", 0.6, 55, 2.0, 330, 40),
        Drawn("7", "2", 0.4, 65, 2.8, 40, 55, rubs="5"),
        Drawn("8", "2", 0.6, 50, 2.0, 180, 30),
        Drawn("9", "3", 0.5, 75, 2.6, 200, 40),
        Drawn("10", "3", 0.5, 60, 2.4, 300, 60, state=State.DISEASED),
        Drawn("11", "4", 0.5, 60, 2.0, 120, 50),
        Drawn("12", "2", 0.3, 45, 1.6, 90, 20, state=State.DEAD),
    ]
    from dataclasses import replace

    return [replace(x, **changes.get(f"L{x.label}", {})) for x in limbs]

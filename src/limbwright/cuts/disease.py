"""Which disease, where it can be seen to begin, and how far below that the cut belongs.

What can be seen of a disease ends before the disease does. So the wood below the visible edge
counts as diseased too, over the distance published for it; where that reaches the collar the limb
goes whole. Sources disagree, so each distance has a range (``trade/data/diseases.csv``).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np

from limbwright.cuts.crossing import axis_segments
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Bools, Ints, Limb, Skeleton, State
from limbwright.trade.health import Found, problems_in
from limbwright.trade.parameters import Parameter, parameters
from limbwright.trade.species import Species

__all__ = ["Disease", "disease_of", "diseases_of", "edge_m", "with_margins"]

EDGE = re.compile(r"\b(?:from|at|above|beyond|past)\s+(?:about\s+)?(\d+(?:\.\d+)?)\s*(m|cm)\b")


@dataclass(frozen=True, slots=True)
class Disease:
    """A disease by its key in the tables, its name, and how far below its visible edge to cut [m].

    ``sure`` is False where only a sign was written, or nothing.
    """

    key: str
    margin_m: Parameter
    name: str = ""
    sure: bool = True


def _unnamed() -> Disease:
    return Disease("unnamed", parameters("diseases")["unnamed"], sure=False)


def _disease(found: Found) -> Disease:
    """Return a disease; one nobody gives a distance for is cut like one without a name."""
    one, sure = found.problem, found.sure == "named"
    margin = one.distance_m or _unnamed().margin_m
    return Disease(one.key, margin, one.name if sure else f"perhaps {one.name}", sure)


def _said(text: str, kind: Species) -> list[Disease]:
    """Diseases a text tells of: the named first, and of those the ones cut for."""
    found = [f for f in problems_in(text, kind) if f.problem.kind == "disease"]
    return [
        _disease(f)
        for f in sorted(found, key=lambda f: (f.sure != "named", f.problem.distance_m is None))
    ]


def _record(station: StationRecord | None) -> str:
    return "" if station is None else f"{station.faults}; {station.note}; {station.features}"


def disease_of(limb: Limb, station: StationRecord | None, kind: Species) -> Disease:
    """Return the disease of a diseased limb: what its note tells of, else what the tree's does.

    What is denied (*no canker*) is not told of.
    """
    here, tree = _said(limb.note, kind), _said(_record(station), kind)
    named = [d for d in (*here, *tree) if d.sure]
    return next(iter(here or named or tree), _unnamed())


def diseases_of(
    skeleton: Skeleton, station: StationRecord | None, kind: Species
) -> tuple[Disease, ...]:
    """Return the diseases of a tree, once each: of its diseased wood, and what its record names.

    A sign in the record, or a doubt, makes no disease unless there is diseased wood.
    """
    ill = np.unique(skeleton.limb[skeleton.state == State.DISEASED])
    found = {d.key: d for d in (disease_of(skeleton.limbs[k], station, kind) for k in ill)}
    for named in _said(_record(station), kind):
        if named.sure:
            found.setdefault(named.key, named)
    return tuple(found.values())


def edge_m(limb: Limb) -> float | None:
    """Return where a limb's note says that the disease begins [m from its base].

    As in "canker from 1.2 m" or "silver leaf above 80 cm"; None where it says nothing, or a place
    that is not on the limb.
    """
    found = EDGE.search(limb.note.lower())
    if found is None:
        return None
    along = float(found.group(1)) * (0.01 if found.group(2) == "cm" else 1.0)
    return along if 0.0 < along < limb.length_m else None


def with_margins(skeleton: Skeleton, station: StationRecord | None, kind: Species) -> Skeleton:
    """Return the skeleton with wood marked diseased from where it is to be cut.

    A limb surveyed as diseased is diseased from its base, unless its note says from where; a tree
    given segment by segment from where its segments say. From there the mark runs down the same
    axis by the distance of the disease. Where that would reach the collar, the whole limb stays
    marked.
    """
    if not bool((skeleton.state == State.DISEASED).any()):
        return skeleton
    state, limbs = skeleton.state.copy(), list(skeleton.limbs)
    for k, limb in enumerate(limbs):
        begins = edge_m(limb) if limb.state == State.DISEASED else None
        if begins is None:
            continue
        sound = _sound_below(skeleton, k, begins - disease_of(limb, station, kind).margin_m.value)
        if bool(sound.any()):
            state[sound] = State.LIVE
            limbs[k] = replace(limb, state=State.LIVE)
    told = {k for k, limb in enumerate(limbs) if limb.state != skeleton.limbs[k].state}
    first = np.flatnonzero(
        (skeleton.state == State.DISEASED)
        & (skeleton.state[np.maximum(skeleton.parent, 0)] != State.DISEASED)
    )
    for i in first.tolist():
        k = int(skeleton.limb[i])
        if k not in told:
            _mark_down(skeleton, state, i, disease_of(limbs[k], station, kind).margin_m.value)
    return replace(skeleton, state=state, limbs=tuple(limbs))


def _sound_below(skeleton: Skeleton, k: int, until_m: float) -> Bools:
    """Return ``(n,)`` the diseased wood of a limb that hangs on its axis below a place.

    All False where the last whole segment below the place is not beyond the collar.
    """
    axis: Ints = axis_segments(skeleton, k)
    starts = np.concatenate([[0.0], np.cumsum(skeleton.length_m[axis])[:-1]])
    cut = int(np.searchsorted(starts, until_m, side="right")) - 1
    sound = (skeleton.limb == k) & (skeleton.state == State.DISEASED)
    if cut < 1:
        return np.zeros(skeleton.n, dtype=np.bool_)
    sound[skeleton.in_subtree(int(axis[cut]))] = False
    return np.asarray(sound)


def _mark_down(skeleton: Skeleton, state: Ints, segment: int, margin_m: float) -> None:
    """Mark live wood below a diseased segment, along its axis, over the margin."""
    at, left = segment, margin_m
    while left > 1e-9:
        below = int(skeleton.parent[at])
        if below < 0 or skeleton.limb[below] != skeleton.limb[at]:
            return
        inside = np.arange(below + 1, int(skeleton.subtree_end[below]))
        children = inside[skeleton.parent[inside] == below]
        thickest = int(children[np.argmax(skeleton.start_diameter_mm[children])])
        limb = skeleton.limbs[int(skeleton.limb[below])]
        if thickest != at or limb.parent < 0 or state[below] != State.LIVE:
            return  # a side branch, that goes at its collar, or the stem
        state[below] = State.DISEASED
        left -= float(skeleton.length_m[below])
        at = below

"""Which limb each segment belongs to, by its label or by how the tree forks."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any

import numpy as np

from limbwright.model.skeleton import Floats, Ints, Limb, State, Union, topology
from limbwright.survey.cells import Cells

__all__ = ["fork_labels", "label_limbs", "limbs_of"]


def fork_labels(numbers: Sequence[int], parent: Ints, diameter_mm: Floats) -> list[str]:
    """Return a label a segment: at each fork the thickest child carries its limb on.

    The others open a limb named after their own number; the stem is ``stem``. On equal
    thickness the first in the file carries on.
    """
    heir: dict[int, int] = {}
    for k, p in enumerate(parent.tolist()):
        if p >= 0 and (p not in heir or diameter_mm[k] > diameter_mm[heir[p]]):
            heir[p] = k
    label = [""] * len(numbers)
    for k in topology(parent)[0].tolist():
        p = int(parent[k])
        label[k] = "stem" if p < 0 else label[p] if heir[p] == k else str(numbers[k])
    return label


def label_limbs(
    cells: Sequence[Cells], numbers: Sequence[int], parent: Ints, diameter_mm: Floats
) -> list[str]:
    """Return the limb of each segment as labelled; blanks follow the forks."""
    given = [one.text("limb") for one in cells]
    if all(given):
        return given
    forked = fork_labels(numbers, parent, diameter_mm)
    taken = set(given)
    label = list(given)
    for k in topology(parent)[0].tolist():
        if label[k]:
            continue
        p = int(parent[k])
        if p >= 0 and forked[k] == forked[p]:
            label[k] = label[p]
            continue
        name = forked[k]
        while name in taken:
            name += "'"
        taken.add(name)
        label[k] = name
    return label


def limbs_of(
    label: Sequence[str],
    parent: Ints,
    points: Floats,
    diameter_mm: Floats,
    state: Sequence[int],
    union: Sequence[int],
    cavities: Sequence[tuple[float | None, float | None, float | None]],
    cells: Sequence[Cells],
) -> tuple[Ints, tuple[Limb, ...]]:
    """Return the index of each segment's limb, and the limbs, measured off their segments.

    A label that two separate limbs bear goes to the first; the other gets a mark, with a warning.
    """
    n = len(label)
    limb: Ints = np.zeros(n, dtype=np.int64)
    base_m, length = np.zeros(n), np.linalg.norm(points[:, 1] - points[:, 0], axis=1)
    names: list[str] = []
    first: list[int] = []
    own: set[str] = set()
    for k in topology(parent)[0].tolist():
        p = int(parent[k])
        if p >= 0 and label[k] == label[p]:
            limb[k] = limb[p]
            base_m[k] = base_m[p] + length[p]
            continue
        name = label[k]
        while name in own:
            name += "'"
        if cells and name != label[k]:
            cells[k].fault(
                "limb",
                f"two limbs apart from each other bear this label; this one is read as {name!r}",
                "Give each limb its own label.",
                warning=True,
            )
        own.add(name)
        limb[k] = len(names)
        names.append(name)
        first.append(k)
    # Wood the rules added beside a limb may reach beyond its tip, but is not its length.
    own_wood = np.array([one.text("surveyed").lower() != "no" for one in cells] or [True] * n)
    own_wood |= ~np.isin(limb, limb[own_wood])
    far = np.zeros(len(names))
    np.maximum.at(far, limb[own_wood], (base_m + length)[own_wood])
    of_limb: list[list[int]] = [[] for _ in names]
    for k, i in enumerate(limb.tolist()):
        of_limb[i].append(k)
    if cells:
        _check_rubs(cells, names)
    limbs = []
    for i, k in enumerate(first):
        x, y, z = (points[k, 1] - points[k, 0]).tolist()
        p = int(parent[k])
        limbs.append(
            Limb(
                label=names[i],
                parent=-1 if p < 0 else int(limb[p]),
                first_segment=k,
                at_m=0.0 if p < 0 else float(base_m[p] + length[p]),
                diameter_mm=float(diameter_mm[k]),
                length_m=float(far[i]),
                bearing_deg=math.degrees(math.atan2(x, y)) % 360.0,
                rise_deg=math.degrees(math.atan2(z, math.hypot(x, y))),
                state=State(state[k]),
                union=Union(union[k]),
                cavity_wall_mm=cavities[k][0],
                cavity_far_wall_mm=cavities[k][1],
                cavity_open_deg=cavities[k][2],
                keep=cells[k].text("keep") if cells else "",
                **_told([cells[j] for j in of_limb[i]] if cells else []),
            )
        )
    return limb, tuple(limbs)


def _told(rows: Sequence[Cells]) -> dict[str, Any]:
    """Return what the rows of one limb say of the whole of it."""
    crowns = [c for one in rows if (c := one.number("crown")) is not None]
    told: dict[str, Any] = {"crown": crowns[0]} if crowns else {}
    for column, between in (("rubs", ", "), ("note", "; ")):
        told[column] = between.join(dict.fromkeys(t for one in rows if (t := one.text(column))))
    return told


def _check_rubs(rows: Sequence[Cells], names: Sequence[str]) -> None:
    """Warn of limbs said to be rubbed that the tree has not."""
    for one in rows:
        text = one.text("rubs")
        lost = [t for part in re.split("[;,]", text) if (t := part.strip()) and t not in names]
        if lost and text not in names:
            fault = f"no such limb on this tree: {', '.join(lost)}"
            one.fault("rubs", fault, "Name limbs of the same tree.", warning=True)

"""Whether the limbs of a tree hang together, and what is left out where they do not."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Sequence
from dataclasses import replace

from limbwright.model import Fault, Faults, LimbRecord, StationRecord
from limbwright.survey.limbs import TapedLimb
from limbwright.trade.parameters import parameters

__all__ = ["order_limbs"]

STEM_WORDS = ("stem", "trunk")


def order_limbs(
    taped: Sequence[TapedLimb], station: StationRecord, faults: Faults
) -> tuple[LimbRecord, ...]:
    """Return the limbs of one tree that can be built, the stem first, parents first.

    Parameters
    ----------
    taped
        All usable rows of the tree.
    station
        Its station; girth and clear stem serve where the stem was not taken.
    faults
        Gets every limb left out and why.
    """
    by_name: dict[str, TapedLimb] = {}
    for one in taped:
        name = one.record.limb
        if name in by_name:
            one.cells.fault(
                "limb",
                f"this limb is already on row {by_name[name].record.row}",
                "Give each limb of a tree its own number; this row is left out.",
            )
            continue
        by_name[name] = one
    stem = _stem(by_name, station, faults)
    kept: dict[str, LimbRecord] = {stem.limb: stem}
    children: dict[str, list[TapedLimb]] = {}
    for one in by_name.values():
        if one.record.limb != stem.limb:
            parent = one.record.parent or stem.limb
            children.setdefault(parent, []).append(one)
    queue = [stem]
    out: list[TapedLimb] = []
    while queue:
        parent_limb = queue.pop(0)
        for one in children.pop(parent_limb.limb, []):
            limb = _fitted(one, parent_limb)
            if limb is None:
                out.append(one)
                continue
            kept[limb.limb] = limb
            queue.append(limb)
    _say_left_out(children, out, by_name)
    for one in by_name.values():
        if one.record.rubs and one.record.limb in kept:
            rubs = _rubbed(one, kept)
            kept[one.record.limb] = replace(kept[one.record.limb], rubs=rubs)
    return tuple(kept.values())


def _rubbed(one: TapedLimb, kept: Collection[str]) -> str:
    """Return the limbs a limb rubs that its tree has, as they were written where all are there."""
    named = [name.strip() for name in re.split("[;,]", one.record.rubs)]
    lost = [name for name in named if name and name not in kept]
    if one.record.rubs in kept or not lost:
        return one.record.rubs
    fault = f"no such limb on this tree: {', '.join(lost)}"
    one.cells.fault("rubs", fault, f"Name limbs of the same tree.{_alike(lost[0], kept)}")
    return ", ".join(name for name in named if name in kept)


def _alike(name: str, kept: Collection[str]) -> str:
    """Return the limb meant where a name differs in nothing but capitals, blanks or marks."""
    bare = re.sub(r"\W|_", "", name).lower()
    found = [other for other in kept if re.sub(r"\W|_", "", other).lower() == bare]
    return f" Is it {found[0]}?" if bare and found else ""


def _stem(by_name: dict[str, TapedLimb], station: StationRecord, faults: Faults) -> LimbRecord:
    """Return the stem, derived from girth or from the limbs where it was not taken."""
    bases = [one for one in by_name.values() if not one.record.parent]
    if len(bases) > 1:
        named = [one for one in bases if one.record.limb.lower() in STEM_WORDS]
        if len(named) == 1:
            for one in bases:
                if one is not named[0]:
                    one.cells.fault("parent", "blank", "Read as a limb of the stem.", warning=True)
            return named[0].record
    if len(bases) == 1:
        return bases[0].record
    absent = {o.record.parent for o in by_name.values() if o.record.parent} - by_name.keys()
    name = min(absent) if len(absent) == 1 else "stem"
    while name in by_name:
        name += "'"
    hung = bases or [o for o in by_name.values() if o.record.parent in absent]
    hung = hung or list(by_name.values())
    if station.girth_cm is not None:
        diameter, rule = station.girth_cm * 10.0 / math.pi, "its girth"
    else:
        # Pipe model: the stem's section is the sum of its limbs' (Shinozaki et al. 1964).
        diameter = math.sqrt(sum(o.record.diameter_mm**2 for o in hung))
        rule = "the sections of its limbs"
    bound = parameters("survey_ranges")["stem_length_m"]
    reached = [o.record.at_m for o in hung if o.record.at_m]
    length = station.clear_stem_m or max(reached, default=bound.value)
    first = hung[0].record
    several = f"{len(bases)} limbs have no parent" if bases else "the stem has no row"
    faults.add(
        Fault(
            first.file,
            first.row,
            "limb",
            name,
            f"{several} at station {first.station}; a stem of {diameter:.0f} mm and "
            f"{length:.2f} m is derived from {rule}",
            "Add a row for the stem, its parent left blank.",
            "warning",
        )
    )
    return LimbRecord(
        station=first.station,
        limb=name,
        parent="",
        diameter_mm=diameter,
        length_m=length,
        note=f"derived from {rule}",
        file=first.file,
        row=first.row,
    )


def _fitted(one: TapedLimb, parent: LimbRecord) -> LimbRecord | None:
    """Return the limb as it hangs on its parent, None where it cannot."""
    ranges = parameters("survey_ranges")
    limb, fault = replace(one.record, parent=parent.limb), one.cells.fault
    thicker = limb.diameter_mm / parent.diameter_mm
    if thicker > ranges["thicker_than_parent"].value:
        wrong = thicker > ranges["thicker_than_parent"].high
        fault(
            "diameter_mm",
            f"thicker than its parent {parent.limb} ({parent.diameter_mm:g} mm)",
            "Check both diameters" + ("; the limb is left out." if wrong else "."),
            warning=not wrong,
        )
        if wrong:
            return None
    if limb.at_m is not None and limb.at_m > parent.length_m:
        wrong = limb.at_m > parent.length_m * ranges["beyond_parent_end"].high
        fault(
            "at_m",
            f"beyond the end of its parent {parent.limb} ({parent.length_m:g} m)",
            "Measure along the parent from its base; "
            + (
                f"the limb is left out.{_meant(limb.at_m, parent)}" if wrong else "read as its end."
            ),
            warning=not wrong,
        )
        if wrong:
            return None
        limb = replace(limb, at_m=parent.length_m)
    for column, value in (("bearing_deg", limb.bearing_deg), ("rise_deg", limb.rise_deg)):
        if value is None and not one.cells.text(column):
            fault(column, "not taken", "Measure it; a derived one is used.", warning=True)
    return limb


def _meant(at_m: float, parent: LimbRecord) -> str:
    """Return what the place of a limb may be, if it was taken in another unit."""
    for unit, times in (("ft", 0.3048), ("cm", 0.01), ("mm", 0.001)):
        if at_m * times <= parent.length_m:
            return f" Would {at_m * times:.3g} be right, if taken in {unit}?"
    return ""


def _say_left_out(
    children: dict[str, list[TapedLimb]], out: list[TapedLimb], by_name: dict[str, TapedLimb]
) -> None:
    """Say of every limb that hangs on nothing why it is left out."""
    queue = [one.record.limb for one in out]
    for name in sorted(children.keys() - by_name.keys()):
        for one in children.pop(name):
            one.cells.fault(
                "parent",
                "no such limb on this tree",
                f"Name its parent; the limb is left out.{_alike(name, by_name)}",
            )
            queue.append(one.record.limb)
    while queue:
        name = queue.pop(0)
        for one in children.pop(name, []):
            one.cells.fault(
                "parent",
                f"its parent {name} is left out, and it with it",
                f"Put {name} right (row {by_name[name].record.row}).",
            )
            queue.append(one.record.limb)
    for rest in children.values():
        for one in rest:
            one.cells.fault(
                "parent",
                "its chain of parents runs in a circle",
                "Every chain of parents must end at the stem; the limb is left out.",
            )

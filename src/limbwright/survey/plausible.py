"""Whether the numbers of a survey look like themselves: units that slipped, impossible shapes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from limbwright.model import Fault, LimbRecord, StationRecord
from limbwright.survey.limbs import TapedLimb
from limbwright.trade.parameters import parameters

__all__ = ["check_stems", "check_tree", "check_units"]


@dataclass(frozen=True, slots=True)
class _Slip:
    """What a column may hold instead of its unit, and what its values then must be times."""

    column: str
    said: str
    diameter: float = 1.0
    length: float = 1.0


_SLIPS = (
    _Slip("diameter_mm", "diameters in centimetres", diameter=10.0),
    _Slip("diameter_mm", "diameters in inches", diameter=25.4),
    _Slip("diameter_mm", "girths in millimetres", diameter=1.0 / math.pi),
    _Slip("diameter_mm", "girths in centimetres", diameter=10.0 / math.pi),
    _Slip("diameter_mm", "girths in inches", diameter=25.4 / math.pi),
    _Slip("length_m", "lengths in feet", length=0.3048),
    _Slip("length_m", "lengths in centimetres", length=0.01),
    _Slip("length_m", "lengths in inches", length=0.0254),
)
FEWEST_OF_SURVEY = 6
"""Laterals of a survey from which its units are judged; judgement."""
FEWEST_OF_TREE = 3
"""Laterals of one tree from which its units are judged; judgement."""


def _oddity(diameter_mm: float, length_m: float) -> float:
    """Return how unlike a limb a median diameter and length are: squared steps off the usual."""
    usual = parameters("survey_usual")
    found = 0.0
    for name, value in (
        ("length_over_diameter", length_m * 1000.0 / diameter_mm),
        ("diameter_mm", diameter_mm),
        ("length_m", length_m),
    ):
        row = usual[name]
        found += (math.log(value / row.value) / math.log(row.high / row.value)) ** 2
    return found


def _slip(limbs: Sequence[LimbRecord], needed: float) -> _Slip | None:
    """Return the slip that explains the medians far better than none does."""
    thick = median(o.diameter_mm for o in limbs)
    slender = median(o.length_m / o.diameter_mm for o in limbs)
    long = slender * thick
    plain = _oddity(thick, long)
    best = min(_SLIPS, key=lambda s: _oddity(thick * s.diameter, long * s.length))
    gain = plain - _oddity(thick * best.diameter, long * best.length)
    return best if gain > needed else None


def _laterals(limbs: Sequence[LimbRecord]) -> list[LimbRecord]:
    return [o for o in limbs if o.parent and o.diameter_mm > 0.0 and o.length_m > 0.0]


def check_units(limbs: Sequence[LimbRecord], file: str) -> tuple[Fault, ...]:
    """Return warnings where a whole survey looks taken in other units than it says.

    ``limbs`` are all rows with a diameter and a length, in range or not.
    """
    found: list[Fault] = []

    def warn(column: str, value: float, fault: str, remedy: str) -> None:
        found.append(Fault(file, 0, column, f"{value:.3g}", fault, remedy, "warning"))

    lateral = _laterals(limbs)
    if len(lateral) >= FEWEST_OF_SURVEY:
        slip = _slip(lateral, parameters("survey_usual")["slip_of_survey"].value)
        if slip is not None:
            middle = median(float(getattr(o, slip.column)) for o in lateral)
            warn(slip.column, middle, f"the middle value looks like {slip.said}", _remedy(slip))
    stems = [o.rise_deg for o in limbs if not o.parent and o.rise_deg is not None]
    if len(stems) > 1 and median(stems) < parameters("survey_usual")["stem_rise_deg"].low:
        warn(
            "rise_deg",
            median(stems),
            "stems lying down look like angles from the vertical",
            "Give degrees above horizontal: 90 less the angle from the vertical "
            '(a column mapping can: sense = "angle from vertical").',
        )
    bearings = [o.bearing_deg for o in limbs if o.bearing_deg is not None]
    least = parameters("survey_usual")["largest_bearing_deg"].low
    many = len(bearings) >= 2 * FEWEST_OF_SURVEY
    if many and min(bearings) >= 0.0 and 0.0 < max(bearings) <= least:
        warn(
            "bearing_deg",
            max(bearings),
            "no bearing is larger than this; they look like hours of a clock or radians",
            "Give degrees clockwise from north, 0 to 360.",
        )
    return tuple(found)


def _remedy(slip: _Slip) -> str:
    to = "metres" if slip.column == "length_m" else "diameters in millimetres"
    times = slip.length if slip.column == "length_m" else slip.diameter
    return f"If they are, give {to}: times {times:.4g}, or let a column mapping do it."


def check_tree(
    taped: Sequence[TapedLimb], built: Sequence[LimbRecord], station: StationRecord
) -> None:
    """Warn of what cannot be so in one tree, on the rows that say it.

    Parameters
    ----------
    taped
        The rows of the tree.
    built
        Its limbs as they hang together, the stem first.
    station
        Its station.
    """
    rows = {one.record.row: one for one in reversed(taped)}
    stem = built[0]
    told = rows.get(stem.row) if stem.note.partition(" ")[0] != "derived" else None
    lateral = _laterals(built)
    if len(lateral) >= FEWEST_OF_TREE:
        slip = _slip(lateral, parameters("survey_usual")["slip_of_tree"].value)
        if slip is not None:
            rows[lateral[0].row].cells.fault(
                slip.column,
                f"this and the tree's other limbs look like {slip.said}",
                _remedy(slip),
                warning=True,
            )
    if told is not None:
        _check_stem(told, stem, station)
    _check_reach(rows, built, station)


def check_stems(trees: Iterable[tuple[Sequence[TapedLimb], Sequence[LimbRecord]]]) -> None:
    """Warn of stems far longer than the others of a survey, with every limb at their very end.

    A digit too many, or the height of the tree, puts a whole crown metres too high. Leaders pass:
    they bear limbs along their length.

    Parameters
    ----------
    trees
        The rows of each tree, and its limbs as they hang together, the stem first.
    """
    stems = [
        (rows, built[0], built[1:]) for rows, built in trees if len(built) > 1 and built[0].row
    ]
    taped = [s for s in stems if not s[1].note.startswith("derived")]
    if len(taped) < FEWEST_OF_SURVEY:
        return
    usual = median(stem.length_m for _, stem, _ in taped)
    least = parameters("survey_usual")["stem_over_other_stems"]
    for rows, stem, limbs in taped:
        high = [o for o in limbs if o.parent == stem.limb]
        at_end = all(o.at_m is None or o.at_m > least.low * stem.length_m for o in high)
        if stem.length_m > least.high * usual and at_end:
            next(one for one in rows if one.record.row == stem.row).cells.fault(
                "length_m",
                f"the stem is {stem.length_m / usual:.1f} times as long as the survey's others",
                "Give the length up to where the limbs spring from it.",
                warning=True,
            )


def _check_stem(taped: TapedLimb, stem: LimbRecord, station: StationRecord) -> None:
    if stem.rise_deg is not None and 0.0 <= stem.rise_deg < (
        parameters("survey_usual")["stem_rise_deg"].low
    ):
        taped.cells.fault(
            "rise_deg",
            "a stem that lies down",
            f"If this is the angle from the vertical, give {90.0 - stem.rise_deg:g}.",
            warning=True,
        )
    if station.girth_cm is None:
        return
    bound = parameters("survey_ranges")["stem_from_girth"]
    girth_mm = station.girth_cm * 10.0 / math.pi
    if not bound.low <= stem.diameter_mm / girth_mm <= bound.high:
        taped.cells.fault(
            "diameter_mm",
            f"the girth of {station.girth_cm:g} cm means {girth_mm:.0f} mm",
            _girth_remedy(stem.diameter_mm, station, bound.low, bound.high),
            warning=True,
        )


def _girth_remedy(stem_mm: float, station: StationRecord, low: float, high: float) -> str:
    """Return the slip that would best make the stem's diameter and the girth agree, if any does."""
    girth = station.girth_cm or 0.0
    where = f"row {station.row} of {station.file}"
    ratio = stem_mm / (girth * 10.0 / math.pi)
    slips = [
        (ratio / times, f"If {said}, give {girth * times:.0f} ({where}).")
        for times, said in (
            (math.pi, "the girth is a diameter in cm"),
            (0.1, "the girth is in mm"),
            (2.54, "the girth is in inches"),
        )
    ] + [
        (ratio * times, f"If {said}, give {stem_mm * times:.0f}.")
        for times, said in (
            (10.0, "the diameter is in cm"),
            (10.0 / math.pi, "this is the girth in cm"),
            (1.0 / math.pi, "this is the girth in mm"),
            (25.4, "the diameter is in inches"),
        )
    ]
    left, remedy = min(slips, key=lambda slip: abs(math.log(slip[0])))
    return remedy if low <= left <= high else f"Check the diameter and the girth ({where})."


def _check_reach(
    rows: dict[int, TapedLimb], built: Sequence[LimbRecord], station: StationRecord
) -> None:
    """Warn where the wood cannot reach the tree's height, or has no room in its outline."""
    base: dict[str, float] = {}
    far = (0.0, built[0])
    for limb in built:
        at = limb.at_m if limb.at_m is not None else 0.0
        parent = next((o for o in built if o.limb == limb.parent), None) if limb.parent else None
        if parent is not None and limb.at_m is None:
            at = parent.length_m
        base[limb.limb] = base.get(limb.parent, 0.0) + at
        far = max(far, (base[limb.limb] + limb.length_m, limb), key=lambda f: f[0])
    reach, limb = far
    if station.height_m is None or limb.row not in rows:
        return
    usual = parameters("survey_usual")
    if len(built) > FEWEST_OF_TREE and station.height_m > usual["height_over_reach"].high * reach:
        rows[limb.row].cells.fault(
            "length_m",
            f"the tree is {station.height_m:g} m tall, yet no limb reaches beyond {reach:.3g} m "
            "along the wood",
            f"Check the height (row {station.row} of {station.file}: in feet?) and the lengths.",
            warning=True,
        )
    if station.spread_m is None:
        return
    room = station.height_m + 0.5 * station.spread_m
    if reach > usual["reach_over_outline"].high * room:
        rows[limb.row].cells.fault(
            "length_m",
            f"{reach:.3g} m along the wood has no room in a tree {station.height_m:g} m tall "
            f"and {station.spread_m:g} m wide",
            "Check the lengths (in feet?), the height and the spread.",
            warning=True,
        )

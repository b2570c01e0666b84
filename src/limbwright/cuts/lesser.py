"""Lesser work beside the cuts: watershoots of dense limbs thinned, clumps of mistletoe taken.

Watershoots take of the dose what the cuts leave; a clump of mistletoe cut at the bark takes no leaf
of the tree's own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from limbwright.cuts.crossing import axis_segments
from limbwright.cuts.limits import Limits
from limbwright.cuts.order import bearing_deg, tool_words
from limbwright.cuts.results import Cut
from limbwright.cuts.weights import Settings
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Bools, Floats, Skeleton, State
from limbwright.trade.health import problems_in
from limbwright.trade.mistletoe import mistletoe_advice, mistletoe_of
from limbwright.trade.parameters import parameters

__all__ = ["lesser_work", "mistletoe_work", "small_work"]

FULL_CROWN = 3.0  # the survey's mark for a full crown, see `survey_ranges`
SHOOT_M = 1.0  # judgement: length of such a shoot
SHOOT_MM = 15.0  # judgement: base of an ordinary watershoot of two or three years
HOURS_A_LIMB = 0.25  # judgement: time to go through the watershoots of one limb
MOST = 4  # judgement: more lines of lesser work would crowd the card
CLUMP_MM = 25.0  # judgement: stem of an old clump where it leaves the bark
CLUMP_M = 0.7  # judgement: length of an old clump


def lesser_work(
    skeleton: Skeleton,
    station: StationRecord | None,
    gone: Bools,
    dose_left: float,
    bounds: Limits,
    settings: Settings,
    *,
    first_order: int,
) -> tuple[Cut, ...]:
    """Return limbs whose watershoots may be thinned, densest first, within the dose left.

    A limb counts when its note speaks of watershoots, or when the tree's does and the limb's crown
    is full. Weak and veteran trees keep theirs: they are the next crown.
    """
    if bounds.state.frail or bounds.live_leaf_m2 <= 0.0:
        return ()
    record = "" if station is None else f"{station.note}; {station.faults}; {station.features}"
    everywhere = _shoots(record)
    budget = min(dose_left, settings["watershoot_dose"])
    found: list[tuple[bool, float, int]] = []
    for k, limb in enumerate(skeleton.limbs):
        here = _shoots(limb.note)
        standing = not bool(gone[limb.first_segment]) and limb.state == State.LIVE
        if (
            limb.parent < 0
            or not standing
            or limb.keep
            or not (here or (everywhere and limb.crown >= FULL_CROWN))
        ):
            continue
        mine = (skeleton.limb == k) & ~gone
        leaf = float(skeleton.leaf_area_m2[mine].sum()) / bounds.live_leaf_m2
        found.append((here, settings["watershoot_share"] * leaf, k))
    rows: list[Cut] = []
    for here, dose, k in sorted(found, reverse=True):
        if len(rows) == MOST or dose <= 0.0 or dose > budget:
            continue
        row = _thin(skeleton, k, dose, here, first_order + len(rows), settings)
        if row.height_m <= settings["ladder_reach"]:  # not worth a climb
            budget -= dose
            rows.append(row)
    return tuple(rows)


def _shoots(text: str) -> bool:
    return any(found.problem.key == "watershoots" for found in problems_in(text))


def mistletoe_work(
    skeleton: Skeleton,
    station: StationRecord | None,
    gone: Bools,
    use: Mapping[int, float],
    settings: Settings,
    *,
    first_order: int,
) -> tuple[Cut, ...]:
    """Return how many clumps to take from which limb this season, the weakest limb first.

    Only limbs whose notes count their clumps get a row; those that go, are dead or are kept get
    none, but the clumps that go with cut limbs count as taken.

    Parameters
    ----------
    gone
        ``(n,)`` True for segments the cuts take.
    use
        Utilisation of each limb after the cuts, by its index.
    """
    tree, limbs = mistletoe_of(station, skeleton)
    if tree is None:
        return ()
    left = mistletoe_advice(tree).take
    here = {k: m.clumps or 0 for k, m in limbs.items() if m.counted and not m.wanted}
    left -= sum(n for k, n in here.items() if gone[skeleton.limbs[k].first_segment])
    rows: list[Cut] = []
    for k in sorted(here, key=lambda k: (-use.get(k, 0.0), k)):
        limb = skeleton.limbs[k]
        take = min(here[k], left)
        if take <= 0 or len(rows) == MOST or limb.keep or bool(gone[limb.first_segment]):
            continue
        rows.append(_clumps(skeleton, k, take, here[k], use, first_order + len(rows), settings))
        left -= take
    return tuple(rows)


def _clumps(
    skeleton: Skeleton,
    k: int,
    take: int,
    there: int,
    use: Mapping[int, float],
    order: int,
    settings: Settings,
) -> Cut:
    table = parameters("mistletoe")
    limb, axis = skeleton.limbs[k], axis_segments(skeleton, k)
    segment = int(axis[axis.size // 2])
    many = f"{take} of the {there} clumps" if take < there else f"all {there} clumps"
    many = "the clump" if there == 1 else many
    weak = f": loaded to {100 * use[k]:.0f} %" if k in use else ""
    row = small_work(
        skeleton,
        settings,
        skeleton.start_m[segment],
        order=order,
        cut="thin",
        limb=limb.label,
        segment=segment,
        at_m=float(skeleton.length_m[axis[: axis.size // 2]].sum()),
        diameter_mm=CLUMP_MM,
        piece_length_m=CLUMP_M,
        dose=0.0,
        to_lateral="",
        hours=table["hours_a_clump"].value * take,
        reason=(
            f"Cut {many} of mistletoe off limb {limb.label} at the bark, those without berries "
            f"first{weak}."
        ),
        effect=(
            f"The wind meets about {table['clump_sail'].value * take:.1f} m² less; it comes again "
            f"in {table['again_after'].low:.0f} to {table['again_after'].high:.0f} years."
        ),
    )
    return replace(row, piece_kg=table["clump_kg"].value * take)


def small_work(
    skeleton: Skeleton,
    settings: Settings,
    point_m: Floats,
    *,
    order: int,
    cut: str,
    limb: str,
    segment: int,
    at_m: float,
    diameter_mm: float,
    piece_length_m: float,
    dose: float,
    to_lateral: str,
    hours: float,
    reason: str,
    effect: str,
) -> Cut:
    """Return a row of lesser work on shoots at ``point_m`` ``(3,)``: no wound that counts.

    The pieces weigh their dose's share of the crown's fine wood.
    """
    x, y, z = (float(v) for v in point_m)
    return Cut(
        order=order,
        cut=cut,
        limb=limb,
        segment=segment,
        at_m=at_m,
        height_m=z,
        diameter_mm=diameter_mm,
        bearing_deg=bearing_deg(x, y),
        piece_kg=float(dose * skeleton.fine_wood_kg.sum()),
        piece_length_m=piece_length_m,
        dose=dose,
        wound_area_cm2=0.0,
        to_lateral=to_lateral,
        tool=tool_words(diameter_mm, z, 0.0, piece_length_m, settings),
        hours=hours,
        reason=reason,
        effect=effect,
        point_m=(x, y, z),
    )


def _thin(
    skeleton: Skeleton, k: int, dose: float, here: bool, order: int, settings: Settings
) -> Cut:
    limb = skeleton.limbs[k]
    axis = axis_segments(skeleton, k)
    along = np.cumsum(skeleton.length_m[axis])
    j = int(np.searchsorted(along, 0.5 * along[-1]))
    segment = int(axis[min(j, axis.size - 1)])
    seen = "the survey notes watershoots on it" if here else "its crown is full and the tree shoots"
    return small_work(
        skeleton,
        settings,
        skeleton.start_m[segment],
        order=order,
        cut="thin",
        limb=limb.label,
        segment=segment,
        at_m=float(along[min(j, axis.size - 1)] - skeleton.length_m[segment]),
        diameter_mm=SHOOT_MM,
        piece_length_m=SHOOT_M,
        dose=dose,
        to_lateral="",
        hours=HOURS_A_LIMB,
        reason=(
            f"Thin a third of the watershoots on limb {limb.label}, at their origin, crossing and "
            f"inward ones first: {seen}."
        ),
        effect="The rest shade the bark and make the next laterals; thin again next season.",
    )

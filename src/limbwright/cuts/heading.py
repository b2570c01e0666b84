"""Heading to a bud, as lesser work: leaders of trees in work, and whips without a lateral."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from limbwright.cuts.candidates import Candidate
from limbwright.cuts.crossing import axis_segments
from limbwright.cuts.lesser import small_work
from limbwright.cuts.limits import Limits
from limbwright.cuts.results import Cut
from limbwright.cuts.weights import Settings
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Bools, Skeleton, State
from limbwright.trade.species import Species

__all__ = ["heading"]

SHOOT_MM = 8.0  # judgement: a shoot of last year where a third of it is cut
USUAL_SHOOT_M = 0.3  # from memory: 15-40 cm a year is normal growth of a grown apple
HOURS_EACH = 0.05  # judgement: three minutes a limb with its side leaders
MOST = 6  # judgement: more lines of lesser work would crowd the card


def heading(
    skeleton: Skeleton,
    station: StationRecord | None,
    kind: Species,
    gone: Bools,
    offered: Iterable[Candidate],
    dose_left: float,
    bounds: Limits,
    settings: Settings,
    *,
    first_order: int,
) -> tuple[Cut, ...]:
    """Return the limbs whose last year's growth may be headed to a bud, within the dose left.

    On pome fruit trees in routine care these are the thin leaders, since neglected and overgrown
    trees answer heading with watershoots and stone fruit with disease. On any other tree that is
    not weak or veteran, only thin limbs that no shortening to a lateral is offered on. Limbs cut
    this season, kept ones and tips out of ladder reach are left.
    """
    if bounds.live_leaf_m2 <= 0.0 or bounds.state.frail:
        return ()
    cut_already = {int(k) for k in np.unique(skeleton.limb[gone])}
    with_lateral = {c.limb for c in offered if c.kind == "shorten"}
    leaders = bounds.state.key == "routine" and kind.group == "pome"
    budget = min(dose_left, settings["head_dose"])
    rows: list[Cut] = []
    for k, limb in enumerate(skeleton.limbs):
        whip = k not in with_lateral and limb.diameter_mm <= settings["head_to"]
        leader = leaders and limb.parent == 0 and limb.diameter_mm <= settings["head_leaders_to"]
        standing = limb.state == State.LIVE and k not in cut_already and not limb.keep
        if limb.parent < 0 or not standing or not (whip or leader) or len(rows) == MOST:
            continue
        mine = skeleton.limb == k
        leaf = float(skeleton.leaf_area_m2[mine].sum()) / bounds.live_leaf_m2
        dose = settings["head_share"] * leaf
        row = _head(skeleton, k, dose, station, whip, first_order + len(rows), settings)
        if 0.0 < dose <= budget and row.height_m <= settings["ladder_reach"]:
            budget -= dose
            rows.append(row)
    return tuple(rows)


def _head(
    skeleton: Skeleton,
    k: int,
    dose: float,
    station: StationRecord | None,
    whip: bool,
    order: int,
    settings: Settings,
) -> Cut:
    limb = skeleton.limbs[k]
    axis = axis_segments(skeleton, k)
    segment = int(axis[-1])
    taped = None if station is None else station.extension_cm
    grew_m = USUAL_SHOOT_M if taped is None else taped / 100.0
    piece = min(grew_m / 3.0, float(skeleton.length_m[segment]))
    share = 1.0 - piece / max(float(skeleton.length_m[segment]), 1e-9)
    start, end = skeleton.start_m[segment], skeleton.end_m[segment]
    along = float(skeleton.length_m[axis].sum())
    seen = "" if taped is None else f" ({taped:.0f} cm last season)"
    why = "it has no lateral to shorten to" if whip else "the tree is in yearly care"
    return small_work(
        skeleton,
        settings,
        start + share * (end - start),
        order=order,
        cut="head",
        limb=limb.label,
        segment=segment,
        at_m=along - piece,
        diameter_mm=SHOOT_MM,
        piece_length_m=piece,
        dose=dose,
        to_lateral="to an outward bud",
        hours=HOURS_EACH,
        reason=(
            f"Head the leader of limb {limb.label} to an outward bud, by a third of last year's "
            f"growth{seen}, and its side leaders alike: {why}."
        ),
        effect="Left undone, it grows on bare below; leave it if the variety bears at the tips.",
    )

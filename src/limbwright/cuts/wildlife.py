"""What lives in a tree, and the limbs that stay whole for it.

A limb whose note names a feature that keeps (a nest hole, a roost, wood mould, see
``trade/data/habitat.csv``) is kept like one the surveyor marked to be kept. The adviser may force
it, or what carries it, to go all the same; then a caution says what is there.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from limbwright.cuts.results import Wishes
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Skeleton
from limbwright.trade.habitat import features_in, features_of, reason_to_keep

__all__ = ["forced_habitat", "unplaced_habitat", "with_wildlife"]


def with_wildlife(skeleton: Skeleton, wishes: Wishes) -> Skeleton:
    """Return the skeleton with the limbs that hold protected habitat marked to be kept.

    A limb that is forced to go, or hangs on one that is, is left unmarked. The skeleton comes back
    as it is where nothing is to be marked.
    """
    forced = _forced(skeleton, wishes)
    limbs, keep = list(skeleton.limbs), skeleton.keep.copy()
    reasons = list(skeleton.keep_reasons)
    for k, limb in enumerate(skeleton.limbs):
        why = "" if limb.keep or k in forced else reason_to_keep(limb.note)
        if not why:
            continue
        if why not in reasons:
            reasons.append(why)
        limbs[k] = replace(limb, keep=why)
        keep[(skeleton.limb == k) & skeleton.surveyed] = reasons.index(why)
    if len(reasons) == len(skeleton.keep_reasons) and bool((keep == skeleton.keep).all()):
        return skeleton
    keep.setflags(write=False)
    return replace(skeleton, limbs=tuple(limbs), keep=keep, keep_reasons=tuple(reasons))


def forced_habitat(skeleton: Skeleton, wishes: Wishes | None) -> tuple[tuple[str, str], ...]:
    """Return the limbs that go by force though their note names protected habitat, with what."""
    if wishes is None or not wishes.force:
        return ()
    forced = _forced(skeleton, wishes)
    return tuple(
        (limb.label, feature)
        for k, limb in enumerate(skeleton.limbs)
        if k in forced and (feature := _protected(limb.note))
    )


def unplaced_habitat(
    skeleton: Skeleton, station: StationRecord | None
) -> tuple[tuple[str, bool], ...]:
    """Return protected features that the tree's record names and no limb holds.

    Each with True where the surveyor was sure of it. The limb has to be found before the first cut.
    """
    if station is None:
        return ()
    return tuple(
        (one.feature.name, one.sure)
        for one in features_of(station, skeleton)
        if not one.where and one.feature.keeps == "limb"
    )


def _forced(skeleton: Skeleton, wishes: Wishes) -> set[int]:
    """Limbs that are to go, with all that hang on them; parents come before their limbs."""
    gone: set[int] = set()
    if wishes.force:
        order = np.argsort([limb.first_segment for limb in skeleton.limbs], kind="stable")
        for k in order.tolist():
            limb = skeleton.limbs[k]
            if limb.label in wishes.force or limb.parent in gone:
                gone.add(k)
    return gone


def _protected(note: str) -> str:
    found = [one.feature.name for one in features_in(note) if one.feature.keeps == "limb"]
    return ", ".join(found)

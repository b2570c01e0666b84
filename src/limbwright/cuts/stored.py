"""Read a plan back from its document, on the tree it was made for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from limbwright.cuts.results import Cut, Left, Plan
from limbwright.errors import PlanError
from limbwright.light.summary import Standing
from limbwright.model.skeleton import Bools
from limbwright.statics.assess import Assessment, reassess

__all__ = ["gone_of", "plan_of_document"]


def gone_of(document: Mapping[str, Any], segment_ids: Sequence[int]) -> Bools:
    """Return ``(n,)`` the segments that a plan's document takes off.

    Parameters
    ----------
    document
        One tree under ``limbwright.plan/1``.
    segment_ids
        ``(n,)`` the numbers of the segments of the tree.

    Raises
    ------
    PlanError
        The document takes off wood that the tree does not have.
    """
    wanted = np.asarray(document.get("gone_segments", []), dtype=np.int64)
    ids = np.asarray(segment_ids, dtype=np.int64)
    if not bool(np.isin(wanted, ids).all()):
        raise PlanError(
            f"The plan of {document.get('tree', 'a tree')} is not for the tree as surveyed now.",
            "Plan it again.",
        )
    return np.asarray(np.isin(ids, wanted))


def plan_of_document(document: Mapping[str, Any], assessment: Assessment) -> Plan:
    """Return the plan that a document tells, its limbs and light reckoned anew.

    Parameters
    ----------
    document
        One tree under ``limbwright.plan/1``.
    assessment
        The tree as it stood before the plan's cuts.

    Raises
    ------
    PlanError
        The document is not a plan, or not for this tree.
    """
    s = assessment.skeleton
    gone = gone_of(document, s.segment_ids.tolist())
    place = {int(number): k for k, number in enumerate(s.segment_ids)}
    lit = Standing(s, assessment.site).before_and_after(gone)
    light = document.get("light", {})
    within, bound_h = document.get("within"), document.get("bound_h")

    def rows(name: str) -> tuple[Cut, ...]:
        return tuple(_cut(row, place) for row in document.get(name, ()))

    try:
        return Plan(
            **{name: document[name] for name in _SAME},
            binding=tuple(document["binding"]),
            cuts=rows("cuts"),
            left=tuple(Left(x["limb"], x["cut"], x["why"]) for x in document["left"]),
            keep=tuple((x["limb"], x["why"]) for x in document["keep"]),
            cautions=tuple(document["cautions"]),
            bound_h=float("nan") if bound_h is None else float(bound_h),
            within=float("nan") if within is None else float(within),
            before=assessment.limbs,
            after=reassess(assessment, ~gone).limbs,
            light_before=lit[0],
            light_after=lit[1],
            light_gain_h=float(light.get("gain_h", 0.0)),
            light_alone_h=float(light.get("alone_h", 0.0)),
            gone=gone,
            segment_ids=s.segment_ids,
            next_best=rows("next_best"),
            lesser=rows("lesser"),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise PlanError(
            f"The plan of {document.get('tree', 'a tree')} cannot be read: {error}.",
            "Plan it again.",
        ) from None


_SAME = (
    *("tree", "season", "species", "state", "dose", "dose_limit", "wound_share", "wound_limit"),
    *("window", "hours", "objective_h", "certificate", "summary", "chance_before", "chance_after"),
)


def _cut(row: Mapping[str, Any], place: Mapping[int, int]) -> Cut:
    given = {name: row[name] for name in Cut.__dataclass_fields__}
    x, y, z = (float(v) for v in given["point_m"])
    return Cut(**{**given, "segment": place[int(given["segment"])], "point_m": (x, y, z)})

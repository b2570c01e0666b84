"""The rows of the cut list from the nodes the solver took."""

from __future__ import annotations

import numpy as np

from limbwright.cuts.build_problem import work_hours
from limbwright.cuts.candidates import Candidate
from limbwright.cuts.evaluate import Evaluation
from limbwright.cuts.limits import Limits
from limbwright.cuts.order import bearing_deg, lies_over, order_of_work, piece_length_m, tool_words
from limbwright.cuts.reasons import Context, explain
from limbwright.cuts.results import Cut
from limbwright.model.skeleton import Bools, State
from limbwright.trade.species import Species

__all__ = ["cut_rows"]


def cut_rows(
    context: Context, kind: Species, gone: Bools, now: Evaluation, bounds: Limits
) -> tuple[Cut, ...]:
    """Return the cuts that bring down the nodes ``gone`` ``(N,)``, in order of work."""
    nodes = np.flatnonzero(now.cuts).tolist()
    node_of = {context.lit.built.candidates[i - 1].segment: i for i in nodes}
    ordered = order_of_work(
        context.question.assessment.skeleton, [context.lit.built.candidates[i - 1] for i in nodes]
    )
    return tuple(
        _row(context, kind, gone, now, bounds, cut, node_of[cut.segment], k)
        for k, cut in enumerate(ordered, start=1)
    )


def _row(
    context: Context,
    kind: Species,
    gone: Bools,
    now: Evaluation,
    bounds: Limits,
    cut: Candidate,
    node: int,
    order: int,
) -> Cut:
    s, settings = context.question.assessment.skeleton, context.question.settings
    inside = s.in_subtree(cut.segment)
    x, y, z = (float(v) for v in s.start_m[cut.segment])
    live = s.state[inside] != State.DEAD
    leaf = float(s.leaf_area_m2[inside][live].sum())
    kg = float(context.question.assessment.loads.wood_kg[inside].sum())
    if kind.group == "stone":  # cut in leaf
        kg += settings["leaf_fresh"] * leaf
    length = piece_length_m(s, cut.segment)
    reason, effect = explain(context, gone, node, now, forced=cut.forced)
    return Cut(
        order=order,
        cut=cut.kind,
        limb=s.limbs[cut.limb].label,
        segment=cut.segment,
        at_m=cut.at_m,
        height_m=z,
        diameter_mm=cut.diameter_mm,
        bearing_deg=bearing_deg(x, y),
        piece_kg=kg,
        piece_length_m=length,
        dose=leaf / max(bounds.live_leaf_m2, 1e-9),
        wound_area_cm2=0.0 if cut.dead else float(np.pi * (cut.diameter_mm / 20.0) ** 2),
        to_lateral=cut.to_lateral,
        tool=tool_words(
            cut.diameter_mm,
            z,
            kg,
            length,
            settings,
            over=lies_over(s, cut.segment, context.lit.built.gone_segments(gone)),
        ),
        hours=work_hours(cut.diameter_mm, z, settings, piece_kg=kg),
        reason=reason,
        effect=effect,
        point_m=(x, y, z),
    )

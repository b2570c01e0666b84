"""What a plan is: its wishes, its cuts, what it leaves and the figures that bind it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from limbwright.light.summary import LightAir
from limbwright.model.skeleton import Bools, Ints
from limbwright.statics.assess import LimbAssessment

__all__ = ["SCHEMA", "Cut", "Left", "Plan", "Wishes", "plans_to_dict"]

SCHEMA = "limbwright.plan/1"


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the adviser asks of one plan; limbs by their labels.

    ``protect``: these limbs stay whole. ``force``: these limbs go, to the collar. ``forbid``: no
    cut is made on these limbs, though they may go with what carries them. ``dose``: share of the
    live crown in place of the tree state's own limit, at most one third. ``max_cuts``: at most so
    many. ``people_below``: no dead wood is kept for its own sake.
    """

    protect: frozenset[str] = frozenset()
    force: frozenset[str] = frozenset()
    forbid: frozenset[str] = frozenset()
    dose: float | None = None
    max_cuts: int | None = None
    people_below: bool = False


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut as it stands on the card.

    ``cut`` is remove, shorten, head or thin. ``at_m`` along the limb from its base; ``height_m``
    above the stem foot; ``bearing_deg`` of the cut from the stem foot, clockwise from north;
    ``dose`` share of the tree's live leaf; ``wound_area_cm2`` live wound (none in dead wood).
    ``to_lateral`` says what is left at the end, empty when the limb goes to the collar.
    """

    order: int
    cut: str
    limb: str
    segment: int
    at_m: float
    height_m: float
    diameter_mm: float
    bearing_deg: float
    piece_kg: float
    piece_length_m: float
    dose: float
    wound_area_cm2: float
    to_lateral: str
    tool: str
    hours: float
    reason: str
    effect: str
    point_m: tuple[float, float, float]

    def to_dict(self) -> dict[str, Any]:
        """Return the row of the cut list; the point as ``[x, y, z]``."""
        row: dict[str, Any] = {}
        for name in self.__dataclass_fields__:
            value = getattr(self, name)
            if isinstance(value, tuple):
                value = [round(v, 3) for v in value]
            elif isinstance(value, float):
                value = round(value, 4)
            row[name] = value
        return row


@dataclass(frozen=True, slots=True)
class Left:
    """A cut that was weighed and not made, and why."""

    limb: str
    cut: str
    why: str


@dataclass(frozen=True, slots=True)
class Plan:
    """The best cuts of one season for one tree within its limits.

    ``dose`` and ``wound_share`` are what the cuts take, shares of one; ``lesser`` work has its own
    doses and stays within what is left. ``gone`` ``(n,)`` marks the segments that go;
    ``segment_ids`` ``(n,)`` are the segments' numbers in the file, as in the assessment.
    ``within`` is the share of the improvement that could at best be had beyond this plan.
    ``chance_before`` and ``chance_after`` are chances a year that any limb fails, 1 - prod(1 - p).
    ``light_before`` and ``light_after`` are the crown's light and air, both over the leaf that
    stays; ``light_gain_h`` is what that light is worth to the plan, ``light_alone_h`` the sum of
    what each of its cuts would give alone: more where they light the same leaf.
    """

    tree: str
    season: str
    species: str
    state: str
    dose: float
    dose_limit: float
    wound_share: float
    wound_limit: float
    binding: tuple[str, ...]
    cuts: tuple[Cut, ...]
    left: tuple[Left, ...]
    keep: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    window: str
    hours: float
    objective_h: float
    bound_h: float
    within: float
    certificate: str
    summary: str
    before: tuple[LimbAssessment, ...]
    after: tuple[LimbAssessment, ...]
    chance_before: float
    chance_after: float
    light_before: LightAir
    light_after: LightAir
    light_gain_h: float
    light_alone_h: float
    gone: Bools
    segment_ids: Ints
    next_best: tuple[Cut, ...]
    lesser: tuple[Cut, ...]

    def rows(self, cuts: Iterable[Cut]) -> list[dict[str, Any]]:
        """Return cuts as rows of the cut list, segments by their numbers in the survey's file."""
        return [{**c.to_dict(), "segment": int(self.segment_ids[c.segment])} for c in cuts]

    def to_dict(self) -> dict[str, Any]:
        """Return the plan as plain numbers, strings and lists, units in the keys."""
        return {
            "tree": self.tree,
            "season": self.season,
            "species": self.species,
            "state": self.state,
            "summary": self.summary,
            "dose": round(self.dose, 4),
            "dose_limit": round(self.dose_limit, 4),
            "lesser_dose": round(sum(c.dose for c in self.lesser), 4),
            "wound_share": round(self.wound_share, 4),
            "wound_limit": round(self.wound_limit, 4),
            "binding": list(self.binding),
            "cuts": self.rows(self.cuts),
            "lesser": self.rows(self.lesser),
            "left": [{"limb": x.limb, "cut": x.cut, "why": x.why} for x in self.left],
            "keep": [{"limb": limb, "why": why} for limb, why in self.keep],
            "cautions": list(self.cautions),
            "window": self.window,
            "hours": round(self.hours, 2),
            "objective_h": round(self.objective_h, 4),
            "bound_h": _number(self.bound_h, 4),
            "within": _number(self.within, 5),
            "certificate": self.certificate,
            "chance_before": round(self.chance_before, 6),
            "chance_after": round(self.chance_after, 6),
            "light": {
                "before": self.light_before.to_dict(),
                "after": self.light_after.to_dict(),
                "gain_h": round(self.light_gain_h, 4),
                "alone_h": round(self.light_alone_h, 4),
            },
            "limbs": [
                {
                    "limb": b.label,
                    "utilisation_before": round(b.utilisation, 4),
                    "utilisation_after": round(a.utilisation, 4),
                    "chance_before": round(b.chance, 6),
                    "chance_after": round(a.chance, 6),
                }
                for b, a in zip(self.before, self.after, strict=True)
            ],
            "gone_segments": [int(i) for i in self.segment_ids[self.gone]],
            "next_best": self.rows(self.next_best),
        }


def _number(value: float, digits: int) -> float | None:
    """Return a rounded number; None where there is none, since JSON knows no NaN."""
    return round(value, digits) if math.isfinite(value) else None


def plans_to_dict(plans: Iterable[Plan]) -> dict[str, Any]:
    """Return plans under the published schema ``limbwright.plan/1``."""
    return {"schema": SCHEMA, "trees": [p.to_dict() for p in plans]}

"""Make the rows of a plan: one shoot, one kind of work, its figures and its words."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

from limbwright.form.crown import Crown, Shoot
from limbwright.form.results import FormRow, Role
from limbwright.form.settings import FormSettings
from limbwright.trade.parameters import parameters

__all__ = ["Maker"]

LEAST_CUT_M = 0.02
"""Judgement: less than this is not worth a cut."""


@dataclass(slots=True)
class Maker:
    """Make rows for the shoots of one crown, without their order, which comes last.

    ``names`` are the shoots that have a row.
    """

    crown: Crown
    settings: FormSettings
    rows: list[FormRow] = field(default_factory=list)
    names: set[str] = field(default_factory=set)

    def leave(self, shoot: Shoot, role: Role, why: str, what: str = "Leave") -> FormRow:
        """Add a row for a shoot left alone."""
        return self._add(FormRow(**_base(shoot), role=role, work="leave", what=what, why=why))

    def remove(self, shoot: Shoot, role: Role, why: str) -> FormRow:
        """Add a row for a shoot that comes off at its collar, with all it bears."""
        return self._add(
            FormRow(
                **_base(shoot),
                role=role,
                work="remove",
                what="Take out to the collar",
                why=why,
                cut_at_m=shoot.base_m[2],
                keep_cm=0.0,
                takes_cm=100.0 * shoot.length_m,
                wound_area_cm2=_area_cm2(shoot.diameter_mm),
                tool=_tool(shoot.diameter_mm),
            )
        )

    def head(
        self,
        shoot: Shoot,
        role: Role,
        keep_m: float,
        why: str,
        *,
        to: str = "a sound bud",
        share: float = 0.0,
        spread_to_deg: float | None = None,
        buds: int | None = None,
    ) -> FormRow:
        """Add a row for a shoot cut to a bud ``keep_m`` along it; left where that takes nothing.

        ``buds`` are told where the cut is counted by them, else reckoned from the length kept of
        last year's growth.
        """
        if shoot.length_m - keep_m < LEAST_CUT_M:
            if spread_to_deg is not None:
                return self.spread(shoot, role, spread_to_deg, why)
            return self.leave(shoot, role, why)
        counted = buds is not None
        if buds is None:
            new = keep_m - (shoot.length_m - shoot.grown_m)
            buds = max(0, math.floor(100.0 * new / max(self.settings["bud_spacing"], 0.1)))
        at = shoot.point_at(keep_m)[2]
        if shoot.level == 0:
            what = f"Cut it {at:.2f} m above the ground, just above {to}"
        elif counted:
            what = f"Shorten to {buds} buds, about {100 * keep_m:.0f} cm"
        else:
            what = f"Cut back to {100 * keep_m:.0f} cm, to {to}"
        if spread_to_deg is not None:
            way = "spread" if spread_to_deg > shoot.angle_deg else "tie up"
            what += f"; {way} to {spread_to_deg:.0f} degrees"
        thick = _thickness(shoot, keep_m)
        return self._add(
            FormRow(
                **_base(shoot),
                role=role,
                work="head",
                what=what,
                why=why,
                cut_at_m=at,
                keep_cm=100.0 * keep_m,
                takes_cm=100.0 * (shoot.length_m - keep_m),
                share=share,
                buds=buds,
                spread_to_deg=spread_to_deg,
                wound_area_cm2=_area_cm2(thick),
                tool=_tool(thick),
            )
        )

    def shorten(self, shoot: Shoot, role: Role, to: Shoot, why: str) -> FormRow:
        """Add a row for a shoot cut just above another that grows from it."""
        thick = _thickness(shoot, to.at_m)
        return self._add(
            FormRow(
                **_base(shoot),
                role=role,
                work="shorten",
                what=f"Shorten to shoot {to.name}, just above it at {to.base_m[2]:.2f} m",
                why=why,
                cut_at_m=to.base_m[2],
                keep_cm=100.0 * to.at_m,
                takes_cm=100.0 * (shoot.length_m - to.at_m),
                wound_area_cm2=_area_cm2(thick),
                tool=_tool(thick),
            )
        )

    def spread(self, shoot: Shoot, role: Role, to_deg: float, why: str) -> FormRow:
        """Add a row for a shoot set to another angle, or tied up where it is to stand steeper."""
        wider = to_deg > shoot.angle_deg
        way = "Spread it" if wider else "Tie it up"
        return self._add(
            FormRow(
                **_base(shoot),
                role=role,
                work="spread" if wider else "tie",
                what=f"{way} to {to_deg:.0f} degrees off the stem"
                if to_deg > 0.0
                else "Tie it upright to the stake",
                why=why,
                spread_to_deg=to_deg,
            )
        )

    def gone_with(self, shoot: Shoot, what: str, why: str) -> FormRow:
        """Add a row for a shoot that goes with the one that bears it; its length counts there."""
        return self._add(FormRow(**_base(shoot), role="spare", work="leave", what=what, why=why))

    def _add(self, row: FormRow) -> FormRow:
        self.rows.append(row)
        self.names.add(row.shoot)
        return row


def _base(shoot: Shoot) -> dict[str, Any]:
    return {
        "order": 0,
        "shoot": shoot.name,
        "at_m": shoot.at_m,
        "bearing_deg": shoot.bearing_deg,
        "diameter_mm": shoot.diameter_mm,
    }


def _thickness(shoot: Shoot, along_m: float) -> float:
    """Return the thickness [mm] a way along a shoot that tapers evenly to 3 mm at its tip."""
    tip = min(3.0, shoot.diameter_mm)  # judgement
    share = min(max(along_m / max(shoot.length_m, 1e-9), 0.0), 1.0)
    return shoot.diameter_mm + (tip - shoot.diameter_mm) * share


def _area_cm2(diameter_mm: float) -> float:
    return math.pi * (diameter_mm / 20.0) ** 2


def _tool(diameter_mm: float) -> str:
    tools = parameters("tools")
    if diameter_mm <= tools["secateurs_to"].value:
        return "Secateurs"
    return "Loppers" if diameter_mm <= tools["loppers_to"].value else "Pruning saw"

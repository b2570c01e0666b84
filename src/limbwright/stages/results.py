"""What a plan of several seasons is: its seasons, the years that follow, and what is proven."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from limbwright.cuts.results import Plan
from limbwright.growth.rates import Rates
from limbwright.model.records import StationRecord
from limbwright.stages.compare import Way
from limbwright.stages.replay import Year
from limbwright.statics.assess import Assessment

__all__ = [
    "SCHEMA",
    "Forecast",
    "SeasonOfYears",
    "Target",
    "YearsPlan",
    "years_schema",
    "years_to_dict",
]

SCHEMA = "limbwright.years/1"


@dataclass(frozen=True, slots=True)
class SeasonOfYears:
    """One season of a sequence: its cuts, or why there are none.

    ``plan`` is a plan like that of one season, of the tree as it is forecast to stand then, and
    ``assessment`` that tree; both None in a season without cuts. ``rest`` is True where the tree
    is left in peace by rule, False too where nothing is worth a cut. ``dose_limit`` is the most
    the season could have taken.
    """

    season: str
    rest: bool
    dose: float
    dose_limit: float
    wound_share: float
    hours: float
    why: str
    plan: Plan | None
    assessment: Assessment | None

    def to_dict(self) -> dict[str, Any]:
        """Return the season as plain numbers; its plan as under ``limbwright.plan/1``."""
        return {
            "season": self.season,
            "rest": self.rest,
            "dose": round(self.dose, 4),
            "dose_limit": round(self.dose_limit, 4),
            "wound_share": round(self.wound_share, 4),
            "hours": round(self.hours, 2),
            "why": self.why,
            "plan": None if self.plan is None else self.plan.to_dict(),
        }


@dataclass(frozen=True, slots=True)
class Target:
    """The crown aimed at, after the last season's cuts, beside the crown surveyed."""

    height_m: float
    spread_m: float
    leaf_m2: float
    height_now_m: float
    spread_now_m: float
    leaf_now_m2: float

    @property
    def words(self) -> str:
        """The target in one sentence."""
        return (
            f"From {self.height_now_m:.1f} m high, {self.spread_now_m:.1f} m wide and "
            f"{self.leaf_now_m2:.0f} m2 of leaf to {self.height_m:.1f} m, {self.spread_m:.1f} m "
            f"and {self.leaf_m2:.0f} m2."
        )

    def to_dict(self) -> dict[str, float]:
        """Return the target as plain numbers, units in the keys."""
        return {name: round(getattr(self, name), 3) for name in self.__dataclass_fields__}


@dataclass(frozen=True, slots=True)
class Forecast:
    """How far what the cuts were chosen by lies from the tree replayed.

    ``use_median, use_most``: share by which the utilisation of a section is off, over sections
    that carry something in some season; ``dose_most`` in shares of the crown.
    """

    use_median: float
    use_most: float
    dose_most: float

    def to_dict(self) -> dict[str, float]:
        """Return the shares as plain numbers."""
        return {name: round(getattr(self, name), 5) for name in self.__dataclass_fields__}


@dataclass(frozen=True)
class YearsPlan:
    """The best sequence of seasons for one tree.

    ``trajectory`` the ten years that follow, ``ways`` beside other ways (empty if not asked for),
    ``within`` the share of the best possible improvement that could still be missing.
    """

    tree: str
    species: str
    state: str
    seasons: tuple[SeasonOfYears, ...]
    trajectory: tuple[Year, ...]
    ways: tuple[Way, ...]
    target: Target
    forecast: Forecast
    rates: Rates
    station: StationRecord | None
    objective_h: float
    nothing_h: float
    bound_h: float
    within: float
    certificate: str
    cautions: tuple[str, ...]
    seconds: float

    def cards(self) -> list[tuple[Assessment, Plan, StationRecord | None]]:
        """Return what a cut card is made from, for each season that cuts."""
        return [
            (one.assessment, one.plan, self.station)
            for one in self.seasons
            if one.assessment is not None and one.plan is not None
        ]

    def to_dict(self) -> dict[str, Any]:
        """Return the plan as plain numbers, strings and lists, units in the keys."""
        return {
            "tree": self.tree,
            "species": self.species,
            "state": self.state,
            "seasons": [one.to_dict() for one in self.seasons],
            "trajectory": [one.to_dict() for one in self.trajectory],
            "ways": [one.to_dict() for one in self.ways],
            "target": self.target.to_dict(),
            "forecast": self.forecast.to_dict(),
            "rates": self.rates.to_dict(),
            "objective_h": round(self.objective_h, 4),
            "nothing_h": round(self.nothing_h, 4),
            "bound_h": round(self.bound_h, 4),
            "within": round(self.within, 5),
            "certificate": self.certificate,
            "cautions": list(self.cautions),
        }


def years_to_dict(plans: Iterable[YearsPlan]) -> dict[str, Any]:
    """Return plans under the published schema ``limbwright.years/1``."""
    return {"schema": SCHEMA, "trees": [one.to_dict() for one in plans]}


def years_schema() -> dict[str, Any]:
    """Return the JSON schema of `years_to_dict`."""
    text = files("limbwright.stages").joinpath("years.schema.json").read_text("utf-8")
    found: dict[str, Any] = json.loads(text)
    return found

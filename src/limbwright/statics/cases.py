"""The load cases a tree is judged under, and how often each is reached."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from limbwright.errors import InputError
from limbwright.statics.wind import probability_factor
from limbwright.trade.parameters import parameters

__all__ = ["GUST_BEARINGS_DEG", "CaseRule", "LoadCase", "case_rules", "chosen"]

GUST_BEARINGS_DEG = tuple(22.5 * k for k in range(16))
"""Bearings the wind blows from; 16 keep the worst direction within 2 % (cos 11.25 degrees)."""

COMPASS = (
    *("north", "north-north-east", "north-east", "east-north-east"),
    *("east", "east-south-east", "south-east", "south-south-east"),
    *("south", "south-south-west", "south-west", "west-south-west"),
    *("west", "west-north-west", "north-west", "north-north-west"),
)


@dataclass(frozen=True, slots=True)
class LoadCase:
    """One thing that happens to the tree.

    ``label`` ends a sentence ("it carries most in a heavy crop year"). ``hazard`` is ``weight``,
    ``crop``, ``gust-leaf``, ``gust-bare`` or ``snow``. ``duration_factor`` is the share of its
    short-test strength that wood keeps under a load of this length.
    """

    key: str
    label: str
    hazard: str
    duration_factor: float


@dataclass(frozen=True, slots=True)
class CaseRule:
    """A case with its place in the year: see `loads.Loads` for the last three."""

    case: LoadCase
    base: str
    median_share: float
    quantile: float
    bearing_deg: float = 0.0


@cache
def case_rules() -> tuple[CaseRule, ...]:
    """Return every case in the fixed order of the tool."""
    table = parameters("loads")

    def rule(
        key: str,
        label: str,
        hazard: str,
        base: str,
        share: float,
        quantile: float,
        bearing_deg: float = 0.0,
    ) -> CaseRule:
        lasting = "gust" if hazard.startswith("gust") else hazard
        case = LoadCase(key, label, hazard, table[f"duration.{lasting}"].value)
        return CaseRule(case, base, share, quantile, bearing_deg)

    def crop(kind: str, label: str, base: str, share: float) -> CaseRule:
        quantile = table[f"crop.{kind}_quantile"].value
        return rule(f"{kind}-crop", label, "crop", base, share, quantile)

    def fall(key: str, table_name: str, label: str) -> CaseRule:
        share = table[f"{table_name}.median_share"].value
        quantile = 1.0 - table[f"{table_name}.yearly_probability"].value
        return rule(key, label, "snow", "own-weight", share, quantile)

    gust_quantile = 1.0 - table["wind.gust_exceedance"].value
    median_pressure = probability_factor(0.5) ** 2
    gusts = [
        rule(
            f"{hazard}-{bearing:05.1f}",
            f"in a fifty-year gale from the {name}, {state}",
            hazard,
            base,
            median_pressure,
            gust_quantile,
            bearing,
        )
        for hazard, state, base in (
            ("gust-leaf", "in leaf", "light-crop"),
            ("gust-bare", "leafless", "own-weight"),
        )
        for bearing, name in zip(GUST_BEARINGS_DEG, COMPASS, strict=True)
    ]
    return (
        rule("own-weight", "under its own weight", "weight", "", 1.0, 1.0),
        crop("light", "in an ordinary crop year", "", 1.0),
        crop("heavy", "in a heavy crop year", "light-crop", 0.0),
        crop("extreme", "in an extreme crop year", "light-crop", 0.0),
        *gusts,
        fall("wet-snow", "snow", "under wet snow"),
        fall("ice", "ice", "under glaze ice"),
    )


def chosen(only: Sequence[str] | None) -> tuple[CaseRule, ...]:
    """Return the cases named by key or by hazard, in the fixed order; all for None.

    Raises
    ------
    InputError
        A name is not known, or none is given.
    """
    rules = case_rules()
    if only is None:
        return rules
    known = {name for rule in rules for name in (rule.case.key, rule.case.hazard)}
    short = ["own-weight", "light-crop", "heavy-crop", "extreme-crop", "wet-snow", "ice"]
    hazards = list(dict.fromkeys(rule.case.hazard for rule in rules))
    remedy = (
        f"Name load cases ({', '.join(short)}, gust-leaf-000.0 to gust-bare-337.5 by bearing) "
        f"or whole hazards ({', '.join(hazards)})."
    )
    unknown = [name for name in only if name not in known]
    if unknown:
        raise InputError(f"There is no load case {', '.join(map(repr, unknown))}.", remedy)
    if not only:
        raise InputError("No load case was named.", remedy)
    wanted = set(only)
    return tuple(r for r in rules if r.case.key in wanted or r.case.hazard in wanted)

"""The cautions that apply to one plan; all defer to local law and licensed people."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from functools import cache
from importlib.resources import files

from limbwright.cuts.disease import diseases_of
from limbwright.cuts.results import Cut
from limbwright.cuts.weights import Settings
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Skeleton, State, Union
from limbwright.trade.parameters import Parameter
from limbwright.trade.species import Species, window
from limbwright.trade.windows import nesting_months

__all__ = ["cautions"]

LEANING_DEG = 15.0  # judgement: a stem off the upright by more is seen to lean


@cache
def _texts() -> tuple[tuple[str, str], ...]:
    text = files("limbwright.trade").joinpath("data", "cautions.csv").read_text("utf-8")
    return tuple((row["when"], row["text"]) for row in csv.DictReader(text.splitlines()))


def cautions(
    skeleton: Skeleton,
    kind: Species,
    cuts: Sequence[Cut],
    station: StationRecord | None,
    settings: Settings,
    *,
    southern: bool = False,
) -> tuple[str, ...]:
    """Return the cautions whose occasion this tree and these cuts give, most general first."""
    record = "" if station is None else f"{station.features} {station.faults} {station.note}"
    words = " ".join([record, *(limb.note for limb in skeleton.limbs)]).lower()
    hollow = any(limb.cavity_wall_mm is not None for limb in skeleton.limbs)
    cracked = any(limb.union == Union.CRACKED for limb in skeleton.limbs)
    roost = any(
        w in words for w in ("cavity", "hollow", "crack", "loose bark", "ivy", "bat", "hole")
    )
    leaning = station is not None and (station.lean_deg or 0.0) >= LEANING_DEG
    months = set(window(kind, southern).months)
    occasions = {
        "always": True,
        "above_reach": any(c.height_m > settings["ground_reach"] for c in cuts),
        "chainsaw": any("chainsaw" in c.tool for c in cuts),
        "three_stages": any("three stages" in c.tool for c in cuts),
        "nesting": bool(months & set(nesting_months(southern))),
        "bats": hollow or cracked or roost,
        "stone": kind.group == "stone",
        "pome": kind.group == "pome",
        "diseased": any(limb.state == State.DISEASED for limb in skeleton.limbs)
        or bool(diseases_of(skeleton, station, kind)),
        "defect": hollow or cracked or leaning,
    }
    ill = {f"ill:{d.key}": d.margin_m for d in diseases_of(skeleton, station, kind)}
    return tuple(
        text.format(**_cm(ill[when])) if when in ill else text
        for when, text in _texts()
        if occasions.get(when, when in ill)
    )


def _cm(distance_m: Parameter) -> dict[str, str]:
    """Return a distance and its range as whole centimetres."""
    values = {"cm": distance_m.value, "low": distance_m.low, "high": distance_m.high}
    return {name: f"{100 * value:.0f}" for name, value in values.items()}

"""How far the weights decide: the demonstration planned with each weight halved and doubled.

Run: ``.venv/bin/python benchmarks/weights.py`` prints two tables for docs/method/cuts.md, the
cuts that change with each weight, and the doses of all trees without and with light.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from types import MappingProxyType

import numpy as np

from limbwright.cuts.plan import Plan, plan
from limbwright.cuts.weights import Settings
from limbwright.demo import make_holding
from limbwright.model.records import StationRecord
from limbwright.statics.assess import Assessment, assess
from limbwright.survey.build import build_skeleton
from limbwright.trade.parameters import parameters

SEASON = "winter 2026/27"
Tree = tuple[StationRecord, Assessment]


def trees() -> list[Tree]:
    """Return the trees of the demonstration, assessed."""
    holding = make_holding(1)
    return [
        (tree.station, assess(build_skeleton(tree)[0], holding.site)) for tree in holding.surveys()
    ]


def planned(held: Iterable[Tree], **overrides: float) -> list[Plan]:
    """Return the plans with some settings in place of the tables'."""
    settings = Settings(MappingProxyType(overrides))
    return [plan(one, station, season=SEASON, settings=settings) for station, one in held]


def cuts_of(plans: Iterable[Plan]) -> set[tuple[str, int]]:
    """Return the places of all cuts, by tree and segment."""
    return {(one.tree, cut.segment) for one in plans for cut in one.cuts}


def sensitivity(held: list[Tree], base: list[Plan]) -> None:
    """Print how many cuts each weight adds and drops, halved and doubled."""
    now = cuts_of(base)
    total = float(np.mean([p.dose for p in base]))
    print(f"{len(held)} trees, {len(now)} cuts, mean dose {100 * total:.1f} %\n")
    print("| weight | halved: dropped, new | mean dose | doubled: dropped, new | mean dose |")
    print("|---|---|---|---|---|")
    for name, one in parameters("weights").items():
        cells = [name]
        for factor in (0.5, 2.0):
            plans = planned(held, **{name: factor * one.value})
            other = cuts_of(plans)
            dose = 100.0 * float(np.mean([p.dose for p in plans]))
            cells += [f"{len(now - other)}, {len(other - now)}", f"{dose:.1f} %"]
        print("| " + " | ".join(cells) + " |")
        sys.stdout.flush()


def doses(held: list[Tree], base: list[Plan]) -> None:
    """Print the dose of each tree with light left out and with it, and what it lets in."""
    without = planned(held, light=0.0)
    print("\n| tree | light on what stays | dose without light | dose | allowed | held by |")
    print("|---|---|---|---|---|---|")
    for (station, _), old, new in zip(held, without, base, strict=True):
        before, after = 100 * new.light_before.mean, 100 * new.light_after.mean
        stops = new.binding[0].split(":")[0] if new.binding else "wound and work"
        print(
            f"| {station.station}, {new.state} {new.species} | {before:.0f} to {after:.0f} % | "
            f"{100 * old.dose:.0f} % | {100 * new.dose:.0f} % | {100 * new.dose_limit:.0f} % | "
            f"{stops} |"
        )
    lit = [p for p in base if p.light_gain_h > 0.0]
    off = [p.light_alone_h / p.light_gain_h - 1.0 for p in lit]
    print(
        f"\n{len(lit)} plans lit: single cuts add up to {100 * float(np.mean(off)):+.1f} % of what "
        f"all give together ({100 * min(off):+.1f} to {100 * max(off):+.1f} %)"
    )


if __name__ == "__main__":
    demo = trees()
    first = planned(demo)
    if "--doses" not in sys.argv:
        sensitivity(demo, first)
    doses(demo, first)

"""An invented holding of any size for the reports: needs, plans and records, all made up."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np

from limbwright.model import CutDone, Holding, Orchard, Photo, Response, Site, StationRecord, Visit
from limbwright.needs.need import needs
from limbwright.report.holding_report import HoldingReport

__all__ = ["MARK", "first_season", "invented_report", "invented_stations"]

MARK = "invented example"
ORCHARDS = ("Tump Orchard", "Far Leasow", "Pound Close")
TODAY = date(2026, 11, 28)
first_season = {"pome": "winter 2026-27", "stone": "summer 2027"}
KINDS = ("apple", "apple", "apple", "perry pear", "pear", "plum", "damson", "cherry", "gage")
STATES = ("good", "fair", "fair", "poor")
FEATURES = ("", "", "", "rot hole", "ivy", "mistletoe: 9 clumps", "loose bark", "dead limb")
FAULTS = ("", "", "", "canker", "congested", "crossing limbs", "long heavy limb", "included fork")


def invented_stations(count: int, seed: int = 3) -> tuple[StationRecord, ...]:
    """Return stations of three orchards of all ages and kinds, the same for the same seed."""
    rng = np.random.default_rng(seed)
    out = []
    for k in range(count):
        at = k * len(ORCHARDS) // count
        row, column = divmod(k - at * count // len(ORCHARDS), 8)
        status = str(rng.choice(("living", "living", "living", "living", "new", "gap", "dead")))
        planted = {"new": 2023, "gap": None}.get(status, int(rng.integers(1890, 2015)))
        one = StationRecord(
            station=str(k + 1),
            orchard=ORCHARDS[at],
            x=150.0 * at + 9.5 * column + float(rng.uniform(-0.5, 0.5)),
            y=9.5 * row + float(rng.uniform(-0.5, 0.5)),
            status=status,
            planted=planted,
            note=MARK,
        )
        if status == "gap":
            out.append(one)
            continue
        young = status == "new"
        one = replace(
            one,
            species=str(rng.choice(KINDS)),
            cultivar=str(rng.choice(("", "Marl Russet", "Old Leasow", "unknown"))),
            girth_cm=float(rng.integers(12, 20) if young else rng.integers(60, 240)),
            height_m=float(rng.integers(2, 4) if young else rng.integers(4, 12)),
            spread_ns_m=None if young else float(rng.integers(3, 11)),
            clear_stem_m=1.8,
            condition="" if status == "dead" else str(rng.choice(STATES)),
            extension_cm=None if rng.random() < 0.3 else float(rng.integers(4, 60)),
            dead_pct=float(rng.integers(0, 30)),
            features=str(rng.choice(FEATURES)),
            faults=str(rng.choice(FAULTS)),
        )
        out.append(one)
    return tuple(out)


def invented_holding() -> Holding:
    """Return the holding the stations belong to."""
    return Holding(
        name="Cinder Batch",
        owner="An invented owner",
        site=Site(name="an invented place"),
        aims=("Keep the old trees standing", "Fruit for a press", "Wildlife in the dead wood"),
        marked=MARK,
        orchards=(
            Orchard("Tump Orchard", grazed_by="sheep", access="by the lower gate"),
            Orchard("Far Leasow", grazed_by="cattle"),
            Orchard("Pound Close", people_below=True),
        ),
    )


def invented_report(count: int = 12, **changes: object) -> HoldingReport:
    """Return a report on so many invented stations."""
    holding = invented_holding()
    stations = invented_stations(count)
    found = needs(
        stations,
        year=2027,
        orchards={one.name: one for one in holding.orchards},
        site=holding.site,
    )
    report = HoldingReport(
        holding=holding,
        stations=stations,
        needs=found,
        first_season=first_season,
        made_on=TODAY,
        who="An invented adviser",
    )
    return replace(report, **changes)  # type: ignore[arg-type]


def a_visit(tree: str, **changes: object) -> Visit:
    """Return one invented visit."""
    done = Visit(
        tree=tree,
        season="winter 2026-27",
        done_on=date(2027, 1, 20),
        who="An invented crew",
        hours=3.0,
        brash_hours=1.5,
        cuts=(CutDone(1, "a"), CutDone(2, "b", done="no")),
        found="a nest box",
    )
    return replace(done, **changes)  # type: ignore[arg-type]


def a_photo(tree: str, file: str, shows: str) -> Photo:
    """Return one invented photo."""
    return Photo(tree, file, date(2027, 1, 20), shows, 90.0)


def a_response(tree: str, **changes: object) -> Response:
    """Return what was invented to have been seen after."""
    seen = Response(tree=tree, seen_on=date(2027, 9, 1), shoots=14, condition="fair")
    return replace(seen, **changes)  # type: ignore[arg-type]

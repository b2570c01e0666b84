"""Time what a walk costs to judge: needs, their order, the worth of the tape, a day's dozen.

Run: ``python benchmarks/needs.py``. Stations are drawn at random with the words surveyors use; no
two notes are alike, which is the worst case, since notes read once are remembered. The floor is
what cannot be left out: the notes heard by the trade's phrasebook, the forecast of all trees as
one product of matrices, and as many judgements made as each need holds. Times are of the
processor, best of three.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from limbwright.model import StationRecord
from limbwright.needs import walk
from limbwright.needs.day import pick_day
from limbwright.needs.features import FEATURES
from limbwright.needs.judgement import Judgement
from limbwright.needs.need import needs
from limbwright.needs.order import rank
from limbwright.needs.tape import tape_value

KINDS = ("apple", "pear", "perry-pear", "plum", "damson", "cherry")
FAULTS = ("", "", "crack", "canker", "congested middle", "long heavy limb", "hollow stem", "leans")
JUDGEMENTS = 9
"""Judgements of one need."""


def stations(count: int) -> list[StationRecord]:
    """Return invented stations, a tenth of them gaps."""
    rng = np.random.default_rng(0)
    found = []
    for k in range(count):
        words = f"{rng.choice(FAULTS)}; {rng.choice(FAULTS)}, seen from side {k}"
        found.append(
            StationRecord(
                str(k),
                orchard=f"Orchard {k // 100}",
                species=str(rng.choice(KINDS)),
                cultivar=f"Cultivar {int(rng.integers(60))}",
                x=float(rng.uniform(0.0, 300.0)) + 400.0 * (k // 100),
                y=float(rng.uniform(0.0, 300.0)),
                status="gap" if rng.random() < 0.1 else "living",
                girth_cm=float(rng.uniform(60.0, 190.0)),
                height_m=float(rng.uniform(4.0, 10.0)),
                spread_ns_m=float(rng.uniform(4.0, 11.0)),
                condition=str(rng.choice(("good", "fair", "poor"))),
                dead_pct=float(rng.integers(0, 12) * 5),
                faults=words,
            )
        )
    return found


def seconds(work: Callable[[], object]) -> float:
    """Return the shortest of three times of the processor, notes forgotten before each."""
    times = []
    for _ in range(3):
        walk._signs.cache_clear()
        walk.homes_in.cache_clear()
        began = time.process_time()
        work()
        times.append(time.process_time() - began)
    return min(times)


def floor(all_of: list[StationRecord]) -> None:
    """Do what cannot be left out."""
    book = walk._book()
    for one in all_of:
        book.heard(one.faults)
    np.ones((5, len(FEATURES))) @ np.ones((len(FEATURES), len(all_of)))
    [Judgement(1.0, "because", 0.5, 0.0, 1.0, "source") for _ in range(JUDGEMENTS * len(all_of))]


def main() -> None:
    """Print the times."""
    for count in (1_000, 10_000):
        made = stations(count)
        needs(made[:10], year=2026)  # tables read
        least = seconds(lambda m=made: floor(m))  # type: ignore[misc]
        whole = seconds(lambda m=made: rank(needs(m, year=2026)))  # type: ignore[misc]
        taped = seconds(lambda m=made: pick_day(tape_value(m, year=2026)))  # type: ignore[misc]
        print(
            f"{count:>6} stations: needs in order {whole:.2f} s, tape and a day {taped:.2f} s; "
            f"floor {least:.2f} s, ratios {whole / least:.1f} and {taped / least:.1f}"
        )


if __name__ == "__main__":
    main()

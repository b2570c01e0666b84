"""Invented stations that were only walked past: what two minutes at each of them tell."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from limbwright.demo.names import FRUIT_NAMES, MARK, NAMELESS
from limbwright.model import StationRecord

__all__ = ["WALKED_PAST", "WalkedPast", "walk_past"]

Pair = tuple[float, float]
LAST_YEAR = 2026
"""The year of the last walk."""


@dataclass(frozen=True, slots=True)
class WalkedPast:
    """How one kind of station is drawn. All values are judgement.

    Pairs are the least and the most. ``faults`` and ``features`` are words of which each tree gets
    one entry; ``blank`` are fields that nobody took. ``keen`` scales height and spread.
    """

    status: str = "living"
    girth_cm: Pair = (105.0, 170.0)
    planted: tuple[int, int] = (1905, 1955)
    condition: str = "fair"
    extension_cm: Pair = (10.0, 25.0)
    dead_pct: Pair = (2.0, 10.0)
    lean_deg: float = 0.0
    features: tuple[str, ...] = ("",)
    faults: tuple[str, ...] = ("",)
    blank: tuple[str, ...] = ()
    keen: float = 1.0
    note: str = ""


WALKED_PAST: dict[str, WalkedPast] = {
    "gap": WalkedPast("gap"),
    "stump": WalkedPast("stump"),
    "ordinary": WalkedPast(
        features=("", "", "", "lichens", "starlings in a hole"),
        faults=("", "", "watershoots", "rubbing limbs"),
    ),
    "congested": WalkedPast(
        extension_cm=(14.0, 30.0),
        dead_pct=(5.0, 15.0),
        faults=("congested middle; watershoots", "thicket of watershoots; rubbing limbs"),
    ),
    "top-heavy": WalkedPast(
        faults=("long heavy limbs", "overlong limb to the east; bark in a union"),
        dead_pct=(4.0, 12.0),
    ),
    "leaning": WalkedPast(lean_deg=19.0, faults=("leans; long heavy limbs",)),
    "split": WalkedPast(
        girth_cm=(125.0, 175.0), faults=("crack below a main union; overlong limb",)
    ),
    "heaving": WalkedPast(
        girth_cm=(150.0, 200.0), lean_deg=24.0, faults=("root plate lifting; leans",)
    ),
    "hollow": WalkedPast(
        girth_cm=(140.0, 190.0),
        condition="poor",
        extension_cm=(5.0, 10.0),
        dead_pct=(12.0, 25.0),
        features=("hollow stem; woodpecker hole", "hollow stem; bats seen at a hole"),
        faults=("hollow stem",),
    ),
    "veteran": WalkedPast(
        girth_cm=(200.0, 260.0),
        planted=(1840, 1885),
        condition="poor",
        extension_cm=(4.0, 8.0),
        dead_pct=(20.0, 29.0),
        features=("veteran; hollow stem; rot holes; loose bark", "veteran; frass; bracket fungus"),
        faults=("dying back from the top",),
        keen=0.85,
    ),
    "fallen": WalkedPast(
        girth_cm=(180.0, 220.0),
        planted=(1850, 1890),
        extension_cm=(8.0, 14.0),
        dead_pct=(10.0, 20.0),
        features=("fallen and living; wood mould",),
        blank=("lean_deg",),
        keen=0.45,
    ),
    "mistletoe": WalkedPast(
        extension_cm=(8.0, 16.0),
        features=("mistletoe, some 12 clumps", "mistletoe, 5 clumps; lichens"),
        faults=("", "congested middle"),
        dead_pct=(5.0, 12.0),
    ),
    "cankered": WalkedPast(
        condition="poor",
        extension_cm=(5.0, 9.0),
        dead_pct=(15.0, 25.0),
        faults=("canker on two limbs", "canker; broken limb hanging"),
    ),
    "scabby": WalkedPast(faults=("scab; dense crown",), extension_cm=(12.0, 20.0)),
    "blighted": WalkedPast(
        condition="poor",
        extension_cm=(6.0, 12.0),
        dead_pct=(12.0, 20.0),
        faults=("fire blight suspected: shepherd's crooks",),
    ),
    "silvered": WalkedPast(
        condition="poor",
        extension_cm=(5.0, 10.0),
        dead_pct=(12.0, 28.0),
        faults=("silver leaf", "silver leaf; bracket fungus on a dead limb"),
    ),
    "gumming": WalkedPast(
        condition="poor", dead_pct=(8.0, 18.0), faults=("bacterial canker; gumming at forks",)
    ),
    "torn": WalkedPast(
        condition="poor", dead_pct=(8.0, 15.0), faults=("hanging broken limb; crack in a union",)
    ),
    "dying": WalkedPast(
        girth_cm=(130.0, 170.0),
        condition="poor",
        extension_cm=(1.0, 4.0),
        dead_pct=(65.0, 80.0),
        features=("rot holes; bracket fungus",),
        faults=("dying",),
    ),
    "barely noted": WalkedPast(
        blank=("girth_cm", "girth_at_m", "spread_ns_m", "spread_ew_m", "planted", "extension_cm"),
        note="nettles all round, to be walked again",
    ),
    "nameless": WalkedPast(
        condition="poor", extension_cm=(5.0, 9.0), dead_pct=(15.0, 25.0), faults=("dying back",)
    ),
    "middle-aged": WalkedPast(
        girth_cm=(62.0, 95.0),
        planted=(1975, 1995),
        condition="good",
        extension_cm=(20.0, 38.0),
        dead_pct=(0.0, 3.0),
        faults=("", "", "crossing limbs", "watershoots"),
    ),
    "kept": WalkedPast(
        girth_cm=(90.0, 140.0),
        planted=(1930, 1965),
        condition="good",
        extension_cm=(18.0, 30.0),
        dead_pct=(0.0, 2.0),
        note="pruned yearly",
    ),
    "planted last winter": WalkedPast(
        "new",
        girth_cm=(6.0, 9.0),
        planted=(LAST_YEAR, LAST_YEAR),
        condition="good",
        extension_cm=(8.0, 30.0),
        dead_pct=(0.0, 0.0),
        faults=("", "", "tie tight", "guard broken"),
        note="staked and guarded",
    ),
    "dead": WalkedPast(
        "dead",
        girth_cm=(110.0, 160.0),
        condition="dead",
        features=("rot holes; woodpecker hole", "loose bark; dead wood"),
        blank=("extension_cm", "dead_pct"),
    ),
}
"""The kinds of station; trees in their forming years are drawn in `limbwright.demo.forming`."""

SMALLER = {"plum": 0.72, "damson": 0.66, "gage": 0.7, "cherry": 1.0}
"""Girth of stone fruit beside that of a standard apple of its age; judgement."""
TALL = {"perry pear": 1.3, "pear": 1.2, "cherry": 1.15}
WIDE = {"perry pear": 0.95, "pear": 0.8}
HEIGHT_M, HEIGHT_POWER = 6.2, 0.6
SPREAD_M, SPREAD_POWER = 6.4, 0.7
"""Height and spread of a standard apple of one metre girth, and how they go with girth; judgement,
near what the taped trees of the demo come to."""


def walk_past(
    rng: np.random.Generator, bare: StationRecord, species: str, story: str
) -> StationRecord:
    """Return a station as a walk finds it, with what its story says of it."""
    kind = WALKED_PAST[story]
    if not species:
        return replace(bare, status=kind.status)

    def between(pair: Pair) -> float:
        return float(rng.uniform(*pair))

    girth = round(between(kind.girth_cm) * SMALLER.get(species, 1.0))
    height = HEIGHT_M * (girth / 100.0) ** HEIGHT_POWER * TALL.get(species, 1.0) * kind.keen
    spread = SPREAD_M * (girth / 100.0) ** SPREAD_POWER * WIDE.get(species, 1.0)
    clear = 1.5 if species in ("plum", "damson", "gage") else 1.9
    names = NAMELESS if story == "nameless" else FRUIT_NAMES[species]
    found = replace(
        bare,
        species=species,
        cultivar=str(rng.choice(names)),
        status=kind.status,
        planted=int(rng.integers(kind.planted[0], kind.planted[1] + 1)),
        form="standard",
        stock="" if species == "damson" else "seedling",
        girth_cm=float(girth),
        girth_at_m=1.0,
        height_m=_half(height * between((0.88, 1.12))),
        spread_ns_m=_half(spread * between((0.85, 1.15))),
        spread_ew_m=_half(spread * between((0.85, 1.15))),
        clear_stem_m=round(clear + between((-0.2, 0.3)), 1),
        lean_deg=kind.lean_deg,
        lean_bearing_deg=5.0 * round(between((40.0, 80.0)) / 5.0) if kind.lean_deg else None,
        condition=kind.condition,
        extension_cm=float(round(between(kind.extension_cm))),
        dead_pct=float(round(between(kind.dead_pct))),
        features=str(rng.choice(kind.features)),
        faults=str(rng.choice(kind.faults)),
        note=f"{kind.note}; {MARK}" if kind.note else MARK,
    )
    if found.height_m is not None and (found.clear_stem_m or 0.0) > 0.6 * found.height_m:
        found = replace(found, clear_stem_m=round(0.5 * found.height_m, 1))
    blanks = dict.fromkeys(kind.blank)
    return replace(found, **blanks)  # type: ignore[arg-type]


def _half(metres: float) -> float:
    """Return metres to the nearest half, as a pole is read, at least half a metre."""
    return max(round(2.0 * metres) / 2.0, 0.5)

"""An invented tree and plan with the attribute names the real ones bear."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import numpy as np

from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Bools, Floats, Limb, Skeleton

LABELS = ("S1", "S2", "S3", "S4", "S1.1", "S1.2", "S2.1", "S2.2", "S3.1", "S4.1")


@dataclass
class _Growing:
    parent: list[int] = field(default_factory=list)
    start: list[Floats] = field(default_factory=list)
    end: list[Floats] = field(default_factory=list)
    d0: list[float] = field(default_factory=list)
    d1: list[float] = field(default_factory=list)
    limb: list[int] = field(default_factory=list)
    surveyed: list[bool] = field(default_factory=list)
    limbs: list[Limb] = field(default_factory=list)

    def grow(
        self,
        label: str,
        parent_limb: int,
        on: int,
        bearing: float,
        rise: float,
        length: float,
        mm: float,
        pieces: int = 4,
        surveyed: bool = True,
        bend: float = 4.0,
    ) -> list[int]:
        """Grow a limb from the end of segment ``on`` and return its segments."""
        at = self.end[on] if on >= 0 else np.zeros(3)
        index, rows = len(self.limbs), []
        self.limbs.append(
            Limb(label, parent_limb, len(self.parent), 1.0, mm, length, bearing, rise)
        )
        for k in range(pieces):
            b, r = np.radians(bearing), np.radians(rise + bend * k)
            step = length / pieces * np.array(
                [np.sin(b) * np.cos(r), np.cos(b) * np.cos(r), np.sin(r)]
            )
            self.parent.append(on)
            self.start.append(at)
            self.end.append(at + step)
            self.d0.append(mm * (1.0 - 0.6 * k / pieces))
            self.d1.append(mm * (1.0 - 0.6 * (k + 1) / pieces))
            self.limb.append(index)
            self.surveyed.append(surveyed)
            on, at = len(self.parent) - 1, at + step
            rows.append(on)
        return rows


def fake_skeleton(tree: str = "Kiln Piece/12", labels: tuple[str, ...] = LABELS) -> Skeleton:
    """Return an invented old apple: a stem, ten named limbs and derived twigs on them."""
    g = _Growing()
    rng = np.random.default_rng(5)
    stem = g.grow("stem", -1, -1, 30.0, 88.0, 2.1, 420.0, 4, bend=0.0)
    scaffold = []
    for k, (bearing, rise, length, mm) in enumerate(
        ((20.0, 40.0, 3.4, 190.0), (125.0, 32.0, 4.1, 205.0), (215.0, 55.0, 3.0, 150.0),
         (300.0, 35.0, 3.5, 175.0))
    ):
        scaffold.append(g.grow(labels[k], 0, stem[-1 - (k % 2)], bearing, rise, length, mm, 5))
    limbs = list(scaffold)
    for k, (on, turn, rise, length, mm) in enumerate(
        ((0, -50.0, 50.0, 1.9, 80.0), (0, 45.0, 25.0, 1.6, 75.0), (1, -55.0, 62.0, 2.2, 95.0),
         (1, 40.0, 20.0, 1.7, 70.0), (2, 60.0, 60.0, 1.5, 60.0), (3, 50.0, 45.0, 2.0, 85.0)), 4
    ):
        base = scaffold[on][1 + k % 3]
        bearing = float(g.limbs[g.limb[base]].bearing_deg + turn)
        limbs.append(g.grow(labels[k], g.limb[base], base, bearing, rise, length, mm, 4))
    for rows in limbs:
        for on in rows:
            for _ in range(3):
                g.grow("", g.limb[on], on, rng.uniform(0, 360), rng.uniform(10, 80),
                       rng.uniform(0.3, 0.9), 14.0, 3, surveyed=False)
    return Skeleton.build(
        tree=tree, species="apple", parent=g.parent, start_m=np.array(g.start),
        end_m=np.array(g.end), start_diameter_mm=np.array(g.d0), end_diameter_mm=np.array(g.d1),
        limb=g.limb, limbs=g.limbs, surveyed=np.array(g.surveyed),
    )


def fake_cut(s: Skeleton, order: int, limb: int, kind: str = "remove", along: int = 0,
             **other: Any) -> SimpleNamespace:
    """Return a cut on a limb of the skeleton, at the base of its segment number ``along``."""
    i = int(np.flatnonzero(s.limb == limb)[along])
    x, y, z = s.start_m[i].tolist()
    values: dict[str, Any] = {
        "order": order, "cut": kind, "limb": s.limbs[limb].label, "segment": i, "at_m": 0.4 * along,
        "height_m": z, "diameter_mm": float(s.start_diameter_mm[i]),
        "bearing_deg": float(np.degrees(np.arctan2(x, y)) % 360.0), "piece_kg": 11.5 * order,
        "piece_length_m": 1.9, "dose": 0.04, "wound_area_cm2": 44.0,
        "to_lateral": "" if kind == "remove" else "to an upright lateral 35 mm thick",
        "tool": "pruning saw, three-legged ladder, cut in three stages, undercut first",
        "hours": 0.4,
        "reason": f"Its union number {order} bears 82 % of its strength in a heavy crop year, and "
        "it fills the centre.",
        "effect": "Left undone, limb S2 stays at 82 % of its strength.",
        "point_m": (x, y, z),
    }
    return SimpleNamespace(**(values | other))


def fake_plan(s: Skeleton, cuts: list[SimpleNamespace], **other: Any) -> SimpleNamespace:
    """Return a plan of the given cuts."""
    gone: Bools = np.zeros(s.n, dtype=np.bool_)
    for cut in cuts:
        gone[s.in_subtree(cut.segment)] = True
    values: dict[str, Any] = {
        "tree": s.tree, "season": "winter 2026-27", "species": "apple", "state": "neglected",
        "dose": 0.137, "dose_limit": 0.2, "wound_share": 0.11, "wound_limit": 0.25,
        "binding": ("dose",), "cuts": tuple(cuts), "left": (
            SimpleNamespace(limb="S4.1", cut="shorten", why="next in worth, but the dose is spent"),
            SimpleNamespace(limb="S1.2", cut="remove", why="waits until the crown has answered"),
        ),
        "keep": (("S3", "carries the only young growth low down"),
                 ("stem", "woodpecker hole on the south side")),
        "cautions": (
            "Look for power and telephone lines within fall distance; if any are near, stop and "
            "ask the operator of the line.",
            "Work at height: first plan to do it from the ground; a three-legged ladder stands on "
            "firm ground and its top rungs stay empty.",
        ),
        "window": "November to March, on a dry day without hard frost.", "hours": 2.35,
        "objective_h": 4.2, "bound_h": 4.19, "within": 0.004,
        "certificate": "No other set of cuts within these limits is more than 0.4 % better.",
        "summary": "Four cuts take the weight off limb S2.", "before": (), "after": (),
        "chance_before": 0.083, "chance_after": 0.021, "gone": gone, "next_best": (), "lesser": (),
    }
    return SimpleNamespace(**(values | other))


def fake_item(tree: str = "Kiln Piece/12", labels: tuple[str, ...] = LABELS, n_cuts: int = 4,
              **other: Any) -> tuple[Any, Any, StationRecord]:
    """Return an invented (assessment, plan, station) with up to eight cuts."""
    s = fake_skeleton(tree, labels)
    where = [(7, "remove", 0), (5, "remove", 0), (2, "shorten", 3), (4, "shorten", 3),
             (10, "remove", 0), (1, "shorten", 3), (8, "remove", 0), (3, "shorten", 3)]
    cuts = [fake_cut(s, k + 1, limb, kind, a) for k, (limb, kind, a) in enumerate(where[:n_cuts])]
    used = np.linspace(0.95, 0.15, s.n)[None, :] * np.where(s.limb == 2, 1.0, 0.6)[None, :]
    assessment = SimpleNamespace(skeleton=s, utilisation=used)
    station = StationRecord(station="12", orchard="Kiln Piece", species="apple",
                            cultivar="Ashmead's Kernel")
    return assessment, fake_plan(s, cuts, **other), station

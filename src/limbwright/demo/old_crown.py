"""Grow an invented old standard tree as a surveyor would tape it.

Not a growth model: a way to draw crowns that look and weigh like neglected ones. Ranges are
judgement unless a source stands beside them; lengths follow the apple and cherry allometry
re-computed from the open data of Brym & Ernest 2018 (PeerJ 6:4949).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from limbwright.demo.axes import limb_axes, radius_m, rubbing_pairs
from limbwright.demo.story import Story
from limbwright.model import LimbRecord
from limbwright.model.skeleton import Floats

__all__ = ["Grown", "grow"]

SUM_OF_SQUARES = 0.92
"""Sum of the limbs' squared diameters over the stem's; Brym & Ernest 2018 data: 0.94 and 0.89."""

NEGLECT = 1.3
"""Length of an unpruned limb over that of a pruned one of the same thickness; judgement, as the
source says that neglected crowns carry more than its managed trees."""

STONE = frozenset({"plum", "damson", "gage", "cherry"})
LEADER = frozenset({"pear", "perry pear"})


@dataclass(frozen=True, slots=True)
class Grown:
    """An invented tree: its limbs, and the height and spreads its axes have [m]."""

    limbs: tuple[LimbRecord, ...]
    height_m: float
    spread_ns_m: float
    spread_ew_m: float


class _Crown:
    """Limbs of one tree while it is being drawn."""

    def __init__(self, rng: np.random.Generator, station: str, story: Story) -> None:
        self.rng = rng
        self.station = station
        self.story = story
        self.limbs: list[LimbRecord] = []

    def between(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def at(self, label: str) -> int:
        return next(i for i, one in enumerate(self.limbs) if one.limb == label)

    def here_mm(self, label: str, at_m: float) -> float:
        """Diameter of a limb at a distance from its base, as it tapers evenly [mm]."""
        limb = self.limbs[self.at(label)]
        radii = radius_m(limb)
        along = np.linspace(0.0, limb.length_m, radii.size)
        return 2000.0 * float(np.interp(at_m, along, radii))

    def change(self, label: str, **values: object) -> None:
        i = self.at(label)
        self.limbs[i] = replace(self.limbs[i], **values)  # type: ignore[arg-type]

    def say(self, label: str, words: str) -> None:
        note = self.limbs[self.at(label)].note
        self.change(label, note=f"{note}, {words}" if note else words)

    def add(
        self,
        label: str,
        parent: str,
        at_m: float,
        diameter_mm: float,
        length_m: float,
        bearing_deg: float,
        rise_deg: float,
        end_rise_deg: float,
        crown: float,
        note: str = "",
    ) -> str:
        """Add a limb with its values rounded as a tape and compass give them."""
        parent_limb = self.limbs[self.at(parent)]
        at = min(round(at_m, 1), parent_limb.length_m)
        thickest = 0.85 * self.here_mm(parent, at)
        diameter = max(5.0 * round(min(diameter_mm, thickest) / 5.0), 20.0)
        self.limbs.append(
            LimbRecord(
                station=self.station,
                limb=label,
                parent=parent,
                diameter_mm=diameter,
                length_m=max(round(length_m, 1), 0.6),
                at_m=at,
                bearing_deg=5.0 * round((bearing_deg % 360.0) / 5.0) % 360.0,
                rise_deg=5.0 * round(rise_deg / 5.0),
                end_rise_deg=5.0 * round(end_rise_deg / 5.0),
                crown=min(round(2.0 * crown) / 2.0, 3.0),
                note=note,
            )
        )
        return label


def limb_length_m(species: str, diameter_mm: float) -> float:
    """Return the usual length of a limb [m]: Brym & Ernest 2018 data, over-bark diameter."""
    d_cm = diameter_mm / 10.0
    return float(0.51 * d_cm**0.769 if species in STONE else 0.44 * d_cm**0.732)


def grow(rng: np.random.Generator, station: str, species: str, story: Story) -> Grown:
    """Return an invented tree of a species with a story."""
    tree = _Crown(rng, station, story)
    scaffolds = _frame(tree, species)
    _laterals(tree, species, scaffolds)
    _watershoots(tree, scaffolds)
    _crossing(tree, scaffolds)
    _events(tree, scaffolds)
    limbs = _told_rubs(tree.limbs)
    span = np.concatenate(list(limb_axes(limbs).values()))
    wide: Floats = span.max(axis=0) - span.min(axis=0)
    return Grown(limbs, float(span[:, 2].max()), float(wide[1]), float(wide[0]))


def _frame(tree: _Crown, species: str) -> list[str]:
    """Draw the stem and the scaffold limbs; return the labels of the scaffold limbs."""
    story = tree.story
    girth_cm = round(tree.between(*story.girth_cm))
    stem_mm = 5.0 * round(10.0 * girth_cm / np.pi / 5.0)
    clear_m = round(tree.between(1.6, 2.2), 1)
    count = int(tree.rng.integers(story.scaffolds[0], story.scaffolds[1] + 1))
    leader = species in LEADER and story.kind != "veteran"
    rise_m = tree.between(1.6, 2.6) if leader else tree.between(0.3, 0.7)
    stem_m = round(clear_m + rise_m + (3.5 if leader else 0.0), 1)
    tree.limbs.append(
        LimbRecord(
            station=tree.station,
            limb="stem",
            parent="",
            diameter_mm=stem_mm,
            length_m=stem_m,
            end_diameter_mm=None if leader else 5.0 * round(0.92 * stem_mm / 5.0),
            bearing_deg=story.lean_bearing_deg,
            rise_deg=90.0 - story.lean_deg,
            end_rise_deg=90.0 - 0.5 * story.lean_deg // 5.0 * 5.0,
            crown=2.0 if leader else 0.0,
            note="leader to the top" if leader else "",
        )
    )
    share = tree.rng.uniform(0.6, 1.4, size=count)
    ratio = np.sqrt(SUM_OF_SQUARES * share / share.sum())
    ratio = np.clip(ratio, 0.40 if leader else 0.30, 0.75)
    turn = tree.between(0.0, 360.0)
    labels: list[str] = []
    for k in range(count):
        at = clear_m + rise_m * k / max(count - 1, 1)
        diameter = float(ratio[k]) * tree.here_mm("stem", at)
        length = limb_length_m(species, diameter) * NEGLECT * story.reach
        rise = tree.between(35.0, 70.0) if k % 2 else tree.between(30.0, 50.0)
        tree.add(
            chr(ord("A") + k),
            "stem",
            at,
            diameter,
            length * tree.between(0.85, 1.25),
            turn + 137.5 * k + tree.between(-20.0, 20.0),
            rise,
            rise - tree.between(10.0, 40.0),
            tree.between(1.5, 2.5) * story.leaf,
        )
        labels.append(chr(ord("A") + k))
    return labels


def _laterals(tree: _Crown, species: str, scaffolds: list[str]) -> None:
    """Give every scaffold limb its limbs, most of them towards its end: top-heavy crowns."""
    story = tree.story
    room = story.most_limbs - len(tree.limbs) - story.watershoots - story.crossing
    each = [1] * len(scaffolds)
    for _ in range(max(room - len(scaffolds), 0)):
        k = int(tree.rng.integers(len(scaffolds)))
        each[k] = min(each[k] + 1, 4)
    for label, count in zip(scaffolds, each, strict=True):
        limb = tree.limbs[tree.at(label)]
        bearing, rise = limb.bearing_deg or 0.0, limb.rise_deg or 0.0
        for j in range(count):
            at = limb.length_m * tree.between(0.30 + 0.4 * j / count, 0.45 + 0.4 * j / count)
            diameter = tree.here_mm(label, at) * tree.between(0.45, 0.75) * story.sturdy
            side = 1.0 if j % 2 else -1.0
            new_rise = rise - tree.between(0.0, 35.0)
            tree.add(
                f"{label}{j + 1}",
                label,
                at,
                diameter,
                limb_length_m(species, diameter)
                * NEGLECT
                * tree.between(0.85, 1.35)
                / story.sturdy**2,
                bearing + side * tree.between(30.0, 70.0),
                new_rise,
                new_rise - tree.between(5.0, 35.0),
                tree.between(1.5, 3.0) * story.leaf,
            )


def _watershoots(tree: _Crown, scaffolds: list[str]) -> None:
    """Add upright limbs, once watershoots, that fill the middle of the crown."""
    for k in range(tree.story.watershoots):
        label = scaffolds[k % len(scaffolds)]
        limb = tree.limbs[tree.at(label)]
        at = limb.length_m * tree.between(0.2, 0.45)
        tree.add(
            f"{label}w{k // len(scaffolds) + 1}",
            label,
            at,
            tree.between(40.0, 75.0),
            tree.between(2.0, 3.6),
            (limb.bearing_deg or 0.0) + 180.0 + tree.between(-50.0, 50.0),
            tree.between(70.0, 85.0),
            tree.between(65.0, 85.0),
            tree.between(1.5, 2.5),
            "upright, once a watershoot, across the middle",
        )


def _crossing(tree: _Crown, scaffolds: list[str]) -> None:
    """Add limbs aimed at another scaffold limb, kept where, once taped, they really touch it."""
    if len(scaffolds) < 2:
        return
    for k in range(tree.story.crossing):
        home = scaffolds[(2 * k) % len(scaffolds)]
        label = f"{home}x{k + 1}"
        for _ in range(60):
            other = str(tree.rng.choice([s for s in scaffolds if s != home]))
            axes = limb_axes(tree.limbs)
            start, end = int(tree.rng.integers(6, 14)), int(tree.rng.integers(8, 20))
            way = axes[other][end] - axes[home][start]
            far = float(np.linalg.norm(way))
            rise = float(np.degrees(np.arcsin(way[2] / far)))
            length = tree.limbs[tree.at(home)].length_m
            if not 0.8 < far < 3.5 or rise > 80.0:
                continue
            tree.add(
                label,
                home,
                length * start / 24.0,
                tree.between(45.0, 90.0),
                far + tree.between(0.6, 1.2),
                float(np.degrees(np.arctan2(way[0], way[1]))),
                rise,
                rise,
                tree.between(1.0, 2.5),
            )
            if any({label, other} == {a, b} for _, a, b in rubbing_pairs(tree.limbs, label)):
                tree.say(label, f"grows across the crown against {other}")
                break
            tree.limbs.pop()


def _events(tree: _Crown, scaffolds: list[str]) -> None:
    """Let the tree's story happen to its limbs."""
    story = tree.story
    by_weight = sorted(scaffolds, key=lambda s: -tree.limbs[tree.at(s)].diameter_mm)
    small = [one.limb for one in tree.limbs if len(one.limb) == 2 and one.limb[1].isdigit()]
    order = [str(one) for one in tree.rng.permutation(small)]
    if story.heavy_arm:
        _heavy_arm(tree, by_weight[0])
    if story.split:
        other = by_weight[-1] if story.heavy_arm and len(by_weight) > 1 else by_weight[0]
        target = by_weight[0] if story.split == "cracked" else other
        tree.change(target, union=story.split)
        words = "open crack below the union" if story.split == "cracked" else "bark in the union"
        tree.say(target, words)
    if story.hollow_wall_share:
        target = by_weight[0] if not story.split or len(by_weight) < 2 else by_weight[1]
        limb = tree.limbs[tree.at(target)]
        wall = 5.0 * round(story.hollow_wall_share * limb.diameter_mm / 2.0 / 5.0)
        tree.change(target, cavity_wall_mm=wall)
        if story.hollow_far_share:
            far = 5.0 * round(story.hollow_far_share * limb.diameter_mm / 2.0 / 5.0)
            tree.change(target, cavity_far_wall_mm=far)
            tree.say(target, "hollow at the base, thinnest on the upper side, walls probed")
        else:
            tree.say(target, "hollow at the base, wall probed")
    if story.hollow_stem_share:
        stem = tree.limbs[0]
        wall = 5.0 * round(story.hollow_stem_share * stem.diameter_mm / 2.0 / 5.0)
        tree.change("stem", cavity_wall_mm=wall)
        if story.hollow_stem_open_deg:
            tree.change("stem", cavity_open_deg=story.hollow_stem_open_deg)
        tree.say("stem", "hollow, open to the north" if story.hollow_stem_open_deg else "hollow")
    for state, count in (("dead", story.dead), ("diseased", story.diseased)):
        for _ in range(min(count, max(len(order) - 1, 0))):
            label = order.pop()
            crown = 0.0 if state == "dead" else 1.0
            tree.change(label, state=state, crown=crown)
            tree.say(label, "bark off" if state == "dead" else "sunken canker on the upper side")
    if story.broken and order:
        label = max(order, key=lambda one: tree.limbs[tree.at(one)].diameter_mm)
        order.remove(label)
        limb = tree.limbs[tree.at(label)]
        tree.change(
            label, state="broken", crown=0.5, length_m=max(round(0.7 * limb.length_m, 1), 0.6)
        )
        tree.say(label, "torn in a gale, hangs by a strip")
    for reason in story.keeps:
        _keep(tree, reason, by_weight, order)


def _keep(tree: _Crown, reason: str, by_weight: list[str], order: list[str]) -> None:
    """Give a home to what lives in old trees: holes in thick limbs, the rest on any."""
    thick = [s for s in reversed(by_weight) if not tree.limbs[tree.at(s)].keep]
    hollow = [s for s in thick if tree.limbs[tree.at(s)].cavity_wall_mm is not None]
    if "cavity" in reason:
        label = (hollow or thick)[0]
    elif "woodpecker" in reason:
        label = next((s for s in thick if s not in hollow), thick[0])
        if tree.story.kind == "veteran":
            for one in list(tree.limbs):
                if label in (one.limb, one.parent):
                    tree.change(one.limb, state="dead", crown=0.0)
            tree.say(label, "died back, bark off")
    else:
        label = order.pop() if order else thick[0]
    tree.change(label, keep=reason)


def _heavy_arm(tree: _Crown, label: str) -> None:
    """Stretch a scaffold limb: long, low and leafy at its far end."""
    limb = tree.limbs[tree.at(label)]
    stretch = tree.story.heavy_arm
    tree.change(
        label,
        length_m=round(limb.length_m * stretch, 1),
        rise_deg=20.0,
        end_rise_deg=-5.0,
        crown=3.0,
    )
    tree.say(label, "overextended, heavy at the end")
    for one in list(tree.limbs):
        if one.parent == label and one.at_m is not None:
            moved = round(min(one.at_m * stretch, 0.8 * limb.length_m * stretch), 1)
            rise = min(one.rise_deg or 0.0, 85.0)
            tree.change(one.limb, at_m=moved, rise_deg=rise, crown=max(one.crown or 0.0, 2.0))


def _told_rubs(limbs: list[LimbRecord]) -> tuple[LimbRecord, ...]:
    """Write down the rubbing that the axes show: the three tightest pairs of thinner limbs."""
    rubs: dict[str, str] = {}
    size = {one.limb: one.diameter_mm for one in limbs}
    for _, a, b in rubbing_pairs(limbs):
        thin, thick = (a, b) if size[a] <= size[b] else (b, a)
        if len(rubs) < 3 and thin not in rubs and rubs.get(thick) != thin:
            rubs[thin] = thick
    return tuple(replace(one, rubs=rubs.get(one.limb, "")) for one in limbs)

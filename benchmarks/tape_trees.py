"""Invented old trees of known limbs: walked past, worked by eye, taped and planned.

The population behind `trade/data/tape.csv`. Every share and range here is judgement: how common a
crack or a hollow is among old standards, how often somebody walking past sees it, how far a tape
is off. Trees are grown by the generator of the demonstration, from stories drawn at random.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from limbwright.cuts.evaluate import evaluate, prices
from limbwright.cuts.problem import Problem
from limbwright.cuts.question import Question, ask
from limbwright.cuts.weights import Settings
from limbwright.demo.old_crown import Grown, grow
from limbwright.demo.story import Story
from limbwright.errors import LimbwrightError
from limbwright.model import LimbRecord, Site, StationRecord, TreeSurvey
from limbwright.model.skeleton import Bools, State
from limbwright.statics.assess import assess
from limbwright.survey.build import build_skeleton
from limbwright.trade.species import species as find_species

YEAR = 2026
SPECIES = ("apple", "pear", "perry pear", "plum", "damson", "cherry")
SHARES = (0.50, 0.12, 0.10, 0.12, 0.06, 0.10)
GIRTH_CM = {
    "apple": (60.0, 185.0),
    "pear": (70.0, 200.0),
    "perry pear": (90.0, 230.0),
    "plum": (50.0, 115.0),
    "damson": (45.0, 100.0),
    "cherry": (80.0, 190.0),
}
KEPT_GIRTH = (0.65, 0.95)
"""Girth of trees in yearly care over the ends of the range of neglected ones: mostly younger."""
EYE_SPREAD = 0.2
"""Log error of a dose judged by eye: of the order of Gilman & Grabosky 2009 (r2 0.87)."""


@dataclass(frozen=True)
class Outcome:
    """One tree: what the walk wrote down, and what each way of working gained, in hours.

    ``eye`` and ``heavy`` are work without a limb survey, ``best`` the plan on limbs known without
    """

    station: StationRecord
    site: Site
    stake: float
    chance: float
    eye: float
    heavy: float
    best: float
    tape: float
    risk: float
    risk_after: float
    work: float
    cuts: int


def draw_kept(rng: np.random.Generator, species: str) -> Story:
    """Return a random tree in yearly care: short sturdy limbs, an open middle, little amiss."""
    low, high = (a * b for a, b in zip(GIRTH_CM[species], KEPT_GIRTH, strict=True))
    girth = float(rng.uniform(low, high))
    return Story(
        "kept",
        girth_cm=(girth, girth),
        scaffolds=(3, 5),
        most_limbs=int(rng.integers(10, 15)),
        watershoots=int(rng.integers(0, 2)),
        crossing=int(rng.integers(0, 2)),
        reach=float(rng.uniform(0.72, 0.95)),
        leaf=float(rng.uniform(0.6, 0.95)),
        sturdy=float(rng.uniform(1.05, 1.25)),
        split="included" if rng.random() < 0.08 else "",
        dead=int(rng.poisson(0.3)),
    )


def draw_story(rng: np.random.Generator, species: str) -> Story:
    """Return a random story of neglect; see the module about the shares."""
    low, high = GIRTH_CM[species]
    girth = float(rng.uniform(low, high))
    small = species in ("plum", "damson")
    cracked, included = rng.random() < 0.12, rng.random() < 0.18
    scaffolds = int(rng.integers(3, 6 if small else 7))
    watershoots, crossing = int(rng.integers(0, 6)), int(rng.integers(0, 4))
    return Story(
        "drawn",
        girth_cm=(girth, girth),
        scaffolds=(scaffolds, scaffolds),
        most_limbs=int(rng.integers(11, 16 if small else 21)),
        watershoots=watershoots,
        crossing=crossing,
        reach=float(np.exp(rng.normal(0.0, 0.12))),
        leaf=float(np.clip(np.exp(rng.normal(0.0, 0.15)), 0.6, 1.3)),
        sturdy=float(np.clip(np.exp(rng.normal(0.0, 0.08)), 0.85, 1.2)),
        heavy_arm=float(rng.uniform(1.1, 1.4)) if rng.random() < 0.35 else 0.0,
        split="cracked" if cracked else "included" if included else "",
        hollow_wall_share=float(rng.uniform(0.15, 0.5)) if rng.random() < 0.15 else 0.0,
        hollow_stem_share=float(rng.uniform(0.2, 0.5)) if rng.random() < 0.12 else 0.0,
        dead=int(rng.poisson(0.9)),
        diseased=int(rng.integers(1, 4)) if rng.random() < 0.2 else 0,
        broken=bool(rng.random() < 0.12),
        lean_deg=5.0 * round(float(rng.uniform(10.0, 28.0)) / 5.0) if rng.random() < 0.15 else 0.0,
        lean_bearing_deg=float(5 * rng.integers(0, 72)),
    )


def draw_site(rng: np.random.Generator) -> Site:
    """Return a random place: wind, shelter and the years the trees have stood."""
    return Site(
        wind_speed_m_s=float(rng.uniform(21.0, 28.0)),
        terrain="III" if rng.random() < 0.7 else "II",
        years_stood=float(np.exp(rng.uniform(np.log(5.0), np.log(25.0)))),
    )


def _planted(rng: np.random.Generator, story: Story) -> int | None:
    """Return the year of planting where somebody knows it."""
    first, last = (1960, 2013) if story.kind == "kept" else (1880, 1990)
    return int(rng.integers(first, last)) if rng.random() < 0.3 else None


def walk(
    rng: np.random.Generator, name: str, species: str, story: Story, grown: Grown
) -> StationRecord:
    """Return what two minutes at the tree write down: some of it missed, some of it wrong."""

    def sees(there: bool, found: float, wrong: float) -> bool:
        return bool(rng.random() < (found if there else wrong))

    def taken(value: float, error: float, step: float, missed: float = 0.08) -> float | None:
        read = step * round(value * float(np.exp(rng.normal(0.0, error))) / step)
        return None if rng.random() < missed else float(max(read, step))

    told = [
        (sees(story.split == "cracked", 0.6, 0.02), "crack in a main union"),
        (sees(story.split == "included", 0.4, 0.05), "bark in a union"),
        (sees(story.heavy_arm >= 1.2, 0.6, 0.06), "long heavy limb"),
        (sees(story.hollow_wall_share > 0.0, 0.5, 0.02), "hollow limb"),
        (sees(story.hollow_stem_share > 0.0, 0.8, 0.01), "hollow stem"),
        (sees(story.broken, 0.9, 0.01), "hanging broken limb"),
        (sees(story.watershoots + story.crossing >= 5, 0.75, 0.15), "congested"),
        (sees(story.crossing >= 2, 0.5, 0.08), "rubbing limbs"),
        (sees(story.diseased > 0, 0.7, 0.02), "canker"),
        (sees(story.lean_deg > 0.0, 0.7, 0.0), "leans"),
    ]
    vigour = float(rng.normal())
    kept = story.kind == "kept"
    vigour += 0.5 * kept
    dead = 6.0 * story.dead + float(rng.gamma(1.5, 3.0)) - 3.0 * min(vigour, 0.0)
    ill = story.dead + 2 * story.diseased + 2 * story.broken - 1.5 * vigour + float(rng.normal())
    note = "" if rng.random() < 0.6 else "neglected" if rng.random() < 0.8 else "long forgotten"
    if kept:
        note = "pruned every year" if rng.random() < 0.5 else ""
    if story.girth_cm[0] > 170.0 and rng.random() < 0.4:
        note = "veteran"
    lean = story.lean_deg + float(rng.normal(0.0, 2.0)) if story.lean_deg else 0.0
    spread = 0.5 * (grown.spread_ns_m + grown.spread_ew_m)
    return StationRecord(
        station=name,
        species=species,
        planted=_planted(rng, story),
        form="standard",
        girth_cm=taken(story.girth_cm[0], 0.02, 1.0),
        height_m=taken(grown.height_m, 0.08, 0.5),
        spread_ns_m=taken(spread, 0.06, 0.5),
        lean_deg=round(lean) if rng.random() < 0.85 else None,
        condition="good" if ill < 0.0 else "fair" if ill < 4.0 else "poor",
        extension_cm=taken(float(np.exp(2.8 + 0.5 * vigour)), 0.15, 1.0, 0.3),
        dead_pct=None if rng.random() < 0.1 else 5.0 * round(min(dead, 90.0) / 5.0),
        faults="; ".join(words for seen, words in told if seen),
        note=note,
    )


def tape(rng: np.random.Generator, limbs: tuple[LimbRecord, ...]) -> tuple[LimbRecord, ...]:
    """Return the limbs as a tape, a compass and a guess at the angles find them."""

    def turned(value: float | None, spread: float) -> float | None:
        return None if value is None else value + float(rng.normal(0.0, spread))

    found = []
    for one in limbs:
        stem = not one.parent
        rise = one.rise_deg if stem else turned(one.rise_deg, 6.0)
        end = one.end_rise_deg if stem else turned(one.end_rise_deg, 8.0)
        bearing = one.bearing_deg if stem else turned(one.bearing_deg, 8.0)
        found.append(
            replace(
                one,
                diameter_mm=one.diameter_mm * float(np.exp(rng.normal(0.0, 0.03))),
                length_m=one.length_m * (1.0 if stem else float(np.exp(rng.normal(0.0, 0.07)))),
                bearing_deg=None if bearing is None else bearing % 360.0,
                rise_deg=None if rise is None else min(max(rise, -60.0), 90.0),
                end_rise_deg=None if end is None else min(max(end, -60.0), 90.0),
                cavity_wall_mm=None
                if one.cavity_wall_mm is None
                else one.cavity_wall_mm * float(np.exp(rng.normal(0.0, 0.2))),
            )
        )
    return tuple(found)


def _beyond(problem: Problem, node: int) -> Bools:
    at = np.arange(problem.nodes)
    return np.asarray((at >= node) & (at < problem.end[node]))


def _taken_in_order(problem: Problem, order: list[int]) -> Bools:
    """Return what goes when cuts are made in order for as long as no limit is broken."""
    gone = np.zeros(problem.nodes, dtype=np.bool_)
    for node in order:
        if not gone[node]:
            trial = gone | _beyond(problem, node)
            if not bool(prices(problem, trial[None]).broken[0].any()):
                gone = trial
    return gone


def by_eye(rng: np.random.Generator, asked: Question, *, heavy: bool) -> Bools:
    """Return the cuts of a good pruner with neither tape nor figures.

    Sick wood first, then rubs, uprights in the middle and small tops, to the dose of the tree's
    state as the eye judges it; heavy work instead shortens the longest limbs next, up to the
    highest dose published for the state.
    """
    s, problem = asked.assessment.skeleton, asked.built.problem
    high = asked.settings.parameter(f"dose_{asked.bounds.state.key.replace(' ', '_')}").high
    if asked.kind.group == "stone":
        high = min(high, asked.settings.parameter("dose_stone").high)
    share = min(high if heavy else asked.bounds.dose, 1.0 / 3.0)
    guess = share * float(np.exp(rng.normal(0.0, EYE_SPREAD)))
    leaf = asked.bounds.live_leaf_m2
    problem = replace(problem, dose_limit_m2=min(guess, 1.0 / 3.0) * leaf)
    losers = {c.loser for c in asked.crossing}
    ranked = []
    for node, cut in enumerate(asked.built.candidates, start=1):
        limb = s.limbs[cut.limb]
        rise = float(s.end_m[cut.segment, 2] - s.start_m[cut.segment, 2])
        rise /= max(float(np.linalg.norm(s.end_m[cut.segment] - s.start_m[cut.segment])), 1e-9)
        whole = cut.kind == "remove"
        if s.state[cut.segment] != State.LIVE and whole:
            rank = 0.0
        elif cut.limb in losers and whole:
            rank = 1.0
        elif rise > 0.9 and bool(asked.crown.in_centre[cut.segment]):
            rank = 2.0
        elif asked.crown.above[cut.segment] and not whole:
            rank = 3.0
        else:
            rank = 4.0
        size = cut.diameter_mm / 1000.0
        if heavy and rank >= 1.0:
            rank = 1.0 if cut.kind == "shorten" else 2.0
            size = -limb.length_m / 100.0
        if rank < 4.0:
            ranked.append((rank, size + float(rng.normal(0.0, 0.01)), node))
    return _taken_in_order(problem, [node for _, _, node in sorted(ranked)])


def gain_h(asked: Question, gone: Bools) -> float:
    """Return what a set of cuts gains over leaving the tree, its light included [h]."""
    none = np.zeros_like(gone)
    p = asked.built.problem
    light = float(asked.light.gained(gone[None])[0]) if gone.any() else 0.0
    return evaluate(p, none).objective_h - evaluate(p, gone).objective_h + light


def carried_over(taped: Question, gone: Bools, true: Question) -> Bools:
    """Return the cuts of one plan made on the same limbs of another skeleton."""
    out = np.zeros(true.built.problem.nodes, dtype=np.bool_)
    there = taped.assessment.skeleton.limbs
    here = true.assessment.skeleton.limbs
    p = taped.built.problem
    for node in np.flatnonzero(gone & ~gone[np.maximum(p.parent, 0)]):
        cut = taped.built.candidates[node - 1]
        limb = there[cut.limb]
        at = cut.at_m / max(limb.length_m, 1e-9)
        near = [
            (abs(c.at_m / max(here[c.limb].length_m, 1e-9) - at), k)
            for k, c in enumerate(true.built.candidates, start=1)
            if here[c.limb].label == limb.label
        ]
        if near:
            out |= _beyond(true.built.problem, min(near)[1])
    return out


@dataclass(frozen=True)
class Drawn:
    """One invented tree: its walk, its place, and what is asked of its true and its taped limbs."""

    station: StationRecord
    site: Site
    stake: float
    chance: float
    true: Question
    taped: Question
    rng: np.random.Generator


def draw_tree(seed: int, number: int, *, kept: bool = False) -> Drawn:
    """Return one invented tree, neglected or kept.

    Raises
    ------
    LimbwrightError
        None can be built from what was drawn.
    """
    rng = np.random.default_rng([seed, number])
    species = str(rng.choice(SPECIES, p=SHARES))
    story = draw_kept(rng, species) if kept else draw_story(rng, species)
    site = draw_site(rng)
    name = str(number)
    stake = float(np.exp(rng.normal(0.0, 0.4)))
    settings = Settings(MappingProxyType({"tree_value": 40.0 * stake}))
    grown = grow(rng, name, species, story)
    station = walk(rng, name, find_species(species).key, story, grown)
    asks, chances = [], []
    for limbs in (grown.limbs, tape(rng, grown.limbs)):
        found = assess(build_skeleton(TreeSurvey(station, limbs))[0], site)
        chances.append(1.0 - float(np.prod([1.0 - x.chance for x in found.limbs])))
        asks.append(ask(found, station, settings=settings, year=YEAR))
    return Drawn(station, site, stake, chances[0], asks[0], asks[1], rng)


def one_tree(seed: int, number: int, *, kept: bool = False) -> Outcome | None:
    """Return one invented tree, walked, worked, taped and planned; None where none can grow."""
    try:
        drawn = draw_tree(seed, number, kept=kept)
        true, taped = drawn.true, drawn.taped
        best = true.answer("fast").solved.solution.gone
        seen = taped.answer("fast").solved.solution.gone
    except LimbwrightError:
        return None
    left = evaluate(true.built.problem, np.zeros_like(best))
    after = evaluate(true.built.problem, best)
    return Outcome(
        drawn.station,
        drawn.site,
        drawn.stake,
        drawn.chance,
        gain_h(true, by_eye(drawn.rng, true, heavy=False)),
        gain_h(true, by_eye(drawn.rng, true, heavy=True)),
        gain_h(true, best),
        gain_h(true, carried_over(taped, seen, true)),
        left.terms["risk"],
        after.terms["risk"],
        after.terms["work"],
        int(np.count_nonzero(best & ~best[np.maximum(true.built.problem.parent, 0)])),
    )

"""Choose the scaffold of one tree, and say why: each term in words, the next best, what is wanting.

The choice itself is `limbwright.form.choice.best_sets`; here stand the words.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from limbwright.form.choice import TERMS, Candidate, Scored, best_sets, gaps_deg
from limbwright.form.crown import Crown
from limbwright.form.results import Choice
from limbwright.form.settings import FormSettings
from limbwright.form.stage import LEADER_GROWS_CM, Standing, head_height_m
from limbwright.form.target import ClearStem
from limbwright.form.words import between, listed, side, span

__all__ = ["select_scaffold", "widest_gap"]

TIE_ASIDE_DEG = 30.0
"""Judgement: a one-year shoot can be drawn this far round the stem by a string."""
TERM_WORDS = {
    "evenness": "evenness round the stem",
    "angle": "the angle off the stem",
    "stagger": "spacing along the stem",
    "vigour": "even strength",
    "union": "thickness over the stem",
    "count": "the number of limbs",
}


def select_scaffold(
    crown: Crown, standing: Standing, target: ClearStem, settings: FormSettings
) -> Choice | None:
    """Return the best scaffold of a tree, None where no shoot could be a scaffold limb.

    A set is good where it scores `good` or more, has `fewest` limbs and leaves no gap wider than
    `gap_most`; from `patience` years after planting on the best set of enough limbs will do.
    """
    able = standing.able
    if standing.stage.key == "build":
        able = tuple(c for c in able if c.chosen)
    if not able:
        return None
    fewest = int(settings["fewest"])
    most = len(able) if standing.stage.key == "build" else int(settings["most"])
    enough = len(able) >= fewest
    found = best_sets(
        able,
        settings,
        fewest=fewest if enough else 1,
        most=most if enough else len(able),
    )
    best, second = found[0], found[1] if len(found) > 1 else None
    first_deg, gap = widest_gap([c.bearing_deg for c in best.members])
    missing: list[str] = []
    if not enough:
        have = f"Only {len(able)} shoot{'s' if len(able) > 1 else ''}"
        missing.append(f"{have} could be scaffold limbs; {fewest} at least are needed.")
    if gap > settings["gap_most"]:
        missing.append(
            f"Nothing fit grows {between(first_deg, first_deg + gap)}, a gap of {gap:.0f} degrees "
            f"where {settings['gap_most']:.0f} is the most."
        )
    if not missing and best.score < settings["good"]:
        worst = min(range(len(TERMS)), key=lambda i: best.terms[i] - settings["good"])
        missing.append(
            f"The best set scores {100 * best.score:.0f} of 100, and "
            f"{100 * settings['good']:.0f} is asked for; it fails most on "
            f"{TERM_WORDS[TERMS[worst]]}."
        )
    patient = standing.age is None or standing.age < settings["patience"]
    good = not missing or (enough and not patient)
    remedies = () if good else _remedies(crown, standing, target, settings, best, first_deg, gap)
    return Choice(
        best,
        second,
        good,
        _terms(best, settings),
        tuple(missing),
        remedies,
        "" if second is None else _against(best, second, settings),
    )


def widest_gap(bearings_deg: Sequence[float]) -> tuple[float, float]:
    """Return the bearing at which the widest gap round the stem begins, clockwise, and its width.

    Both in degrees; a full round from north where there is no bearing.
    """
    order = sorted(b % 360.0 for b in bearings_deg)
    if not order:
        return 0.0, 360.0
    gaps = gaps_deg(order)
    k = max(range(len(gaps)), key=lambda i: gaps[i])
    return order[k], gaps[k]


def _terms(best: Scored, settings: FormSettings) -> tuple[str, ...]:
    members = best.members
    k = len(members)
    gaps = gaps_deg([c.bearing_deg for c in members])
    angles = [c.angle_deg for c in members]
    points = [f"{100 * t:.0f} of 100" for t in best.terms]
    steps = [100.0 * (b.at_m - a.at_m) for a, b in pairwise(members)]
    thin = min(c.diameter_mm for c in members) / max(c.diameter_mm for c in members)
    thick = max(c.diameter_mm / max(c.stem_mm, 1e-9) for c in members)
    return (
        f"Round the stem {points[0]}: gaps of {span(min(gaps), max(gaps), 'degrees')} "
        f"({360 / k:.0f} is even).",
        f"Angle {points[1]}: {span(min(angles), max(angles), 'degrees')} off the stem "
        f"({settings['angle']:.0f} to {settings['angle_flat']:.0f} is best).",
        f"Along the stem {points[2]}: "
        + (f"{span(min(steps), max(steps), 'cm')} apart " if steps else "one limb ")
        + f"({100 * settings['stagger']:.0f} asked for).",
        f"Strength {points[3]}: the thinnest is {100 * thin:.0f} % as thick as the thickest.",
        f"Union {points[4]}: up to {100 * thick:.0f} % as thick as the stem "
        f"({100 * settings['thick_share']:.0f} % or less is best).",
        f"Number {points[5]}: {k} ({settings['count']:.0f} wanted).",
    )


def _against(best: Scored, second: Scored, settings: FormSettings) -> str:
    lost = [
        settings[f"weight.{name}"] * (a - b)
        for name, a, b in zip(TERMS, best.terms, second.terms, strict=True)
    ]
    k = max(range(len(lost)), key=lambda i: lost[i])
    return (
        f"{listed(second.names)} comes next with {100 * second.score:.0f} of 100 against "
        f"{100 * best.score:.0f}: it loses most on {TERM_WORDS[TERMS[k]]} "
        f"({100 * second.terms[k]:.0f} against {100 * best.terms[k]:.0f})."
    )


def _remedies(
    crown: Crown,
    standing: Standing,
    target: ClearStem,
    settings: FormSettings,
    best: Scored,
    first_deg: float,
    gap: float,
) -> tuple[str, ...]:
    found = []
    middle = first_deg + gap / 2.0
    short = [
        s
        for s in crown.on_leader
        if s.sound
        and s.at_m >= target.metres
        and s.bearing_deg is not None
        and 20.0 < (s.bearing_deg - first_deg) % 360.0 < gap - 20.0
        and s.name not in {c.name for c in standing.able}
        and s.length_m < settings["shoot_least"]
        and settings["angle_least"] <= s.angle_deg <= settings["angle_drooping"]
    ]
    wide = gap > settings["gap_most"]
    if wide and short:
        one = max(short, key=lambda s: s.length_m)
        found.append(
            f"Wait for shoot {one.name} on the {side(one.bearing_deg)}, now "
            f"{100 * one.length_m:.0f} cm long: leave it uncut."
        )
    elif wide:
        found.append(
            f"At bud burst nick the bark just above a bud on the {side(middle)}, about "
            f"{target.metres + settings['head_zone'] / 2:.1f} m up, to wake it."
        )
    if wide and gap - TIE_ASIDE_DEG <= settings["gap_most"]:
        nearest = _nearest(best.members, first_deg, gap)
        found.append(
            f"Or draw shoot {nearest.name} some {TIE_ASIDE_DEG:.0f} degrees round to the "
            f"{side(middle)} with a soft tie."
        )
    grows = crown.leader.grown_m * 100.0 > LEADER_GROWS_CM
    head = head_height_m(target, settings, [c.at_m for c in best.members])
    if grows and crown.leader.length_m > head + 0.05:
        found.append(
            f"The leader is cut again, at {head:.2f} m, so that the "
            f"{settings.low('head_buds'):.0f} or {settings.high('head_buds'):.0f} buds below "
            "break."
        )
    elif grows:
        found.append("Let the leader grow on: more buds come above the clear stem.")
    else:
        found.append("The uppermost shoot is cut to a few buds, so that more shoots break.")
    return tuple(found)


def _nearest(members: Sequence[Candidate], first_deg: float, gap: float) -> Candidate:
    """Return the thinner of the two shoots at the edges of a gap, the easier to draw."""
    second = (first_deg + gap) % 360.0
    edges = [
        c
        for c in members
        if min(abs((c.bearing_deg - e + 180.0) % 360.0 - 180.0) for e in (first_deg, second)) < 0.5
    ]
    return min(edges, key=lambda c: (c.diameter_mm, c.name))

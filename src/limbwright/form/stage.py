"""How far a young tree has come, and which of its shoots could be scaffold limbs."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from limbwright.form.choice import Candidate
from limbwright.form.crown import Crown, Shoot
from limbwright.form.results import Stage
from limbwright.form.settings import FormSettings
from limbwright.form.target import ClearStem
from limbwright.model.records import StationRecord

__all__ = ["Standing", "candidates", "chosen_before", "head_height_m", "is_scaffold", "stand"]

SLACK_M = 0.05
"""Judgement: a tape up a stem in grass is no finer."""
LEADER_GROWS_CM = 1.0
"""Judgement: a leader that grew less was cut, or has stopped."""
_YEAR = re.compile(r"\b(?:19|20)\d\d\b")


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a tree stands: its stage, those who can be chosen, and how long limbs were built."""

    stage: Stage
    able: tuple[Candidate, ...]
    unable: tuple[tuple[str, str], ...]
    age: int | None
    winters: int


def is_scaffold(shoot: Shoot) -> bool:
    """Return whether an earlier year chose it: its ``keep`` says scaffold."""
    return "scaffold" in shoot.keep.lower()


def chosen_before(crown: Crown) -> tuple[Shoot, ...]:
    """Return the sound shoots an earlier year chose."""
    return tuple(s for s in crown.on_leader if is_scaffold(s) and s.sound)


def head_height_m(
    target: ClearStem, settings: FormSettings, bases_m: Iterable[float] = ()
) -> float:
    """Return where a growing leader is cut [m]: above the clear stem, and above what is kept.

    ``bases_m`` are the heights at which shoots sit that would serve as scaffold limbs.
    """
    zone = settings["head_zone"]
    highest = max(bases_m, default=0.0)
    return max(target.metres + zone, highest + zone / 2.0 if highest else 0.0)


def candidates(
    crown: Crown, target: ClearStem, settings: FormSettings
) -> tuple[tuple[Candidate, ...], tuple[tuple[str, str], ...]]:
    """Return the shoots that could be scaffold limbs, and the others in the crown with why not.

    A candidate is live, sits from the clear stem up to `crown_depth` above it, has a bearing, is
    long enough, and stands off the stem wide enough to be spread. Shoots below the clear stem are
    in neither list; one an earlier year chose is a candidate wherever it sits.
    """
    able: list[Candidate] = []
    unable: list[tuple[str, str]] = []
    top = target.metres + settings["crown_depth"]
    for s in crown.on_leader:
        before = is_scaffold(s) and s.sound
        if not before and s.at_m < target.metres - SLACK_M:
            continue
        why = ""
        if not s.sound:
            why = f"it is {s.state}"
        elif s.bearing_deg is None:
            why = "nobody took its bearing"
        elif before:
            pass
        elif s.at_m > top + SLACK_M:
            why = f"it sits more than {settings['crown_depth']:.1f} m above the clear stem"
        elif s.length_m < settings["shoot_least"]:
            why = f"it is only {100 * s.length_m:.0f} cm long"
        elif s.angle_deg < settings["angle_least"]:
            why = (
                f"it stands only {s.angle_deg:.0f} degrees off the stem, so bark would be taken "
                "into the union"
            )
        elif s.angle_deg > settings["angle_drooping"]:
            why = "it hangs"
        if why:
            unable.append((s.name, why))
        else:
            able.append(
                Candidate(
                    s.name,
                    s.at_m,
                    float(s.bearing_deg or 0.0),
                    s.angle_deg,
                    s.diameter_mm,
                    crown.stem_mm(s.at_m),
                    before,
                )
            )
    return tuple(able), tuple(unable)


def stand(
    crown: Crown,
    station: StationRecord,
    target: ClearStem,
    settings: FormSettings,
    year: int,
    growth_cm: float | None,
) -> Standing:
    """Return how far a tree has come in a year, with what in the survey says so.

    Parameters
    ----------
    year
        The year in which the season begins.
    growth_cm
        How much the tree grew last season [cm]; None where nobody measured it.
    """
    able, unable = candidates(crown, target, settings)
    age = None if station.planted is None else max(year - station.planted, 0)
    before = chosen_before(crown)
    winters = _winters(before, year, growth_cm or settings["grow_cm"])
    stage = _stage(crown, station, target, settings, growth_cm, age, len(able), before, winters)
    return Standing(stage, able, unable, age, winters)


def _stage(
    crown: Crown,
    station: StationRecord,
    target: ClearStem,
    settings: FormSettings,
    growth_cm: float | None,
    age: int | None,
    able: int,
    before: tuple[Shoot, ...],
    winters: int,
) -> Stage:
    new = station.status == "new" or (age == 0 and growth_cm is None)
    tip, head = crown.leader.length_m, target.metres + settings["head_zone"]
    # judgement: a tree hardly grows in its first summer, which says nothing against it
    settled = not new and (age is None or age > 1)
    still = growth_cm is not None and growth_cm < settings["growth_still"] and settled
    if still or station.condition == "poor":
        because = (
            f"it grew only {growth_cm:.0f} cm last season"
            if growth_cm is not None and still
            else "its condition is poor"
        )
        return Stage("still", "Standing still: find out why first", because)
    fewest = int(settings["fewest"])
    if len(before) >= fewest:
        because = f"{len(before)} scaffold limbs were chosen"
        if winters >= settings["years_cut"]:
            return Stage(
                "done",
                "Formed: routine care from now on",
                f"{because}, and {winters} winters have built them",
            )
        count = {0: "this winter", 1: "a winter ago"}.get(winters, f"{winters} winters ago")
        return Stage("build", "Building the scaffold", f"{because} {count}")
    if crown.leader.state != "live" and tip < head - SLACK_M:
        return Stage(
            "mend",
            "The leader is lost: raise another",
            f"its leader is {crown.leader.state} at {tip:.1f} m, below the crown",
        )
    if able >= fewest:
        return Stage(
            "choose",
            "Choosing the scaffold limbs",
            f"{able} shoots above the clear stem could be scaffold limbs",
        )
    grows = crown.leader.grown_m * 100.0 > LEADER_GROWS_CM
    if grows and tip > head + SLACK_M:
        return Stage(
            "head",
            "At crown height: head the leader",
            f"its leader is {tip:.2f} m tall, and {head:.2f} m makes the crown",
        )
    if not grows and tip >= target.metres and (able or settled):
        return Stage(
            "choose",
            "Choosing the scaffold limbs",
            "its leader has been headed; "
            + (f"{able} of its shoots could be scaffold limbs" if able else "no shoot is fit yet"),
        )
    because = f"its leader is {tip:.2f} m tall, and {head:.2f} m makes the crown"
    if new:
        return Stage("plant", "Just planted: growing the stem", because)
    return Stage("rise", "Growing the stem", because)


def _winters(before: tuple[Shoot, ...], year: int, growth_cm: float) -> int:
    """Return how many winters ago the limbs were chosen, judged from their length if need be."""
    if not before:
        return 0
    said = [int(y) for s in before for y in _YEAR.findall(s.keep)]
    if said:
        return max(year - min(said), 0)
    oldest = max(before, key=lambda s: s.length_m)
    kept_a_year = max(0.6 * growth_cm / 100.0, 0.05)  # judgement: two fifths of it was cut off
    return max(1, round((oldest.length_m - oldest.grown_m) / kept_a_year))

"""The kind of work a station needs: to form, maintain, restore, retrench, leave, replace."""

from __future__ import annotations

from dataclasses import replace

from limbwright.model.holding import Orchard
from limbwright.needs.judgement import Judgement
from limbwright.needs.walk import Walk
from limbwright.trade.deadwood import DeadTree, dead_tree
from limbwright.trade.parameters import parameters

__all__ = [
    "AT_WORK",
    "KINDS",
    "dead_over_people",
    "is_failing",
    "is_old",
    "is_young",
    "judged_dead",
    "kind_of_work",
    "sureness",
]

KINDS = (
    "form",
    "maintain",
    "restore",
    "retrench",
    "leave for wildlife",
    "replace",
    "restock",
    "leave standing",
)
AT_WORK = ("maintain", "restore", "retrench")
"""Kinds in which the limbs of a grown tree are cut."""

DEFAULT = "nothing in the record says otherwise"
"""How the limits of a plan say that a state is only the usual one."""

PRACTICE = "common practice"


def sureness(walk: Walk, base: str, *needed: str) -> float:
    """Return how sure a judgement is, from its ground and the fields it would have needed.

    Parameters
    ----------
    base
        ``said``, ``measured`` or ``default``.
    needed
        Names of fields, as in `walk.TAKEN`, that bear on it.
    """
    table = parameters("needs")
    sure = table[f"sure_{base}"].value
    lost = sum(1 for name in needed if f"{name} not taken" in walk.missing)
    sure *= table["sure_missing"].value ** lost
    if walk.contradictions:
        sure *= table["sure_contradicted"].value
    return float(sure)


def is_young(walk: Walk) -> bool:
    """Whether the tree is in the years in which its frame is made."""
    table = parameters("needs")
    if walk.station.status == "new":
        return True
    if walk.age_years is not None:
        return walk.age_years <= table["form_years"].value
    girth = walk.station.girth_cm
    return girth is not None and girth <= table["form_girth"].value


def is_old(walk: Walk) -> bool:
    """Whether the tree is past its prime, by its years or else by its girth."""
    table = parameters("needs")
    if walk.age_years is not None:
        return walk.age_years >= table["old_years"].value
    girth = walk.station.girth_cm
    return girth is not None and girth >= table["old_girth"].value


def is_failing(walk: Walk) -> bool:
    """Whether most of the crown is dead, or the survey says that the tree is dying or dead."""
    s = walk.station
    if s.condition == "dead" or s.status == "dead":
        return True
    return "dying" in walk or (s.dead_pct or 0.0) >= parameters("needs")["failing_dead"].value


def judged_dead(walk: Walk, orchard: Orchard | None = None) -> DeadTree:
    """Return what the rule of dead wood says of a dead tree."""
    station = walk.station if walk.kind is not None else replace(walk.station, species="")
    below = orchard is not None and orchard.people_below
    return dead_tree(station, people_below=below)


def dead_over_people(walk: Walk, orchard: Orchard | None = None) -> bool:
    """Whether a dead tree stands over people, so that somebody has to look before anything else."""
    return walk.station.status == "dead" and judged_dead(walk, orchard).people


def kind_of_work(walk: Walk, orchard: Orchard | None = None) -> Judgement[str]:
    """Return the kind of work, one of `KINDS`, with its reason."""
    s = walk.station
    if s.status in ("gap", "stump"):
        return _told(walk, "restock", f"a {s.status}: nothing stands here", "said")
    if s.status == "dead":
        found = judged_dead(walk, orchard)
        if not found.keep:
            return _told(walk, "replace", found.why, "said", PRACTICE)
        because = f"{found.why}; plant its successor beside it"
        return _told(walk, "leave standing", because, "said", PRACTICE)
    if is_young(walk):
        return _young(walk)
    if is_failing(walk):
        return _failing(walk)
    return _grown(walk)


def _young(walk: Walk) -> Judgement[str]:
    years = parameters("needs")["form_years"]
    source = years.source
    if walk.age_years is not None and walk.age_years >= 0:
        because = f"{_planted(walk.age_years)}, in the {years.value:.0f} years of forming"
        return _told(walk, "form", because, "measured", source)
    if walk.station.status == "new":
        return _told(walk, "form", "newly planted", "said", source)
    because = f"a girth of {walk.station.girth_cm:.0f} cm is that of a young tree"
    return _told(walk, "form", because, "default", source)


def _planted(years: int) -> str:
    if years == 0:
        return "planted this year"
    return "planted a year ago" if years == 1 else f"planted {years} years ago"


def _failing(walk: Walk) -> Judgement[str]:
    s = walk.station
    dead = s.dead_pct or 0.0
    said = walk.told("dying", "dying back")
    why = f"the survey says {said}" if said else "dead by its condition"
    if dead and not said:
        why = f"{dead:.0f} % of the crown is dead"
    base = "measured" if dead else "said"
    homes = ", ".join(one.feature.name for one in walk.homes[:2])
    if homes or is_old(walk) or s.girth_cm is None:
        kept = f"{why}; an old tree dying slowly is worth most as habitat"
        if homes:
            kept = f"{why}, and it is a home already ({homes})"
        return _told(walk, "leave for wildlife", kept, base, PRACTICE, "girth", "dead share")
    because = f"{why}, and it is still slight: a new tree serves better"
    return _told(walk, "replace", because, base, "judgement", "year of planting", "dead share")


def _grown(walk: Walk) -> Judgement[str]:
    state, s = walk.state, walk.station
    if state.key == "veteran":
        because = f"a veteran ({state.because}): small steps over many years"
        return _told(walk, "retrench", because, "said", "from memory")
    load = walk.told("cracked", "hollow stem", "hollow", "heavy", "leans", "heaving")
    if state.key == "weak":
        if is_old(walk):
            because = f"old and weak ({state.because})"
            because += f", with a load to ease ({load})" if load else ""
            return _told(
                walk, "retrench", because, "measured", "from memory", "girth", "year of planting"
            )
        because = f"weak ({state.because}): dead and sick wood only, and find out why"
        return _told(walk, "maintain", because, "measured", "from memory", "dead share")
    if state.key == "routine":
        return _told(walk, "maintain", state.because, "measured", PRACTICE)
    if state.because != DEFAULT:
        base = "said" if "says" in state.because else "measured"
        return _told(walk, "restore", f"{state.key} ({state.because})", base, PRACTICE)
    faults = walk.told("cracked", "broken", "congested", "rubbing", "heavy", "included")
    if s.condition == "good" and not faults:
        because = "in good condition, and the walk found no fault"
        return _told(walk, "maintain", because, "default", "judgement", "last season's growth")
    because = f"the survey says {faults}" if faults else "an old tree nobody says is in yearly care"
    return _told(
        walk,
        "restore",
        because,
        "measured" if faults else "default",
        "judgement",
        "condition",
        "last season's growth",
    )


def _told(
    walk: Walk, kind: str, because: str, base: str, source: str = "common practice", *needed: str
) -> Judgement[str]:
    return Judgement(kind, because, sureness(walk, base, *needed), source=source)

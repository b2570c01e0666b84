"""What is to be done in each season of a holding, tree by tree, from plans and from needs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from limbwright.errors import InputError
from limbwright.growth.ranges import Range
from limbwright.learn.compared import prior_range
from limbwright.learn.quantities import priors
from limbwright.needs.amounts import CUTS_CM
from limbwright.needs.need import Need
from limbwright.needs.order import rank
from limbwright.report.book_words import added, and_list, counted, sentence
from limbwright.stages.seasons import following, year_of
from limbwright.trade.species import species

__all__ = [
    "LATER",
    "TreePlan",
    "Work",
    "group_of",
    "hours_in",
    "season_key",
    "seasons_named",
    "works_of",
]

Basis = Literal["limb survey", "shoot survey", "walk"]
LATER = ""
"""The season of work that can wait beyond the years of the plan."""
WAITS = {"now": 0, "this season": 0, "within two years": 1}
"""Season, from 0, by which each urgency is dealt with; *within five years* is shared out."""
SHARED_FROM = 2
PLANTING = ("restock", "replace")
LOOKS = ("leave for wildlife", "leave standing")


@dataclass(frozen=True, slots=True)
class TreePlan:
    """One plan of a tree as it is kept: ``kind`` is season, years or form.

    ``document`` is one tree of ``limbwright.plan/1``, ``limbwright.years/1`` or
    ``limbwright.form/1``.
    """

    tree: str
    kind: str
    season: str
    document: Mapping[str, Any]
    status: str = "proposed"


@dataclass(frozen=True, slots=True)
class Work:
    """What one tree needs in one season.

    ``season`` is empty for what can wait beyond the plan. ``kind`` is the kind of need, such as
    restore or form; ``basis`` what the figures rest on. ``dose`` is the share of the live crown to
    be taken, or at most where only the walk is known. ``hours`` are person-hours at the tree,
    brash cleared. ``highest_m`` is the highest cut, or the height of a tree known from the walk.
    ``rest``: the season is planned as a rest. ``at_once``: somebody should look now.
    """

    tree: str
    orchard: str
    station: str
    species: str
    season: str
    kind: str
    basis: Basis
    hours: Range
    what: str
    why: str
    cuts: int = 0
    dose: float | None = None
    dose_limit: float | None = None
    wound_share: float | None = None
    tools: tuple[str, ...] = ()
    highest_m: float | None = None
    cautions: tuple[str, ...] = ()
    rest: bool = False
    at_once: bool = False


def group_of(name: str) -> str:
    """Return ``pome`` or ``stone``; ``pome`` where the species is not known."""
    try:
        return species(name).group if name else "pome"
    except InputError:
        return "pome"


def season_key(season: str) -> tuple[float, str]:
    """Return a key that puts seasons in order of time; one over two years falls at its end."""
    year = year_of(season)
    if year is None:
        return (float("inf"), season)
    over = season.rstrip()[-3:-2] in ("-", "/")
    return (year + (0.9 if over else 0.5), season)


def seasons_named(first: Mapping[str, str], count: int) -> dict[str, tuple[str, ...]]:
    """Return ``count`` seasons for pome and for stone fruit, from the first of each."""
    return {group: following(name, count) for group, name in first.items()}


def works_of(
    needs: Sequence[Need],
    plans: Iterable[TreePlan],
    first: Mapping[str, str],
    count: int,
) -> tuple[Work, ...]:
    """Return the work of all seasons, by season, then in the order of the trees given.

    A plan over years says for its tree what each season holds, a plan of one season that season, a
    forming plan this season and the years ahead. Every other tree goes by its need: what presses
    now or this season in the first, within two years in the second; what has five years is dealt
    to the seasons from the third on so that their hours come out even, the most pressing first;
    the rest bears no date.

    Parameters
    ----------
    needs
        What each station needs, in the order of the report.
    plans
        Plans of trees; those for seasons before the first are past.
    first
        The first season of pome and of stone fruit: ``{"pome": "winter 2026-27", ...}``.
    count
        How many seasons of each, at least 1.
    """
    named = seasons_named(first, count)
    starts = {group: season_key(names[0]) for group, names in named.items()}
    ends = {group: season_key(names[-1]) for group, names in named.items()}
    held: dict[str, list[TreePlan]] = {}
    for plan in plans:
        held.setdefault(plan.tree, []).append(plan)
    found: list[Work] = []
    waiting: list[Need] = []
    for need in needs:
        group = group_of(need.station.species)
        told = _planned(need, held.get(need.tree, ()), named[group])
        told = [w for w in told if starts[group] <= season_key(w.season) <= ends[group]]
        if told:
            found += [told[0], *(replace(w, at_once=False) for w in told[1:])]
        elif need.kind.value in LOOKS:
            found += _look(need, named["pome"])
        else:
            waiting.append(need)
    found += _by_need(waiting, found, named)
    place = {need.tree: k for k, need in enumerate(needs)}
    return tuple(sorted(found, key=lambda w: (*season_key(w.season), place[w.tree])))


def _planned(need: Need, plans: Sequence[TreePlan], seasons: Sequence[str]) -> list[Work]:
    """Return the work of a tree that has a plan; over years before one season before forming."""
    for kind in ("years", "season", "form"):
        mine = sorted((p for p in plans if p.kind == kind), key=lambda p: season_key(p.season))
        for plan in reversed(mine):
            if kind == "years":
                return _years(need, plan.document)
            if kind == "form":
                return _forming(need, plan.document, seasons)
            return [_one_season(need, plan.document, plan.season)]
    return []


def _base(need: Need, season: str, basis: Basis, hours: Range, what: str, why: str) -> Work:
    s = need.station
    return Work(
        tree=need.tree,
        orchard=s.orchard,
        station=s.station,
        species=s.species,
        season=season,
        kind=need.kind.value,
        basis=basis,
        hours=hours,
        what=sentence(what),
        why=sentence(why),
        at_once=need.urgency.value == "now",
    )


def _years(need: Need, document: Mapping[str, Any]) -> list[Work]:
    out = []
    for one in document.get("seasons", ()):
        plan = one.get("plan")
        season = str(one.get("season", ""))
        if plan:
            work = _one_season(need, plan, season)
            out.append(replace(work, why=sentence(str(one.get("why", ""))) or work.why))
        else:
            what = "rest" if one.get("rest") else "no cut"
            work = _base(need, season, "limb survey", Range(0.0, 0.0, 0.0), what,
                         str(one.get("why", "")))  # fmt: skip
            out.append(replace(work, rest=True, dose=0.0))
    return out


def _one_season(need: Need, plan: Mapping[str, Any], season: str) -> Work:
    cuts = [*plan.get("cuts", ()), *plan.get("lesser", ())]
    hours = float(plan.get("hours", 0.0))
    limbs = [str(c.get("limb", "")) for c in plan.get("cuts", ())]
    what = f"{counted(len(limbs), 'cut')}: limb {', '.join(limbs)}" if limbs else "no cut"
    lesser = len(cuts) - len(limbs)
    if lesser:
        what += f"; {counted(lesser, 'lesser cut')} besides"
    work = _base(need, season, "limb survey", _planned_hours(hours), what,
                 str(plan.get("summary", "")))  # fmt: skip
    return replace(
        work,
        cuts=len(cuts),
        dose=_number(plan, "dose"),
        dose_limit=_number(plan, "dose_limit"),
        wound_share=_number(plan, "wound_share"),
        tools=tuple(dict.fromkeys(str(c["tool"]) for c in cuts if c.get("tool"))),
        highest_m=max((float(c.get("height_m") or 0.0) for c in cuts), default=None),
        cautions=tuple(str(c) for c in plan.get("cautions", ())),
    )


def _planned_hours(hours: float) -> Range:
    """Return hours reckoned cut by cut with the range in which nine in ten records are thought."""
    return prior_range(hours, priors()["hours"])


def _forming(need: Need, document: Mapping[str, Any], seasons: Sequence[str]) -> list[Work]:
    by_year = {year_of(name): name for name in seasons}
    written = str(document.get("season", ""))
    # forming of stone fruit begins in spring, and its season bears a name of its own
    season = by_year.get(year_of(written), written)
    rows = [r for r in document.get("rows", ()) if r.get("order")]
    what = f"{document.get('title', '')}. {sentence(_shoot_words(rows)) or 'Nothing to cut.'}"
    heights = [float(r["cut_at_m"]) for r in rows if r.get("cut_at_m") is not None]
    hours = document.get("hours") or (0.0, 0.0, 0.0)
    why = str(document.get("because", ""))
    if season != written:
        why = f"{sentence(why)} When: {str(document.get('window', '')).split('. ')[0]}"
    work = _base(need, season, "shoot survey", _from_list(hours), what, why)
    out = [
        replace(
            work,
            cuts=sum(r.get("work") in ("remove", "shorten", "head") for r in rows),
            dose=_number(document, "dose"),
            dose_limit=_number(document, "dose_limit"),
            wound_share=_number(document, "wound_share"),
            tools=tuple(dict.fromkeys(str(r["tool"]) for r in rows if r.get("tool"))),
            highest_m=max(heights, default=None if rows else 0.0),
            cautions=tuple(str(c) for c in document.get("cautions", ())),
        )
    ]
    for one in document.get("ahead", ()):
        name = by_year.get(one.get("year"))
        if name is None or name == season:
            continue
        ahead = _base(need, name, "shoot survey", _from_list(one.get("hours") or (0, 0, 0)),
                      f"{one.get('title', '')}. {one.get('what', '')}",
                      "foreseen at middling growth")  # fmt: skip
        out.append(replace(ahead, cuts=int(one.get("cuts", 0))))
    return out


def _shoot_words(rows: Sequence[Mapping[str, Any]]) -> str:
    """Return what happens to each shoot, those told alike together: ``shoots 2 and 6: ...``."""
    names: dict[str, list[str]] = {}
    for row in rows:
        names.setdefault(str(row.get("what", "")), []).append(str(row.get("shoot", "")))
    told = []
    for what, shoots in names.items():
        which = and_list(shoots)
        if shoots != ["leader"]:
            which = f"{'shoot' if len(shoots) == 1 else 'shoots'} {which}"
        told.append(f"{which}: {what[:1].lower()}{what[1:]}")
    return "; ".join(told)


def _look(need: Need, seasons: Sequence[str]) -> list[Work]:
    """Return a look at a tree that is left alone, in the season its look falls due."""
    years = [year_of(name) or 0 for name in seasons]
    due = need.review.value
    at = next((name for name, year in zip(seasons, years, strict=True) if year + 1 >= due), LATER)
    return [_from_need(need, at)]


def _from_need(need: Need, season: str) -> Work:
    low = need.hours.value if need.hours.low is None else need.hours.low
    high = need.hours.value if need.hours.high is None else need.hours.high
    hours = Range(need.hours.value, low, high)
    work = _base(need, season, "walk", hours, _order(need), need.kind.because)
    return replace(
        work,
        dose_limit=None if need.dose is None else need.dose.value,
        highest_m=need.station.height_m,
        cautions=need.cautions,
    )


def _order(need: Need) -> str:
    kind, s = need.kind.value, need.station
    if kind in LOOKS:
        return f"{kind}: look at it, cut nothing"
    if kind == "restock":
        return f"plant anew with a guard ({s.status})"
    if kind == "replace":
        dead = "have it looked at, then take it down or lower it; plant its successor"
        return dead if s.status == "dead" else "plant its successor; take it down only if it must"
    words = kind
    if need.dose is not None:
        words += f", at most {100.0 * need.dose.value:.0f} % of the live crown"
    if need.cuts_allowed is not None:
        many = [(n, cm) for n, cm in zip(need.cuts_allowed.value, CUTS_CM, strict=True) if n]
        told = [f"{n} of {cm:g} cm" for n, cm in many[1:]]
        told[:0] = [f"{counted(n, 'cut')} of {cm:g} cm" for n, cm in many[:1]]
        words += f"; at most {', or '.join(told)}" if told else "; only small cuts"
    return words


def _by_need(
    needs: Sequence[Need], done: Sequence[Work], named: Mapping[str, tuple[str, ...]]
) -> list[Work]:
    """Return the work of trees without a plan; see `works_of`."""
    out: list[Work] = []
    load: dict[str, float] = {}
    for work in done:
        load[work.season] = load.get(work.season, 0.0) + work.hours.value
    for ranked in rank(needs):
        need = ranked.need
        dormant = need.kind.value in PLANTING
        names = named["pome" if dormant else group_of(need.station.species)]
        if need.urgency.value in WAITS:
            at = WAITS[need.urgency.value]
            season = names[at] if at < len(names) else LATER
        elif need.urgency.value == "within five years" and len(names) > SHARED_FROM:
            season = min(names[SHARED_FROM:], key=lambda name: load.get(name, 0.0))
        else:
            season = LATER
        work = _from_need(need, season)
        load[season] = load.get(season, 0.0) + work.hours.value
        out.append(work)
    return out


def _from_list(values: Sequence[float]) -> Range:
    """Return a range from low, value and high, as forming plans write it."""
    low, value, high = (float(v) for v in values)
    return Range(value, low, high)


def _number(document: Mapping[str, Any], name: str) -> float | None:
    value = document.get(name)
    return float(value) if isinstance(value, int | float) else None


def hours_in(works: Iterable[Work]) -> Range:
    """Return the hours of several works."""
    return added(w.hours for w in works)

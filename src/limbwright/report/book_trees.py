"""Trees one by one for the management plan: the surveyed with pictures, the young, all in rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from limbwright.model.records import StationRecord
from limbwright.report.book_words import NOT_KNOWN, and_list, hours_words, percent, sentence
from limbwright.report.book_works import TreePlan, Work, season_key
from limbwright.report.book_years import plan_strip
from limbwright.report.holding_report import HoldingReport

__all__ = ["TreePages", "size_words", "tree_pages", "tree_rows", "who_is", "young_rows"]

MOST_WORDS = 220
"""Letters after which a reason is cut off at a word in the table; judgement: five lines."""
WAYS = {"staged": "this plan", "at once": "all at once", "left alone": "left alone"}


@dataclass(frozen=True, slots=True)
class TreePages:
    """The surveyed trees in words, and their pictures by file name."""

    words: list[dict[str, Any]]
    pictures: dict[str, str | bytes] = field(default_factory=dict)


def who_is(station: StationRecord) -> str:
    """Return species, cultivar and year of planting as far as they are known."""
    said = [station.species or station.status, station.cultivar]
    if station.planted is not None:
        said.append(f"{station.planted}")
    return ", ".join(word for word in said if word)


def size_words(station: StationRecord) -> str:
    """Return girth, height and spread as far as they were taken."""
    said = []
    if station.girth_cm is not None:
        said.append(f"{station.girth_cm:.0f} cm round")
    if station.height_m is not None:
        said.append(f"{station.height_m:.1f} m high")
    if station.spread_m is not None:
        said.append(f"{station.spread_m:.1f} m wide")
    return ", ".join(said) or NOT_KNOWN


def size_figures(station: StationRecord) -> str:
    """Return girth, then height by spread, for a narrow column: ``146 cm; 5 × 7 m``."""
    girth, high, wide = station.girth_cm, station.height_m, station.spread_m
    if girth is None and high is None and wide is None:
        return NOT_KNOWN
    around = NOT_KNOWN if girth is None else f"{girth:.0f} cm"
    tall, broad = (NOT_KNOWN if one is None else f"{round(one, 1):g}" for one in (high, wide))
    return f"{around}; {tall} × {broad} m"


def tree_pages(report: HoldingReport) -> TreePages:
    """Return every tree that has a plan from its limbs: its years ahead, and their picture."""
    plans = _latest(report)
    found = TreePages([])
    works: dict[str, list[Work]] = {}
    for work in report.works:
        works.setdefault(work.tree, []).append(work)
    for number, station in enumerate(report.stations, 1):
        plan = plans.get(station.tree)
        mine = [w for w in works.get(station.tree, ()) if w.basis == "limb survey"]
        if plan is None or not mine:
            continue
        file = f"tree-{number:05d}.svg"
        skeleton = report.skeletons.get(station.tree)
        drawn = "" if skeleton is None else plan_strip(plan.document, skeleton)
        if drawn:
            found.pictures[file] = drawn
        found.words.append(
            {
                "tree": station.tree,
                "who": who_is(station),
                "size": size_words(station),
                "picture": file if drawn else "",
                "no_picture": ""
                if drawn
                else "No picture: the survey of its limbs is not at "
                "hand, or was taken anew since this plan was made.",
                "rows": [
                    [
                        w.season,
                        str(w.cuts),
                        percent(w.dose, of=w.dose_limit),
                        percent(w.wound_share),
                        hours_words(w.hours, unit=False),
                        w.why,
                    ]
                    for w in mine
                    if not w.rest
                ],
                "rests": _rests(mine),
                "ways": _ways(plan.document),
                "keep": _keep(plan.document),
            }
        )
    return found


def _rests(works: Sequence[Work]) -> str:
    """Return the seasons without cuts, each reason once."""
    why: dict[str, list[str]] = {}
    for work in works:
        if work.rest:
            why.setdefault(work.why, []).append(work.season)
    return " ".join(
        f"No cuts in {and_list(names)}: {after_colon(words)}" for words, names in why.items()
    )


def after_colon(words: str) -> str:
    """Return a sentence to go on with after "No cuts:"."""
    words = words.removeprefix("No cuts: ").removeprefix("No cut.") or "none was planned."
    return words[:1].lower() + words[1:]


def _latest(report: HoldingReport) -> dict[str, TreePlan]:
    """Return the plan of each tree that its work was taken from: over years, else of a season."""
    out: dict[str, TreePlan] = {}
    for kind in ("season", "years"):
        mine = [p for p in report.plans if p.kind == kind]
        for plan in sorted(mine, key=lambda p: season_key(p.season)):
            out[plan.tree] = plan
    return out


def _ways(document: Mapping[str, Any]) -> str:
    """Return how the plan stands beside other ways, over ten years, in a sentence."""
    target = document.get("target")
    said = ""
    if isinstance(target, Mapping):
        said = (
            f"Aimed at: from {target['height_now_m']:.1f} m high and {target['spread_now_m']:.1f} "
            f"m wide to {target['height_m']:.1f} m and {target['spread_m']:.1f} m. "
        )
    ways = {w["way"]: w for w in document.get("ways", ())}
    told = [
        f"{name} {100.0 * ways[key]['chance']:.0f} %" for key, name in WAYS.items() if key in ways
    ]
    if told:
        return f"{said}Chance that a limb breaks within ten years: {', '.join(told)}."
    before, after = document.get("chance_before"), document.get("chance_after")
    if before is not None and after is not None:
        return (
            f"{said}Chance that a limb breaks within a year: {100.0 * before:.1f} %, after the "
            f"cuts {100.0 * after:.1f} %."
        )
    return said


def _keep(document: Mapping[str, Any]) -> str:
    """Return the limbs that stay whole, and why."""
    held: dict[str, str] = {}
    plans = [s.get("plan") for s in document.get("seasons", ())] or [document]
    for plan in plans:
        for one in (plan or {}).get("keep", ()):
            held.setdefault(str(one["limb"]), str(one["why"]))
    return "; ".join(f"limb {limb}: {why}" for limb, why in held.items())


def young_rows(report: HoldingReport) -> list[list[str]]:
    """Return young trees: who it is, what is done now, hours, and the years after."""
    works: dict[str, list[Work]] = {}
    for work in report.works:
        if work.kind == "form":
            works.setdefault(work.tree, []).append(work)
    rows = []
    for station in report.stations:
        mine = works.get(station.tree)
        if not mine:
            continue
        now, *ahead = mine
        by = "" if now.basis == "shoot survey" else " Measure its shoots for a plan shoot by shoot."
        rows.append(
            [
                station.tree,
                who_is(station),
                sentence(f"{now.season}: {now.what}{by}") if now.season else f"{now.what}{by}",
                hours_words(now.hours, unit=False),
                " ".join(sentence(f"{w.season}: {w.what}") for w in ahead) or NOT_KNOWN,
            ]
        )
    return rows


def tree_rows(report: HoldingReport) -> list[dict[str, Any]]:
    """Return all stations by orchard: one row each, with what it needs and when."""
    first: dict[str, Work] = {}
    for work in report.works:
        if not work.rest:
            first.setdefault(work.tree, work)
    out = []
    for name in report.orchards:
        rows = []
        for station, need in zip(report.stations, report.needs, strict=True):
            if station.orchard != name:
                continue
            comes = first.get(station.tree)
            when = NOT_KNOWN if comes is None else comes.season or "later"
            hours = NOT_KNOWN if comes is None else hours_words(comes.hours, unit=False)
            rows.append(
                [
                    station.station,
                    who_is(station),
                    size_figures(station),
                    station.condition or NOT_KNOWN,
                    cut_short(f"{need.kind.value}, {need.urgency.value}: {need.kind.because}"),
                    when,
                    hours,
                    str(need.review.value),
                ]
            )
        out.append({"orchard": name or "The orchard", "rows": rows})
    return out


def cut_short(words: str) -> str:
    """Return words, cut off at a word where they are too many for a row."""
    if len(words) <= MOST_WORDS:
        return words
    return words[:MOST_WORDS].rsplit(" ", 1)[0] + " …"

"""The years ahead of a young tree, season by season, at a middling, a slow and a quick pace."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from limbwright.form.forecast import grown_on
from limbwright.form.results import FormRow, YearAhead
from limbwright.form.season import Season, one_season
from limbwright.form.settings import FormSettings
from limbwright.form.target import ClearStem
from limbwright.form.words import span
from limbwright.model.shoots import YoungTree
from limbwright.trade.species import Species

__all__ = ["Ahead", "look_ahead", "season_words"]

LONGEST = 12
"""Years looked ahead; judgement: beyond them no forecast of shoots means anything."""


@dataclass(frozen=True, slots=True)
class Ahead:
    """The years after this one, and by when the tree stands at each stage, in words."""

    years: tuple[YearAhead, ...]
    milestones: tuple[str, ...]
    stop: str


def look_ahead(
    tree: YoungTree,
    now: Season,
    kind: Species,
    target: ClearStem,
    settings: FormSettings,
    year: int,
    *,
    count: int = 7,
) -> Ahead:
    """Return the years ahead if each season's rows are done and the tree grows at its pace.

    The pace lies halfway between what it grew last season and the usual growth of ``grow_cm``,
    and its range is that of ``grow_cm``.
    """
    usual = settings.parameter("grow_cm")
    middle = settings["grow_cm"]
    if now.growth_cm is not None and now.standing.stage.key != "still":
        middle = 0.5 * (middle + now.growth_cm)
    paces = [middle * part / usual.value for part in (usual.value, usual.low, usual.high)]
    runs = [list(_run(tree, now, kind, target, settings, year, pace)) for pace in paces]
    years = tuple(
        YearAhead(
            y,
            season.standing.stage,
            season_words(season),
            season.crown.height_m,
            sum(r.cuts for r in season.rows),
            season.hours,
            season.crown,
        )
        for y, season in runs[0][1 : count + 1]
    )
    milestones = tuple(
        words
        for words in (
            _milestone(runs, ("choose",), "scaffold limbs chosen", chosen=True),
            _milestone(runs, ("done",), "formed"),
        )
        if words
    )
    return Ahead(years, milestones, _stop(runs, settings))


def _run(
    tree: YoungTree,
    now: Season,
    kind: Species,
    target: ClearStem,
    settings: FormSettings,
    year: int,
    growth_cm: float,
) -> Iterator[tuple[int, Season]]:
    season = now
    yield year, season
    for y in range(year + 1, year + LONGEST + 1):
        if season.standing.stage.key == "done":
            return
        tree = grown_on(
            tree.station, season.crown, season.rows, settings, growth_cm=growth_cm, year=y - 1
        )
        season = one_season(tree, kind, target, settings, y)
        yield y, season


def _first(run: list[tuple[int, Season]], keys: tuple[str, ...], *, chosen: bool) -> int | None:
    for y, season in run:
        if season.standing.stage.key in keys and (
            not chosen or (season.choice is not None and season.choice.good)
        ):
            return y
    return None


def _milestone(
    runs: list[list[tuple[int, Season]]], keys: tuple[str, ...], words: str, *, chosen: bool = False
) -> str:
    if chosen and runs[0][0][1].standing.stage.key in ("build", "done"):
        return ""
    middle, slow, quick = (_first(run, keys, chosen=chosen) for run in runs)
    if middle == runs[0][0][0]:
        return ""
    if middle is None:
        return f"{words.capitalize()}: not within {LONGEST} years at this pace."
    text = f"{words.capitalize()}: about {middle}"
    if quick is not None and slow is not None and (quick, slow) != (middle, middle):
        early, late = min(quick, middle, slow), max(quick, middle, slow)
        text += f" ({early} to {late})"
    elif slow is None:
        soon = f"{min(quick or middle, middle)} if quick, " if quick != middle else ""
        text += f" ({soon}after {runs[0][0][0] + LONGEST} if slow)"
    return f"{text}."


def _stop(runs: list[list[tuple[int, Season]]], settings: FormSettings) -> str:
    middle = _first(runs[0], ("done",), chosen=False)
    winters = span(settings.low("years_cut"), settings.high("years_cut"), "winters")
    when = f", about {middle}" if middle is not None else ""
    if runs[0][0][1].standing.stage.key == "done":
        when = ": it is time"
    return (
        f"Stop shortening the leaders after {settings['years_cut']:.0f} winters (sources give "
        f"{winters}){when}; from then on lift at most one low limb a year out of the browse line."
    )


def season_words(season: Season) -> str:
    """Return in one line what a season does."""
    rows = season.rows
    leader = next((r for r in rows if r.role == "leader" and r.cuts), None)
    parts = []
    if leader is not None and leader.work == "head":
        parts.append(f"cut the leader at {leader.cut_at_m or 0.0:.1f} m")
    elif leader is not None and season.standing.stage.key == "choose":
        parts.append("open the centre")
    elif leader is not None:
        parts.append("shorten the leader")
    parts += _counted(rows, "scaffold", "cut back", "scaffold limb")
    parts += _counted(rows, "second", "shorten", "side limb")
    stubs = sum(r.role == "stem shoot" and r.work == "head" for r in rows)
    if stubs:
        parts.append(f"shorten {stubs} stem shoot{'s' if stubs > 1 else ''}")
    spread = sum(r.spread_to_deg is not None for r in rows)
    if spread:
        parts.append(f"set {spread}")
    gone = sum(r.work == "remove" for r in rows)
    if gone:
        parts.append(f"take out {gone}")
    if not parts:
        parts.append("no cut" if season.standing.stage.key == "done" else "let it grow, no cut")
    text = ", ".join(parts)
    return f"{text[0].upper()}{text[1:]}."


def _counted(rows: tuple[FormRow, ...], role: str, verb: str, what: str) -> list[str]:
    count = sum(r.role == role and r.work == "head" for r in rows)
    return [f"{verb} {count} {what}{'s' if count > 1 else ''}"] if count else []

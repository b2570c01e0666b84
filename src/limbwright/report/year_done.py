"""A year on a holding: what was done against what was planned, tree by tree, and what is next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import Any

from limbwright.errors import InputError
from limbwright.growth.ranges import Range
from limbwright.learn.compared import Compared
from limbwright.learn.done import WorkDone
from limbwright.model.records import StationRecord
from limbwright.model.work import Photo, Response, Visit
from limbwright.report.book_words import added
from limbwright.report.book_works import TreePlan, Work
from limbwright.report.holding_report import HoldingReport

__all__ = ["CrownLeft", "TreeYear", "YearlyReport"]

BEFORE_DAYS = 400
"""Judgement: a photo from before the work may be as old as a year and a month."""
OUTCOMES = ("made", "otherwise", "not made", "besides")


@dataclass(frozen=True, slots=True)
class CrownLeft:
    """Height and spread of a crown [m], None where not known: walked before, foreseen after."""

    height_m: float | None
    spread_m: float | None
    foreseen_height_m: float | None
    foreseen_spread_m: float | None


@dataclass(frozen=True, slots=True)
class TreeYear:
    """One tree worked on: the season's work, its visits, photos before and after, its crown."""

    work: WorkDone
    station: StationRecord | None
    visits: tuple[Visit, ...]
    before: Photo | None
    after: Photo | None
    others: int
    crown: CrownLeft

    @property
    def hours_planned(self) -> float:
        """Person-hours of the cuts made, as the plan has them, brash included."""
        return self.work.hours_planned + self.work.brash_planned

    @property
    def hours_done(self) -> float | None:
        """Person-hours noted, brash included where it was noted; None where none were."""
        told = [h for h in (self.work.hours, self.work.brash_hours) if h is not None]
        return sum(told) if told else None


@dataclass(frozen=True)
class YearlyReport:
    """What was done on a holding from one day to another, beside what was planned.

    ``report`` holds the records; its ``looked_back`` must be there. ``first`` and ``last`` are
    both counted.
    """

    report: HoldingReport
    first: date
    last: date

    def __post_init__(self) -> None:
        if self.report.looked_back is None:
            raise ValueError("a yearly report needs the records looked back on")
        if self.first > self.last:
            raise InputError(
                f"The report would end on {self.last} before it begins on {self.first}.",
                "Give the earlier day first.",
            )

    @cached_property
    def trees(self) -> tuple[TreeYear, ...]:
        """The trees worked on in the period, in the order of the stations."""
        looked = self.report.looked_back
        works = () if looked is None else looked.works
        place = {s.tree: k for k, s in enumerate(self.report.stations)}
        mine = [w for w in works if w.worked_on is not None and self.holds(w.worked_on)]
        mine.sort(key=lambda w: (place.get(w.tree, len(place)), w.tree, w.worked_on or date.min))
        return tuple(self._tree(w) for w in mine)

    def holds(self, day: date) -> bool:
        """Return whether a day lies in the period."""
        return self.first <= day <= self.last

    def _tree(self, work: WorkDone) -> TreeYear:
        report = self.report
        station = next((s for s in report.stations if s.tree == work.tree), None)
        visits = tuple(v for v in report.visits if v.tree == work.tree and self.holds(v.done_on))
        mine = [p for p in report.photos if p.tree == work.tree and p.taken_on <= self.last]
        since = self.first - timedelta(days=BEFORE_DAYS)
        begun = min((v.done_on for v in visits), default=work.worked_on or self.last)
        before = [p for p in mine if p.shows == "before" and since <= p.taken_on]
        after = [p for p in mine if p.shows == "after" and p.taken_on >= begun]
        shown = (before[-1:], after[-1:])
        recent = [p for p in mine if p.taken_on >= self.first]
        return TreeYear(
            work=work,
            station=station,
            visits=visits,
            before=before[-1] if before else None,
            after=after[-1] if after else None,
            others=sum(all(p not in few for few in shown) for p in recent),
            crown=self._crown(work, station),
        )

    def _crown(self, work: WorkDone, station: StationRecord | None) -> CrownLeft:
        plan = next((p for p in self.report.plans if p.tree == work.tree and _at(p, work)), None)
        year: Mapping[str, Any] = {} if plan is None else _year(plan, work.season)
        return CrownLeft(
            None if station is None else station.height_m,
            None if station is None else station.spread_m,
            year.get("height_m"),
            year.get("spread_m"),
        )

    @cached_property
    def outcomes(self) -> dict[str, int]:
        """How many cuts came out each way."""
        return {name: sum(t.work.count(name) for t in self.trees) for name in OUTCOMES}

    @cached_property
    def hours(self) -> tuple[float, float, int]:
        """Person-hours planned and noted over trees whose hours were noted, and how many."""
        told = [(t.hours_planned, t.hours_done) for t in self.trees if t.hours_done is not None]
        return sum(p for p, _ in told), sum(d for _, d in told if d is not None), len(told)

    @cached_property
    def missed(self) -> tuple[str, ...]:
        """Trees with cuts planned for a season of the period to which nobody came."""
        seasons = {t.work.season for t in self.trees}
        worked = {(v.tree, v.season) for v in self.report.visits}
        worked |= {(t.work.tree, t.work.season) for t in self.trees}
        out = []
        for plan in self.report.plans:
            for season in _seasons_with_cuts(plan):
                if season in seasons and (plan.tree, season) not in worked:
                    out.append(plan.tree)
        return tuple(dict.fromkeys(out))

    @cached_property
    def responses(self) -> tuple[Response, ...]:
        """How trees answered, as seen in the period."""
        return tuple(r for r in self.report.responses if self.holds(r.seen_on))

    @cached_property
    def compared(self) -> tuple[Compared, ...]:
        """Forecasts beside finds of the period."""
        looked = self.report.looked_back
        rows = () if looked is None else looked.compared
        return tuple(c for c in rows if self.holds(c.day))

    @cached_property
    def planted(self) -> tuple[StationRecord, ...]:
        """Trees planted in a year of the period."""
        years = range(self.first.year, self.last.year + 1)
        return tuple(
            s for s in self.report.stations if s.planted in years and s.status in ("new", "living")
        )

    @cached_property
    def next_works(self) -> tuple[Work, ...]:
        """The work of the seasons that come next, rests left out."""
        first = set(self.report.first_season.values())
        return tuple(w for w in self.report.works if w.season in first and not w.rest)

    @cached_property
    def next_hours(self) -> Range:
        """The hours of the seasons that come next."""
        return added(w.hours for w in self.next_works)


def _at(plan: TreePlan, work: WorkDone) -> bool:
    return plan.kind == "years" and work.season in _names(plan.document)


def _names(document: Mapping[str, Any]) -> list[str]:
    return [str(one.get("season", "")) for one in document.get("seasons", ())]


def _year(plan: TreePlan, season: str) -> Mapping[str, Any]:
    """Return the year of a plan's trajectory that a season begins."""
    at = _names(plan.document).index(season)
    years: Sequence[Mapping[str, Any]] = plan.document.get("trajectory", ())
    return years[at] if at < len(years) else {}


def _seasons_with_cuts(plan: TreePlan) -> list[str]:
    if plan.kind == "years":
        return [
            str(one.get("season", ""))
            for one in plan.document.get("seasons", ())
            if (one.get("plan") or {}).get("cuts")
        ]
    return [plan.season] if plan.kind == "season" and plan.document.get("cuts") else []

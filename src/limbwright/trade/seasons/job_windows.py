"""When a job may be done in a species, day by day: open, with care, or closed, and why."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from limbwright.errors import InputError
from limbwright.model.site import Site
from limbwright.model.skeleton import Bools
from limbwright.trade.seasons.climate import Climate
from limbwright.trade.seasons.days import Axis, axis, inside, say_span
from limbwright.trade.seasons.local import LocalRule
from limbwright.trade.seasons.placed import Basis, Place, Placed, place_of
from limbwright.trade.seasons.rules import CONDITIONS, JOBS, Job, find_job, season_rules
from limbwright.trade.species import Species

__all__ = ["JobWindow", "Reason", "Span", "State", "jobs_for", "windows_for"]

State = Literal["open", "care", "closed"]
STATES: tuple[State, ...] = ("closed", "care", "open")
FIRST_YEAR, LAST_YEAR = 1900, 2200
"""Years asked for beyond these are slips of the pen; judgement."""
CAUTION = (
    "A limb about to come down on people does not wait for a window: keep them away and ask a "
    "qualified arborist. Local law comes first."
)


@dataclass(frozen=True, slots=True)
class Reason:
    """One rule that has a say: its key, its name, its sentence, and where it comes from."""

    key: str
    name: str
    sentence: str
    strength: str
    scheme: str
    place: str
    dated: str
    source: str


@dataclass(frozen=True, slots=True)
class Span:
    """Days in a row of which the same holds, both ends counted.

    ``rules`` are the keys of all rules that have a say, ``decided_by`` the one that settled it.
    """

    first: date
    last: date
    state: State
    rules: tuple[str, ...]
    decided_by: str

    @property
    def days(self) -> int:
        """Number of days."""
        return (self.last - self.first).days + 1


@dataclass(frozen=True, slots=True)
class JobWindow:
    """When a job may be done in a species, for one year.

    ``spans`` share out the calendar year; ``runs`` are the windows that begin in it, each as its
    spans, and may end in the next year. ``reasons`` has every rule the spans name; ``windows`` the
    keys of those that are windows themselves.
    """

    job: Job
    species: str
    year: int
    basis: Basis
    sentence: str
    spans: tuple[Span, ...]
    runs: tuple[tuple[Span, ...], ...]
    reasons: Mapping[str, Reason]
    windows: frozenset[str]
    caution: str = CAUTION

    def on(self, day: date) -> Span:
        """Return the span a day of the year, or of a window that begins in it, lies in.

        Raises
        ------
        ValueError
            The day lies in neither.
        """
        for span in (*self.spans, *(s for run in self.runs for s in run)):
            if span.first <= day <= span.last:
                return span
        raise ValueError(f"{day} is not in {self.year} nor in a window that begins in it")

    def why(self, span: Span) -> tuple[Reason, ...]:
        """Return the rules that have a say in a span, the deciding one first."""
        keys = dict.fromkeys((span.decided_by, *span.rules))
        return tuple(self.reasons[key] for key in keys if key in self.reasons)


def jobs_for(species: Species) -> tuple[Job, ...]:
    """Return the jobs that there are windows for in a species."""
    return tuple(
        job
        for job in JOBS.values()
        if any(
            rule.kind == "window"
            and rule.touches(job)
            and rule.speaks_of(species.key, species.group)
            for rule in season_rules()
        )
    )


def windows_for(
    job: str,
    species: Species,
    site: Site,
    year: int,
    climate: Climate | None = None,
    local_rules: Sequence[LocalRule] = (),
    conditions: Collection[str] = (),
) -> JobWindow:
    """Return when a job may be done in a species, in a place and a year.

    Parameters
    ----------
    job
        A key of `trade.seasons.rules.JOBS`, or its words.
    site
        Its latitude, or ``southern``, says which half of the year.
    year
        Windows that begin in this year are given whole.
    climate
        Means of the months, which move the days; None: the calendar.
    local_rules
        Rules of the place. They come before the general ones; of two, the stricter holds.
    conditions
        What is so of the tree or the orchard: keys of `trade.seasons.rules.CONDITIONS`.

    Raises
    ------
    InputError
        The job is not known or not done in this species, or a condition is not known, or the
        climate is of the other half of the world.

    Examples
    --------
    >>> from limbwright.model.site import Site
    >>> from limbwright.trade.species import species
    >>> found = windows_for("structural", species("plum"), Site(latitude_deg=52.0), 2027)
    >>> for span in found.runs[0]:
    ...     print(span.first, span.last, span.state, span.decided_by)
    2027-05-01 2027-07-24 care nesting
    2027-07-25 2027-08-31 care nesting
    2027-09-01 2027-09-30 open stone-summer
    """
    kind = find_job(job)
    _check(kind, species, year, conditions)
    place = place_of(site, climate)
    held = {*conditions} | place.conditions
    placed = [
        one
        for one in place.rules
        if one.rule.touches(kind)
        and one.rule.speaks_of(species.key, species.group)
        and (not one.rule.needs or one.rule.needs in held)
    ]
    local = [one for one in local_rules if one.concerns(kind, species.key, species.group)]
    first, last = date(year - 1, 1, 1), date(year + 1, 12, 31)
    layers = _layers(placed, local, axis(first, last))
    whole = _spans(layers, first)
    return JobWindow(
        job=kind,
        species=species.key,
        year=year,
        basis=place.basis,
        sentence=place.sentence,
        spans=_clipped(whole, date(year, 1, 1), date(year, 12, 31)),
        runs=_runs(whole, year),
        reasons=_reasons(placed, local, place),
        windows=frozenset(one.rule.key for one in placed if one.rule.kind == "window"),
    )


def _check(job: Job, species: Species, year: int, conditions: Collection[str]) -> None:
    able = jobs_for(species)
    if job not in able:
        raise InputError(
            f"There is no {job.words} of {species.name}.",
            f"Give one of: {', '.join(one.key for one in able)}.",
        )
    unknown = [one for one in conditions if one not in CONDITIONS]
    if unknown:
        raise InputError(
            f"The condition {unknown[0]!r} is not known.", f"Give one of: {', '.join(CONDITIONS)}."
        )
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise InputError(
            f"The year {year} is out of range.", f"Give one from {FIRST_YEAR} to {LAST_YEAR}."
        )


@dataclass(frozen=True, slots=True)
class _Layers:
    """``(d,)`` state of each day, 0 closed to 2 open; the rule that settled it; who has a say."""

    state: NDArray[np.int8]
    decided: NDArray[np.intp]
    keys: tuple[str, ...]
    says: NDArray[np.bool_]


OUTSIDE = "no-window"
NOT_KNOWN = "window-not-known"
"""Where neither calendar nor climate tells of a window, no day is closed and none is open."""
DOUBT = "-in-doubt"
"""Added to the key of a window where sources, or the parameters of the climate, disagree."""


def _layers(placed: Sequence[Placed], local: Sequence[LocalRule], codes: Axis) -> _Layers:
    state = np.zeros(codes.size, dtype=np.int8)
    decided = np.zeros(codes.size, dtype=np.intp)
    keys, says = [OUTSIDE], [np.zeros(codes.size, dtype=np.bool_)]

    def put(key: str, days: Bools, level: int, *, lower: bool, heard: Bools | None = None) -> None:
        keys.append(key)
        says.append(days if heard is None else heard)
        at = days & ((state > level) if lower else (state < level))
        state[at], decided[at] = level, len(keys) - 1

    windows = [one for one in placed if one.rule.kind == "window"]
    for one in windows:
        put(one.rule.key, inside(one.first, one.last, codes), 2, lower=False)
    for one in windows:
        # the core of one window may lie in the doubt of another: that is no doubt
        wide = inside(one.widest_first, one.widest_last, codes) & (state < 2)
        put(one.rule.key + DOUBT, wide, 1, lower=False)
    if not windows:
        put(NOT_KNOWN, np.ones(codes.size, dtype=np.bool_), 1, lower=False)
    allows = [one for one in local if one.strength == "allow"]
    for number, rule in _numbered(local, allows):
        put(f"local-{number}", inside(rule.first, rule.last, codes), 2, lower=False)
    for one in placed:
        if one.rule.kind == "disturbance":
            level = 0 if one.rule.strength == "must" else 1
            put(one.rule.key, inside(one.first, one.last, codes), level, lower=True)
    onlys = [one for one in local if one.strength == "only"]
    within = np.zeros(codes.size, dtype=np.bool_)
    for rule in onlys:
        within |= inside(rule.first, rule.last, codes)
    for number, rule in _numbered(local, onlys):
        outside = ~within & ~inside(rule.first, rule.last, codes)
        put(f"local-{number}", outside, 0, lower=True, heard=np.ones_like(outside))
    for number, rule in _numbered(local, [one for one in local if one.strength == "look first"]):
        put(f"local-{number}", inside(rule.first, rule.last, codes), 1, lower=True)
    for number, rule in _numbered(local, [one for one in local if one.strength == "forbid"]):
        days = inside(rule.first, rule.last, codes)
        put(f"local-{number}", days, 0, lower=True)
        decided[days] = len(keys) - 1
    return _Layers(state, decided, tuple(keys), np.array(says))


def _numbered(
    local: Sequence[LocalRule], chosen: Sequence[LocalRule]
) -> list[tuple[int, LocalRule]]:
    return [(number, one) for number, one in enumerate(local, 1) if any(one is c for c in chosen)]


def _spans(layers: _Layers, first: date) -> tuple[Span, ...]:
    """Return the days as spans of which the same holds."""
    marks = np.vstack([layers.says, layers.state, layers.decided])
    starts = np.flatnonzero(np.any(marks[:, 1:] != marks[:, :-1], axis=0)) + 1
    edges = [0, *starts.tolist(), layers.state.size]
    found = []
    for begin, end in pairwise(edges):
        says = layers.says[:, begin]
        rules = tuple(key for key, on in zip(layers.keys, says.tolist(), strict=True) if on)
        found.append(
            Span(
                first + timedelta(days=begin),
                first + timedelta(days=end - 1),
                STATES[int(layers.state[begin])],
                rules,
                layers.keys[int(layers.decided[begin])],
            )
        )
    return tuple(found)


def _clipped(spans: Sequence[Span], first: date, last: date) -> tuple[Span, ...]:
    return tuple(
        Span(max(s.first, first), min(s.last, last), s.state, s.rules, s.decided_by)
        for s in spans
        if s.last >= first and s.first <= last
    )


def _runs(spans: Sequence[Span], year: int) -> tuple[tuple[Span, ...], ...]:
    """Return the unbroken rows of days not closed that begin in a year."""
    rows: list[list[Span]] = []
    before_closed = True
    for span in spans:
        if span.state == "closed":
            before_closed = True
            continue
        if before_closed:
            rows.append([])
        rows[-1].append(span)
        before_closed = False
    if len(rows) == 1 and rows[0][0].first == spans[0].first and rows[0][-1] is spans[-1]:
        return (_clipped(spans, date(year, 1, 1), date(year, 12, 31)),)  # never closed
    return tuple(tuple(row) for row in rows if row[0].first.year == year)


def _reasons(
    placed: Sequence[Placed], local: Sequence[LocalRule], place: Place
) -> dict[str, Reason]:
    found = {}
    for one in placed:
        r = one.rule
        more = (r.strength, r.scheme, r.place, r.dated, r.source)
        found[r.key] = Reason(r.key, r.name, r.reason, *more)
        if r.kind == "window":
            span = say_span(one.widest_first, one.widest_last)
            doubt = f"Sources differ on these days; the widest of them has it {span}."
            found[r.key + DOUBT] = Reason(r.key + DOUBT, f"{r.name}, in doubt", doubt, *more)
    for number, rule in enumerate(local, 1):
        key = f"local-{number}"
        found[key] = Reason(
            key,
            f"local rule: {rule.scheme}",
            rule.words,
            rule.strength,
            rule.scheme,
            rule.place,
            rule.dated,
            rule.source,
        )
    for key, name, sentence in (
        (OUTSIDE, "not the season", "Outside the season of this job."),
        (NOT_KNOWN, "season not known", f"No season can be told. {place.sentence}"),
    ):
        found[key] = Reason(key, name, sentence, "", "", "", "", "")
    return found

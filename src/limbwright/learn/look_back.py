"""Look back: forecasts beside what was found, tree by tree and for the whole holding."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from importlib.resources import files
from math import exp, hypot, log
from typing import Any

from limbwright.cuts.weights import Settings
from limbwright.learn.answer import answer
from limbwright.learn.compared import Compared, Observation, compare, log_ratio, prior_range
from limbwright.learn.done import WorkDone, work_done
from limbwright.learn.factors import Factors
from limbwright.learn.failures import Watched, poisson_range
from limbwright.learn.quantities import QUANTITIES, priors
from limbwright.learn.season import TreeSeason
from limbwright.trade.parameters import parameters

__all__ = ["SCHEMA", "Calibration", "Condition", "LookBack", "look_back", "lookback_schema"]

SCHEMA = "limbwright.lookback/1"
DAYS_A_YEAR = 365.25
LEAST_HOURS = 0.05
"""Judgement: three minutes; a shorter forecast or find says nothing of hours."""


@dataclass(frozen=True, slots=True)
class Condition:
    """How a tree's condition changed from before the work to when it was seen."""

    tree: str
    day: date
    before: str
    found: str


@dataclass(frozen=True, slots=True)
class Calibration:
    """One forecast of the whole holding: the sum or mean foretold, what was found, its range.

    For limbs lost ``low`` and ``high`` are the means that would give such a count nine times in
    ten (exact Poisson). For all else they are blank and ``ratio`` says it.
    """

    what: str
    unit: str
    records: int
    foretold: float
    found: float
    ratio: float | None
    low: float | None
    high: float | None
    sentence: str

    def to_dict(self) -> dict[str, Any]:
        """Return the row as plain values."""
        values = {n: getattr(self, n) for n in self.__dataclass_fields__}
        return {n: round(v, 4) if isinstance(v, float) else v for n, v in values.items()}


@dataclass(frozen=True, slots=True)
class LookBack:
    """Everything the records say of the forecasts.

    ``works`` one row a tree and season, planned against done; ``compared`` each forecast with its
    find; ``conditions`` before and after; ``watched`` trees looked at for limbs lost;
    ``observations`` what may teach; ``calibrations`` of the holding; ``notes`` what could not be
    compared and why, by tree.
    """

    works: tuple[WorkDone, ...]
    compared: tuple[Compared, ...]
    conditions: tuple[Condition, ...]
    watched: tuple[Watched, ...]
    observations: tuple[Observation, ...]
    calibrations: tuple[Calibration, ...]
    notes: tuple[tuple[str, str], ...]

    @property
    def surprising(self) -> tuple[Compared, ...]:
        """The finds outside their range, the furthest first."""
        outside = (one for one in self.compared if not one.inside)
        return tuple(sorted(outside, key=lambda one: (-abs(one.z), one.tree, one.what)))

    def to_dict(self) -> dict[str, Any]:
        """Return the whole as plain values, the first part of ``limbwright.lookback/1``."""
        return {
            "schema": SCHEMA,
            "work": [_work(one) for one in self.works],
            "compared": [one.to_dict() for one in self.compared],
            "conditions": [
                {"tree": c.tree, "day": c.day.isoformat(), "before": c.before, "found": c.found}
                for c in self.conditions
            ],
            "watched": [
                {
                    "tree": w.tree,
                    "seen_on": w.seen_on.isoformat(),
                    "years": round(w.years, 3),
                    "chance": round(w.chance, 6),
                    "expected": round(w.expected, 6),
                    "lost": w.lost,
                }
                for w in self.watched
            ],
            "calibration": [one.to_dict() for one in self.calibrations],
            "notes": [{"tree": tree, "note": note} for tree, note in self.notes],
        }


def look_back(
    seasons: Iterable[TreeSeason],
    *,
    settings: Settings | None = None,
    factors: Factors | None = None,
    southern: bool = False,
) -> LookBack:
    """Return forecasts beside what was found.

    Parameters
    ----------
    seasons
        Trees by season, as `limbwright.learn.season.seasons_of` gives them; any order.
    settings
        Settings of the plan without what was learnt, None for the tables: hours are reckoned anew
        with them, so that what was learnt before is not learnt again.
    factors
        What was learnt before and is in force: growth is foretold with it.
    southern
        The orchards lie south of the equator.
    """
    learnt = Factors() if factors is None else factors
    works: list[WorkDone] = []
    rows: list[Compared] = []
    told: list[Observation] = []
    conditions: list[Condition] = []
    watched: list[Watched] = []
    notes: list[tuple[str, str]] = []
    for one in sorted(seasons, key=lambda s: (s.tree, s.worked_on or date.max, s.season)):
        work = work_done(one, settings)
        if one.visits:
            works.append(work)
        _hours(work, rows, told)
        found = answer(one, work, multipliers=learnt.growth(one.species), southern=southern)
        rows += found.compared
        told += found.observations
        notes += [(one.tree, note) for note in (*work.notes, *found.notes)]
        if one.visits and one.plan is None:
            notes.append((one.tree, f"No plan is kept for {one.season}: nothing to compare."))
        conditions += _conditions(one)
        watched += _watched(one, notes)
    return LookBack(
        works=tuple(works),
        compared=tuple(rows),
        conditions=tuple(conditions),
        watched=tuple(watched),
        observations=tuple(told),
        calibrations=_calibrations(rows, watched),
        notes=tuple(notes),
    )


def lookback_schema() -> dict[str, Any]:
    """Return the JSON schema of what is told with the lessons and what was applied of them."""
    text = files("limbwright.learn").joinpath("lookback.schema.json").read_text("utf-8")
    found: dict[str, Any] = json.loads(text)
    return found


def _hours(work: WorkDone, rows: list[Compared], told: list[Observation]) -> None:
    """Compare hours in the tree and for the brash; both teach where they are long enough."""
    day = work.worked_on
    if day is None or not work.cuts:
        return
    more = 0.0 if work.ticked else parameters("learn")["scatter.unticked"].value
    for key, what, planned, base, found in (
        ("hours", "hours in the tree", work.hours_planned, work.hours_base, work.hours),
        (
            *("brash_hours", "hours for the brash", work.brash_planned, work.brash_base),
            work.brash_hours,
        ),
    ):
        if found is None or min(found, planned, base) < LEAST_HOURS:
            continue
        prior = priors()[key]
        rows.append(
            compare(work.tree, day, what, "h", prior_range(planned, prior, more), found, base)
        )
        told.append(
            Observation(
                quantity=key,
                log_ratio=log(found / base),
                sd=hypot(prior.scatter, more),
                tree=work.tree,
                day=day,
                species=work.species,
                who=work.who,
                foretold=base,
                found=found,
            )
        )


def _conditions(one: TreeSeason) -> list[Condition]:
    before = one.station.condition if one.station is not None else ""
    found = []
    for seen in one.responses:
        if before and seen.condition:
            found.append(Condition(one.tree, seen.seen_on, before, seen.condition))
        before = seen.condition or before
    return found


def _watched(one: TreeSeason, notes: list[tuple[str, str]]) -> list[Watched]:
    """Return how long a tree was watched, up to the last look, and what it lost."""
    if not one.responses:
        return []
    lost = sum(len(seen.limbs_lost) for seen in one.responses)
    name = "chance_after" if one.visits else "chance_before"
    chance = None if one.plan is None else one.plan.get(name)
    since = one.worked_on or one.made_on
    if not isinstance(chance, int | float) or since is None:
        if lost:
            notes.append((one.tree, "Limbs were lost, and no plan foretold a chance of it."))
        return []
    last = one.responses[-1].seen_on
    years = (last - since).days / DAYS_A_YEAR
    return [Watched(one.tree, last, years, float(chance), lost)] if years > 0.0 else []


def _work(one: WorkDone) -> dict[str, Any]:
    shares = ("dose_planned", "dose_taken", "wound_planned", "wound_made")
    hours = ("hours_planned", "brash_planned", "hours", "brash_hours")
    values = {n: getattr(one, n) for n in (*shares, *hours)}
    return {
        "tree": one.tree,
        "season": one.season,
        "species": one.species,
        "who": one.who,
        "worked_on": None if one.worked_on is None else one.worked_on.isoformat(),
        "ticked": one.ticked,
        **{n: None if v is None else round(v, 4) for n, v in values.items()},
        "cuts": [
            {
                "order": c.order,
                "limb": c.limb,
                "cut": c.cut,
                "outcome": c.outcome,
                "dose": None if c.dose is None else round(c.dose, 4),
                "wound_area_cm2": None if c.wound_cm2 is None else round(c.wound_cm2, 2),
                "note": c.note,
            }
            for c in one.cuts
        ],
        "notes": list(one.notes),
    }


def _calibrations(rows: Sequence[Compared], watched: Sequence[Watched]) -> tuple[Calibration, ...]:
    by_what: dict[str, list[Compared]] = {}
    for row in rows:
        by_what.setdefault(row.what, []).append(row)
    found = [_ratio(what, mine) for what, mine in by_what.items()]
    order: Mapping[str, int] = {one.words: k for k, one in enumerate(QUANTITIES)}
    found.sort(key=lambda c: (order.get(c.what, len(order)), c.what))
    return (*found, _breakages(watched)) if watched else tuple(found)


def _ratio(what: str, rows: Sequence[Compared]) -> Calibration:
    """Hours by their sums, which is what a crew is paid for; all else by the mean logarithm."""
    outside = sum(not row.inside for row in rows)
    unit = rows[0].unit
    foretold, found = sum(r.value for r in rows), sum(r.found for r in rows)
    ratio = found / foretold
    if unit != "h":
        half = 0.5 if not unit else 0.0
        logs = [log_ratio(r.found, r.value, half) for r in rows]
        ratio = exp(sum(logs) / len(logs))
    trees = f"{len(rows)} {'record' if len(rows) == 1 else 'records'}"
    said = f"{what}: {ratio:.2f} times the forecast in {trees}"
    if unit == "h":
        said = f"{what}: {found:.1f} h against {foretold:.1f} foretold, {ratio:.2f} times, {trees}"
    return Calibration(
        *(what, unit, len(rows), foretold, found, ratio, None, None),
        f"{said}; {outside} outside the range.",
    )


def _breakages(watched: Sequence[Watched]) -> Calibration:
    expected, lost = sum(w.expected for w in watched), sum(w.lost for w in watched)
    low, high = poisson_range(lost)
    years = sum(w.years for w in watched)
    judged = "as foretold"
    if not low <= expected <= high:
        judged = "more than foretold" if expected < low else "fewer than foretold"
    sentence = (
        f"limbs lost: {lost} in {years:.1f} tree-years, {expected:.2f} foretold; such a count fits "
        f"{low:.2f} to {high:.2f}: {judged}."
    )
    ratio = lost / expected if expected > 0.0 else None
    return Calibration(
        "limbs lost", "", len(watched), expected, float(lost), ratio, low, high, sentence
    )

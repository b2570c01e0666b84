"""Lessons: what the records would change, shown before and after, and applied by nobody unasked."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import exp
from typing import Any

from limbwright.growth.ranges import Range
from limbwright.learn.compared import Observation
from limbwright.learn.factors import Factors, setting_name
from limbwright.learn.failures import Watched, failure_range
from limbwright.learn.pool import factor_range, sift
from limbwright.learn.quantities import FAILURE, QUANTITIES, Prior, Quantity, priors
from limbwright.trade.parameters import parameters

__all__ = ["LearntSetting", "Lesson", "Lessons", "learn"]

SAME = 0.005
"""Judgement: a factor that moves by less than half a hundredth has not moved."""


@dataclass(frozen=True, slots=True)
class Lesson:
    """One factor as the records would have it: a proposal.

    ``level`` is holding, species or crew, ``name`` which one. ``before`` is what was thought
    without records and ``after`` with them: the median (for breakages the mean) and the range
    that holds nine in ten. ``in_force`` is the factor used now. ``seen`` is the mean ratio of
    found to foretold in its ``records``, from ``first_on`` to ``last_on``. ``setting`` is the
    name under which it would be kept and ``changes`` what it multiplies.
    """

    quantity: str
    level: str
    name: str
    before: Range
    after: Range
    in_force: float
    seen: float
    records: int
    first_on: date
    last_on: date
    setting: str
    changes: tuple[str, ...]
    sentence: str

    @property
    def value(self) -> float:
        """The factor it would set: that after, to three places."""
        return round(self.after.value, 3)

    @property
    def moves(self) -> bool:
        """Whether it would set another factor than the one in force."""
        return abs(self.value / self.in_force - 1.0) >= SAME

    def to_dict(self) -> dict[str, Any]:
        """Return the lesson as plain values."""
        return {
            "quantity": self.quantity,
            "level": self.level,
            "name": self.name,
            "before": self.before.to_dict(),
            "after": self.after.to_dict(),
            "in_force": round(self.in_force, 4),
            "seen": round(self.seen, 4),
            "records": self.records,
            "first_on": self.first_on.isoformat(),
            "last_on": self.last_on.isoformat(),
            "setting": self.setting,
            "value": self.value,
            "moves": self.moves,
            "changes": list(self.changes),
            "sentence": self.sentence,
        }


@dataclass(frozen=True, slots=True)
class LearntSetting:
    """One setting to be written: its name, value, where it comes from and its day."""

    name: str
    value: float
    source: str
    since: date


@dataclass(frozen=True, slots=True)
class Lessons:
    """All lessons; ``left_out`` the records too wild to count, ``notes`` what else to know."""

    lessons: tuple[Lesson, ...]
    left_out: tuple[Observation, ...]
    notes: tuple[str, ...]

    def settings(self, since: date) -> tuple[LearntSetting, ...]:
        """Return what applying them would write: nothing where no factor moves.

        Where one factor of a quantity moves, all of that quantity are written, since those of
        species and crews are read over the holding's.
        """
        moved = {one.quantity for one in self.lessons if one.moves}
        return tuple(
            LearntSetting(
                one.setting,
                one.value,
                f"learned from {_records(one.records)} up to {one.last_on.isoformat()}",
                since,
            )
            for one in self.lessons
            if one.quantity in moved
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the whole as plain values."""
        return {
            "lessons": [one.to_dict() for one in self.lessons],
            "left_out": [one.to_dict() for one in self.left_out],
            "lesson_notes": list(self.notes),
        }


def learn(
    observations: Iterable[Observation],
    watched: Iterable[Watched] = (),
    *,
    prior: Mapping[str, Prior] | None = None,
    in_force: Factors | None = None,
) -> Lessons:
    """Return what the records teach, as proposals.

    All records are weighed anew each time, against forecasts with nothing learnt, so that nothing
    counts twice. The order of the records does not matter; without records there is no lesson and
    every factor stays as it was thought beforehand.

    Parameters
    ----------
    observations
        What each record says, of any quantities.
    watched
        Trees looked at for limbs lost.
    prior
        Deviations beforehand in place of the tables', by quantity.
    in_force
        Factors used now, to be shown beside the new ones.
    """
    known, force = prior or priors(), in_force or Factors()
    by_key: dict[str, list[Observation]] = {}
    for one in observations:
        by_key.setdefault(one.quantity, []).append(one)
    lessons: list[Lesson] = []
    left_out: list[Observation] = []
    notes: list[str] = []
    for kind in QUANTITIES:
        if by_key.get(kind.key):
            mine = sorted(by_key[kind.key], key=lambda o: (o.day, o.tree, o.log_ratio))
            lessons += _of(kind, mine, known[kind.key], force, left_out, notes)
    seen = sorted(watched, key=lambda w: (w.seen_on, w.tree))
    if sum(w.expected for w in seen) > 0.0:
        lessons.append(_breakages(seen, force))
    return Lessons(tuple(lessons), tuple(left_out), tuple(notes))


def _of(
    kind: Quantity,
    mine: Sequence[Observation],
    prior: Prior,
    force: Factors,
    left_out: list[Observation],
    notes: list[str],
) -> list[Lesson]:
    """Return the lessons of one quantity: the holding's, then those of species and crews."""
    crews = [o.who if "crew" in kind.levels else "" for o in mine]
    found = sift(
        [o.log_ratio for o in mine],
        [o.sd for o in mine],
        [o.species for o in mine],
        crews,
        prior,
    )
    kept = [o for o, stays in zip(mine, found.kept.tolist(), strict=True) if stays]
    for one, stays in zip(mine, found.kept.tolist(), strict=True):
        if not stays:
            left_out.append(one)
            notes.append(_wild(kind, one))
    if found.widened > 1.0:
        notes.append(
            f"{kind.words.capitalize()}: the records contradict each other, "
            f"{found.widened:.1f} times as much as trees usually differ. Their scatter is taken so "
            "much wider, and less is learnt from each."
        )
    if not kept:
        return []
    lessons = [_lesson(kind, "holding", "", kept, found.pooled.holding, prior, force)]
    least = parameters("learn")["least_records"].value
    for level, groups in (("species", found.pooled.species), ("crew", found.pooled.crew)):
        if level not in kind.levels or len(groups) < 2:
            continue  # one group alone is the holding
        for name, told in groups.items():
            own = [o for o in kept if (o.species if level == "species" else o.who) == name]
            if len(own) >= least:
                lessons.append(_lesson(kind, level, name, own, told, prior, force))
    return lessons


def _lesson(
    kind: Quantity,
    level: str,
    name: str,
    records: Sequence[Observation],
    told: tuple[float, float],
    prior: Prior,
    force: Factors,
) -> Lesson:
    more = {"holding": 0.0, "species": prior.species, "crew": prior.crew}[level]
    species, who = name if level == "species" else "", name if level == "crew" else ""
    made = Lesson(
        quantity=kind.key,
        level=level,
        name=name,
        before=factor_range(0.0, (prior.holding**2 + more**2) ** 0.5),
        after=factor_range(*told),
        in_force=force.factor(kind.key, species=species, who=who),
        seen=exp(sum(o.log_ratio for o in records) / len(records)),
        records=len(records),
        first_on=min(o.day for o in records),
        last_on=max(o.day for o in records),
        setting=setting_name(kind.key, level, name),
        changes=kind.scaled or (f"growth: {kind.key}",),
        sentence="",
    )
    return replace(made, sentence=_sentence(made))


def _breakages(seen: Sequence[Watched], force: Factors) -> Lesson:
    expected, lost = sum(w.expected for w in seen), sum(w.lost for w in seen)
    made = Lesson(
        quantity=FAILURE.key,
        level="holding",
        name="",
        before=failure_range(0.0, 0.0),
        after=failure_range(expected, lost),
        in_force=force.factor(FAILURE.key),
        seen=lost / expected,
        records=len(seen),
        first_on=min(w.seen_on for w in seen),
        last_on=max(w.seen_on for w in seen),
        setting=setting_name(FAILURE.key),
        changes=FAILURE.scaled,
        sentence="",
    )
    years = sum(w.years for w in seen)
    limbs = "1 limb was" if lost == 1 else f"{lost or 'no'} limbs were"
    begun = (
        f"{limbs} lost in {years:.0f} tree-years where {expected:.1f} were foretold; "
        f"{_moved(made, 'the price of a risk')}"
    )
    if made.moves and made.value < made.in_force:
        begun += " A few quiet years say little of a gale."
    return replace(made, sentence=begun[0].upper() + begun[1:])


_SUBJECTS = {
    "hours": ("The work took", "the hours foreseen"),
    "brash_hours": ("The brash took", "the hours foreseen"),
    "shoot_count": ("Watershoots were", "the number foretold"),
    "shoot_length": ("Watershoots grew to", "the length foretold"),
    "extension": ("Outer shoots grew", "the length foretold"),
    "ring_width": ("Rings were", "the width foretold"),
}


def _sentence(one: Lesson) -> str:
    """Return a lesson in words."""
    said, of = _SUBJECTS[one.quantity]
    if one.level == "crew":
        said = f"{one.name} took" if one.quantity == "hours" else f"{one.name} with the brash took"
    where = f" on {one.name}" if one.level == "species" else ""
    return (
        f"{said} {one.seen:.2g} times {of}{where} in {_records(one.records)}; "
        f"{_moved(one, 'forecasts')}"
    )


def _moved(one: Lesson, what: str) -> str:
    verb = "is" if what.startswith("the ") else "are"
    percent = 100.0 * (one.value / one.in_force - 1.0)
    if not one.moves:
        return f"{what} {verb} left as {'it is' if verb == 'is' else 'they are'}."
    word = "raised" if percent > 0.0 else "lowered"
    now = "" if one.in_force == 1.0 else " from what is in force"
    return f"{what} would be {word} by {abs(percent):.0f} %{now}."


def _wild(kind: Quantity, one: Observation) -> str:
    times = exp(one.log_ratio)
    ratio = f"{times:.3g} times" if times >= 0.1 else f"a {1.0 / times:.0f}th of"
    unit = f" {kind.unit}" if kind.unit else ""
    return (
        f"{one.tree}, {one.day.isoformat()}: {kind.words} {one.found:.3g}{unit}, {ratio} the "
        f"forecast of {one.foretold:.3g}. Too far from the other records to count; left out. Look "
        "for a slip of the unit or the decimal point, or else at the tree."
    )


def _records(count: int) -> str:
    return "1 record" if count == 1 else f"{count} records"

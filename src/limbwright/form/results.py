"""What forming a young tree comes to: its stage, its scaffold, a row a shoot, the years ahead."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

from limbwright.form.choice import TERMS, Scored
from limbwright.form.crown import Crown
from limbwright.form.target import ClearStem

__all__ = [
    "SCHEMA",
    "Choice",
    "FormPlan",
    "FormRow",
    "Range",
    "Role",
    "Stage",
    "StageKey",
    "Work",
    "YearAhead",
    "forms_to_dict",
]

SCHEMA = "limbwright.form/1"

StageKey = Literal["still", "mend", "plant", "rise", "head", "choose", "build", "done"]
Work = Literal["remove", "shorten", "head", "spread", "tie", "leave"]
"""``remove`` to the collar, ``shorten`` to a shoot, ``head`` to a bud, ``spread`` from the stem,
``tie`` up along it, ``leave`` as it is."""
Role = Literal["leader", "scaffold", "able", "second", "stem shoot", "spare", "lateral", "failed"]
"""``able`` would serve as a scaffold limb while the set is not good yet; ``second`` is a limb of
the second order; ``stem shoot`` one below the crown; ``spare`` one in the crown that was not
chosen; ``lateral`` fruiting wood; ``failed`` dead, broken or diseased."""


@dataclass(frozen=True, slots=True)
class Range:
    """A value with the low and high end its sources or judgements give."""

    value: float
    low: float
    high: float

    def to_list(self) -> list[float]:
        """Return low, value and high."""
        return [round(self.low, 3), round(self.value, 3), round(self.high, 3)]


@dataclass(frozen=True, slots=True)
class Stage:
    """How far a tree has come, in words, and what in the survey says so."""

    key: StageKey
    title: str
    because: str


@dataclass(frozen=True, slots=True)
class Choice:
    """The shoots that become the scaffold, the next best set, and what is wanting.

    ``good`` is false where no set is fit to build on; ``missing`` then says what is wanting and
    ``remedies`` what would bring it.
    """

    best: Scored
    runner_up: Scored | None
    good: bool
    terms: tuple[str, ...]
    missing: tuple[str, ...] = ()
    remedies: tuple[str, ...] = ()
    against: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Return the choice as plain values."""
        up = self.runner_up
        return {
            "shoots": list(self.best.names),
            "score": round(self.best.score, 4),
            "terms": {n: round(t, 4) for n, t in zip(TERMS, self.best.terms, strict=True)},
            "words": list(self.terms),
            "good": self.good,
            "missing": list(self.missing),
            "remedies": list(self.remedies),
            "next_best": None
            if up is None
            else {"shoots": list(up.names), "score": round(up.score, 4), "why_not": self.against},
        }


@dataclass(frozen=True, slots=True)
class FormRow:
    """What happens to one shoot this season.

    ``order`` numbers the work from 1; 0 is for shoots left alone. ``at_m`` is the height of its
    base for shoots on the leader, else the way along its parent; ``cut_at_m`` the height of the
    cut. ``keep_cm`` stays of it and ``takes_cm`` comes off it, with what it bears there; ``buds``
    stay of last year's growth, 0 where that says nothing. ``spread_to_deg`` is the angle from the
    upright it is set to. ``dose`` is its part of the length of all live shoots.
    """

    order: int
    shoot: str
    role: Role
    work: Work
    what: str
    why: str
    at_m: float
    bearing_deg: float | None
    diameter_mm: float
    cut_at_m: float | None = None
    keep_cm: float | None = None
    takes_cm: float = 0.0
    share: float = 0.0
    buds: int = 0
    spread_to_deg: float | None = None
    dose: float = 0.0
    wound_area_cm2: float = 0.0
    tool: str = ""

    @property
    def cuts(self) -> bool:
        """Whether a blade is needed."""
        return self.work in ("remove", "shorten", "head")

    def to_dict(self) -> dict[str, Any]:
        """Return the row as plain values, units in the names."""
        found: dict[str, Any] = {}
        for name in self.__dataclass_fields__:
            value = getattr(self, name)
            found[name] = round(value, 4) if isinstance(value, float) else value
        return found


@dataclass(frozen=True, slots=True)
class YearAhead:
    """What one of the years ahead is foreseen to bring, if all grows at the middling pace."""

    year: int
    stage: Stage
    what: str
    height_m: float
    cuts: int
    hours: Range
    crown: Crown | None = None

    def to_dict(self) -> dict[str, Any]:
        """Return the year as plain values."""
        return {
            "year": self.year,
            "stage": self.stage.key,
            "title": self.stage.title,
            "what": self.what,
            "height_m": round(self.height_m, 2),
            "cuts": self.cuts,
            "hours": self.hours.to_list(),
        }


@dataclass(frozen=True, slots=True)
class FormPlan:
    """How one young tree is formed this season, and how the years ahead are foreseen.

    ``dose`` is the share of the length of its live shoots that comes off, ``wound_share`` the area
    of the cuts over the section of the stem. ``milestones`` say by which year it stands at each
    stage, from the quickest growth to the slowest. ``notes`` are findings of the survey.
    """

    tree: str
    species: str
    cultivar: str
    year: int
    season: str
    planted: int | None
    stage: Stage
    target: ClearStem
    choice: Choice | None
    rows: tuple[FormRow, ...]
    dose: float
    dose_limit: float
    dose_words: str
    wound_share: float
    window: str
    window_reason: str
    hours: Range
    ahead: tuple[YearAhead, ...]
    milestones: tuple[str, ...]
    stop: str
    reminders: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    crown: Crown

    @property
    def work(self) -> tuple[FormRow, ...]:
        """The rows with something to do, in working order."""
        return tuple(sorted((r for r in self.rows if r.order), key=lambda r: r.order))

    def to_dict(self) -> dict[str, Any]:
        """Return the plan as plain values, units in the names."""
        return {
            "tree": self.tree,
            "species": self.species,
            "cultivar": self.cultivar,
            "year": self.year,
            "season": self.season,
            "planted": self.planted,
            "stage": self.stage.key,
            "title": self.stage.title,
            "because": self.stage.because,
            "target": self.target.to_dict(),
            "choice": None if self.choice is None else self.choice.to_dict(),
            "rows": [row.to_dict() for row in self.rows],
            "dose": round(self.dose, 4),
            "dose_limit": self.dose_limit,
            "dose_words": self.dose_words,
            "wound_share": round(self.wound_share, 4),
            "window": self.window,
            "window_reason": self.window_reason,
            "hours": self.hours.to_list(),
            "ahead": [year.to_dict() for year in self.ahead],
            "milestones": list(self.milestones),
            "stop": self.stop,
            "reminders": list(self.reminders),
            "cautions": list(self.cautions),
            "notes": list(self.notes),
        }


def forms_to_dict(plans: Iterable[FormPlan]) -> dict[str, Any]:
    """Return the plans of several young trees under the schema's name."""
    return {"schema": SCHEMA, "trees": [plan.to_dict() for plan in plans]}

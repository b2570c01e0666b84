"""Planned against done: which cuts were made, the dose and the wounds they came to, the hours."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from math import pi
from typing import Any

from limbwright.cuts.build_problem import work_hours
from limbwright.cuts.weights import Settings
from limbwright.learn.season import TreeSeason
from limbwright.model import CutDone
from limbwright.trade.parameters import parameters

__all__ = ["CutOutcome", "WorkDone", "work_done"]

BY_SIZE = ("remove", "shorten")
"""Cuts whose hours follow from their size; the rest bear a time of their own."""
UNKNOWN_HEIGHT_M = 2.0
"""Judgement: a cut whose height nobody wrote down is reckoned as if made from the ground."""


@dataclass(frozen=True, slots=True)
class CutOutcome:
    """One cut planned or made: ``outcome`` is made, not made, otherwise, besides or not told.

    ``dose`` is the share of the live crown it took, 0 where it was not made, None where nobody can
    say; ``wound_cm2`` likewise. ``hours`` and ``brash_hours`` are what it is reckoned to take with
    nothing learnt, ``planned_hours`` what the plan said of both.
    """

    order: int
    limb: str
    cut: str
    outcome: str
    dose: float | None
    wound_cm2: float | None
    hours: float
    brash_hours: float
    planned_hours: float
    note: str = ""

    @property
    def counts(self) -> bool:
        """Whether it was made, or is taken as made."""
        return self.outcome != "not made"


@dataclass(frozen=True, slots=True)
class WorkDone:
    """The work of one season in one tree, planned against done.

    Doses and wound shares are shares of one, None where not known. ``ticked`` is false where no
    cut was marked: then all are taken as made. Hours found are person-hours, None where not noted;
    ``hours_base`` and ``brash_base`` are those of the cuts made, reckoned with nothing learnt,
    ``hours_planned`` and ``brash_planned`` the same cuts in the plan.
    """

    tree: str
    season: str
    species: str
    who: str
    worked_on: date | None
    ticked: bool
    cuts: tuple[CutOutcome, ...]
    dose_planned: float | None
    dose_taken: float | None
    wound_planned: float | None
    wound_made: float | None
    hours_planned: float
    brash_planned: float
    hours_base: float
    brash_base: float
    hours: float | None
    brash_hours: float | None
    notes: tuple[str, ...]

    def count(self, outcome: str) -> int:
        """Return how many cuts came out so."""
        return sum(one.outcome == outcome for one in self.cuts)


def work_done(one: TreeSeason, settings: Settings | None = None) -> WorkDone:
    """Return a season's work in a tree against its plan.

    The dose really taken is the sum over the plan's rows that were made. A row made with another
    diameter takes so much more or less as its section is larger (section rule: leaf goes with
    section). Of a cut besides, the dose is its section over the stem's, times 1 / 1.1 as sections
    of limbs sum to 1.1 of the stem's; without a girth, the dose a section of the plan's own rows.

    Parameters
    ----------
    one
        The season.
    settings
        The settings of the plan without what was learnt; None takes the tables.
    """
    given = Settings() if settings is None else settings
    plan = one.plan or {}
    rows = [*_rows(plan, "cuts"), *_rows(plan, "lesser")]
    notes: list[str] = []
    marks, besides = _marks(one, rows, notes)
    ticked = bool(marks)
    cuts = [_planned_cut(row, marks.get(id(row)), ticked, given) for row in rows]
    stem_cm2 = _stem_cm2(one, plan)
    per_cm2 = _dose_per_cm2(one, rows, stem_cm2)
    cuts += [_besides(cut, per_cm2, given) for cut in besides]
    made = [c for c in cuts if c.counts]
    if any(c.dose is None for c in made):
        notes.append(
            "A cut besides has no diameter, or the stem no girth: its dose is not counted."
        )
    if one.visits and not ticked and rows:
        notes.append("No cut was ticked: all are taken as made.")
    came = bool(one.visits)
    wound = sum(c.wound_cm2 or 0.0 for c in made)
    planned = sum(c.planned_hours for c in made)
    base, brash = sum(c.hours for c in made), sum(c.brash_hours for c in made)
    brash_part = brash / (base + brash) if base + brash > 0.0 else 0.0
    return WorkDone(
        tree=one.tree,
        season=one.season,
        species=one.species,
        who=" + ".join(sorted({v.who.strip() for v in one.visits if v.who.strip()})),
        worked_on=one.worked_on,
        ticked=ticked,
        cuts=tuple(cuts) if came else tuple(_untold(c) for c in cuts),
        dose_planned=sum(_number(r, "dose") for r in rows) if rows else None,
        dose_taken=sum(c.dose or 0.0 for c in made) if came else None,
        wound_planned=_share(sum(_number(r, "wound_area_cm2") for r in rows), stem_cm2),
        wound_made=_share(wound, stem_cm2) if came else None,
        hours_planned=planned * (1.0 - brash_part),
        brash_planned=planned * brash_part,
        hours_base=base,
        brash_base=brash,
        hours=_noted(v.hours for v in one.visits),
        brash_hours=_noted(v.brash_hours for v in one.visits),
        notes=tuple(notes),
    )


def _rows(plan: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    held = plan.get(name)
    return [row for row in held if isinstance(row, Mapping)] if isinstance(held, list) else []


def _number(row: Mapping[str, Any], name: str) -> float:
    value = row.get(name)
    return float(value) if isinstance(value, int | float) else 0.0


def _noted(hours: Iterable[float | None]) -> float | None:
    """Return the sum of the hours of all visits; None unless every one noted them."""
    found = list(hours)
    told = [h for h in found if h is not None]
    return sum(told) if told and len(told) == len(found) else None


def _share(area_cm2: float, stem_cm2: float | None) -> float | None:
    return area_cm2 / stem_cm2 if stem_cm2 else None


def _untold(cut: CutOutcome) -> CutOutcome:
    return replace(cut, outcome="not told", dose=None, wound_cm2=None)


def _marks(
    one: TreeSeason, rows: list[Mapping[str, Any]], notes: list[str]
) -> tuple[dict[int, CutDone], list[CutDone]]:
    """Return what was marked of each row of the plan, and the cuts made besides.

    A row marked twice, on two days, counts as made where one of them says so.
    """
    by_order = {int(_number(row, "order")): row for row in rows}
    marks: dict[int, CutDone] = {}
    besides: list[CutDone] = []
    for visit in one.visits:
        for cut in visit.cuts:
            row = by_order.get(cut.order) if cut.order > 0 else None
            if row is None:
                if cut.order > 0:
                    notes.append(f"Cut {cut.order} is not in the plan; counted as made besides.")
                if cut.done != "no":
                    besides.append(cut)
                continue
            planned = str(row.get("limb", ""))
            if cut.limb.lower() != planned.lower():
                notes.append(
                    f"Cut {cut.order} is on limb {planned} in the plan and on {cut.limb} in the "
                    "record; taken by its number."
                )
            before = marks.get(id(row))
            if before is None or before.done == "no":
                marks[id(row)] = cut
    return marks, besides


def _section_cm2(diameter_mm: float) -> float:
    return pi * diameter_mm**2 / 400.0


def _hours(row: Mapping[str, Any], cut: str, settings: Settings) -> tuple[float, float]:
    """Return hours in the tree and for the brash of a row, with nothing learnt."""
    kg = _number(row, "piece_kg")
    brash = settings["work_brash"] * kg
    if cut in BY_SIZE and "diameter_mm" in row and "height_m" in row:
        return work_hours(_number(row, "diameter_mm"), _number(row, "height_m"), settings), brash
    whole = _number(row, "hours")
    brash = min(brash, whole) if cut in BY_SIZE else 0.0
    return whole - brash, brash


def _planned_cut(
    row: Mapping[str, Any], mark: CutDone | None, ticked: bool, settings: Settings
) -> CutOutcome:
    cut = str(row.get("cut", "remove"))
    dose, wound = _number(row, "dose"), _number(row, "wound_area_cm2")
    hours, brash = _hours(row, cut, settings)
    outcome = "made"
    if mark is None:
        outcome = "not made" if ticked else "made"
    elif mark.done == "no":
        outcome = "not made"
    elif mark.done == "other":
        outcome, cut = "otherwise", mark.cut
        planned = _number(row, "diameter_mm")
        if mark.diameter_mm is not None and planned > 0.0:
            larger = (mark.diameter_mm / planned) ** 2
            dose, brash = dose * larger, brash * larger
            wound = _section_cm2(mark.diameter_mm) if wound > 0.0 else 0.0
            hours = _hours({**row, "diameter_mm": mark.diameter_mm}, cut, settings)[0]
    made = outcome != "not made"
    return CutOutcome(
        order=int(_number(row, "order")),
        limb=str(row.get("limb", "")),
        cut=cut,
        outcome=outcome,
        dose=dose if made else 0.0,
        wound_cm2=wound if made else 0.0,
        hours=hours,
        brash_hours=brash,
        planned_hours=_number(row, "hours"),
        note="" if mark is None else mark.note,
    )


def _besides(cut: CutDone, per_cm2: float | None, settings: Settings) -> CutOutcome:
    size = cut.diameter_mm
    area = None if size is None else _section_cm2(size)
    hours = work_hours(size or 0.0, UNKNOWN_HEIGHT_M, settings)
    return CutOutcome(
        order=0,
        limb=cut.limb,
        cut=cut.cut,
        outcome="besides",
        dose=None if area is None or per_cm2 is None else min(area * per_cm2, 1.0),
        wound_cm2=area,
        hours=hours,
        brash_hours=0.0,
        planned_hours=hours,
        note=cut.note,
    )


def _stem_cm2(one: TreeSeason, plan: Mapping[str, Any]) -> float | None:
    """Return the section of the stem: from its girth, or from the plan's own wound share."""
    if one.station is not None and one.station.girth_cm:
        return one.station.girth_cm**2 / (4.0 * pi)
    wounds = sum(_number(row, "wound_area_cm2") for row in _rows(plan, "cuts"))
    share = _number(plan, "wound_share")
    return wounds / share if wounds > 0.0 and share > 0.0 else None


def _dose_per_cm2(
    one: TreeSeason, rows: list[Mapping[str, Any]], stem_cm2: float | None
) -> float | None:
    """Return the dose a square centimetre of cut takes."""
    if one.station is not None and one.station.girth_cm and stem_cm2:
        surplus = parameters("allometry")["section_surplus_as_given"].value
        return 1.0 / (surplus * stem_cm2)
    live = [r for r in rows if _number(r, "wound_area_cm2") > 0.0 and _number(r, "dose") > 0.0]
    area = sum(_number(r, "wound_area_cm2") for r in live)
    return sum(_number(r, "dose") for r in live) / area if area > 0.0 else None

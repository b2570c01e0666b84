"""How a tree answered, beside what growth foretold: shoots, their length, rings, wounds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from math import exp, hypot, pi

from limbwright.growth.ranges import Range
from limbwright.growth.rates import Rates, rates
from limbwright.growth.response import CutKind, Season, watershoots
from limbwright.learn.compared import Compared, Observation, compare, log_ratio
from limbwright.learn.done import WorkDone
from limbwright.learn.quantities import TAIL, priors
from limbwright.learn.season import Girth, TreeSeason
from limbwright.model import Response
from limbwright.trade.parameters import parameters

__all__ = ["Answer", "answer", "growing_seasons"]

KINDS: tuple[CutKind, ...] = ("remove", "shorten", "head", "thin")


@dataclass(frozen=True, slots=True)
class Answer:
    """All that one tree's answer says, beside its forecast, and what of it may teach."""

    compared: tuple[Compared, ...] = ()
    observations: tuple[Observation, ...] = ()
    notes: tuple[str, ...] = ()


def growing_seasons(worked_on: date, seen_on: date, *, southern: bool = False) -> int:
    """Return how many growing seasons lie between: Julys that began, Januaries in the south.

    What is cut in early summer and seen in the same autumn has had one, what is cut later none.
    """
    month = 1 if southern else 7
    years = range(worked_on.year, seen_on.year + 1)
    return sum(worked_on < date(year, month, 1) <= seen_on for year in years)


def answer(
    one: TreeSeason,
    work: WorkDone,
    *,
    multipliers: Mapping[str, float] | None = None,
    southern: bool = False,
) -> Answer:
    """Return a tree's answer beside the forecast.

    Watershoots and their length are compared in the first growing season after the work alone;
    later ones have died down and others come. The leaf taken is the dose really taken times the
    leaf of the tree: ``leaf_m2`` of the plan's document, else the section of the stem times the
    leaf a section bears (allometry.csv). A ring is read from two girths where the gain foretold is
    at least ``least_ring_errors`` times their error together.

    Parameters
    ----------
    one, work
        The season, and its work against the plan.
    multipliers
        Factors of growth in force, by the names of `limbwright.growth.rates.MULTIPLIERS`.
    southern
        The orchard lies south of the equator.
    """
    if not one.species or not one.responses:
        return Answer()
    rows: list[Compared] = []
    told: list[Observation] = []
    notes: list[str] = []
    before = one.girth
    for seen in one.responses:
        base = rates(one.species, one.station, year=seen.seen_on.year)
        grows = rates(one.species, one.station, year=seen.seen_on.year, multipliers=multipliers)
        since = one.worked_on
        after = 0 if since is None else growing_seasons(since, seen.seen_on, southern=southern)
        if after == 1 and work.dose_taken is not None:
            _shoots(one, work, seen, (base, grows), rows, told, notes)
        if seen.extension_cm is not None and (since is None or after >= 1):
            _extension(one, seen, base, grows, rows, told)
        if seen.girth_cm is not None:
            if before is not None:
                _ring(one, seen, before, (base, grows), southern, rows, told)
            before = Girth(seen.girth_cm, seen.seen_on)
        if after >= 1 and seen.wound_closed_mm is not None:
            _wound(one, seen, grows, after, rows)
    return Answer(tuple(rows), tuple(told), tuple(notes))


def _observe(
    one: TreeSeason,
    seen: Response,
    key: str,
    foretold: float,
    found: float,
    *,
    error: float = 0.0,
    least: float = 0.0,
) -> Observation:
    """Return what a find says of a factor; ``error`` is that of measuring, as a share."""
    return Observation(
        quantity=key,
        log_ratio=log_ratio(found, foretold, least),
        sd=hypot(priors()[key].scatter, error),
        tree=one.tree,
        day=seen.seen_on,
        species=one.species,
        foretold=foretold,
        found=found,
    )


def _wide(foretold: Range, key: str) -> Range:
    """Return a forecast whose range holds at least what trees scatter."""
    side = exp(TAIL * priors()[key].scatter)
    value = foretold.value
    return Range(value, min(foretold.low, value / side), max(foretold.high, value * side))


def _leaf_m2(one: TreeSeason) -> float | None:
    """Return the live leaf of a tree before the work [m2]."""
    held = None if one.plan is None else one.plan.get("leaf_m2")
    if isinstance(held, int | float) and held > 0.0:
        return float(held)
    if one.station is None or not one.station.girth_cm:
        return None
    section = one.station.girth_cm**2 / (4.0 * pi)
    return section * parameters("allometry")["leaf_area_per_section"].value


def _season(one: TreeSeason) -> Season:
    return "summer" if "summer" in one.season.lower() else "winter"


def _count(one: TreeSeason, work: WorkDone, grows: Rates, leaf_m2: float) -> Range:
    """Return the watershoots foretold after the cuts really made, kind by kind."""
    dose = min(work.dose_taken or 0.0, 1.0)
    found = Range(0.0, 0.0, 0.0)
    for kind in KINDS:
        of_kind = sum(c.dose or 0.0 for c in work.cuts if c.counts and c.cut == kind)
        if of_kind <= 0.0:
            continue
        part = watershoots(grows, dose, of_kind * leaf_m2, season=_season(one), kind=kind).count
        found = Range(found.value + part.value, found.low + part.low, found.high + part.high)
    return found


def _shoots(
    one: TreeSeason,
    work: WorkDone,
    seen: Response,
    both: tuple[Rates, Rates],
    rows: list[Compared],
    told: list[Observation],
    notes: list[str],
) -> None:
    base, grows = both
    leaf = _leaf_m2(one)
    if seen.shoots is not None and leaf is None:
        notes.append("Neither plan nor girth tells the leaf: its watershoots are not compared.")
    if seen.shoots is not None and leaf is not None:
        count, plain = _count(one, work, grows, leaf), _count(one, work, base, leaf).value
        if plain >= parameters("learn")["least_shoots"].value:
            wide, found = _wide(count, "shoot_count"), float(seen.shoots)
            rows.append(
                compare(one.tree, seen.seen_on, "watershoots", "", wide, found, plain, least=0.5)
            )
            counting = plain**-0.5  # Poisson
            told.append(_observe(one, seen, "shoot_count", plain, found, error=counting, least=0.5))
    if seen.shoot_length_cm is not None and (seen.shoots is None or seen.shoots > 0):
        long = _wide(grows.shoot_length_m.times(100.0), "shoot_length")
        found, plain = seen.shoot_length_cm, 100.0 * base.shoot_length_m.value
        what = "length of watershoots"
        rows.append(compare(one.tree, seen.seen_on, what, "cm", long, found, plain))
        told.append(_observe(one, seen, "shoot_length", plain, found))


def _extension(
    one: TreeSeason,
    seen: Response,
    base: Rates,
    grows: Rates,
    rows: list[Compared],
    told: list[Observation],
) -> None:
    found, plain = seen.extension_cm or 0.0, base.extension_cm.value
    if plain <= 0.0:
        return
    wide = _wide(grows.extension_cm, "extension")
    what = "growth of outer shoots"
    rows.append(compare(one.tree, seen.seen_on, what, "cm", wide, found, plain))
    told.append(_observe(one, seen, "extension", plain, found))


def _ring(
    one: TreeSeason,
    seen: Response,
    before: Girth,
    both: tuple[Rates, Rates],
    southern: bool,
    rows: list[Compared],
    told: list[Observation],
) -> None:
    base, grows = both
    years = growing_seasons(before.taken_on, seen.seen_on, southern=southern)
    plain = base.ring_mm.value
    table = parameters("learn")
    error_cm = table["girth_error"].value * 2.0**0.5
    if years < 1 or plain <= 0.0:
        return
    error = error_cm / (2.0 * pi * plain * years / 10.0)  # of the ring, as a share of it
    if error > 1.0 / table["least_ring_errors"].value:
        return
    found = ((seen.girth_cm or 0.0) - before.girth_cm) * 10.0 / (2.0 * pi * years)
    taped = 1.0 + TAIL * error
    ring = grows.ring_mm
    wide = _wide(Range(ring.value, ring.low / taped, ring.high * taped), "ring_width")
    rows.append(compare(one.tree, seen.seen_on, "ring of the stem", "mm", wide, found, plain))
    # an error of the tape draws the logarithm down by half its square
    one_told = _observe(one, seen, "ring_width", plain, found, error=error)
    told.append(replace(one_told, log_ratio=one_told.log_ratio + 0.5 * error**2))


def _wound(one: TreeSeason, seen: Response, grows: Rates, years: int, rows: list[Compared]) -> None:
    """Compare how far a wound has closed; no factor is learnt of it yet."""
    pace = grows.ring_mm.times(2.0 * years)
    if pace.low <= 0.0 or grows.closing.low <= 0.0:
        return
    closed = pace.by(grows.closing)
    if seen.wound_mm is not None:
        closed = closed.within(0.0, seen.wound_mm)
    found = seen.wound_closed_mm or 0.0
    rows.append(
        compare(
            one.tree, seen.seen_on, "wound closed", "mm", closed, found, closed.value, least=1.0
        )
    )

"""The commands that work from the walk alone: what each tree needs, where the tape is worth it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from limbwright.cli import options as opt
from limbwright.cli.fits import is_project_name, only_for_tables
from limbwright.cli.lines import say
from limbwright.cli.site import site

if TYPE_CHECKING:
    from limbwright.cuts.weights import Settings
    from limbwright.model import Fault, Orchard, Site, StationRecord
    from limbwright.needs.day import Day
    from limbwright.needs.order import Ranked
    from limbwright.needs.tape import TapeValue
    from limbwright.trade.seasons.local import LocalRule

__all__ = ["needs", "tape"]

DOZEN = 12
NOT_AN_INSPECTION = (
    "Judged from a walk, not an inspection: no tree is told to be free of danger. Where people "
    "pass below, a qualified person looks; local law and licensed practice come first."
)


@dataclass(frozen=True, slots=True)
class _Given:
    """What a command works on; ``taped`` are trees whose limbs are surveyed already."""

    stations: tuple[StationRecord, ...]
    faults: tuple[Fault, ...]
    orchards: Mapping[str, Orchard]
    site: Site | None = None
    taped: tuple[str, ...] = ()
    chances: Mapping[str, float] = field(default_factory=dict)
    settings: Settings | None = None
    local_rules: tuple[LocalRule, ...] = ()
    hours: Mapping[str, tuple[float, float]] = field(default_factory=dict)


Walked = Annotated[
    Path,
    typer.Argument(
        metavar="STATIONS",
        help="Table of stations from the walk (CSV or XLSX), or the project file (.gpkg); see "
        "docs/formats.md.",
        show_default=False,
    ),
]
Below = Annotated[
    bool, typer.Option("--people-below", help="People are often beneath these trees.")
]


def needs(
    stations: Walked,
    columns: opt.Columns = None,
    grazed: opt.Grazed = "",
    people_below: Below = False,
    wind: opt.Wind = None,
    terrain: opt.Terrain = None,
    southern: opt.Southern = False,
    years_stood: opt.YearsStood = None,
    settings: opt.SettingsFile = None,
    on: opt.Today = "",
    every: Annotated[
        bool, typer.Option("--every", help="Show all trees, not only the first dozen.")
    ] = False,
    as_json: opt.Json = False,
) -> None:
    """Say what each tree needs from the walk alone, the most pressing first, with reasons."""
    from limbwright.cli.show import print_faults, print_json
    from limbwright.cuts.weights import read_settings
    from limbwright.needs.need import needs as needs_of
    from limbwright.needs.order import rank, ranked_to_dict

    given = _open(stations, columns)
    orchards = {
        name: replace(
            one, grazed_by=grazed or one.grazed_by, people_below=people_below or one.people_below
        )
        for name, one in given.orchards.items()
    }
    sun = (None, None, None)
    place = site(wind, terrain, None, None, southern, years_stood, sun, base=given.site)
    weights = read_settings(settings) if settings else given.settings
    year = _year(on)
    found = needs_of(
        given.stations,
        year=year,
        orchards=orchards,
        site=place,
        settings=weights,
        chances=given.chances,
        local_rules=given.local_rules,
        hours_factors=given.hours,
    )
    order = rank(found)
    print_faults(given.faults, every=False, rest="mend these first and run it again")
    if as_json:
        print_json(ranked_to_dict(order))
        return
    _print_needs(order, _learnt(given, year, place, weights), every=every)


def tape(
    stations: Walked,
    columns: opt.Columns = None,
    minutes: Annotated[
        float,
        typer.Option(min=1.0, max=1000.0, metavar="MINUTES", help="Time for taping and walking."),
    ] = 180.0,
    most: Annotated[
        int, typer.Option(min=1, max=200, metavar="NUMBER", help="At most so many trees.")
    ] = DOZEN,
    wind: opt.Wind = None,
    terrain: opt.Terrain = None,
    southern: opt.Southern = False,
    years_stood: opt.YearsStood = None,
    settings: opt.SettingsFile = None,
    on: opt.Today = "",
    as_json: opt.Json = False,
) -> None:
    """Say which trees are worth a limb survey before deciding, and pick a day's dozen."""
    from limbwright.cli.show import print_faults, print_json
    from limbwright.cuts.weights import read_settings
    from limbwright.needs.day import pick_day
    from limbwright.needs.tape import tape_to_dict, tape_value

    given = _open(stations, columns)
    sun = (None, None, None)
    place = site(wind, terrain, None, None, southern, years_stood, sun, base=given.site)
    weights = read_settings(settings) if settings else given.settings
    year = _year(on)
    found = tape_value(
        given.stations,
        place,
        year=year,
        settings=weights,
        taped=given.taped,
        chances=given.chances,
    )
    day = pick_day(found, minutes=minutes, most=most)
    print_faults(given.faults, every=False, rest="mend these first and run it again")
    if as_json:
        print_json({**tape_to_dict(found), "day": day.to_dict()})
        return
    _print_tape(found, day, minutes, _learnt(given, year, place, weights))


def _open(path: Path, columns: Path | None) -> _Given:
    """Return what a project file holds, or a table of stations with all that is wrong in it."""
    if not is_project_name(path):
        return _table(path, columns)
    only_for_tables(path, {"--columns": columns})
    return _project(path)


def _project(path: Path) -> _Given:
    from limbwright.errors import InputError
    from limbwright.job.chances import known_chances
    from limbwright.job.learnt_hours import hours_factors
    from limbwright.job.project_settings import project_settings
    from limbwright.model import Faults
    from limbwright.project.plans import plans, rules
    from limbwright.project.records import holding, stations
    from limbwright.project.store import Project
    from limbwright.project.surveys import latest

    faults = Faults()
    with Project.open(path, write=False) as project, project.reading():
        found = stations(project)
        whole = holding(project)
        taped = {*latest(project, "limbs"), *latest(project, "segments")}
        chances = known_chances(plans(project))
        settings, factors = project_settings(project, faults)
        local = rules(project, faults)
    if not found:
        raise InputError(
            f"{path.name} has no stations yet.", f"Add some: limbwright add {path} stations.csv"
        )
    return _Given(
        found,
        tuple(faults),
        {one.name: one for one in whole.orchards},
        whole.site,
        tuple(sorted(taped)),
        chances,
        settings,
        local,
        hours_factors(factors),
    )


def _table(path: Path, columns: Path | None) -> _Given:
    from limbwright.errors import InputError
    from limbwright.model import Faults, Orchard
    from limbwright.survey.columns import ColumnMap, apply_columns, read_columns
    from limbwright.survey.header import check_header
    from limbwright.survey.stations import STATION_COLUMNS, read_stations
    from limbwright.survey.tables import read_book

    mapping = ColumnMap() if columns is None else read_columns(columns)
    table = apply_columns(
        read_book(path).table("stations", mapping.known_in("stations")), mapping.stations
    )
    other = next((name for name in ("limb", "shoot", "segment") if name in table.header), "")
    if other:
        raise InputError(
            f"{path.name} is a table of {other}s, not of stations.",
            "Give the stations of the walk, or a project file.",
        )
    faults = Faults()
    faults.extend(table.faults)
    check_header(table, STATION_COLUMNS, ("station",), faults)
    found = read_stations(table, faults)
    if not found:
        raise InputError(
            f"{path.name} has no station that can be used.",
            "Its first row names the columns; one of them is station.",
        )
    names = sorted({one.orchard for one in found})
    return _Given(found, tuple(faults), {name: Orchard(name) for name in names})


def _year(on: str) -> int:
    from limbwright.cli.dates import read_day

    return (read_day("--on", on) or date.today()).year


def _learnt(given: _Given, year: int, place: Site, weights: Settings | None) -> str:
    """Return what the taped trees of a project have taught, in a sentence."""
    from limbwright.cuts.weights import Settings
    from limbwright.needs.taped import learnt_from
    from limbwright.needs.walk import read_walk

    if not given.chances:
        return ""
    walks = [read_walk(one, year) for one in given.stations]
    return learnt_from(walks, given.chances, place, weights or Settings()).sentence


def _print_needs(order: tuple[Ranked, ...], learnt: str, *, every: bool) -> None:
    from limbwright.cli.show import counted

    kinds = Counter(one.need.kind.value for one in order)
    print(f"{counted(len(order), 'station')}: " + ", ".join(f"{n} {k}" for k, n in kinds.items()))
    shown = order if every else order[:DOZEN]
    for one in shown:
        print()
        say(f"{one.place}. {one.sentence}", "   ")
        say(f"   {_details(one)}", "   ")
        for words in (*one.need.contradictions, *one.need.cautions[:2]):
            say(f"   - {words[0].upper()}{words[1:]}", "     ")
    if len(shown) < len(order):
        print(f"\n... and {len(order) - len(shown)} more; --every shows them all.")
    work = sum(one.need.hours.value for one in order)
    low = sum(one.need.hours.low or 0.0 for one in order)
    high = sum(one.need.hours.high or 0.0 for one in order)
    print(f"\nWork in all: {work:.0f} hours, {low:.0f} to {high:.0f} by other accounts.")
    if learnt:
        say(learnt)
    say(NOT_AN_INSPECTION)


def _details(one: Ranked) -> str:
    need = one.need
    parts = [f"Because {need.kind.because} ({need.kind.sure_words})."]
    if need.dose is not None:
        words = f"At most {100 * need.dose.value:.0f} % of the live crown"
        cuts = need.cuts_allowed
        if cuts is not None:
            five, ten, fifteen = cuts.value
            words += f", and {five} cuts of 5 cm or {ten} of 10 or {fifteen} of 15"
        parts.append(f"{words}.")
    if need.chance is not None:
        parts.append(f"Of 100 trees like it about {100 * need.chance.value:.0f} lose a limb "
                     "in a year.")  # fmt: skip
    low, high = need.hours.low or 0.0, need.hours.high or 0.0
    parts.append(f"{need.hours.value:.1f} h ({low:.1f} to {high:.1f}). {need.window.value}")
    parts.append(f"Look again in {need.review.value}.")
    if need.missing:
        parts.append(f"{', '.join(need.missing)}.".capitalize())
    return " ".join(parts)


def _print_tape(found: tuple[TapeValue, ...], day: Day, minutes: float, learnt: str) -> None:
    from limbwright.cli.show import counted

    if not day.trees:
        print(
            "No tree here is worth the tape: the walk says enough, too few measures were taken, or "
            "the trees are taped."
        )
        return
    worth = sum(one.net_h > 0.0 for one in found)
    print(f"{counted(worth, 'tree')} of {len(found)} worth the tape. In {minutes:.0f} minutes, "
          f"in walking order:")  # fmt: skip
    for number, one in enumerate(day.trees, 1):
        print()
        because = one.because[0].upper() + one.because[1:]
        say(f"{number}. {one.tree}: {one.net_h:+.1f} h. {because}.", "   ")
    walked = "" if day.walked_m is None else f", {day.walked_m:.0f} m of walking"
    print(f"\nTogether {day.gain_h:.0f} h expected in {day.minutes:.0f} minutes{walked}.")
    say("Hours are those of the plan: what the work is worth over the years, less what it takes. "
         "They are means of many trees; one tree may gain nothing.")  # fmt: skip
    if learnt:
        say(learnt)
    say(NOT_AN_INSPECTION)

"""The commands that work from the walk alone: what each tree needs, where the tape is worth it."""

from __future__ import annotations

import textwrap
from collections import Counter
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from limbwright.cli import options as opt
from limbwright.cli.site import site

if TYPE_CHECKING:
    from limbwright.model import Fault, StationRecord
    from limbwright.needs.day import Day
    from limbwright.needs.order import Ranked
    from limbwright.needs.tape import TapeValue

__all__ = ["needs", "tape"]

WIDTH = 96
DOZEN = 12
NOT_AN_INSPECTION = (
    "Judged from a walk, not an inspection: no tree is told to be free of danger. Where people "
    "pass below, a qualified person looks; local law and licensed practice come first."
)

Walked = Annotated[
    Path,
    typer.Argument(
        metavar="STATIONS",
        help="Table of stations from the walk (CSV or XLSX); see docs/formats.md.",
        show_default=False,
    ),
]
Grazed = Annotated[
    str, typer.Option("--grazed", metavar="STOCK", help="What grazes below, such as sheep.")
]
Below = Annotated[
    bool, typer.Option("--people-below", help="People are often beneath these trees.")
]


def needs(
    stations: Walked,
    columns: opt.Columns = None,
    grazed: Grazed = "",
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
    from limbwright.model.holding import Orchard
    from limbwright.needs.need import needs as needs_of
    from limbwright.needs.order import rank, ranked_to_dict

    records, faults = _read(stations, columns)
    names = {one.orchard for one in records}
    found = needs_of(
        records,
        year=_year(on),
        orchards={
            name: Orchard(name, grazed_by=grazed, people_below=people_below) for name in names
        },
        site=site(wind, terrain, None, None, southern, years_stood, (None, None, None)),
        settings=read_settings(settings) if settings else None,
    )
    order = rank(found)
    print_faults(faults, every=False, rest="mend these first and run it again")
    if as_json:
        print_json(ranked_to_dict(order))
        return
    _print_needs(order, every=every)


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

    records, faults = _read(stations, columns)
    found = tape_value(
        records,
        site(wind, terrain, None, None, southern, years_stood, (None, None, None)),
        year=_year(on),
        settings=read_settings(settings) if settings else None,
    )
    day = pick_day(found, minutes=minutes, most=most)
    print_faults(faults, every=False, rest="mend these first and run it again")
    if as_json:
        print_json({**tape_to_dict(found), "day": day.to_dict()})
        return
    _print_tape(found, day, minutes)


def _read(path: Path, columns: Path | None) -> tuple[tuple[StationRecord, ...], tuple[Fault, ...]]:
    """Return the stations of a table, and everything found wrong with it."""
    from limbwright.errors import InputError
    from limbwright.model import Faults
    from limbwright.survey.columns import ColumnMap, apply_columns, read_columns
    from limbwright.survey.header import check_header
    from limbwright.survey.stations import STATION_COLUMNS, read_stations
    from limbwright.survey.tables import read_book

    mapping = ColumnMap() if columns is None else read_columns(columns)
    known = {*STATION_COLUMNS, *mapping.stations.sources()}
    table = apply_columns(read_book(path).table("stations", known), mapping.stations)
    faults = Faults()
    faults.extend(table.faults)
    check_header(table, STATION_COLUMNS, ("station",), faults)
    found = read_stations(table, faults)
    if not found:
        raise InputError(
            f"{path.name} has no station that can be used.",
            "Its first row names the columns; one of them is station.",
        )
    return found, tuple(faults)


def _year(on: str) -> int:
    from limbwright.errors import InputError

    if not on:
        return date.today().year
    try:
        return date.fromisoformat(on).year
    except ValueError:
        raise InputError(f"--on {on!r} is no day.", "Write it like 2027-01-31.") from None


def _print_needs(order: tuple[Ranked, ...], *, every: bool) -> None:
    from limbwright.cli.show import counted

    kinds = Counter(one.need.kind.value for one in order)
    print(f"{counted(len(order), 'station')}: " + ", ".join(f"{n} {k}" for k, n in kinds.items()))
    shown = order if every else order[:DOZEN]
    for one in shown:
        print()
        _say(f"{one.place}. {one.sentence}", "   ")
        _say(f"   {_details(one)}", "   ")
        for words in (*one.need.contradictions, *one.need.cautions[:2]):
            _say(f"   - {words[0].upper()}{words[1:]}", "     ")
    if len(shown) < len(order):
        print(f"\n... and {len(order) - len(shown)} more; --every shows them all.")
    work = sum(one.need.hours.value for one in order)
    low = sum(one.need.hours.low or 0.0 for one in order)
    high = sum(one.need.hours.high or 0.0 for one in order)
    print(f"\nWork in all: {work:.0f} hours, {low:.0f} to {high:.0f} by other accounts.")
    _say(NOT_AN_INSPECTION)


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


def _print_tape(found: tuple[TapeValue, ...], day: Day, minutes: float) -> None:
    from limbwright.cli.show import counted

    if not day.trees:
        print(
            "No tree here is worth the tape: the walk says enough, or too few measures were taken."
        )
        return
    worth = sum(one.net_h > 0.0 for one in found)
    print(f"{counted(worth, 'tree')} of {len(found)} worth the tape. In {minutes:.0f} minutes, "
          f"in walking order:")  # fmt: skip
    for number, one in enumerate(day.trees, 1):
        print()
        because = one.because[0].upper() + one.because[1:]
        _say(f"{number}. {one.tree}: {one.net_h:+.1f} h. {because}.", "   ")
    walked = "" if day.walked_m is None else f", {day.walked_m:.0f} m of walking"
    print(f"\nTogether {day.gain_h:.0f} h expected in {day.minutes:.0f} minutes{walked}.")
    _say("Hours are those of the plan: what the work is worth over the years, less what it takes. "
         "They are means of many trees; one tree may gain nothing.")  # fmt: skip
    _say(NOT_AN_INSPECTION)


def _say(text: str, indent: str = "") -> None:
    print(textwrap.fill(text, WIDTH, subsequent_indent=indent))

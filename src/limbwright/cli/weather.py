"""The command for a weather table: when leaves were wet long enough for apple scab."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from limbwright.cli import options as opt
from limbwright.cli.lines import say

if TYPE_CHECKING:
    import numpy as np

    from limbwright.light.infection import ScabRecord

__all__ = ["print_scab", "say_spells", "weather"]


def weather(
    record: Annotated[
        Path,
        typer.Argument(
            metavar="FILE",
            help="Hourly or daily weather (CSV or XLSX); see docs/formats.md.",
            show_default=False,
        ),
    ],
    columns: opt.Columns = None,
    dry_gap: Annotated[
        float | None,
        typer.Option(
            min=0.0,
            max=24.0,
            metavar="HOURS",
            help="Wet spells less than this apart count as one; 8 if left out, sources give 4 to "
            "12.",
        ),
    ] = None,
    night_counts: Annotated[
        bool,
        typer.Option(
            "--night-counts",
            help="Count a night's rain in full, as where scab was bad last year; else it counts "
            "from morning.",
        ),
    ] = False,
    day_from: Annotated[
        float | None,
        typer.Option(
            min=0.0,
            max=12.0,
            metavar="HOUR",
            help="Hour of the morning from which a night's rain counts; 7 if left out, sources "
            "give sunrise to 8.",
        ),
    ] = None,
    every: Annotated[
        bool, typer.Option("--every", help="List every wet spell, not only those that infect.")
    ] = False,
    as_json: opt.Json = False,
) -> None:
    """Find the wet spells long and warm enough for apple scab, by the published table."""
    from limbwright.cli.show import print_faults, print_json
    from limbwright.light.infection import scab_periods
    from limbwright.survey.weather import read_weather

    read = read_weather(record, columns)
    found = scab_periods(read, dry_gap_h=dry_gap, night_counts=night_counts, day_from_h=day_from)
    print_faults(read.faults, every=False, rest="mend these first and run it again")
    if as_json:
        print_json(found.to_dict())
    else:
        print_scab(found, every=every)


def print_scab(found: ScabRecord, *, every: bool = False) -> None:
    """Print the infection periods of a record in plain words."""
    from limbwright.cli.show import counted
    from limbwright.light.infection import NOT_ADVICE

    first, last = _day(found.begin), _day(found.last)
    print(
        f"{found.file}: {counted(found.records, found.step)}, "
        f"{first if first == last else f'{first} to {last}'}; "
        f"{counted(len(found.spells), 'wet spell')}."
    )
    say(found.wetness)
    say(_rules(found))
    listed = found.spells if every else found.infections
    print()
    able = len(found.infections)
    print(f"By the table, apple scab could infect in {f'{able} of them' if able else 'none'}.")
    if listed:
        print(
            f"\n{'wet from':<18}{'until':<18}{'wet':>5}{'counted':>9}{'mean':>9}  "
            f"{'from old leaves':<17}{'from fresh spots':<18}spots show"
        )
    for one in listed:
        mean = f"{one.mean_c:.1f} °C" if one.mean_c == one.mean_c else "not known"
        days = f"after {one.lesions_days} days" if one.lesions_days else "-"
        print(
            f"{_time(one.begin):<18}{_time(one.end):<18}{one.wet_h:>3.0f} h{one.counted_h:>7.0f} h"
            f"{mean:>9}  {one.primary:<17}{'possible' if one.secondary else 'no':<18}{days}"
        )
    print()
    if found.beyond_table:
        say(
            f"{counted(len(found.beyond_table), 'wet spell')} of 6 hours or more lay outside the "
            "table's temperatures (0.5 to 26 °C), or had none: of those it says nothing."
        )
    if found.infections:
        say(
            "From old leaves (primary): spores of last year's fallen leaves, from bud burst until "
            "they are spent, mostly by early summer. From fresh spots (secondary): only where "
            "there are spots on this year's leaves."
        )
    say(NOT_ADVICE)
    say("Where sheep graze, remember that copper poisons them.")


def say_spells(record: Path) -> None:
    """Print in a sentence what a weather table holds, and how to see all of it."""
    from limbwright.light.infection import scab_periods
    from limbwright.survey.weather import read_weather

    found = scab_periods(read_weather(record))
    print(
        f"\nWeather (invented): apple scab could infect in {len(found.infections)} of "
        f"{len(found.spells)} wet spells, by the published table; see them with\n"
        f"  limbwright weather {record}"
    )


def _rules(found: ScabRecord) -> str:
    gap = f"Wet spells less than {found.dry_gap_h:g} hours apart count as one"
    if found.step == "day":
        return f"{gap}, as far as days can tell; all wet hours count, for a day does not say when."
    if found.night_counts or found.day_from_h == 0.0:
        return f"{gap}; the night counts in full."
    hour = f"{int(found.day_from_h):02d}:{round(60 * (found.day_from_h % 1)):02d}"
    return (
        f"{gap}; a night's rain counts from {hour} for the spores of old leaves, which fly by day "
        "(--night-counts where scab was bad last year)."
    )


def _day(when: np.datetime64) -> str:
    return str(when.astype("datetime64[D]"))


def _time(when: np.datetime64) -> str:
    return str(when.astype("datetime64[m]")).replace("T", " ")

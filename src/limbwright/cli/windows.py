"""The command for the windows of a year: when each job may be done, what meets it, and why."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from limbwright.cli import options as opt
from limbwright.cli.lines import say
from limbwright.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from limbwright.model import Fault, Site
    from limbwright.trade.seasons.climate import Climate
    from limbwright.trade.seasons.job_windows import JobWindow, Span
    from limbwright.trade.seasons.local import LocalRule
    from limbwright.trade.seasons.weather_day import FitMonth, WeatherDay
    from limbwright.trade.seasons.weeks import Week
    from limbwright.trade.species import Species

__all__ = ["windows"]

WEEKS_SHOWN = 6
STATE_WORDS = {"open": "open", "care": "with care", "closed": "closed"}


def windows(
    species_name: Annotated[
        str,
        typer.Argument(metavar="SPECIES", help="Such as apple or plum.", show_default=False),
    ],
    job: Annotated[
        list[str] | None,
        typer.Option(
            "--job",
            metavar="NAME",
            help="Tell of this job in full, such as structural, planting or grafting-wood; may be "
            "given again. All jobs in a line each if left out.",
        ),
    ] = None,
    latitude: Annotated[
        float | None,
        typer.Option(
            min=-90.0,
            max=90.0,
            metavar="DEGREES",
            help="Latitude, south below zero; the project's, or 50, if left out.",
        ),
    ] = None,
    southern: opt.Southern = False,
    year: Annotated[
        int | None,
        typer.Option(
            metavar="YEAR", help="Windows that begin in this year; this year if left out."
        ),
    ] = None,
    project: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="The project file of a holding (.gpkg): its place and its local rules.",
        ),
    ] = None,
    rules: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Rules of your place (CSV or XLSX), which come before the general ones; see "
            "docs/method/windows.md.",
        ),
    ] = None,
    weather: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="The means of the twelve months (month, mean_c), or a weather table: days then "
            "come from the climate, and a table's days in the window are counted.",
        ),
    ] = None,
    columns: opt.Columns = None,
    has: Annotated[
        list[str] | None,
        typer.Option(
            "--has",
            metavar="WHAT",
            help="What is so of the tree or orchard: roost, silver leaf, canker, fire blight, "
            "ewes, hard frost. May be given again.",
        ),
    ] = None,
    ribbon: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Draw the year as a ribbon into this SVG file as well."),
    ] = None,
    as_json: opt.Json = False,
) -> None:
    """Tell when each job may be done in a species, what meets it, and the least disturbed weeks."""
    from limbwright.cli.show import print_faults, print_json
    from limbwright.cli.site import lit
    from limbwright.trade.seasons.job_windows import jobs_for, windows_for
    from limbwright.trade.seasons.plain import windows_to_dict
    from limbwright.trade.species import species

    if columns is not None and weather is None:
        raise InputError(
            "--columns says how to read the table of --weather, and there is none.",
            "Give --weather FILE too, or leave --columns out.",
        )
    if ribbon is not None and ribbon.suffix.lower() != ".svg":
        raise InputError(f"{ribbon.name} is no name for a drawing.", "End it in .svg.")
    kind = species(species_name)
    base, held_rules, faults = _of_project(project)
    where = base.latitude_deg if latitude is None else latitude
    site = lit(replace(base, southern=southern or base.southern), where, None, None)
    when = date.today().year if year is None else year
    climate, days, of_weather = _weather(weather, columns)
    own, of_rules = _rules(rules)
    local = tuple(dict.fromkeys((*held_rules, *own)))
    held = tuple(has or ())
    wanted = job or [one.key for one in jobs_for(kind)]
    found = [windows_for(one, kind, site, when, climate, local, held) for one in wanted]
    fit = [_fit(one, kind, site, climate, local, held, days) for one in found]
    if ribbon is not None:
        _draw(ribbon, when, site, climate, local, held, [project, rules, weather])
    print_faults(
        [*faults, *of_weather, *of_rules], every=False, rest="mend these first and run it again"
    )
    if as_json:
        print_json(windows_to_dict(found, fit))
        return
    print(f"{kind.name.capitalize()}, {when}.")
    say(found[0].sentence)
    if job:
        for one, months in zip(found, fit, strict=True):
            _print_one(one, months)
    else:
        _print_lines(found)
        _print_rules(
            [one for one in local if any(one.concerns(w.job, kind.key, kind.group) for w in found)]
        )
    print()
    say(found[0].caution)
    if ribbon is not None:
        print(f"The year as a ribbon: {ribbon}")


def _weather(
    path: Path | None, columns: Path | None
) -> tuple[Climate | None, tuple[WeatherDay, ...], tuple[Fault, ...]]:
    from limbwright.survey.climate import read_climate_or_weather

    return (None, (), ()) if path is None else read_climate_or_weather(path, columns)


def _of_project(
    path: Path | None,
) -> tuple[Site, tuple[LocalRule, ...], tuple[Fault, ...]]:
    """Return the place and the local rules of a project, and what is amiss in these."""
    from limbwright.model import Faults, Site
    from limbwright.project.plans import rules
    from limbwright.project.records import holding
    from limbwright.project.store import Project

    if path is None:
        return Site(), (), ()
    faults = Faults()
    with Project.open(path, write=False) as opened, opened.reading():
        found = rules(opened, faults)
        return holding(opened).site, found, tuple(faults)


def _rules(path: Path | None) -> tuple[tuple[LocalRule, ...], tuple[Fault, ...]]:
    from limbwright.survey.local_rules import read_local_rules

    if path is None:
        return (), ()
    local, faults = read_local_rules(path)
    return local, tuple(faults)


def _fit(
    window: JobWindow,
    kind: Species,
    site: Site,
    climate: Climate | None,
    local: Sequence[LocalRule],
    held: Sequence[str],
    days: Sequence[WeatherDay],
) -> tuple[FitMonth, ...]:
    """Return the days of the record that lie in the windows of their own years and suit the job."""
    from limbwright.trade.seasons.job_windows import windows_for
    from limbwright.trade.seasons.weather_day import fit_days

    if not days:
        return ()
    years = range(days[0].day.year - 1, days[-1].day.year + 1)
    of_years = [
        windows_for(window.job.key, kind, site, year, climate, local, held) for year in years
    ]
    return fit_days(days, of_years, kind, held)


def _draw(
    path: Path,
    year: int,
    site: Site,
    climate: Climate | None,
    local: Sequence[LocalRule],
    held: Sequence[str],
    inputs: Sequence[Path | None],
) -> None:
    from limbwright.cli.places import check_file
    from limbwright.report.ribbon import ribbon_svg
    from limbwright.report.whole import write_whole
    from limbwright.trade.seasons.ribbon import ribbon

    check_file(path, inputs, option="--ribbon")
    drawn = ribbon_svg(ribbon(year, site, climate, local, held))
    write_whole(path, drawn.encode("utf-8"))


def _print_lines(found: Sequence[JobWindow]) -> None:
    """Print a line a job: its window, what sources give at the widest, and the quietest days."""
    from limbwright.trade.seasons.job_windows import NOT_KNOWN
    from limbwright.trade.seasons.weeks import quiet_span

    print(f"\n{'job':<15}{'window':<28}{'at the widest':<20}{'least in the way':<20}meets")
    for one in found:
        if one.spans[0].decided_by == NOT_KNOWN:
            print(f"{one.job.key:<15}not known here: ask growers of the place")
            continue
        quiet = quiet_span(one)
        calm = "-" if quiet is None else f"{_short(quiet[0])} to {_short(quiet[1])}"
        met = ", ".join(_meets(one))
        for k, run in enumerate(one.runs):
            row = (one.job.key, _agreed(run, one), _widest(run), calm, met)
            key, days, widest, least, meets = row if k == 0 else ("", *row[1:3], "", "")
            print(f"{key:<15}{days:<28}{widest:<20}{least:<20}{meets}".rstrip())
        if not one.runs:
            print(f"{one.job.key:<15}none begins in this year")
    print()
    say("--job NAME tells of one job day by day: what is open, what needs care, and why.")


def _print_rules(local: Sequence[LocalRule]) -> None:
    """Print the rules of the place that have a say: scheme, place, date, days."""
    if local:
        print("\nRules of the place")
    for one in local:
        what = ", ".join(word for word in (one.job, one.species) if word != "all") or "all jobs"
        say(f"{one.words} For {what}.", "    ", first="  ")


def _agreed(run: Sequence[Span], window: JobWindow) -> str:
    """Return the days on which sources agree that the job may be done."""
    days = [span for span in run if span.state == "open" or window.windows & set(span.rules)]
    return f"{_day(days[0].first)} to {_day(days[-1].last)}" if days else "-"


def _widest(run: Sequence[Span]) -> str:
    return f"{_short(run[0].first)} to {_short(run[-1].last)}"


def _meets(window: JobWindow) -> list[str]:
    from limbwright.trade.seasons.job_windows import DOUBT
    from limbwright.trade.seasons.weeks import conflicts

    return [one.name for one in conflicts(window) if not one.rule.endswith(DOUBT)]


def _print_one(window: JobWindow, months: Sequence[FitMonth]) -> None:
    from limbwright.trade.seasons.weeks import conflicts, weeks

    print(f"\n{window.job.words.capitalize()}")
    for run in window.runs:
        for span in run:
            print(_span_line(span, window))
    if not window.runs:
        print("  no window begins in this year")
    met = conflicts(window)
    if met:
        print("\nWhat meets it")
        for one in met:
            say(one.sentence, "    ", first="  ")
    ranked = weeks(window)[:WEEKS_SHOWN]
    if ranked:
        print("\nLeast disturbed weeks")
        for week in ranked:
            print(_week_line(week, window))
    _print_fit(months)
    print("\nWhy, and where it comes from")
    spans = (span for run in window.runs or (window.spans,) for span in run)
    for key in dict.fromkeys(k for span in spans for k in (span.decided_by, *span.rules)):
        reason = window.reasons[key]
        where = "; ".join(part for part in (reason.scheme, reason.place, reason.dated) if part)
        source = f" [{reason.source}]" if reason.source else ""
        place = f" ({where})" if where else ""
        say(f"{reason.name}: {reason.sentence}{place}{source}", "    ", first="  ")


def _span_line(span: Span, window: JobWindow) -> str:
    why = [reason.name for reason in window.why(span)]
    days = f"{_day(span.first)} to {_day(span.last)}"
    return f"  {days:<30}{STATE_WORDS[span.state]:<11}{', '.join(why)}"


def _week_line(week: Week, window: JobWindow) -> str:
    shares = [
        f"{days} {word}"
        for days, word in (
            (week.open_days, "open"),
            (week.care_days, "with care"),
            (week.closed_days, "closed"),
        )
        if days
    ]
    met = [window.reasons[key].name for key in week.rules]
    more = f": {', '.join(met)}" if met else ""
    days = f"{_day(week.monday)} to {_day(week.last)}"
    return f"  week {week.number:>2}, {days:<30}{', '.join(shares)}{more}"


def _print_fit(months: Sequence[FitMonth]) -> None:
    counted = [one for one in months if one.days]
    if not months:
        return
    print("\nDays of the weather table in the window, by their weather")
    if not counted:
        print("  none of its days lies in the window")
        return
    print(f"  {'month':<16}{'days':>5}{'go':>5}{'look':>6}{'stay home':>11}")
    for one in counted:
        print(f"  {one.words:<16}{one.days:>5}{one.go:>5}{one.look:>6}{one.stay_home:>11}")
    say("Wind is not in the table: look at it, and at the ground, on the day.", "    ", first="  ")


def _day(day: date) -> str:
    return f"{day.day} {day:%b} {day.year}"


def _short(day: date) -> str:
    return f"{day.day} {day:%b}"

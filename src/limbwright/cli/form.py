"""The command for young trees: what is cut this season, and the years ahead."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from limbwright.cli import options as opt
from limbwright.cli.fits import is_project_name, only_for_tables
from limbwright.cli.lines import say

if TYPE_CHECKING:
    from collections.abc import Mapping

    from limbwright.form.results import FormPlan
    from limbwright.form.settings import FormSettings
    from limbwright.model import Fault, Holding, Orchard, YoungTree
    from limbwright.trade.seasons.local import LocalRule

__all__ = ["form", "print_forms"]

RESULTS = ("form-cards.pdf", "form-list.csv", "form.json")
NOT_AN_INSPECTION = (
    "Reckoned from a few measures, by rules with ranges: look at the tree before each cut, and "
    "leave what looks otherwise. What the years ahead bring is a forecast, not a promise."
)


def form(
    shoots: Annotated[
        Path,
        typer.Argument(
            metavar="SHOOTS",
            help="Table of shoots (CSV or XLSX), or a project file; see docs/method/form.md.",
            show_default=False,
        ),
    ],
    stations: opt.Stations = None,
    columns: opt.Columns = None,
    species: opt.SpeciesName = None,
    grazed: opt.Grazed = "",
    clear_stem: Annotated[
        float | None,
        typer.Option(metavar="M", help="Clear stem of your own, m, before every rule."),
    ] = None,
    stem_by: Annotated[
        str,
        typer.Option(
            metavar="RULE",
            help="Clear stem by what the animals reach (grazing), or by a planting grant (grant).",
        ),
    ] = "grazing",
    out: opt.Out = opt.OUT,
    settings: opt.SettingsFile = None,
    southern: opt.Southern = False,
    holding: Annotated[
        str, typer.Option(metavar="NAME", help="Name of the holding, for the cards.")
    ] = "",
    marked: Annotated[
        str, typer.Option(metavar="WORDS", help='Words that mark every card, as "invented".')
    ] = "",
    on: opt.Today = "",
    as_json: opt.Json = False,
) -> None:
    """Plan the forming of young trees, shoot by shoot; write cards, list and JSON."""
    from limbwright.cli.dates import read_day
    from limbwright.cli.places import check_folder
    from limbwright.cli.show import print_faults, print_json, progress
    from limbwright.errors import InputError
    from limbwright.form.care import season_year
    from limbwright.form.plan import form_plan
    from limbwright.form.results import forms_to_dict
    from limbwright.model import Orchard, Site
    from limbwright.trade.species import species as find_species

    today = read_day("--on", on) or date.today()
    wishes = _settings(settings, clear_stem, stem_by)
    trees, faults, known, local = _open(shoots, stations, columns, species)
    if not trees:
        first = next((str(f) for f in faults if f.severity == "error"), "")
        if not first and is_project_name(shoots):
            first = f"Take in their shoots: limbwright add {shoots} shoots.csv."
        raise InputError(f"{shoots.name} holds no young tree that can be formed.", first)
    if not as_json:
        check_folder(out, (shoots, stations, columns, settings), names=RESULTS)
    site = Site(southern=southern) if known is None or southern else known.site
    orchards = {} if known is None else {o.name: o for o in known.orchards}
    plans, failed = [], []
    with progress("Forming", len(trees), quiet=as_json) as tick:
        for count, tree in enumerate(trees, 1):
            orchard = _orchard(orchards, tree, grazed, Orchard)
            try:
                kind = find_species(tree.station.species)
                year = season_year(kind, site, today, local)
                plans.append(form_plan(tree, orchard, site, wishes, year=year, local_rules=local))
            except InputError as error:
                failed.append(f"{tree.station.tree}: {error}")
            tick(count, tree.station.tree)
    print_faults(faults, every=False, rest="mend these first and run it again")
    for words in failed:
        typer.echo(f"limbwright: {words}", err=True)
    if as_json:
        print_json(forms_to_dict(plans))
    elif plans:
        name = holding or ("" if known is None else known.name)
        words = marked or ("" if known is None else known.marked)
        _write(plans, out, holding=name, marked=words)
        print_forms(plans)
        print(f"\nWritten to {out}: {', '.join(RESULTS)}")
    if failed:
        raise typer.Exit(1)


def _settings(path: Path | None, clear_stem: float | None, rule: str) -> FormSettings:
    from limbwright.errors import InputError
    from limbwright.form.settings import FormSettings, read_form_settings

    overrides = {} if path is None else read_form_settings(path)
    if rule not in ("grazing", "grant"):
        raise InputError(f"--stem-by {rule!r} is no rule.", "Choose grazing or grant.")
    return FormSettings(overrides, "grant" if rule == "grant" else "grazing", clear_stem)


def _open(
    path: Path, stations: Path | None, columns: Path | None, species: str | None
) -> tuple[tuple[YoungTree, ...], tuple[Fault, ...], Holding | None, tuple[LocalRule, ...]]:
    from limbwright.form.read import read_young_trees

    if not is_project_name(path):
        read = read_young_trees(path, stations, columns=columns, species=species or "")
        return read.trees, read.faults, None, ()
    only_for_tables(path, {"--stations": stations, "--columns": columns})
    from dataclasses import replace

    from limbwright.project.plans import rules
    from limbwright.project.records import holding
    from limbwright.project.store import Project
    from limbwright.project.surveys import young_trees

    with Project.open(path, write=False) as project, project.reading():
        found = tuple(
            replace(t, station=replace(t.station, species=t.station.species or species or ""))
            for t in young_trees(project)
        )
        return found, (), holding(project), rules(project)


def _orchard(
    orchards: Mapping[str, Orchard], tree: YoungTree, grazed: str, make: type[Orchard]
) -> Orchard:
    from dataclasses import replace

    name = tree.station.orchard
    known = orchards.get(name, make(name))
    return replace(known, grazed_by=grazed) if grazed else known


def _write(plans: list[FormPlan], out: Path, *, holding: str, marked: str) -> None:
    import json

    from limbwright.form.results import forms_to_dict
    from limbwright.form.table import form_csv
    from limbwright.report.form_card import form_cards
    from limbwright.report.whole import write_whole

    out.mkdir(parents=True, exist_ok=True)
    form_cards(plans, out / RESULTS[0], holding=holding, marked=marked)
    write_whole(out / RESULTS[1], form_csv(plans))
    text = json.dumps(forms_to_dict(plans), ensure_ascii=False, indent=1)
    write_whole(out / RESULTS[2], text.encode("utf-8"))


def print_forms(plans: list[FormPlan]) -> None:
    """Print what is done to each young tree this season, and when it is formed."""
    for plan in plans:
        print(f"\n{plan.tree}  {plan.species}  {plan.season}")
        because = plan.stage.because[0].upper() + plan.stage.because[1:]
        _line(
            f"{plan.stage.title}. {because}. Clear stem {plan.target.metres:.1f} m "
            f"({plan.target.because}).",
            "  ",
        )
        choice = plan.choice
        if choice is not None:
            words = "Scaffold" if choice.good else "No good scaffold yet; nearest"
            names = ", ".join(choice.best.names)
            _line(f"{words}: {names} ({100 * choice.best.score:.0f} of 100).", "  ")
            for more in (*choice.missing, *choice.remedies):
                _line(f"- {more}", "  ")
        for row in plan.work:
            what = row.what[0].lower() + row.what[1:]
            _line(f"{row.order}. {row.shoot}: {what}. {row.why[0].upper()}{row.why[1:]}.", "  ")
        if not plan.work:
            _line("No cut this season.", "  ")
        for words in (f"Crown taken: {plan.dose_words}.", *plan.notes, *plan.milestones):
            _line(words, "  ")
    print()
    say(NOT_AN_INSPECTION)


def _line(words: str, indent: str) -> None:
    say(words, f"{indent}   ", first=indent)

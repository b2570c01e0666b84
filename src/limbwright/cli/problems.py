"""The command that looks up a disease, fault or injury of fruit trees."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from limbwright.cli import options as opt
from limbwright.cli.lines import say

if TYPE_CHECKING:
    from limbwright.trade.health import Problem

__all__ = ["SCHEMA", "print_problems", "problems"]

SCHEMA = "limbwright.problems/1"
HEADINGS = {
    "disease": "Diseases",
    "pest": "Pests",
    "structure": "Faults of wood and forks",
    "injury": "Injuries",
    "growth": "Growth",
}


def problems(
    name: Annotated[
        str | None,
        typer.Argument(
            metavar="NAME",
            help="A disease, fault or sign, such as canker or gum; all are listed if left out.",
            show_default=False,
        ),
    ] = None,
    as_json: opt.Json = False,
) -> None:
    """Tell the signs of a disease or fault, what to do about it, and where that is from."""
    from limbwright.cli.show import print_json
    from limbwright.trade import health

    found = health.problems() if name is None else health.look_up(name)
    if as_json:
        print_json({"schema": SCHEMA, "problems": [one.to_dict() for one in found]})
    elif name is None:
        _list(found)
    else:
        print_problems(found)


def print_problems(found: tuple[Problem, ...]) -> None:
    """Print problems in full, one after the other, in plain words."""
    from limbwright.trade.health import REPORT_WORDS

    for number, one in enumerate(found):
        if number:
            print()
        print(f"{one.name[0].upper()}{one.name[1:]}" + (f" ({one.latin})" if one.latin else ""))
        rows = (
            ("On", ", ".join(_host(host) for host in one.hosts)),
            ("Signs", one.signs),
            ("To do", one.response),
            ("Cut", one.distance_words and f"{one.distance_words}."),
            ("When", one.season),
            ("Tools", one.hygiene),
            ("Wood", one.disposal),
            ("Report", REPORT_WORDS[one.report]),
            ("Open", one.disagree),
            ("Sources", _sources(one)),
        )
        for word, text in rows:
            if text:
                say(text, " " * 11, first=f"  {word:<9}")
    print()
    say(
        "General knowledge, not a diagnosis: local rules and people licensed for the work come "
        "first."
    )


def _list(found: tuple[Problem, ...]) -> None:
    for kind, heading in HEADINGS.items():
        names = [one.name for one in found if one.kind == kind]
        if names:
            print(heading)
            say(", ".join(names), "  ", first="  ")
    print("\nLook one up by its name or a sign: limbwright problems canker")


def _host(host: str) -> str:
    return {"all": "all fruit", "pome": "pome fruit", "stone": "stone fruit"}.get(host, host)


def _sources(one: Problem) -> str:
    if one.distance_m is None:
        return f"{one.source}."
    return f"{one.source}. Distance: {one.distance_m.source}."

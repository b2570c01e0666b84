"""The command that looks a problem up prints what to do about it, or all that is known."""

from __future__ import annotations

import json

import pytest
import typer
from typer.testing import CliRunner

from limbwright.cli.problems import problems
from limbwright.errors import InputError
from limbwright.trade import health


def run(*words: str) -> str:
    app = typer.Typer()
    app.command()(problems)
    done = CliRunner().invoke(app, list(words), catch_exceptions=False)
    assert done.exit_code == 0
    return done.output


def test_one_problem_is_told_with_signs_care_season_and_sources() -> None:
    text = " ".join(run("silver leaf").split())
    (one,) = health.look_up("silver leaf")
    for part in (one.signs, one.response, one.hygiene, one.disposal, one.season, one.source):
        assert part in text
    assert "15 cm below the last sign (10 to 15)" in text
    assert "not a diagnosis" in text


def test_a_name_two_diseases_share_tells_both_and_what_may_be_reported_is_told() -> None:
    text = run("canker")
    assert "Apple and pear canker" in text
    assert "Bacterial canker" in text
    assert "reported" in run("fire blight")


def test_all_are_listed_where_none_is_named() -> None:
    text = " ".join(run().split())
    for one in health.problems():
        assert one.name in text
    assert all(len(line) <= 96 for line in run("mistletoe").splitlines())


def test_json_carries_the_units_and_the_schema() -> None:
    found = json.loads(run("brown rot", "--json"))
    assert found["schema"] == "limbwright.problems/1"
    (one,) = found["problems"]
    assert (one["cut_below_low_cm"], one["cut_below_cm"], one["cut_below_high_cm"]) == (5, 10, 15)
    assert len(json.loads(run("--json"))["problems"]) == len(health.problems())


def test_an_unknown_name_gets_near_ones() -> None:
    with pytest.raises(InputError, match="fire blight"):
        run("fire blite")

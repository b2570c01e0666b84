"""The page on windows: its picture and its tables are what the code gives."""

from __future__ import annotations

import importlib.util
import re
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

from limbwright.trade.parameters import parameters
from limbwright.trade.seasons.plain import windows_schema
from limbwright.trade.seasons.rules import JOBS

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs/method/windows.md").read_text("utf-8")


@pytest.fixture(scope="module")
def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("draw_ribbon", ROOT / "benchmarks/draw_ribbon.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_picture_is_the_one_the_script_draws(script: ModuleType) -> None:
    assert (ROOT / "docs/pictures/ribbon.svg").read_text("utf-8") == script.picture()


def test_the_tables_of_rules_and_sources_are_those_of_the_code(script: ModuleType) -> None:
    assert script.rules_table() in PAGE
    assert script.sources_table() in PAGE


def keys(part: object) -> Iterator[str]:
    if isinstance(part, dict):
        yield from part.get("properties", {})
        for inner in part.values():
            yield from keys(inner)
    elif isinstance(part, list):
        for inner in part:
            yield from keys(inner)


def test_every_key_of_the_json_is_told() -> None:
    part = PAGE[PAGE.index("`limbwright.windows/1`") :].split("\n## ")[0]
    told = set(re.findall(r"`([a-z][a-z_]*)`", part)) | {"schema"}
    assert set(keys(windows_schema())) <= told


def test_every_job_is_named() -> None:
    for key in JOBS:
        assert f"`{key}`" in PAGE


def test_figures_of_the_page_are_those_of_the_tables() -> None:
    climate, limits = parameters("season_climate"), parameters("weather_limits")
    words = re.sub(r"\s+", " ", PAGE)
    for name, shape in (
        ("leaf_fall.below", "{v:g} °C ({l:g}–{h:g}"),
        ("chill.need", "{v:g} hours ({l:g}–{h:g})"),
        ("forcing.need", "{v:g} degree-days ({l:g}–{h:g})"),
        ("growth.warm", "{v:g} °C ({l:g}–{h:g})"),
        ("growth.cool", "{v:g} °C ({l:g}–{h:g})"),
        ("tropics.latitude", "{v:g}° ({l:g}°–{h:g}°)"),
        ("growth.after_buds", "{v:g} days after bud burst"),
        ("growth.before_fall", "{v:g} days before leaf fall"),
        ("chill.none", "under {v:g} hours of chill"),
        ("season.range", "less than {v:g} °C"),
        ("forcing.base", "degree-days above {v:g} °C"),
    ):
        one = climate[name]
        assert shape.format(v=one.value, l=one.low, h=one.high) in words, name
    for name, shape in (
        ("frost.stop", "below {v:g} °C ({l:g} to {h:g})"),
        ("wind.look", "from {v:.1f} m/s"),
        ("wind.stop", "from {v:g} m/s, Beaufort 6 ({l:g}–{h:g})"),
        ("rain.wet", "from {v:g} mm, or"),
        ("wet.look", "or {v:g} wet hours"),
        ("rain.stop", "from {v:g} mm ({l:g}–{h:g})"),
        ("heat.look", "from {v:g} °C ({l:g}–{h:g})"),
        ("heat.stop", "from {v:g} °C ({l:g}–{h:g})"),
        ("hygiene.cold", "below {v:g} °C, fire blight"),
    ):
        one = limits[name]
        assert shape.format(v=one.value, l=one.low, h=one.high) in words, name

"""The page on JSON: its examples hold to the schemas, and no key of a schema is missing from it."""

import json
import re
from importlib.resources import files
from pathlib import Path

import jsonschema
import pytest

from limbwright.trade import health

PAGE = (Path(__file__).resolve().parents[2] / "docs/json.md").read_text("utf-8")
EXAMPLES = [json.loads(t) for t in re.findall(r"^```json\n(.*?)^```", PAGE, re.DOTALL | re.M)]
SCHEMAS = {
    "limbwright.assessment/1": ("limbwright.statics", "assessment.schema.json"),
    "limbwright.plan/1": ("limbwright.cuts", "plan.schema.json"),
    "limbwright.years/1": ("limbwright.stages", "years.schema.json"),
    "limbwright.form/1": ("limbwright.form", "form.schema.json"),
    "limbwright.needs/1": ("limbwright.needs", "needs.schema.json"),
    "limbwright.tape/1": ("limbwright.needs", "tape.schema.json"),
    "limbwright.windows/1": ("limbwright.trade.seasons", "windows.schema.json"),
    "limbwright.problems/1": ("limbwright.trade", "problems.schema.json"),
    "limbwright.lookback/1": ("limbwright.learn", "lookback.schema.json"),
    "limbwright.scab/1": ("limbwright.light", "scab.schema.json"),
}


def schema(name):
    package, file = SCHEMAS[name]
    return json.loads(files(package).joinpath(file).read_text("utf-8"))


def keys(part):
    if isinstance(part, dict):
        yield from part.get("properties", {})
        for inner in part.values():
            yield from keys(inner)
    elif isinstance(part, list):
        for inner in part:
            yield from keys(inner)


@pytest.mark.parametrize("name", SCHEMAS)
def test_the_example_holds_to_its_schema(name):
    found = [e for e in EXAMPLES if e["schema"] == name]
    assert len(found) == 1
    jsonschema.Draft202012Validator(schema(name)).validate(found[0])


@pytest.mark.parametrize("name", SCHEMAS)
def test_every_key_of_a_schema_is_on_the_page(name):
    start = PAGE.index(f"`{name}`\n")
    part = PAGE[start:].split("\n## ")[0]
    told = set(re.findall(r"`([a-z][a-z0-9_]*)`", part)) | {"schema", "trees"}
    assert set(keys(schema(name))) <= told


def test_every_schema_of_the_package_is_on_the_page():
    package = files("limbwright")
    found = {
        json.loads(path.read_text("utf-8"))["properties"]["schema"]["const"]
        for path in Path(str(package)).rglob("*.schema.json")
    }
    assert found == set(SCHEMAS)


def test_every_problem_of_the_table_holds_to_its_schema():
    told = [one.to_dict() for one in health.problems()]
    document = {"schema": "limbwright.problems/1", "problems": told}
    jsonschema.Draft202012Validator(schema("limbwright.problems/1")).validate(document)

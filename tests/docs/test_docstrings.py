"""The examples in docstrings, run as they stand in the folder of the example survey."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
WITH_EXAMPLES = sorted(
    path.relative_to(ROOT / "src").with_suffix("")
    for path in (ROOT / "src").rglob("*.py")
    if ">>> " in path.read_text("utf-8")
)


@pytest.mark.parametrize("path", WITH_EXAMPLES, ids=str)
def test_the_examples_of_a_module_hold(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT / "examples")
    module = importlib.import_module(".".join(path.parts).removesuffix(".__init__"))
    failed, tried = doctest.testmod(module)
    assert tried > 0
    assert failed == 0


def test_the_package_itself_shows_how_it_is_used() -> None:
    assert Path("limbwright/__init__") in WITH_EXAMPLES

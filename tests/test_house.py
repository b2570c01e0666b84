"""What holds of the whole house: sizes, sources, paths, docstrings, the public face."""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest

import limbwright

ROOT = Path(__file__).resolve().parents[1]
SOURCE = sorted((ROOT / "src").rglob("*.py"))
LONGEST = 420


def tracked() -> list[Path]:
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=False
    ).stdout.decode()
    if not listed:
        pytest.skip("not a git checkout")
    return [ROOT / name for name in listed.split("\0") if name and (ROOT / name).is_file()]


def test_no_file_grows_beyond_one_thing() -> None:
    code = [*SOURCE, *(ROOT / "tests").rglob("*.py"), *(ROOT / "benchmarks").rglob("*.py")]
    long = {p.name: n for p in code if (n := len(p.read_text("utf-8").splitlines())) > LONGEST}
    assert not long


def test_no_path_of_a_machine_and_no_registry_is_committed() -> None:
    pattern = re.compile(
        r"(?:^|[\s\"'(=:])/(?:work|farm|root|home|opt)/\w|pypi\.org|registry\.npmjs"
    )
    found = []
    for path in tracked():
        if path.suffix in {".png", ".ttf", ".pdf"} or path == Path(__file__):
            continue
        if pattern.search(path.read_text("utf-8", errors="replace")):
            found.append(str(path.relative_to(ROOT)))
    assert not found


def test_every_public_function_says_what_it_does() -> None:
    silent = []
    for path in SOURCE:
        for node in ast.parse(path.read_text("utf-8")).body:
            named = isinstance(node, ast.FunctionDef | ast.ClassDef)
            if named and not node.name.startswith("_") and not ast.get_docstring(node):
                silent.append(f"{path.name}: {node.name}")
    assert not silent


def test_the_public_face_is_all_there() -> None:
    assert limbwright.__all__ == sorted(limbwright.__all__)
    for name in limbwright.__all__:
        assert getattr(limbwright, name) is not None


def test_version_is_the_one_in_the_changelog() -> None:
    assert limbwright.__version__ in (ROOT / "CHANGELOG.md").read_text("utf-8")

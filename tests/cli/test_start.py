"""The first start: old Pythons, odd folders, a second start, one cut off, no network.

Nothing is installed here: the steps that would fetch and build are put in their place.
"""

from __future__ import annotations

import ast
import importlib.util
import os
import shutil
import subprocess
import sys
import threading
import time
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """start.py in a folder of its own, with steps that only write down what they would do."""
    folder = tmp_path / "Höfe und Bäume"
    (folder / "lock").mkdir(parents=True)
    for name in ("start.py", "pyproject.toml", "lock/base.txt", "lock/dev.txt"):
        shutil.copy(ROOT / name, folder / name)
    spec = importlib.util.spec_from_file_location("start_copy", folder / "start.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    module.steps = []  # type: ignore[attr-defined]

    def step(what: str, command: list[str], held: object) -> None:
        module.steps.append(what)
        if "venv" in command:
            python = module.python_in(module.ENV)
            python.parent.mkdir(parents=True, exist_ok=True)
            python.symlink_to(sys.executable)

    monkeypatch.setattr(module, "step", step)
    return module


ALL = ["a Python of its own", "the libraries", "Limbwright itself"]


@pytest.mark.parametrize("minor", [6, 8, 9, 10])
def test_an_old_python_can_read_it_and_is_told_what_is_needed(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, minor: int
) -> None:
    text = (ROOT / "start.py").read_text("utf-8")
    ast.parse(text, feature_version=(3, minor))
    assert "match " not in text.split('"""', 2)[2]
    monkeypatch.setattr(sys, "version_info", (3, minor, 1))
    said = start.main([])
    assert "3.11 or newer" in said
    assert start.steps == []


def test_the_environment_on_windows_has_its_python_elsewhere(start: ModuleType) -> None:
    assert start.python_in(Path("e"), "nt") == Path("e/Scripts/python.exe")
    assert start.python_in(Path("e"), "posix") == Path("e/bin/python")


def test_the_second_start_sets_nothing_up(start: ModuleType) -> None:
    start.set_up("base")
    assert start.steps == ALL
    start.set_up("base")
    assert start.steps == ALL


def test_the_test_set_up_serves_the_plain_start_but_not_the_other_way(start: ModuleType) -> None:
    start.set_up("base")
    start.set_up("dev")
    assert start.steps == ALL + ALL[1:]
    start.set_up("base")
    assert start.steps == ALL + ALL[1:]


@pytest.mark.parametrize("name", ["lock/base.txt", "pyproject.toml"])
def test_a_changed_lock_is_installed_anew_in_the_same_environment(
    start: ModuleType, name: str
) -> None:
    start.set_up("base")
    with (start.ROOT / name).open("a") as file:
        file.write("# changed\n")
    start.set_up("base")
    assert start.steps == ALL + ALL[1:]


def test_a_set_up_that_was_cut_off_begins_anew(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = start.step

    def cut_off(what: str, command: list[str], held: object) -> None:
        whole(what, command, held)
        if what == "the libraries":
            (start.ENV / "half a library").write_text("")
            raise KeyboardInterrupt

    monkeypatch.setattr(start, "step", cut_off)
    assert start.main(["check", "x.csv"]) == 130
    monkeypatch.setattr(start, "step", whole)
    assert not start.ready("base")
    start.set_up("base")
    assert start.steps == ALL[:2] + ALL
    assert not (start.ENV / "half a library").exists()
    assert start.ready("base")


def test_of_two_starts_at_once_one_waits_and_finds_all_done(
    start: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    with start.alone():
        other = threading.Thread(target=start.set_up, args=("base",))
        other.start()
        end = time.monotonic() + 10
        said = ""
        while "waiting" not in said and time.monotonic() < end:
            said += capsys.readouterr().out
            time.sleep(0.02)
        assert "waiting for it" in said
        assert start.steps == []
        python = start.python_in(start.ENV)
        python.parent.mkdir(parents=True)
        python.symlink_to(sys.executable)
        (start.ENV / "limbwright-base.stamp").write_text(start.stamp("base"))
    other.join(10)
    assert not other.is_alive()
    assert start.steps == []


def without(tmp_path: Path, *modules: str) -> str:
    """A folder that hides modules of Python from every child process."""
    for name in modules:
        (tmp_path / "hidden" / name).mkdir(parents=True)
        (tmp_path / "hidden" / name / "__init__.py").write_text("raise ImportError('hidden')")
    return str(tmp_path / "hidden")


def test_without_ensurepip_the_pip_outside_serves_the_environment(
    start: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PYTHONPATH", without(tmp_path, "ensurepip"))
    seen: list[list[str]] = []
    whole = start.step
    monkeypatch.setattr(
        start, "step", lambda what, command, held: (seen.append(command), whole(what, command, 0))
    )
    start.set_up("base")
    assert "--without-pip" in seen[0]
    outside = [sys.executable, "-m", "pip", "--python", str(start.python_in(start.ENV))]
    assert seen[1][: len(outside)] == outside


@pytest.mark.parametrize("missing", [("ensurepip", "pip"), ("venv",)])
def test_a_python_that_cannot_do_it_is_told_what_to_install(
    start: ModuleType,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    missing: tuple[str, ...],
) -> None:
    monkeypatch.setenv("PYTHONPATH", without(tmp_path, *missing))
    with pytest.raises(SystemExit, match="apt install python3-venv"):
        start.set_up("base")
    assert not start.ENV.exists()


@pytest.mark.parametrize(
    ("output", "said"),
    [
        ("WARNING: Retrying ... NewConnectionError('...')\nERROR: No matching", "No network"),
        ("ERROR: [Errno 28] No space left on device", "disk is full"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES", "damaged"),
        ("no such option: --python", "python3-venv"),
        ("ERROR: No matching distribution found for numpy", "64-bit"),
    ],
)
def test_a_failed_step_names_the_likely_cause(start: ModuleType, output: str, said: str) -> None:
    told = start.failure("the libraries", output)
    assert said in told
    assert output.splitlines()[-1] in told
    assert "same command again" in told


def test_a_folder_where_nothing_can_be_written_is_told(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    def closed() -> None:
        raise PermissionError(13, "Permission denied", str(start.ROOT / ".venv.lock"))

    monkeypatch.setattr(start, "alone", closed)
    with pytest.raises(SystemExit, match="Copy the whole folder"):
        start.set_up("base")


def test_a_checkout_with_a_part_missing_is_told(start: ModuleType) -> None:
    start.set_up("base")
    (start.ROOT / "lock" / "base.txt").unlink()
    with pytest.raises(SystemExit, match=r"base\.txt is missing"):
        start.set_up("base")


@pytest.mark.skipif(os.name == "nt", reason="the steps hold the lock on POSIX only")
def test_a_step_left_running_by_a_killed_start_still_holds_the_lock(start: ModuleType) -> None:
    with start.alone() as held:
        orphan = subprocess.Popen(
            [sys.executable, "-c", "input()"], stdin=subprocess.PIPE, pass_fds=(held.fileno(),)
        )
    with (start.ROOT / ".venv.lock").open("ab") as again:
        assert not start.taken(again)
        orphan.communicate(b"\n", timeout=10)
        assert start.taken(again)

"""What goes wrong on the command line: every message plain, nothing lost, nothing half written."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from limbwright.cli import main

ROOT = Path(__file__).resolve().parents[2]
LIMBS = ROOT / "examples" / "limbs.csv"
STATIONS = ROOT / "examples" / "stations.csv"
LIMBWRIGHT = [sys.executable, "-m", "limbwright.cli"]
EXAMPLE = [str(LIMBS), "--stations", str(STATIONS)]


def refused(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> str:
    code = main([str(a) for a in arguments])
    shown = capsys.readouterr()
    assert code in (1, 2)
    assert "Traceback" not in shown.err + shown.out
    assert "fault in Limbwright itself" not in shown.err
    return " ".join(shown.err.split())


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["check", str(ROOT)], "is a folder"),
        (["plan", *EXAMPLE[:1], "--stations", "no.csv"], "no.csv"),
        (["plan", *EXAMPLE, "--columns", "no.toml"], "no.toml"),
        (["plan", *EXAMPLE, "--settings", "no.toml"], "no.toml"),
        (["plan", *EXAMPLE, "--settings", str(LIMBS)], "limbs.csv"),
        (["plan", *EXAMPLE, "--dose", "nan"], "third"),
        (["plan", *EXAMPLE, "--dose", "a lot"], "--dose"),
        (["plan", *EXAMPLE, "--wind", "5"], "10"),
        (["plan", *EXAMPLE, "--wind", "nan"], "--wind"),
        (["plan", *EXAMPLE, "--years-stood", "-1"], "--years-stood"),
        (["plan", *EXAMPLE, "--workers", "0"], "--workers"),
        (["plan", *EXAMPLE, "--page", "a3"], "a4"),
        (["plan", *EXAMPLE, "--engine", "steam"], "proof"),
        (["plan", *EXAMPLE, "--on", "2027-02-30"], "2027-01-31"),
        (["plan", *EXAMPLE, "--protect", "99:1"], "Example Close/1"),
        (["plan", *EXAMPLE, "--force", "Example Close/1:"], "TREE:LIMB"),
        (["demo", "--seed", "-5"], "--seed"),
        (["plan"], "SURVEY"),
        (["paint"], "paint"),
    ],
)
def test_a_wrong_option_or_file_is_told_with_what_would_be_right(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    arguments: list[str],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert said in refused(capsys, *arguments)
    assert not list(tmp_path.iterdir())


def test_a_survey_is_never_written_over(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    limbs = tmp_path / "limbs.csv"
    stations = tmp_path / "cut-list.csv"  # the name of a result, in the folder for the results
    shutil.copy(LIMBS, limbs)
    shutil.copy(STATIONS, stations)
    kept = limbs.read_bytes(), stations.read_bytes()
    for command in ("export", "cards"):
        for target in (limbs, stations):
            said = refused(capsys, command, limbs, "--stations", stations, "-o", target)
            assert "written over" in said
    assert "written over" in refused(capsys, "plan", limbs, "--stations", stations, "-o", tmp_path)
    assert (limbs.read_bytes(), stations.read_bytes()) == kept


@pytest.mark.parametrize("command", ["plan", "cards", "export"])
def test_a_place_that_cannot_be_written_is_told_before_the_work(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    command: str,
) -> None:
    def work(*given: object, **named: object) -> None:
        raise AssertionError("the work began")

    monkeypatch.setattr("limbwright.job.work_all", work)
    monkeypatch.setattr("limbwright.job.work.build", work)
    taken = tmp_path / "taken"
    taken.write_text("a file")
    said = refused(capsys, command, *EXAMPLE, "-o", taken / "deep" / "out")
    assert "is a file" in said
    said = refused(capsys, command, *EXAMPLE, "-o", tmp_path / ("n" * 300) / "out")
    assert "Name another" in said
    if command != "plan":
        assert "Name a file" in refused(capsys, command, *EXAMPLE, "-o", tmp_path)


def test_an_unforeseen_fault_is_a_sentence_not_a_trace(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*given: object, **named: object) -> None:
        raise ZeroDivisionError("as if")

    monkeypatch.setattr("limbwright.job.open_trees", broken)
    assert main(["check", *EXAMPLE]) == 1
    said = capsys.readouterr().err
    assert "fault in Limbwright itself (ZeroDivisionError: as if)" in said
    assert "Traceback" not in said
    monkeypatch.setenv("LIMBWRIGHT_TRACE", "1")
    assert main(["check", *EXAMPLE]) == 1
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.skipif(os.name == "nt", reason="needs pipes that can be closed and /dev/full")
def test_a_closed_pipe_ends_quietly_and_a_full_disk_is_told() -> None:
    command = [*LIMBWRIGHT, "assess", *EXAMPLE, "--json"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.read(20)
    process.stdout.close()
    assert process.stderr.read() == b""
    process.stderr.close()
    process.wait(30)
    if not Path("/dev/full").exists():
        return
    with Path("/dev/full").open("wb") as full:
        ended = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, check=False)
    assert ended.returncode == 1
    assert ended.stderr.decode().startswith("limbwright: No space left on device.")
    assert b"Exception ignored" not in ended.stderr


def test_json_can_be_read_where_the_console_is_not_utf8(tmp_path: Path) -> None:
    limbs = tmp_path / "limbs.csv"
    text = LIMBS.read_text("utf-8").replace("Example Close", "Höfe")
    limbs.write_text(text, "utf-8")
    stations = tmp_path / "stations.csv"
    stations.write_text(STATIONS.read_text("utf-8").replace("Example Close", "Höfe"), "utf-8")
    ended = subprocess.run(
        [*LIMBWRIGHT, "check", str(limbs), "--stations", str(stations), "--json"],
        capture_output=True,
        check=True,
        env={**os.environ, "PYTHONIOENCODING": "cp1252"},
    )
    assert json.loads(ended.stdout.decode("utf-8"))["trees"] == 3


@pytest.mark.skipif(os.name == "nt", reason="sends a POSIX signal")
def test_stopped_in_the_middle_it_ends_soon_and_leaves_no_half_result(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [*LIMBWRIGHT, "demo", "-o", str(tmp_path), "--workers", "2"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )
    assert process.stdout is not None
    assert any(b"planned as of" in line for line in iter(process.stdout.readline, b""))
    time.sleep(6.0)  # within the planning, which takes most of a minute
    os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert process.returncode in (130, -signal.SIGINT)
    assert b"stopped" in err
    assert b"Traceback" not in out + err
    assert {p.name for p in tmp_path.iterdir()} <= {"survey", "holding.gpkg"}
    if (tmp_path / "holding.gpkg").exists():
        assert main(["check", str(tmp_path / "holding.gpkg")]) == 0


def test_a_tree_that_no_plan_can_meet_is_told_beside_the_json(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    limbs = tmp_path / "limbs.csv"
    limbs.write_text(
        "station,limb,parent,at_m,diameter_mm,length_m,bearing_deg,rise_deg,crown,species\n"
        "A1,stem,,,300,2,0,90,,apple\nA1,1,stem,2,250,6,0,50,3,apple\nA1,2,stem,2,90,2,90,50,1,apple\n"
    )
    code = main(["plan", str(limbs), "--json", "--force", "A1:1"])
    shown = capsys.readouterr()
    assert code == 1
    assert json.loads(shown.out)["trees"] == []
    assert "A1" in shown.err
    assert "Drop a wish" in shown.err

"""A program killed at any moment loses nothing that was confirmed, and breaks nothing."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from limbwright.model import Holding
from limbwright.project.store import Project

KILLS = 40
ROWS = 60
NURSERY = f"""
import itertools, os, sys
from limbwright.project.store import Project

def write(number):
    with Project.open(sys.argv[1]) as project:
        for number in itertools.count(number):
            with project.change(f"change {{number}}"):
                rows = [
                    {{"orchard": "A", "station": str(s), "girth_cm": number, "x": s, "y": number}}
                    for s in range({ROWS})
                ]
                project.put("stations", rows[:{ROWS // 2}])
                project.put("settings", [{{"name": "number", "value": number}}])
                project.put("stations", rows[{ROWS // 2}:])
            if number % 3 == 2:
                project.undo()
                project.redo()
            os.write(1, f"{{number}}\\n".encode())

for line in sys.stdin:
    child = os.fork()
    if child == 0:
        write(int(line))
    os.write(1, f"child {{child}}\\n".encode())
    os.waitpid(child, 0)
    os.write(1, b"ended\\n")
"""
"""A process that has all it needs in memory, and gives birth to a writer for each number read."""


def whole(path: Path) -> int:
    """Return the number that all rows bear; each row of a change has to be there."""
    with Project.open(path) as project:
        rows = project.rows("stations")
        numbers = {r["girth_cm"] for r in rows} | {r["y"] for r in rows}
        numbers |= {r["value"] for r in project.rows("settings")}
        assert len(rows) in (0, ROWS)
        assert len(numbers) <= 1
        done = [c for c in project.history() if not c.undone]
        number = int(float(str(numbers.pop()))) if numbers else -1
        assert done[-1].what == (f"change {number}" if numbers or rows else "make the project")
    check = sqlite3.connect(path)
    assert check.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    check.close()
    return number


def killed(nursery: subprocess.Popen[bytes], start: int, chance: random.Random) -> int:
    """Let a writer write, kill it, and return the last number it confirmed."""
    assert nursery.stdin is not None
    assert nursery.stdout is not None
    nursery.stdin.write(f"{start}\n".encode())
    nursery.stdin.flush()
    child, told, struck = 0, start - 1, False
    while True:
        word = nursery.stdout.readline().decode().split()
        assert word, "the nursery is gone"
        if word == ["ended"]:
            return told
        if word[0] == "child":
            child = int(word[1])
        else:
            told = int(word[0])
        if child and told >= start and not struck:
            time.sleep(chance.uniform(0.0, 0.04))
            os.kill(child, chance.choice((signal.SIGKILL, signal.SIGKILL, signal.SIGTERM)))
            struck = True


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork on this system")
def test_killed_while_it_writes_it_loses_nothing_confirmed(tmp_path: Path) -> None:
    path = tmp_path / "a.gpkg"
    Project.create(path, Holding("Hollin Bank")).close()
    chance = random.Random(20261127)
    last, cut_short = -1, 0
    with subprocess.Popen(
        [sys.executable, "-c", NURSERY, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as nursery:
        kills = 0
        while kills < KILLS or (not cut_short and kills < 10 * KILLS):
            kills += 1
            confirmed = killed(nursery, last + 1, chance)
            cut_short += (tmp_path / "a.gpkg-journal").exists()
            found = whole(path)
            assert found in (confirmed, confirmed + 1)  # the last may be done and not yet told
            last = found
        assert nursery.stdin is not None
        nursery.stdin.close()
    assert last >= KILLS - 1
    assert cut_short > 0, "no kill fell in a change"


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL on this system")
@pytest.mark.parametrize("write", [True, False])
def test_killed_within_a_change_that_had_reached_the_disk(tmp_path: Path, write: bool) -> None:
    path = tmp_path / "a.gpkg"
    with Project.create(path, Holding("Hollin Bank")) as project:
        project.put("stations", [{"orchard": "A", "station": str(s)} for s in range(500)])
    code = """
import os, signal, sys
from limbwright.project.store import Project
project = Project.open(sys.argv[1])
project._db.execute("PRAGMA cache_spill = ON")
project._db.execute("PRAGMA cache_size = 5")
with project.change("half"):
    project.put("stations", [{"orchard": "A", "station": str(s), "note": "x" * 900}
                             for s in range(500)])
    os.kill(os.getpid(), signal.SIGKILL)
"""
    size = path.stat().st_size
    subprocess.run([sys.executable, "-c", code, str(path)], check=False)
    assert path.stat().st_size > size, "the change was to be half written"
    assert (tmp_path / "a.gpkg-journal").exists()
    with Project.open(path, write=write) as project:
        assert {r["note"] for r in project.rows("stations")} == {""}
        assert len(project.history()) == 2


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL on this system")
def test_killed_while_it_is_made_there_is_no_half_file(tmp_path: Path) -> None:
    code = """
import os, signal, sys
from limbwright.model import Holding
from limbwright.project import schema
from limbwright.project.store import Project
schema.watch = lambda *_: os.kill(os.getpid(), signal.SIGKILL)
Project.create(sys.argv[1], Holding("Hollin Bank"))
"""
    path = tmp_path / "a.gpkg"
    subprocess.run([sys.executable, "-c", code, str(path)], check=False)
    assert not path.exists()
    Project.create(path, Holding("Hollin Bank")).close()

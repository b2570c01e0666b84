"""Files that cannot be used, disks that are full, programs in each other's way: said clearly."""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from limbwright.errors import InputError
from limbwright.model import Holding
from limbwright.project import connect, records, schema
from limbwright.project.journal import watch
from limbwright.project.look import look_over
from limbwright.project.store import Project
from limbwright.project.tables import TABLES

NOBODY = 65534


@pytest.fixture
def path(tmp_path: Path) -> Path:
    with Project.create(tmp_path / "a.gpkg", Holding("Hollin Bank")) as project:
        project.put("stations", [{"orchard": "A", "station": str(n)} for n in range(50)])
    return tmp_path / "a.gpkg"


def make_folder(path: Path) -> None:
    path.mkdir()


def make_nothing(path: Path) -> None:
    path.touch()


def make_text(path: Path) -> None:
    path.write_text("station,girth_cm\n1,120\n" * 100, "utf-8")


def make_database(path: Path) -> None:
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE apples (a)")


def make_other_geopackage(path: Path) -> None:
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE gpkg_contents (table_name TEXT)")


@pytest.mark.parametrize("write", [True, False])
@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda _: None, "There is no .*b.gpkg"),
        (make_folder, "is a folder"),
        (make_nothing, "not a project file"),
        (make_text, "not a project file"),
        (make_database, "not a project file"),
        (make_other_geopackage, "a GeoPackage, but not a project file"),
    ],
)
def test_what_is_no_project_is_called_so(
    tmp_path: Path, make: Callable[[Path], None], said: str, write: bool
) -> None:
    path = tmp_path / "b.gpkg"
    make(path)
    before = path.read_bytes() if path.is_file() else None
    with pytest.raises(InputError, match=said) as told:
        Project.open(path, write=write)
    assert told.value.remedy
    assert (path.read_bytes() if path.is_file() else None) == before


@pytest.mark.parametrize("kept", [100, 4096, 0.3, 0.6, 0.9])
def test_a_file_copied_in_part_is_told(path: Path, kept: float) -> None:
    data = path.read_bytes()
    path.write_bytes(data[: int(kept * len(data)) if kept < 1 else int(kept)])

    def use() -> None:
        with Project.open(path) as project:
            for spec in TABLES:
                project.rows(spec.name)
            project.put("stations", [{"orchard": "B", "station": str(n)} for n in range(50)])

    with pytest.raises(InputError, match=r"damaged|not a project file|cannot be used"):
        use()


@pytest.mark.parametrize("seed", range(30))
def test_a_file_with_wrong_bytes_is_read_or_told(path: Path, seed: int) -> None:
    chance = random.Random(seed)
    data = bytearray(path.read_bytes())
    for _ in range(chance.choice((1, 3, 30))):
        data[chance.randrange(len(data))] = chance.randrange(256)
    path.write_bytes(data)
    with contextlib.suppress(InputError), Project.open(path) as project:
        records.holding(project)
        records.stations(project)
        look_over(project)
        project.put("stations", [{"orchard": "A", "station": "1", "x": 5.0, "y": 5.0}])
        project.undo()
        project.history()


@pytest.mark.parametrize("name", ["a.gpkg", "holding.db", "holding", "no/such/folder/b.gpkg"])
def test_a_project_is_made_where_it_can_be_alone(path: Path, name: str) -> None:
    before = path.read_bytes()
    with pytest.raises(InputError) as told:
        Project.create(path.parent / name, Holding("Hollin Bank"))
    assert told.value.remedy
    assert path.read_bytes() == before
    assert [p.name for p in path.parent.iterdir()] == ["a.gpkg"]


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:2264", "nonsense", "EPSG:999999", "EPSG:4978"])
def test_a_crs_that_will_not_do_leaves_no_file(tmp_path: Path, crs: str) -> None:
    with pytest.raises(InputError, match=crs):
        Project.create(tmp_path / "b.gpkg", Holding("Hollin Bank", crs=crs))
    assert not list(tmp_path.iterdir())


def test_a_crs_stays_once_something_has_a_position(path: Path) -> None:
    with Project.open(path) as project:
        project.set_crs("EPSG:32630")
        project.put("stations", [{"orchard": "A", "station": "1", "x": 5e5, "y": 5.7e6}])
        with pytest.raises(InputError, match="have positions"):
            project.set_crs("EPSG:27700")
        assert project.crs == "EPSG:32630"


def test_a_reader_cannot_write(path: Path) -> None:
    with Project.open(path, write=False) as project:
        assert len(project.rows("stations")) == 50
        with pytest.raises(InputError, match="for reading only"):
            project.put("stations", [{"orchard": "A", "station": "1"}])


def as_nobody(code: str, *arguments: str) -> str:
    """Run code as one who may not write: root may write everything."""
    drop = f"import os\nif os.getuid() == 0:\n    os.setuid({NOBODY})\n"
    done = subprocess.run(
        [sys.executable, "-c", f"{IMPORTS}\n{drop}{code}", *arguments],
        capture_output=True,
        text=True,
        check=False,
    )
    assert "Traceback" not in done.stderr, done.stderr
    return done.stdout


IMPORTS = """
import sys
from pathlib import Path
from limbwright.errors import InputError
from limbwright.project import connect, records, schema
from limbwright.project.store import Project
from limbwright.model import Holding
import encodings.idna
"""
TRY = """
path = Path(sys.argv[1])
for what in (
    lambda: Project.open(path),
    lambda: Project.open(path, write=False).copy_to(path.with_name("copy.gpkg")),
    lambda: Project.create(path.with_name("new.gpkg"), Holding("Hollin Bank")),
):
    try:
        what().close()
        print("done")
    except InputError as error:
        print(error)
print(len(Project.open(path, write=False).rows("stations")))
"""


@pytest.mark.skipif(not hasattr(os, "setuid"), reason="no users to be on this system")
def test_read_only_files_and_folders_are_told_and_can_be_read(path: Path) -> None:
    folder = Path(tempfile.mkdtemp())  # the tests' own folder is shut to others
    try:
        shutil.copy(path, folder / "a.gpkg")
        (folder / "a.gpkg").chmod(0o444)
        folder.chmod(0o555)
        told = as_nobody(TRY, str(folder / "a.gpkg")).splitlines()
    finally:
        folder.chmod(0o755)
        shutil.rmtree(folder)
    assert told[0].startswith("a.gpkg cannot be written: the file or its folder is read-only.")
    assert "copy.gpkg cannot be written" in told[1]
    assert "new.gpkg cannot be written" in told[2]
    assert told[3] == "50"


def much(project: Project, rows: list[dict[str, object]]) -> None:
    with project.change("much"):
        project.put("settings", [{"name": "a", "value": 1}])
        project.put("stations", rows)


def test_a_full_disk_keeps_nothing_of_the_change(path: Path) -> None:
    with Project.open(path) as project:
        pages = project._db.execute("PRAGMA page_count").fetchone()[0]
        project._db.execute(f"PRAGMA max_page_count = {pages + 2}")
        rows: list[dict[str, object]] = [
            {"orchard": "A", "station": str(n), "note": "x" * 1000} for n in range(100)
        ]
        with pytest.raises(InputError, match="no room left"):
            much(project, rows)
        assert project.rows("settings") == []
        project._db.execute(f"PRAGMA max_page_count = {100 * pages}")
        assert project.put("stations", rows).changed == 50


def test_what_follows_a_full_disk_in_the_same_change_is_not_kept_by_itself(path: Path) -> None:
    def stubborn(project: Project) -> None:
        with project.change("much"):
            project.put("settings", [{"name": "before", "value": 1}])
            with contextlib.suppress(InputError):
                much = [{"orchard": "A", "station": str(n), "note": "x" * 9000} for n in range(99)]
                project.put("stations", much)
            project._db.execute("PRAGMA max_page_count = 100000")
            project.put("settings", [{"name": "after", "value": 1}])

    with Project.open(path) as project:
        pages = project._db.execute("PRAGMA page_count").fetchone()[0]
        project._db.execute(f"PRAGMA max_page_count = {pages + 2}")
        with contextlib.suppress(InputError):
            stubborn(project)
        names = {r["name"] for r in project.rows("settings")}
        assert names in ({"before", "after"}, set())
        assert {r["note"] for r in project.rows("stations")} == {""}


LIMITED = """
import resource, signal
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
path = Path(sys.argv[1])
project = Project.open(path)
limit = path.stat().st_size + 20000
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
try:
    project.put("stations", [{"orchard": "B", "station": str(n), "note": "x" * 1000}
                             for n in range(100)])
except InputError as error:
    print(error)
print(len(project.rows("stations")))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no limit of a file's size on this system")
def test_a_disk_that_takes_no_more_keeps_nothing_of_the_change(path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", IMPORTS + LIMITED, str(path)],
        capture_output=True,
        text=True,
        check=False,
    )
    told = done.stdout.splitlines()
    assert "nothing of this change was kept" in told[0], done.stderr
    assert told[1] == "50"
    with Project.open(path) as project:
        assert len(project.rows("stations")) == 50


def test_two_programs_at_once_get_a_clear_answer(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connect, "WAIT_S", 0.05)
    with Project.open(path) as one, Project.open(path) as other:
        with one.change("long"):
            one.put("stations", [{"orchard": "A", "station": "new"}])
            assert len(other.rows("stations")) == 50  # readers keep reading
            with pytest.raises(InputError, match="in use by another program"):
                other.put("stations", [{"orchard": "A", "station": "mine"}])
            with Project.open(path) as third:
                assert len(third.rows("stations")) == 50
        assert other.put("stations", [{"orchard": "A", "station": "mine"}]).added == 1
        assert len(one.rows("stations")) == 52


def test_many_changes_of_two_writers_all_arrive(path: Path) -> None:
    def write(name: str) -> None:
        with Project.open(path) as project:
            for number in range(15):
                with project.change(f"{name} {number}"):
                    (held,) = project.rows("stations", station="0")
                    count = (held["planted"] or 0) + 1  # type: ignore[operator]
                    project.put("stations", [{"orchard": "A", "station": "0", "planted": count}])

    with ThreadPoolExecutor(2) as pool:
        for done in [pool.submit(write, name) for name in ("one", "other")]:
            done.result()
    with Project.open(path) as project:
        assert project.rows("stations", station="0")[0]["planted"] == 30
        assert len(project.history()) == 32
        for _ in range(30):
            project.undo()
        assert project.rows("stations", station="0")[0]["planted"] is None


def test_a_reader_in_the_way_costs_the_change_and_nothing_else(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connect, "WAIT_S", 0.05)
    row = {"orchard": "A", "station": "new"}
    with Project.open(path) as one, Project.open(path, write=False) as other:
        with other.reading():
            other.rows("stations")
            with pytest.raises(InputError, match="in use by another program"):
                one.put("stations", [row])
        assert one.put("stations", [row]).added == 1


def later(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE stations ADD COLUMN guard TEXT")
    watch(connection, "stations")


def failing(connection: sqlite3.Connection) -> None:
    later(connection)
    raise sqlite3.OperationalError("no such luck")


def steps(monkeypatch: pytest.MonkeyPatch, *makes: Callable[[sqlite3.Connection], None]) -> None:
    made = tuple(schema.Step(n, f"step {n}", make) for n, make in enumerate(makes, 2))
    monkeypatch.setattr(schema, "STEPS", made)
    monkeypatch.setattr(schema, "VERSION", 1 + len(made))


def test_an_older_file_is_brought_up_to_date_once(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    steps(monkeypatch, later)
    with pytest.raises(InputError, match="older layout"):
        Project.open(path, write=False)
    for _ in range(2):
        with Project.open(path) as project:
            assert project.rows("stations")[0]["guard"] is None
            assert len(project.rows("stations")) == 50
    with Project.open(path) as project:
        assert project.undo() is not None
    with closing(sqlite3.connect(path)) as other:
        told = other.execute("SELECT version, what FROM limbwright_layout").fetchall()
    assert told == [(1, "made"), (2, "step 2")]


def test_a_step_that_fails_leaves_the_file_as_the_last_one_made_it(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    steps(monkeypatch, lambda _: None, failing)
    with pytest.raises(InputError, match="no such luck"):
        Project.open(path)
    steps(monkeypatch, lambda _: None)
    with Project.open(path) as project:
        assert "guard" not in project.rows("stations")[0]


def test_a_file_of_a_newer_version_is_left_alone(path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("INSERT INTO limbwright_layout VALUES (99, 'from the future', '')")
    before = path.read_bytes()
    for write in (True, False):
        with pytest.raises(InputError, match="newer version of Limbwright"):
            Project.open(path, write=write)
    assert path.read_bytes() == before

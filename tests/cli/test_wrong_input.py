"""Wrong input to every command: each answer a sentence that says what would be right."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from limbwright.cli import main
from limbwright.cli.report import period_of
from limbwright.project.site_ranges import SITE_RANGES

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "examples"
TREE = "Example Close/1"
LIMBS = (EXAMPLES / "limbs.csv").read_text("utf-8")

Run = Callable[..., tuple[int, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Return what runs a command, and gives its code and all it said."""

    def go(*arguments: str | Path) -> tuple[int, str]:
        capsys.readouterr()
        code = main([str(one) for one in arguments])
        shown = capsys.readouterr()
        said = shown.err + shown.out
        assert "Traceback" not in said
        assert "fault in Limbwright itself" not in said
        return code, " ".join(said.split())

    return go


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A project of the three example trees, without plans."""
    path = tmp_path_factory.mktemp("made") / "holding.gpkg"
    assert main(["new", str(path), "--name", "Example (invented)"]) == 0
    tables = [str(EXAMPLES / "stations.csv"), str(EXAMPLES / "limbs.csv")]
    assert main(["add", str(path), *tables, "--taken-on", "2026-11-20"]) == 0
    return path


@pytest.fixture
def project(made: Path, tmp_path: Path) -> Path:
    """A copy of the project, under a name with a blank and an umlaut."""
    return Path(shutil.copy(made, tmp_path / "Höfe am Bach.gpkg"))


def edit(path: Path, *statements: str) -> None:
    with closing(sqlite3.connect(path)) as other:
        for sql in statements:
            other.execute(sql)
        other.commit()


READ_A_TABLE = (["check"], ["assess"], ["plan"], ["cards"], ["needs"], ["tape"], ["form"],
                ["weather"], ["export", "-o", "out.csv"])  # fmt: skip
READ_A_PROJECT = (["history"], ["undo"], ["lookback"], ["report"])
NO_TABLE: tuple[tuple[str, bytes, str], ...] = (
    ("empty.csv", b"", "is empty"),
    ("blank.csv", b"\n \n\n", "is empty"),
    ("junk.csv", bytes(range(256)) * 8, "not a table of text"),
    ("junk.xlsx", b"PK\x03\x04" + bytes(range(256)), "junk.xlsx"),
    ("picture.csv", b"\x89PNG\r\n\x1a\n" + bytes(64), "is a picture"),
    ("database.csv", b"SQLite format 3\x00" + bytes(64), "ends in .gpkg"),
    ("layer.geojson", b'{"type": "FeatureCollection", "features": []}', "limbwright add"),
)


@pytest.mark.parametrize("command", READ_A_TABLE, ids=lambda c: c[0])
def test_what_is_no_table_is_told(run: Run, tmp_path: Path, command: Sequence[str]) -> None:
    name, *options = command
    for file, data, said in NO_TABLE:
        (tmp_path / file).write_bytes(data)
        code, told = run(name, tmp_path / file, *options)
        assert code == 1
        assert said in told, file
    for missing, said in ((tmp_path / "no.csv", "no.csv"), (tmp_path, "is a folder")):
        code, told = run(name, missing, *options)
        assert code == 1
        assert said in told


@pytest.mark.parametrize("command", [*READ_A_PROJECT, ["needs"], ["cards"], ["plan"], ["check"]])
def test_what_is_no_project_is_told(
    run: Run, project: Path, tmp_path: Path, command: Sequence[str]
) -> None:
    name = command[0]
    later, cut = tmp_path / "later.gpkg", tmp_path / "cut.gpkg"
    shutil.copy(project, later)
    edit(later, "UPDATE limbwright_layout SET version = version + 1")
    data = project.read_bytes()
    cut.write_bytes(data[: len(data) // 2])
    bare = tmp_path / "bare.gpkg"
    with closing(sqlite3.connect(bare)) as other:
        other.execute("CREATE TABLE t (a)")
        other.commit()
    table = Path(shutil.copy(EXAMPLES / "limbs.csv", tmp_path / "table.gpkg"))
    lacking = Path(shutil.copy(project, tmp_path / "lacking.gpkg"))
    edit(lacking, "DROP TABLE visits")
    for file, said in (
        (later, "newer version"),
        (cut, "is damaged"),
        (bare, "not a project file"),
        (table, "not a project file"),
        (lacking, "took away or replaced the table visits"),
        (tmp_path / "no.gpkg", "There is no"),
    ):
        code, told = run(name, file)
        assert code == 1
        assert said in told


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (LIMBS.replace("\n", "\r\n").replace(",", ";"), ""),
        ("\ufeff" + LIMBS, ""),
        (LIMBS.splitlines()[0] + "\n", "no row below the header"),
        (LIMBS.replace("diameter_mm", "thick", 1), "no such column"),
        (LIMBS + LIMBS.split("\n", 1)[1], "already on row"),
        (re.sub(r",(\d{3}),", r",0.\1,", LIMBS), "if taken in m"),
        (re.sub(r",(\d{3}),", ",nan,", LIMBS), "not a number"),
        (re.sub(r",(\d{3}),", r",-\1,", LIMBS), "outside 3 to 2500"),
        (re.sub(r",(\d{3}),", ",1e999,", LIMBS), "not a number"),
    ],
    ids=["semicolons", "mark", "header", "column", "twice", "metres", "nan", "negative", "huge"],
)
@pytest.mark.parametrize("code_page", ["utf-8", "utf-16"])
def test_a_table_written_otherwise_is_read_or_told(
    run: Run, tmp_path: Path, text: str, said: str, code_page: str
) -> None:
    limbs = tmp_path / "Äste 1.csv"
    limbs.write_bytes(text.encode(code_page))
    code, told = run("check", limbs, "--stations", EXAMPLES / "stations.csv")
    assert code == (1 if said else 0)
    assert said in told
    assert ("3 trees can be used" in told) or said


PROJECT, TABLE = "PROJECT", str(EXAMPLES / "limbs.csv")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["plan", PROJECT, "--orchard", "Nowhere"], "There are: Example Close"),
        (["plan", PROJECT, "-o", "out"], "limbwright cards"),
        (["plan", PROJECT, "--page", "a5"], "limbwright cards"),
        (["plan", PROJECT, "--columns", "x.toml"], "--columns goes with a table"),
        (["plan", TABLE, "--again"], "--again goes with a project file"),
        (["cards", PROJECT, "--orchard", "Nowhere"], "There are: Example Close"),
        (["cards", PROJECT, "--stations", "s.csv"], "--stations goes with a table"),
        (["cards", PROJECT, "-o", "cards.txt"], "End it in .pdf"),
        (["cards", PROJECT, "--season", "nonsense"], "limbwright plan"),
        (["cards", TABLE, "--season", "winter 2026-27", "--orchard", "x"], "go with a project"),
        (["needs", PROJECT, "--columns", "x.toml"], "--columns goes with a table"),
        (["needs", TABLE], "a table of limbs, not of stations"),
        (["tape", EXAMPLES / "shoots.csv"], "a table of shoots, not of stations"),
        (["form", PROJECT], "limbwright add"),
        (["export", PROJECT, "-o", "c.gpkg", "--copy", "--crs", "EPSG:4326"], "--crs cannot go"),
        (["export", PROJECT, "-o", "c.csv", "--copy"], "End it in .gpkg"),
        (["export", PROJECT, "-o", "x.xyz"], "no format that can be written"),
        (["export", PROJECT, "-o", "x.csv"], "holds one table"),
        (["export", PROJECT, "-o", "x.xlsx", "--orchard", "Nowhere"], "Example Close"),
        (["export", TABLE, "-o", "x.gpkg"], "End it in .csv or .xlsx"),
        (["export", TABLE, "-o", "x.csv", "--copy"], "--copy goes with a project file"),
        (["new", "x.txt"], "x.gpkg"),
        (["new", ".gpkg"], "holding.gpkg"),
        (["new", "x.gpkg", "--crs", "nonsense"], "not a coordinate reference system"),
        (["new", PROJECT], "is there already"),
        (["add", PROJECT, PROJECT], "is the project itself"),
        (["add", PROJECT, EXAMPLES / "weather.csv"], "limbwright weather"),
        (["add", PROJECT, TABLE, "--taken-on", "2026-02-30"], "is not a date"),
        (["add", PROJECT, TABLE, "--kind", "nonsense"], "Give orchards"),
        (["add", PROJECT, TABLE, "--species", "dragonfruit"], "is not known"),
        (["record", PROJECT, TABLE], "'limbwright add' takes the rest"),
        (["record", PROJECT, EXAMPLES / "stations.csv"], "not records of work"),
        (["lookback", PROJECT, "--on", "0001-01-01"], "too far off"),
        (["report", PROJECT, "--on", "9999-12-31"], "too far off"),
        (["report", PROJECT, "-o", PROJECT], "is a file"),
        (["report", PROJECT, "--season", "nonsense"], "nonsense"),
        (["windows", "apple", "--columns", "x.toml"], "--weather"),
        (["windows", "apple", "--ribbon", "x.png"], "End it in .svg"),
        (["windows", "apple", "--project", TABLE], "not a project file"),
        (["windows", "dragonfruit"], "is not known"),
        (["problems", "nonsense"], "nonsense"),
        (["weather", PROJECT], "ends in .gpkg"),
    ],
)
def test_options_that_do_not_fit_are_told_and_nothing_is_written(
    run: Run,
    project: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: Sequence[str | Path],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    before = project.read_bytes()
    code, told = run(*(project if one == PROJECT else one for one in arguments))
    assert code == 1
    assert said in told
    assert [p.name for p in tmp_path.iterdir()] == [project.name]
    assert project.read_bytes() == before


@pytest.mark.parametrize("years", ["1", "2"])
def test_where_no_tree_can_be_planned_it_says_why(run: Run, tmp_path: Path, years: str) -> None:
    out = tmp_path / "out"
    given = [TABLE, "--stations", EXAMPLES / "stations.csv", "--workers", "1", "--years", years]
    wishes = [one for n in (1, 2, 3) for one in ("--protect", f"Example Close/{n}:no such limb")]
    code, told = run("plan", *given, *wishes, "-o", out)
    assert code == 1
    assert "There is no limb 'no such limb'" in told
    assert "Plan a tree first" not in told
    assert not out.exists()


VISITS = f"tree,done_on,season,hours\n{TREE},2026-11-21,winter 2026-27,3\n"


@pytest.mark.parametrize(
    ("text", "said", "code"),
    [
        (VISITS, "1 visit: 1 added", 0),
        (VISITS + VISITS.split("\n", 1)[1], "is there already", 1),
        (VISITS.replace("11-21", "02-30"), "not a date", 1),
        (VISITS.replace("2026-11-21", "5/6/2026"), "either way round", 1),
        (VISITS.replace(",3", ",-3"), "outside 0 to 1000", 1),
        (VISITS.replace(",3", ",inf"), "not a number", 1),
        (VISITS.replace("2026-11-21", "2199-11-21"), "have not come yet", 0),
        (VISITS.replace("winter 2026-27", "summer 2019"), "do not fit their day", 0),
        (VISITS.replace("winter 2026-27", "spring"), "do not fit their day", 0),
        (VISITS.replace(TREE, "Nowhere/9"), "No station is known for Nowhere/9", 0),
        (f"tree,order,limb,cut,done\n{TREE},1,1,remove,yes\n", "no visit says when", 1),
        (f"tree,done_on,order,limb,cut\n{TREE},2026-11-21,1,zz,remove\n", f"{TREE}:zz", 0),
        (f"tree,seen_on,limbs_lost\n{TREE},2026-11-21,zz\n", f"{TREE}:zz", 0),
        ("tree,done_on\n", "no row below the header", 1),
        ("station,orchard,tree,done_on\n1,Example Close,Other/2,2026-11-21\n", f"as {TREE}", 0),
    ],
)
def test_a_record_that_cannot_be_so_is_told(
    run: Run, project: Path, tmp_path: Path, text: str, said: str, code: int
) -> None:
    table = tmp_path / "records.csv"
    table.write_text(text, "utf-8")
    got, told = run("record", project, table)
    assert said in told
    assert got == code
    again, told = run("record", project, table)
    assert again == code
    assert "added" not in told
    assert "changed:" not in told


def test_a_record_that_says_otherwise_changes_what_it_says_and_tells(
    run: Run, project: Path, tmp_path: Path
) -> None:
    table = tmp_path / "visits.csv"
    table.write_text(VISITS)
    run("record", project, table)
    table.write_text(VISITS.replace(",3", ",8"))
    assert "hours 3, now 8" in run("record", project, table)[1]
    assert "Taken back: record visits.csv" in run("undo", project)[1]


def test_the_list_of_tasks_is_a_record_where_it_was_filled_in(
    run: Run, project: Path, tmp_path: Path
) -> None:
    tasks = tmp_path / "tasks.csv"
    head = "orchard,station,season,hours,hours_low,tree,done_on,who,found\n"
    row = 'Example Close,{},winter 2026-27,1.5,0.7,"apple, 1919",{},{},{}\n'
    tasks.write_text(
        head + row.format(1, "2026-11-21", "A. Fennick", "a nest") + row.format(2, *[""] * 3)
    )
    assert "1 visit: 1 added" in run("record", project, tasks)[1]
    with closing(sqlite3.connect(project)) as opened:
        held = opened.execute("SELECT tree, hours, who, found FROM visits").fetchall()
    assert held == [(TREE, None, "A. Fennick", "a nest")]  # what was foretold is no record


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE limbs SET parent = 'no' WHERE limb = '2'", "no such limb on this tree"),
        ("UPDATE limbs SET diameter_mm = -4 WHERE limb = '1'", "outside 3 to 2500"),
        ("UPDATE limbs SET length_m = 1e300 WHERE limb = '1'", "outside 0.02 to 30"),
        ("UPDATE limbs SET diameter_mm = NULL WHERE limb = '1'", "no diameter or length"),
        ("UPDATE limbs SET parent = '1' WHERE limb = 'stem'", "parent"),
        ("UPDATE holding SET latitude_deg = 900", "outside -65 to 65"),
        ("UPDATE holding SET terrain = 'IX'", "not a terrain"),
        ("UPDATE holding SET wind_speed_m_s = 'strong'", "read as not recorded"),
        ("DELETE FROM holding", "the holding has no row"),
        ("UPDATE stations SET species = 'dragonfruit'", "not a species known here"),
        ("UPDATE surveys SET taken_on = 'yesterday'", "not what the column holds"),
        (
            "INSERT INTO plans (tree, kind, season, edition, document) "
            "VALUES ('Example Close/1', 'years', 'winter 2026-27', 1, '{\"seasons\": 3}')",
            "is no plan",
        ),
    ],
)
def test_what_another_program_spoilt_is_told_and_stops_no_command(
    run: Run, project: Path, tmp_path: Path, statement: str, said: str
) -> None:
    edit(project, statement)
    code, told = run("check", project)
    assert code == 1
    assert said in told
    if "limbs" in statement:
        run("assess", project, "--loads", "own-weight", "--workers", "1")
    for command in (["needs"], ["tape"], ["lookback"], ["history"], ["cards", "-o", "c.pdf"]):
        run(command[0], project, *command[1:])
    assert run("report", project, "tasks", "-o", tmp_path / "reports", "--on", "2026-11-21")[0] == 0


def test_check_carries_over_what_hangs_on_a_station_renamed_in_a_gis(
    run: Run, project: Path
) -> None:
    edit(project, "UPDATE stations SET station = '77' WHERE station = '1'")
    code, told = run("check", project)
    assert code == 0
    assert "Example Close/1 is now Example Close/77" in told
    assert "3 trees can be used" in told
    assert "Taken back: edited in another program" in run("undo", project)[1]
    assert "3 trees can be used; 0 faults, 0 warnings." in run("check", project)[1]


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="needs a file it may not write")
def test_a_file_that_cannot_be_written_is_read_and_the_new_name_told(
    run: Run, project: Path
) -> None:
    edit(project, "UPDATE stations SET station = '77' WHERE station = '1'")
    project.chmod(0o444)
    assert "its station is now Example Close/77" in run("check", project)[1]
    assert "read-only" in run("undo", project)[1]


def test_undo_stops_before_the_making_of_the_project(run: Run, project: Path) -> None:
    assert "Taken back: add stations.csv, limbs.csv" in run("undo", project)[1]
    code, told = run("undo", project)
    assert code == 1
    assert "only the making of the project itself is left" in told
    assert "Made again" in run("undo", project, "--redo")[1]
    code, told = run("undo", project, "--redo")
    assert (code, told) == (1, "There is nothing to make again.")
    assert "3 trees can be used" in run("check", project)[1]


def test_edits_of_another_program_are_told_once_in_the_history(run: Run, project: Path) -> None:
    edit(project, "UPDATE stations SET girth_cm = 99 WHERE station = '1'")
    told = run("history", project)[1]
    assert told.count("1 row of stations") == 1
    assert "by another program" not in told


@pytest.mark.parametrize(
    ("option", "name"),
    [
        ("--wind", "wind_speed_m_s"),
        ("--snow", "wet_snow_kg_m2"),
        ("--ice", "ice_mm"),
        ("--latitude", "latitude_deg"),
        ("--clearness", "clearness"),
        ("--spacing", "spacing_m"),
        ("--years-stood", "years_stood"),
    ],
)
def test_a_place_is_held_to_the_same_ranges_whoever_gives_it(
    run: Run, project: Path, tmp_path: Path, option: str, name: str
) -> None:
    for k, value in enumerate(SITE_RANGES[name]):
        assert run("new", tmp_path / f"{k}.gpkg", option, str(value))[0] == 0
        beyond = value + (0.01 if k else -0.01)
        assert run("new", tmp_path / "beyond.gpkg", option, str(beyond))[0] == 2
        edit(project, f"UPDATE holding SET {name} = {value}")
        assert name not in run("check", project)[1]
        edit(project, f"UPDATE holding SET {name} = {beyond}")
        assert name in run("check", project)[1]


def test_a_report_on_the_29th_of_february_tells_the_year_up_to_it() -> None:
    assert period_of(None, date(2028, 2, 29)) == (date(2027, 3, 1), date(2028, 2, 29))

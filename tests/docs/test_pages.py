"""What a reader gets: pages that build, name what exists, and give every constant a source."""

import csv
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import limbwright

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
TABLES = sorted((ROOT / "src/limbwright/trade/data").glob("*.csv"))
PAGES = sorted(p for p in DOCS.rglob("*.md") if "_build" not in p.parts)


def page_ids(paths):
    return [str(p.relative_to(ROOT)) for p in paths]


def commands():
    from limbwright.cli.commands import app

    return {
        (c.name or c.callback.__name__.replace("_", "-")): c.callback
        for c in app.registered_commands
    }


def test_the_pages_build_without_a_warning(tmp_path):
    source = tmp_path / "docs"
    shutil.copytree(DOCS, source, ignore=shutil.ignore_patterns("_build"))
    options = ["-W", "--keep-going", "-q", "-b", "html"]
    built = subprocess.run(
        [sys.executable, "-m", "sphinx", *options, str(source), str(tmp_path / "html")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert built.returncode == 0, built.stderr
    front = (tmp_path / "html/index.html").read_text("utf-8")
    for html in (tmp_path / "html").rglob("*.html"):
        assert not re.search(r"src=\"https?:|MathJax = ", html.read_text("utf-8")), html.name
    assert (tmp_path / "html/method/loads.html").read_text("utf-8").count("<math") > 10
    for page in PAGES:
        name = page.relative_to(DOCS).with_suffix(".html").as_posix()
        assert name == "index.html" or f'href="{name}"' in front, f"{name} is not in the index"


def test_the_pages_need_nothing_from_outside():
    settings = (DOCS / "conf.py").read_text("utf-8")
    assert "http" not in settings
    assert 'html_theme = "alabaster"' in settings


@pytest.mark.parametrize("table", TABLES, ids=page_ids(TABLES))
def test_every_row_of_a_parameter_table_has_a_source(table):
    with table.open(encoding="utf-8", newline="") as text:
        rows = list(csv.DictReader(text))
    assert rows
    columns = [c for c in rows[0] if c and (c == "source" or c.endswith("_source"))]
    assert columns, "no column for the source"
    for number, row in enumerate(rows, 2):
        assert None not in row, f"row {number} has more cells than the header"
        assert any((row[c] or "").strip() for c in columns), f"row {number} has no source"


def test_every_command_is_shown_on_a_page():
    text = "\n".join(p.read_text("utf-8") for p in PAGES)
    for name in commands():
        assert re.search(rf"(start\.py|limbwright) {name}\b", text), f"{name} is on no page"


def test_every_command_and_option_that_a_page_shows_exists():
    import typer.main

    from limbwright.cli.commands import app

    group = typer.main.get_command(app)
    known = {
        name: {o for p in command.params for o in p.opts} | {"--help"}
        for name, command in group.commands.items()
    }
    every = set().union(*known.values())
    for script in (ROOT / "benchmarks").glob("*.py"):  # their own options may be named, too
        every |= set(re.findall(r'"(--[a-z][a-z-]+)"', script.read_text("utf-8")))
    for page in PAGES:
        text = page.read_text("utf-8")
        for line in re.findall(r"^python3 start\.py (.+)$", text, flags=re.MULTILINE):
            words = line.split()
            if words[0] == "test":
                continue
            assert words[0] in known, f"{page.name}: {line}"
            used = {w for w in words if re.fullmatch(r"--?[a-z][a-z-]*", w)}
            assert used <= known[words[0]], f"{page.name}: {line}"
        for option in re.findall(r"`(--[a-z][a-z-]+)", text):
            assert option in every, f"{page.name}: {option}"


def test_the_python_page_runs_as_it_stands(tmp_path, monkeypatch, capsys):
    from dataclasses import replace

    from limbwright.demo import make_holding, write_holding

    whole = make_holding(1)
    first = {s.station for s in whole.stations if s.status == "living" and s.species == "damson"}
    few = replace(
        whole,
        stations=tuple(s for s in whole.stations if s.station in first),
        limbs=tuple(one for one in whole.limbs if one.station in first),
    )
    write_holding(few, tmp_path)
    monkeypatch.chdir(tmp_path)
    blocks = re.findall(
        r"^```python\n(.*?)^```", (DOCS / "python.md").read_text("utf-8"), re.DOTALL | re.MULTILINE
    )
    assert len(blocks) >= 3
    names: dict[str, object] = {}
    for block in blocks:
        exec(compile(block, "python.md", "exec"), names)
    assert names["other"].dose <= 0.2 + 1e-9
    assert '"cuts"' in capsys.readouterr().out


def test_the_python_page_names_only_what_the_package_offers():
    used = set(re.findall(r"\blw\.(\w+)", (DOCS / "python.md").read_text("utf-8")))
    assert {"read_limbs", "build", "assess", "plan"} <= used
    assert [name for name in sorted(used) if not hasattr(limbwright, name)] == []


WORDS = """
holding, orchard, station, tree, stem, scaffold limb, limb, lateral, shoot, watershoot, spur, bud,
union, collar, crown, girth, spread, form, formative pruning, maintenance pruning,
restorative pruning, retrenchment, dose, wound share, utilisation, chance of failure, window, cut,
remove, shorten, head, thin, arisings, brash, cordwood, restock, gap, guard, stock, cultivar,
pollination group, programme, day sheet, cut card, record, finding, walk, need, judgement, urgency,
worth of the tape, vigour, ring, regrowth, dieback, local rule, ribbon, turn, with care, problem,
feature, clump, lesson, factor, besides, project file, change, edition, leader, stem shoot,
side limb, clear stem, forming card, forming list, season, rest, staged
"""


def test_every_word_has_a_plain_meaning():
    text = (DOCS / "vocabulary.md").read_text("utf-8")
    defined = set(re.findall(r"^([a-z][a-z ]+)\n: ", text, flags=re.MULTILINE))
    wanted = {" ".join(word.split()) for word in WORDS.split(",")}
    assert wanted <= defined, sorted(wanted - defined)


def test_no_page_calls_a_tree_safe():
    for page in PAGES:
        found = re.findall(r"[^.]*\bsafe\b[^.]*\.", page.read_text("utf-8"), flags=re.IGNORECASE)
        calls = [s for s in found if re.search(r"\b(is|are|as|tree|limb)\s+safe\b", s)]
        allowed = [s for s in calls if re.search(r"\b(never|not|no)\b", s, flags=re.IGNORECASE)]
        assert calls == allowed, f"{page.name}: {calls}"


def test_the_newest_version_is_in_the_list_of_changes():
    version = re.search(r'^version = "(.+)"$', (ROOT / "pyproject.toml").read_text("utf-8"), re.M)
    assert version is not None
    changes = (ROOT / "CHANGELOG.md").read_text("utf-8")
    assert re.search(rf"^## {re.escape(version[1])}\b", changes, flags=re.MULTILINE)

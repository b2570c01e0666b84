"""The commands as a person types them: what they print, what they write, how they refuse."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import pytest

from limbwright.cli import main
from limbwright.demo import make_holding

ROOT = Path(__file__).resolve().parents[2]
LIMBS = ROOT / "examples" / "limbs.csv"
STATIONS = ROOT / "examples" / "stations.csv"


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    code = main([str(a) for a in arguments])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_check_of_the_example_finds_three_trees(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "check", LIMBS, "--stations", STATIONS)
    assert code == 0
    assert "3 trees can be used; 0 faults" in out


def test_plan_writes_cards_list_json_and_summary(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    code, out, _ = run(
        capsys, "plan", LIMBS, "--stations", STATIONS, "-o", tmp_path, "--on", "2027-01-15"
    )
    assert code == 0
    assert "matter most" in out
    assert (tmp_path / "cut-cards.pdf").read_bytes().startswith(b"%PDF")
    planned = json.loads((tmp_path / "plan.json").read_text("utf-8"))
    with (tmp_path / "cut-list.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) >= sum(len(tree["cuts"]) for tree in planned["trees"]) > 0
    assert (tmp_path / "summary.md").read_text("utf-8").strip()
    assert all(tree["dose"] <= 1 / 3 for tree in planned["trees"])


def test_a_protected_limb_is_not_cut(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "plan", LIMBS, "--stations", STATIONS, "--json")
    assert code == 0
    tree = next(t for t in json.loads(out)["trees"] if t["cuts"])
    name, limb = tree["tree"], tree["cuts"][0]["limb"]
    code, out, _ = run(
        capsys, "plan", LIMBS, "--stations", STATIONS, "--json", "--protect", f"{name}:{limb}"
    )
    assert code == 0
    again = next(t for t in json.loads(out)["trees"] if t["tree"] == name)
    assert limb not in {c["limb"] for c in again["cuts"]}
    assert again["objective_h"] >= tree["objective_h"] - 1e-6 - 0.01 * abs(tree["objective_h"])


def test_own_weight_of_one_bar_is_worked_example_w1(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A 3 m bar of 100 mm and 1000 kg/m3: 346.714 N m and 3.5316 MPa (4 rho g L^2 / d)."""
    table = tmp_path / "segments.csv"
    table.write_text(
        "tree,segment,parent,x0_m,y0_m,z0_m,x1_m,y1_m,z1_m,d0_mm,d1_mm,state,species\n"
        "T,1,-1,0,0,0,3,0,0,100,100,live,apple\n"
    )
    code, out, _ = run(
        capsys, "assess", table, "--json", "--loads", "own-weight", "--green-density", "1000"
    )
    assert code == 0
    segment = json.loads(out)["trees"][0]["segments"][0]
    assert segment["mass_kg"] == pytest.approx(23.5619, rel=1e-4)
    assert segment["force_n"] == pytest.approx([0, 0, -231.14], rel=1e-3, abs=1e-6)
    assert segment["moment_n_m"] == pytest.approx([0, 346.714, 0], rel=1e-3, abs=1e-6)
    assert segment["bending_stress_mpa"] == pytest.approx(3.5316, rel=1e-3)


def test_export_can_be_read_back(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    table = tmp_path / "segments.csv"
    code, out, _ = run(capsys, "export", LIMBS, "--stations", STATIONS, "-o", table)
    assert code == 0
    code, out, _ = run(capsys, "check", table)
    assert code == 0
    assert "3 trees can be used; 0 faults" in out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["check", "nowhere.csv"], "nowhere.csv"),
        (["plan", str(LIMBS), "--species", "baobab"], "baobab"),
        (["plan", str(LIMBS), "--stations", str(STATIONS), "--protect", "3"], "TREE:LIMB"),
        (["plan", str(LIMBS), "--stations", str(STATIONS), "--dose", "0.6"], "third"),
        (["plan", str(LIMBS), "--stations", str(STATIONS), "--on", "tomorrow"], "not a date"),
        (["assess", str(LIMBS), "--stations", str(STATIONS), "--loads", "moonlight"], "moonlight"),
        (["assess", str(LIMBS), "--stations", str(STATIONS), "--terrain", "V"], "--terrain"),
    ],
)
def test_wrong_input_is_told_plainly(
    capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    code = main(arguments)
    shown = capsys.readouterr()
    assert code == 1
    assert said in shown.err + shown.out
    assert "Traceback" not in shown.err + shown.out


def test_any_bytes_as_a_file_are_refused_without_a_traceback(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    for name, content in (("a.csv", bytes(range(256)) * 4), ("b.xlsx", b"PK\x03\x04 broken")):
        path = tmp_path / name
        path.write_bytes(content)
        code, _, err = run(capsys, "plan", path, "-o", tmp_path / "out")
        assert code == 1
        assert name in err
        assert not (tmp_path / "out").exists()


def test_a_folder_that_cannot_be_made_is_told_plainly(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    taken = tmp_path / "taken"
    taken.write_text("a file")
    code, _, err = run(capsys, "plan", LIMBS, "--stations", STATIONS, "-o", taken / "out")
    assert code == 1
    assert "taken" in err
    assert "Traceback" not in err
    assert taken.read_text() == "a file"


def test_the_demo_does_the_whole_job_on_its_invented_holding(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = make_holding(1)
    few = {tree.station.station for tree in whole.surveys()[:3]}
    small = replace(whole, limbs=tuple(x for x in whole.limbs if x.station in few))
    monkeypatch.setattr("limbwright.demo.make_holding", lambda seed: small)
    code, out, _ = run(capsys, "demo", "-o", tmp_path, "--years", "2", "--no-ways")
    assert code == 0
    assert "invented example" in out
    trees = json.loads((tmp_path / "years.json").read_text("utf-8"))["trees"]
    assert len(trees) == 3
    plans = [season["plan"] for tree in trees for season in tree["seasons"] if season["plan"]]
    assert all(plan["dose"] <= plan["dose_limit"] + 1e-6 for plan in plans)
    assert sum(len(plan["cuts"]) for plan in plans) > 6
    written = ["cut-cards.pdf", "form-cards.pdf", "cut-list.csv", "summary.md", "holding.gpkg"]
    for name in (*written, "reports/management-plan.pdf", "reports/tasks.xlsx"):
        assert (tmp_path / name).stat().st_size > 0
        assert name.rpartition("/")[2] in out
    # once more over its own results, and never over a holding that is not invented
    own = tmp_path / "own"
    own.mkdir()
    assert run(capsys, "new", own / "holding.gpkg", "--name", "Ours")[0] == 0
    code, _, err = run(capsys, "demo", "-o", own, "--years", "1", "--no-ways")
    assert code == 1
    assert "no invented holding" in err


def test_settings_of_ones_own_change_the_plan(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    own = tmp_path / "own.toml"
    own.write_text("[limits]\ndose_neglected = 0.01\ndose_overgrown = 0.01\ndose_weak = 0.01\n")
    run_with = ("plan", LIMBS, "--stations", STATIONS, "--json", "--settings", own)
    code, out, _ = run(capsys, *run_with)
    assert code == 0
    changed = [t for t in json.loads(out)["trees"] if t["dose_limit"] == 0.01]
    assert changed
    assert all(t["dose"] <= 0.01 for t in changed)
    own.write_text("moonlight = 3\n")
    code, _, err = run(capsys, *run_with)
    assert code == 1
    assert "moonlight" in err

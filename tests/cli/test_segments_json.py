"""The assessment of a small branched tree, reckoned once more from the table alone.

Nothing of Limbwright is used for the reckoning: each tapering piece is cut into thin discs, each
disc weighs rho g V at its middle, and its moment about a segment's base is (r - base) x F. The
stress is the classic |M| / (pi d^3 / 32) of a solid round section (any book on strength of
materials), M without its part along the axis, which twists and does not bend.
"""

from __future__ import annotations

import contextlib
import csv
import io
import json
import math
from pathlib import Path

import pytest

from limbwright.cli import main

DENSITY_KG_M3 = 1050.0
GRAVITY_M_S2 = 9.81  # common practice in structural engineering (EN 1991-1-1 uses it for weights)
SLICES = 2000

TABLE = """\
tree,segment,parent,x0_m,y0_m,z0_m,x1_m,y1_m,z1_m,d0_mm,d1_mm,state,species
P,10,-1,0,0,0,0.05,0.02,1.6,310,270,live,pear
P,11,10,0.05,0.02,1.6,0.9,0.7,2.5,180,150,live,pear
P,12,11,0.9,0.7,2.5,2.1,1.4,2.9,150,110,live,pear
P,13,11,0.9,0.7,2.5,0.8,1.6,3.2,90,60,live,pear
P,14,10,0.05,0.02,1.6,-1.2,0.3,2.6,160,120,live,pear
P,15,14,-1.2,0.3,2.6,-2.4,-0.9,2.3,120,70,dead,pear
P,16,12,2.1,1.4,2.9,3.0,1.2,2.7,110,40,live,pear
"""


def rows() -> dict[int, dict[str, str]]:
    return {int(r["segment"]): r for r in csv.DictReader(io.StringIO(TABLE))}


def point(row: dict[str, str], end: int) -> tuple[float, float, float]:
    return (float(row[f"x{end}_m"]), float(row[f"y{end}_m"]), float(row[f"z{end}_m"]))


def beyond(segment: int) -> list[int]:
    """The segment and all that hangs on it, by walking each one down to the ground."""
    found = []
    for name in rows():
        at = name
        while at not in (-1, segment):
            at = int(rows()[at]["parent"])
        if at == segment:
            found.append(name)
    return found


def discs(row: dict[str, str]) -> list[tuple[float, tuple[float, ...]]]:
    start, end = point(row, 0), point(row, 1)
    length = math.dist(start, end)
    d0, d1 = float(row["d0_mm"]) / 1000, float(row["d1_mm"]) / 1000
    out = []
    for i in range(SLICES):
        t = (i + 0.5) / SLICES
        area = math.pi / 4 * (d0 + t * (d1 - d0)) ** 2
        middle = tuple(a + t * (b - a) for a, b in zip(start, end, strict=True))
        out.append((DENSITY_KG_M3 * area * length / SLICES, middle))
    return out


def reckoned(segment: int) -> tuple[float, list[float], list[float], float]:
    base = point(rows()[segment], 0)
    mass, moment = 0.0, [0.0, 0.0, 0.0]
    for name in beyond(segment):
        for kg, middle in discs(rows()[name]):
            mass += kg
            # (dx, dy, dz) x (0, 0, -W)
            moment[0] -= (middle[1] - base[1]) * kg * GRAVITY_M_S2
            moment[1] += (middle[0] - base[0]) * kg * GRAVITY_M_S2
    row = rows()[segment]
    end = point(row, 1)
    length = math.dist(base, end)
    axis = [(b - a) / length for a, b in zip(base, end, strict=True)]
    along = sum(m * u for m, u in zip(moment, axis, strict=True))
    bending = math.hypot(*(m - along * u for m, u in zip(moment, axis, strict=True)))
    diameter = float(row["d0_mm"]) / 1000
    stress_mpa = bending / (math.pi * diameter**3 / 32) / 1e6
    return mass, [0.0, 0.0, -mass * GRAVITY_M_S2], moment, stress_mpa


Told = dict[int, dict[str, object]]


def assessed(folder: Path, density: float) -> Told:
    table = folder / "branched.csv"
    table.write_text(TABLE, "utf-8")
    said = io.StringIO()
    own_weight = ["--json", "--loads", "own-weight", "--green-density", str(density)]
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(io.StringIO()):
        code = main(["assess", str(table), *own_weight])
    assert code == 0
    (tree,) = json.loads(said.getvalue())["trees"]
    return {s["segment"]: s for s in tree["segments"]}


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Told:
    return assessed(tmp_path_factory.mktemp("told"), DENSITY_KG_M3)


def test_every_segment_is_told_by_its_own_number(told: Told) -> None:
    assert sorted(told) == sorted(rows())


@pytest.mark.parametrize("segment", list(rows()))
def test_mass_force_moment_and_stress_agree_with_a_reckoning_from_the_table(
    told: Told, segment: int
) -> None:
    mass, force, moment, stress = reckoned(segment)
    one = told[segment]
    assert one["mass_kg"] == pytest.approx(mass, rel=2e-4)
    assert one["force_n"] == pytest.approx(force, rel=5e-4, abs=1e-9)
    assert one["moment_n_m"] == pytest.approx(moment, rel=1e-3, abs=1e-6 * mass)
    assert one["bending_stress_mpa"] == pytest.approx(stress, rel=1e-3)


def test_use_grows_with_the_load_and_every_segment_has_a_chance(told: Told, tmp_path: Path) -> None:
    half = assessed(tmp_path, DENSITY_KG_M3 / 2)
    for segment, one in told.items():
        assert one["utilisation"] == pytest.approx(2 * half[segment]["utilisation"], rel=1e-6)
        assert one["utilisation"] > 0
        assert 0 <= half[segment]["chance_of_failure"] <= one["chance_of_failure"] <= 1

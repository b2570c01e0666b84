"""Wood carried by a limb, against felled trees the fit never saw.

Published data: Brym & Ernest 2018, PeerJ 6:4949 (CC BY 3.0), 10 apples and 3 tart cherries.
"""

from __future__ import annotations

import csv
import io
import os
from pathlib import Path

import numpy as np
import pytest

from limbwright.model import LimbRecord, StationRecord, TreeSurvey
from limbwright.survey.allometry import limb_wood_dry_kg
from limbwright.survey.build import build_skeleton
from limbwright.trade.parameters import parameters
from limbwright.trade.species import species

DATA = Path(
    os.environ.get("LIMBWRIGHT_DATA", Path(__file__).resolve().parents[3] / "shared" / "data")
)
KEY = {"apple": "apple", "cherry": "tart-cherry"}
Row = dict[str, str]


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    path = DATA / "measured-branches" / "branch_segments.csv"
    if not path.exists():
        pytest.skip("the open branch data are not here (set LIMBWRIGHT_DATA)")
    text = path.read_text("latin-1").replace("\r\n", "\n").replace("\r", "\n")
    return [r for r in csv.DictReader(io.StringIO(text)) if float(r["diameter_mm"]) > 30.0]


def wood_kg(row: Row) -> float:
    return (float(row["tot_stem_m"]) + float(row["tot_twig_m"])) / 1000.0


def fitted(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Huber's regression (1964) by reweighting, k = 1.5 robust standard deviations."""
    weight = np.ones(y.size)
    for _ in range(40):
        root = np.sqrt(weight)
        found = np.linalg.lstsq(x * root[:, None], y * root, rcond=None)[0]
        off = np.abs(y - x @ found)
        weight = np.minimum(1.0, 1.5 * 1.4826 * np.median(off) / np.maximum(off, 1e-12))
    return found


@pytest.mark.parametrize(("kind", "median"), [("apple", 0.25), ("cherry", 0.30)])
def test_a_limb_of_a_tree_left_out_is_weighed_from_diameter_and_length(
    rows: list[Row], kind: str, median: float
) -> None:
    mine = [r for r in rows if r["species"] == kind]
    tree = np.array([r["tree"] for r in mine])
    d_cm = np.array([float(r["diameter_mm"]) / 10.0 for r in mine])
    reach_m = np.array([float(r["path_length"]) / 100.0 for r in mine])
    true = np.array([wood_kg(r) for r in mine])
    x = np.c_[np.ones(true.size), np.log(d_cm), np.log(reach_m)]
    guess = np.zeros(true.size)
    for one in np.unique(tree):
        out = tree == one
        guess[out] = np.exp(x[out] @ fitted(x[~out], np.log(true[~out])))
    assert np.median(np.abs(guess / true - 1.0)) <= median
    assert abs(guess.sum() / true.sum() - 1.0) <= 0.10
    assert abs(np.exp(np.mean(np.log(guess / true))) - 1.0) <= 0.10


@pytest.mark.parametrize("kind", ["apple", "cherry"])
def test_the_stored_coefficients_are_the_fit_of_the_open_data(rows: list[Row], kind: str) -> None:
    mine = [r for r in rows if r["species"] == kind]
    d_mm = np.array([float(r["diameter_mm"]) for r in mine])
    reach_m = np.array([float(r["path_length"]) / 100.0 for r in mine])
    x = np.c_[np.ones(d_mm.size), np.log(d_mm / 10.0), np.log(reach_m)]
    refit = np.exp(x @ fitted(x, np.log([wood_kg(r) for r in mine])))
    kept = [limb_wood_dry_kg(KEY[kind], d, m)[0] for d, m in zip(d_mm, reach_m, strict=True)]
    np.testing.assert_allclose(kept, refit, rtol=0.01)


def limbs_of(rows: list[Row]) -> tuple[list[LimbRecord], list[float]]:
    """Chain the branches of one tree into limbs as one would tape them, with their true wood."""
    below: dict[str, list[Row]] = {r["branch"]: [] for r in rows}
    for r in rows:
        below.setdefault(r["parent"], []).append(r)
    records: list[LimbRecord] = []
    wood: list[float] = []
    waiting = [(next(r for r in rows if r["parent"] == "0"), "", 0.0)]
    while waiting:
        base, parent, at_m = waiting.pop(0)
        label = f"limb {base['branch']}" if parent else "stem"
        records.append(
            LimbRecord(
                "1",
                label,
                parent,
                float(base["diameter_mm"]),
                float(base["path_length"]) / 100.0,
                at_m=at_m if parent else None,
                rise_deg=40.0 if parent else 90.0,
            )
        )
        wood.append(wood_kg(base))
        along, here = 0.0, base
        while True:
            along += float(here["length_cm"]) / 100.0
            on = sorted(below[here["branch"]], key=lambda r: -float(r["path_length"]))
            if not on:
                break
            waiting.extend((r, label, along) for r in on[1:])
            here = on[0]
    return records, wood


@pytest.mark.parametrize(("kind", "median"), [("apple", 0.25), ("cherry", 0.30)])
def test_a_tree_built_from_its_limbs_weighs_what_it_weighed(
    rows: list[Row], kind: str, median: float
) -> None:
    green = parameters("allometry")["green_over_dry"].value
    density = species(KEY[kind]).green_density_kg_m3.value
    error: list[float] = []
    whole: list[float] = []
    for tree in sorted({r["tree"] for r in rows if r["species"] == kind}):
        records, true = limbs_of([r for r in rows if r["species"] == kind and r["tree"] == tree])
        survey = TreeSurvey(StationRecord(tree, species=KEY[kind]), tuple(records))
        skeleton, _ = build_skeleton(survey)
        mass = skeleton.wood_volume_m3 * density + skeleton.fine_wood_kg
        carried = skeleton.subtree_sum(mass) / green
        off = [
            carried[limb.first_segment] / w - 1.0
            for limb, w in zip(skeleton.limbs, true, strict=True)
        ]
        error.extend(off)
        whole.append(off[0])
    assert np.median(np.abs(error)) <= median
    assert np.median(np.abs(whole)) <= 0.25
    # the worst single tree misses 25 %: apple 10 by -28 %, cherry 7 by +28 % (docs/method/tree.md)
    assert np.max(np.abs(whole)) <= 0.30

"""Wood carried by limbs and trees, against felled trees the fit never saw.

Published data: Brym & Ernest 2018, PeerJ 6:4949 (CC BY 3.0), 10 apples and 3 tart cherries.
Every test puts the coefficients fitted without the tree (or, where said, without its species) in
the place of the stored ones and then asks the functions a user calls.
"""

from __future__ import annotations

import importlib.util
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from limbwright.model import LimbRecord, StationRecord, TreeSurvey
from limbwright.survey import allometry, crown
from limbwright.survey.allometry import Taped, carried_wood, tree_wood
from limbwright.survey.build import build_skeleton
from limbwright.trade.parameters import parameters
from limbwright.trade.species import species

ROOT = Path(__file__).resolve().parents[2]
DATA = Path(os.environ.get("LIMBWRIGHT_DATA", ROOT.parent / "shared" / "data"))
KEYS = ("apple", "tart-cherry")
MEDIAN = (0.25, 0.30)
BIAS = 0.10
WHOLE = 0.25
AS_GIVEN, AT_BASE = False, True


@pytest.fixture(scope="module")
def fits() -> ModuleType:
    """Return the script that fits the coefficients; the tests refit with it."""
    spec = importlib.util.spec_from_file_location(
        "allometry_fit", ROOT / "benchmarks" / "allometry_fit.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["allometry_fit"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def branches(fits: ModuleType):
    path = DATA / "measured-branches" / "branch_segments.csv"
    if not path.exists():
        pytest.skip("the open branch data are not here (set LIMBWRIGHT_DATA)")
    return fits.read(path)


@contextmanager
def refitted(fits: ModuleType, one, use: np.ndarray) -> Iterator[None]:
    """Put coefficients fitted to some branches only in the place of the stored ones."""
    table = dict(parameters("allometry"))
    for base in (AS_GIVEN, AT_BASE):
        word = "base_" if base else ""
        found = fits.fit(one, use, base)
        new = {f"{word}wood_diameter_exponent": found[2], f"{word}wood_length_exponent": found[3]}
        for kind, name in enumerate(("apple", "cherry")):
            new[f"{name}_{word}wood_factor"] = float(np.exp(found[kind]))
            if (use & one.trunk & (one.kind == kind)).any():
                new[f"{name}_stem_density"] = fits.stem_density(one, use, kind)
        for key, value in new.items():
            table[key] = replace(table[key], value=float(value))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(allometry, "TABLE", table)
        patch.setattr(crown, "TABLE", table)
        yield


def taped(one, i: int, base: bool) -> Taped:
    at = float(one.piece_m[i]) / 2.0 if base else None
    return Taped(float(one.diameter_cm[i]) * 10.0, float(one.path_m[i]), at)


def weighed(one, i: int, base: bool) -> float:
    """Return the dry wood [kg] the shipped function gives for one branch."""
    limb = taped(one, i, base)
    key = KEYS[one.kind[i]]
    return carried_wood(key, limb.diameter_mm, limb.length_m, taken_at_m=limb.taken_at_m).dry_kg


def thick(one, kind: int) -> np.ndarray:
    return np.flatnonzero((one.kind == kind) & (one.diameter_cm > 3.0))


def trees_of(one, kind: int) -> np.ndarray:
    return np.unique(one.tree[one.kind == kind])


@pytest.mark.parametrize("base", [AS_GIVEN, AT_BASE])
@pytest.mark.parametrize("kind", [0, 1], ids=KEYS)
def test_a_limb_of_a_tree_left_out_is_weighed_from_diameter_and_length(
    fits: ModuleType, branches, kind: int, base: bool
) -> None:
    guess = np.zeros(branches.tree.size)
    for tree in trees_of(branches, kind):
        with refitted(fits, branches, branches.tree != tree):
            for i in thick(branches, kind):
                if branches.tree[i] == tree:
                    guess[i] = weighed(branches, i, base)
    mine = thick(branches, kind)
    ratio = guess[mine] / branches.wood_kg[mine]
    assert np.median(np.abs(ratio - 1.0)) <= MEDIAN[kind]
    assert abs(np.median(ratio) - 1.0) <= BIAS
    assert abs(np.exp(np.log(ratio).mean()) - 1.0) <= BIAS
    assert abs(guess[mine].sum() / branches.wood_kg[mine].sum() - 1.0) <= BIAS


def test_where_the_tape_went_round_halves_the_usual_error_of_an_apple_limb(
    fits: ModuleType, branches
) -> None:
    mine = thick(branches, 0)
    off = []
    for base in (AS_GIVEN, AT_BASE):
        guess, _ = fits.leave_out(branches, base)
        off.append(np.median(np.abs(guess[mine] / branches.wood_kg[mine] - 1.0)))
    assert off[1] <= 0.65 * off[0]


def whole(one, tree: int, base: bool) -> float:
    """Return predicted over measured wood of a whole tree, from its stem and the limbs on it."""
    trunk = int(np.flatnonzero((one.tree == tree) & one.trunk)[0])
    on = np.flatnonzero((one.tree == tree) & one.on_trunk)
    at = float(one.piece_m[trunk]) / 2.0 if base else None
    stem = Taped(float(one.diameter_cm[trunk]) * 10.0, float(one.piece_m[trunk]), at)
    found = tree_wood(KEYS[one.kind[trunk]], stem, [taped(one, i, base) for i in on])
    return found.dry_kg / float(one.wood_kg[trunk])


@pytest.mark.parametrize("kind", [0, 1], ids=KEYS)
def test_every_tree_left_out_weighs_what_its_stem_and_limbs_say(
    fits: ModuleType, branches, kind: int
) -> None:
    ratio, true = [], []
    for tree in trees_of(branches, kind):
        with refitted(fits, branches, branches.tree != tree):
            ratio.append(whole(branches, tree, AS_GIVEN))
        true.append(branches.wood_kg[(branches.tree == tree) & branches.trunk][0])
    assert np.max(np.abs(np.array(ratio) - 1.0)) <= WHOLE
    assert abs(np.dot(ratio, true) / np.sum(true) - 1.0) <= BIAS


@pytest.mark.parametrize("kind", [0, 1], ids=KEYS)
def test_trees_still_come_near_when_another_tree_is_left_out_too(
    fits: ModuleType, branches, kind: int
) -> None:
    """With the worst choice of a second tree left out all stay within 28 % (25 % is the aim)."""
    _, worst = fits.leave_out(branches, AS_GIVEN, mates=1)
    trunk = np.flatnonzero(branches.trunk & (branches.kind == kind))
    ratio = worst[branches.tree[trunk]] / branches.wood_kg[trunk]
    assert np.max(np.abs(ratio - 1.0)) <= 0.28


@pytest.mark.parametrize("kind", [0, 1], ids=KEYS)
def test_one_species_is_weighed_by_a_fit_to_the_other(
    fits: ModuleType, branches, kind: int
) -> None:
    with refitted(fits, branches, branches.kind != kind):
        mine = thick(branches, kind)
        ratio = np.array([weighed(branches, i, AT_BASE) for i in mine]) / branches.wood_kg[mine]
    assert np.median(np.abs(ratio - 1.0)) <= MEDIAN[kind]
    assert abs(np.exp(np.log(ratio).mean()) - 1.0) <= BIAS


@pytest.mark.parametrize("base", [AS_GIVEN, AT_BASE])
def test_the_stored_coefficients_are_the_fit_of_the_open_data(
    fits: ModuleType, branches, base: bool
) -> None:
    every = np.ones(branches.tree.size, dtype=np.bool_)
    refit = fits.wood(fits.fit(branches, every, base), branches, base)
    mine = np.concatenate([thick(branches, 0), thick(branches, 1)])
    kept = [weighed(branches, i, base) for i in mine]
    np.testing.assert_allclose(kept, refit[mine], rtol=0.01)
    for kind, name in enumerate(("apple", "cherry")):
        stored = parameters("allometry")[f"{name}_stem_density"].value
        assert stored == pytest.approx(fits.stem_density(branches, every, kind), rel=0.01)


def surveyed(one, tree: int) -> tuple[list[LimbRecord], list[float]]:
    """Chain the branches over 3 cm of a tree into limbs as one tapes them, with their true wood."""
    mine = np.flatnonzero((one.tree == tree) & ((one.diameter_cm > 3.0) | one.trunk))
    below: dict[int, list[int]] = {int(one.branch[i]): [] for i in mine}
    for i in mine:
        below.setdefault(int(one.parent[i]), []).append(int(i))
    records: list[LimbRecord] = []
    true: list[float] = []
    waiting = [(below[0][0], "", 0.0)]
    while waiting:
        i, parent, at_m = waiting.pop(0)
        label = f"limb {one.branch[i]}" if parent else "stem"
        records.append(
            LimbRecord(
                "1",
                label,
                parent,
                float(one.diameter_cm[i]) * 10.0,
                float(one.path_m[i]),
                at_m=at_m if parent else None,
                rise_deg=40.0 if parent else 90.0,
                extra={"taken_at_m": str(one.piece_m[i] / 2.0)},
            )
        )
        true.append(float(one.wood_kg[i]))
        along, here = 0.0, i
        while on := sorted(below[int(one.branch[here])], key=lambda k: -one.path_m[k]):
            along += float(one.piece_m[here])
            waiting.extend((k, label, along) for k in on[1:])
            here = on[0]
    return records, true


def built(fits: ModuleType, one, kind: int) -> tuple[np.ndarray, dict[int, float]]:
    """Return predicted over measured of taped limbs and, by number, of whole trees left out."""
    green = parameters("allometry")["green_over_dry"].value
    density = species(KEYS[kind]).green_density_kg_m3.value
    limbs: list[float] = []
    trees: dict[int, float] = {}
    for tree in trees_of(one, kind):
        records, true = surveyed(one, tree)
        survey = TreeSurvey(StationRecord("1", species=KEYS[kind]), tuple(records))
        with refitted(fits, one, one.tree != tree):
            skeleton, faults = build_skeleton(survey)
        assert not [f for f in faults if f.column == "taken_at_m"]
        mass = skeleton.wood_volume_m3 * density + skeleton.fine_wood_kg
        carried = skeleton.subtree_sum(mass) / green
        ratio = [
            float(carried[limb.first_segment]) / w
            for limb, w in zip(skeleton.limbs, true, strict=True)
        ]
        limbs.extend(ratio)
        trees[int(one.number[one.tree == tree][0])] = ratio[0]
    return np.array(limbs), trees


MISSED = ({3: 0.30, 7: 0.30}, {})
"""Trees that miss 25 % when built, and by how much at most: apple 3, whose stem weighs 572 kg/m3
of its cylinder where the nine others weigh 686 to 799, and apple 7, whose twigs are 37 % of its
wood where the others' are 17 to 31 %."""


@pytest.mark.parametrize("kind", [0, 1], ids=KEYS)
def test_a_tree_left_out_and_built_from_its_limbs_weighs_what_it_weighed(
    fits: ModuleType, branches, kind: int
) -> None:
    limbs, trees = built(fits, branches, kind)
    assert np.median(np.abs(limbs - 1.0)) <= MEDIAN[kind]
    for number, ratio in trees.items():
        assert abs(ratio - 1.0) <= MISSED[kind].get(number, WHOLE), number

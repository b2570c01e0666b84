"""Fit the wood carried by a limb to open measurements, and say how well it does on other trees.

Data: Brym & Ernest 2018, PeerJ 6:4949 (CC BY 3.0), branch segments of felled apple and tart
cherry trees; masses are dry (mass over volume equals basic density). Model, on limbs over 3 cm:
ln W = ln a + b ln D + c ln L, D base diameter [cm], L longest path [m], W dry wood and twigs [kg],
fitted by iteratively reweighted least squares (Huber 1964, k = 1.5) so that a few odd limbs do
not steer it. Run: python benchmarks/allometry_fit.py [folder of the open data]
"""

from __future__ import annotations

import csv
import io
import os
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

DATA = Path(
    os.environ.get("LIMBWRIGHT_DATA", Path(__file__).resolve().parents[2] / "shared" / "data")
)
LEAST_MM = 30.0


@dataclass(frozen=True)
class Limbs:
    """Measured limbs of one species: diameter [cm], path [m], dry wood [kg], tree, is the trunk."""

    diameter_cm: NDArray[np.float64]
    length_m: NDArray[np.float64]
    wood_kg: NDArray[np.float64]
    tree: NDArray[np.str_]
    trunk: NDArray[np.bool_]


def read(path: Path, species: str) -> Limbs:
    """Read the limbs over 3 cm of one species."""
    text = path.read_text("latin-1").replace("\r\n", "\n").replace("\r", "\n")
    rows = [r for r in csv.DictReader(io.StringIO(text)) if r["species"] == species]
    rows = [r for r in rows if float(r["diameter_mm"]) > LEAST_MM]
    return Limbs(
        np.array([float(r["diameter_mm"]) / 10 for r in rows]),
        np.array([float(r["path_length"]) / 100 for r in rows]),
        np.array([(float(r["tot_stem_m"]) + float(r["tot_twig_m"])) / 1000 for r in rows]),
        np.array([r["tree"] for r in rows]),
        np.array([r["parent"] == "0" for r in rows]),
    )


def fit(limbs: Limbs, use: NDArray[np.bool_]) -> tuple[NDArray[np.float64], float]:
    """Return (ln a, b, c) and the spread of ln W about the fit."""
    x = np.c_[np.ones(limbs.tree.size), np.log(limbs.diameter_cm), np.log(limbs.length_m)][use]
    y = np.log(limbs.wood_kg[use])
    weight = np.ones(y.size)
    for _ in range(40):
        root = np.sqrt(weight)
        found = np.linalg.lstsq(x * root[:, None], y * root, rcond=None)[0]
        off = y - x @ found
        spread = 1.4826 * np.median(np.abs(off))
        weight = np.minimum(1.0, 1.5 * spread / np.maximum(np.abs(off), 1e-12))
    return found, float(off.std())


def wood(found: NDArray[np.float64], limbs: Limbs) -> NDArray[np.float64]:
    """Return the dry wood [kg] the fit gives for each limb."""
    return np.asarray(np.exp(found[0]) * limbs.diameter_cm ** found[1] * limbs.length_m ** found[2])


def leave_trees_out(limbs: Limbs) -> NDArray[np.float64]:
    """Return the wood of every limb as given by a fit that never saw its tree."""
    out = np.zeros(limbs.tree.size)
    for tree in np.unique(limbs.tree):
        found, _ = fit(limbs, limbs.tree != tree)
        out[limbs.tree == tree] = wood(found, limbs)[limbs.tree == tree]
    return out


def main() -> None:
    """Print coefficients and errors for both species."""
    data = Path(sys.argv[1]) if len(sys.argv) > 1 else DATA
    path = data / "measured-branches" / "branch_segments.csv"
    if not path.exists():
        print("The open branch data are not here; nothing fitted.")
        return
    for species in ("apple", "cherry"):
        limbs = read(path, species)
        found, spread = fit(limbs, np.ones(limbs.tree.size, dtype=np.bool_))
        error = leave_trees_out(limbs) / limbs.wood_kg - 1.0
        print(
            f"{species}: {limbs.tree.size} limbs of {np.unique(limbs.tree).size} trees; "
            f"W = {np.exp(found[0]):.4f} D^{found[1]:.3f} L^{found[2]:.3f}, ln spread {spread:.3f}"
        )
        print(
            f"  left out: median absolute error {np.median(np.abs(error)):.1%}, median error "
            f"{np.median(error):+.1%}, whole trees from the trunk alone "
            f"{', '.join(f'{e:+.0%}' for e in error[limbs.trunk])}"
        )


if __name__ == "__main__":
    main()

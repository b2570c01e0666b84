"""Fit the wood carried by a limb to open measurements, and say how well it does on other trees.

Data: Brym & Ernest 2018, PeerJ 6:4949 (CC BY 3.0), branch segments of felled apple and tart
cherry trees; masses are dry (mass over volume equals basic density). Model, on limbs over 3 cm:
ln W = ln a(species) + b ln D + c ln L, D diameter [cm], L longest path [m], W dry wood and twigs
[kg]; b and c are common to both species and held to (2, 1), wood going with the volume D^2 L, by
a penalty worth 20 limbs, so few trees cannot bend them far; fitted by iteratively reweighted least
squares (Huber 1964, k = 1.5) so that a few odd limbs do not steer it. Two fits: D as the data give
it, in the middle of a limb's first piece, and D carried to the base (`base_diameter_mm`).

Run: python benchmarks/allometry_fit.py [folder of the data]
     python benchmarks/allometry_fit.py --stored folder   (stored figures against other trees)
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

from limbwright.survey.allometry import Taped, carried_wood, tree_wood

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

DATA = Path(
    os.environ.get("LIMBWRIGHT_DATA", Path(__file__).resolve().parents[2] / "shared" / "data")
)
LEAST_MM = 30.0
KINDS = ("apple", "cherry")
KEYS = ("apple", "tart-cherry")
VOLUME = np.array([2.0, 1.0])
WORTH = 20.0
FURTHEST = 0.5
SURPLUS = {False: 1.1, True: 1.25}


@dataclass(frozen=True)
class Branches:
    """Measured branches of both species, one entry each, trees numbered through."""

    kind: NDArray[np.int64]
    tree: NDArray[np.int64]
    number: NDArray[np.int64]
    branch: NDArray[np.int64]
    parent: NDArray[np.int64]
    diameter_cm: Floats
    path_m: Floats
    piece_m: Floats
    wood_kg: Floats
    own_kg: Floats
    trunk: Bools
    on_trunk: Bools

    def base_cm(self) -> Floats:
        """Return diameters carried from the middle of the first piece to the base."""
        out = np.minimum(self.piece_m / 2.0 / self.path_m, FURTHEST)
        return np.asarray(self.diameter_cm / np.sqrt(1.0 - out))


def read(path: Path) -> Branches:
    """Read every branch of both species."""
    text = path.read_text("latin-1").replace("\r\n", "\n").replace("\r", "\n")
    rows = [r for r in csv.DictReader(io.StringIO(text)) if r["species"] in KINDS]
    trees = sorted({(KINDS.index(r["species"]), int(r["tree"])) for r in rows})
    trunks = {(r["species"], r["tree"], r["branch"]) for r in rows if r["parent"] == "0"}

    def column(name: str, scale: float = 1.0) -> Floats:
        return np.array([float(r[name]) * scale for r in rows])

    return Branches(
        np.array([KINDS.index(r["species"]) for r in rows]),
        np.array([trees.index((KINDS.index(r["species"]), int(r["tree"]))) for r in rows]),
        np.array([int(r["tree"]) for r in rows]),
        np.array([int(r["branch"]) for r in rows]),
        np.array([int(r["parent"]) for r in rows]),
        column("diameter_mm", 0.1),
        column("path_length", 0.01),
        column("length_cm", 0.01),
        (column("tot_stem_m") + column("tot_twig_m")) / 1000.0,
        column("stem_m", 0.001),
        np.array([r["parent"] == "0" for r in rows]),
        np.array([(r["species"], r["tree"], r["parent"]) in trunks for r in rows]),
    )


def fit(one: Branches, use: Bools, base: bool) -> Floats:
    """Return (ln a apple, ln a cherry, b, c); a species not in ``use`` is given the other's a."""
    use = use & (one.diameter_cm * 10.0 > LEAST_MM)
    d = one.base_cm() if base else one.diameter_cm
    x = np.c_[one.kind == 0, one.kind == 1, np.log(d), np.log(one.path_m)].astype(float)[use]
    y = np.log(one.wood_kg[use])
    found = _robust(x, y)
    for kind in (0, 1):
        if not (one.kind[use] == kind).any():
            found[kind] = found[1 - kind]
    return found


def wood(found: Floats, one: Branches, base: bool) -> Floats:
    """Return the dry wood [kg] the fit gives for each branch."""
    d = one.base_cm() if base else one.diameter_cm
    return np.asarray(np.exp(found[one.kind]) * d ** found[2] * one.path_m ** found[3])


def taper_power(one: Branches, use: Bools) -> float:
    """Return the power of the length still ahead that the section goes with, fitted freely."""
    use = use & (one.diameter_cm * 10.0 > LEAST_MM)
    ahead = -np.log(1.0 - np.minimum(one.piece_m / 2.0 / one.path_m, FURTHEST))
    x = np.c_[
        one.kind == 0, one.kind == 1, np.log(one.diameter_cm), np.log(one.path_m), ahead
    ].astype(float)[use]
    found = _robust(x, np.log(one.wood_kg[use]))
    return float(2.0 * found[4] / found[2])


def _robust(x: Floats, y: Floats) -> Floats:
    """Return the coefficients; the third and fourth are those of ln D and ln L."""
    hold = np.full(x.shape[1], 1e-9)
    prior = np.zeros(x.shape[1])
    hold[2:4], prior[2:4] = WORTH, VOLUME
    weight = np.ones(y.size)
    found = prior
    for _ in range(40):
        found = np.linalg.solve(
            x.T @ (x * weight[:, None]) + np.diag(hold), x.T @ (y * weight) + hold * prior
        )
        off = np.abs(y - x @ found)
        spread = 1.4826 * np.median(off)
        weight = np.minimum(1.0, 1.5 * spread / np.maximum(off, 1e-12))
    return np.asarray(found)


def stem_density(one: Branches, use: Bools, kind: int) -> float:
    """Return dry stem wood over the cylinder of the stem's middle diameter [kg/m3], mean."""
    use = use & one.trunk & (one.kind == kind)
    cylinder = np.pi / 4.0 * (one.diameter_cm[use] / 100.0) ** 2 * one.piece_m[use]
    return float((one.own_kg[use] / cylinder).mean())


def whole(one: Branches, tree: int, found: Floats, density: float, base: bool) -> float:
    """Return a tree's dry wood [kg]: its clear stem and every branch that starts on it."""
    mine = one.tree == tree
    trunk = np.flatnonzero(mine & one.trunk)[0]
    on = mine & one.on_trunk
    d = one.base_cm() if base else one.diameter_cm
    over = SURPLUS[base] * d[trunk] ** 2 / float((d[on] ** 2).sum())
    own = density * np.pi / 4.0 * (one.diameter_cm[trunk] / 100.0) ** 2 * one.piece_m[trunk]
    return float(own + wood(found, one, base)[on].sum() * min(1.0, over) ** (found[2] / 2.0))


def leave_out(one: Branches, base: bool, mates: int = 0) -> tuple[Floats, Floats]:
    """Return the wood of each branch and of each tree as fits give it that never saw the tree.

    With ``mates`` that many other trees are left out with it, in turn, and the worst is kept.
    """
    limbs, trees = np.zeros(one.tree.size), np.zeros(one.tree.max() + 1)
    for tree in np.unique(one.tree):
        mine = one.tree == tree
        kind = int(one.kind[mine][0])
        true = one.wood_kg[mine & one.trunk][0]
        others = [t for t in np.unique(one.tree) if t != tree] if mates else [tree]
        for other in others:
            use = ~mine & (one.tree != other)
            found = fit(one, use, base)
            limbs[mine] = wood(found, one, base)[mine]
            total = whole(one, int(tree), found, stem_density(one, use, kind), base)
            if abs(total / true - 1.0) >= abs((trees[tree] or true) / true - 1.0):
                trees[tree] = total
    return limbs, trees


def from_the_other_species(one: Branches, kind: int, base: bool) -> Floats:
    """Return wood of each branch of one species as a fit to the other alone gives it."""
    return wood(fit(one, one.kind != kind, base), one, base)


def told(ratio: Floats) -> str:
    """Return median absolute error, median error and geometric bias of predicted over measured."""
    return (
        f"median absolute error {np.median(np.abs(ratio - 1.0)):.1%}, median error "
        f"{np.median(ratio) - 1.0:+.1%}, geometric mean {np.exp(np.log(ratio).mean()) - 1.0:+.1%}"
    )


def signed(errors: Floats) -> str:
    """Return errors in whole percent."""
    return " ".join(f"{e:+.0%}" for e in errors)


def report(one: Branches) -> None:
    """Print coefficients, and errors on trees left out, for both readings of the diameter."""
    rng = np.random.default_rng(1)
    measured = one.wood_kg[one.trunk][np.argsort(one.tree[one.trunk])]
    sort = one.kind[one.trunk][np.argsort(one.tree[one.trunk])]
    thick = one.diameter_cm * 10.0 > LEAST_MM
    every = np.ones(one.tree.size, dtype=np.bool_)
    powers = [taper_power(one, one.tree != t) for t in np.unique(one.tree)]
    print(
        f"Section goes with the length ahead to the power {taper_power(one, every):.2f}, "
        f"{min(powers):.2f} to {max(powers):.2f} as trees are left out"
    )
    for base in (False, True):
        found = fit(one, every, base)
        print("Diameter carried to the base" if base else "Diameter as the data give it")
        print(
            f"  W = a D^{found[2]:.3f} L^{found[3]:.3f}, a {np.exp(found[0]):.4f} apple, "
            f"{np.exp(found[1]):.4f} tart cherry"
        )
        drawn = []
        for _ in range(200):
            picked = np.concatenate(
                [rng.choice(np.flatnonzero(sort == k), (sort == k).sum()) for k in (0, 1)]
            )
            use = np.concatenate([np.flatnonzero(one.tree == t) for t in picked])
            drawn.append(fit(_take(one, use), np.ones(use.size, dtype=np.bool_), base)[2:])
        low, high = np.percentile(drawn, [5, 95], axis=0)
        print(
            f"  bootstrap over trees, 5 to 95 %: b {low[0]:.2f} to {high[0]:.2f}, "
            f"c {low[1]:.2f} to {high[1]:.2f}"
        )
        limbs, trees = leave_out(one, base)
        _, worst = leave_out(one, base, mates=1)
        for kind in (0, 1):
            mine = thick & (one.kind == kind)
            ratio, total = limbs[mine] / one.wood_kg[mine], trees[sort == kind]
            true = measured[sort == kind]
            print(f"  {KINDS[kind]}: {mine.sum()} limbs of {true.size} trees, each tree left out")
            print(
                f"    limbs: {told(ratio)}, sum {limbs[mine].sum() / one.wood_kg[mine].sum():.3f}, "
                f"spread of ln {np.log(ratio).std():.3f}"
            )
            alone = (
                limbs[one.trunk & (one.kind == kind)] / one.wood_kg[one.trunk & (one.kind == kind)]
            )
            print(f"    trees from the trunk alone: {signed(alone - 1.0)}")
            print(
                f"    trees from stem and limbs: {signed(total / true - 1.0)}, "
                f"sum {total.sum() / true.sum():.3f}, spread {np.log(total / true).std():.3f}, "
                f"stem {stem_density(one, every, kind):.0f} kg/m3"
            )
            print(f"    two trees out, worst: {signed(worst[sort == kind] / true - 1.0)}")
            crossed = from_the_other_species(one, kind, base)[mine] / one.wood_kg[mine]
            print(f"    fit to the other species alone: {told(crossed)}")


def beside(one: Branches) -> None:
    """Print what docs/method/tree.md tells besides of the same data."""
    thick = one.diameter_cm * 10.0 > LEAST_MM
    found = fit(one, np.ones(one.tree.size, dtype=np.bool_), True)
    as_collar = np.exp(found[one.kind]) * one.diameter_cm ** found[2] * one.path_m ** found[3]
    for kind in (0, 1):
        forks = []
        for i in np.flatnonzero(thick & (one.kind == kind)):
            on = (one.tree == one.tree[i]) & (one.parent == one.branch[i])
            if on.sum() >= 2:
                forks.append(float((one.diameter_cm[on] ** 2).sum() / one.diameter_cm[i] ** 2))
        low, middle, high = np.percentile(forks, [25, 50, 75])
        mine = (one.kind == kind) & (one.diameter_cm >= 1.0)
        x = np.c_[np.ones(mine.sum()), np.log(one.diameter_cm[mine])]
        y = np.log(one.wood_kg[mine])
        left = y - x @ np.linalg.lstsq(x, y, rcond=None)[0]
        light = (as_collar / one.wood_kg)[thick & (one.kind == kind)]
        print(
            f"{KINDS[kind]}: squares of children over parent's at {len(forks)} forks {middle:.2f} "
            f"({low:.2f} to {high:.2f}); spread of ln W on diameter alone from 1 cm "
            f"{left.std():.2f}; entered as at the collar {np.median(light) - 1.0:+.0%} (median)"
        )
    worth, surplus = WORTH, dict(SURPLUS)
    for worth_limbs, over in ((5.0, 1.1), (80.0, 1.1), *((worth, s) for s in (1.0, 1.2, 1.3))):
        globals()["WORTH"], SURPLUS[False] = worth_limbs, over
        _, trees = leave_out(one, False)
        true = one.wood_kg[one.trunk][np.argsort(one.tree[one.trunk])]
        sort = one.kind[one.trunk][np.argsort(one.tree[one.trunk])]
        worst = [np.max(np.abs(trees / true - 1.0)[sort == kind]) for kind in (0, 1)]
        print(
            f"penalty worth {worth_limbs:g} limbs, surplus {over:g}: worst apple {worst[0]:.0%}, "
            f"worst cherry {worst[1]:.0%}"
        )
    globals()["WORTH"] = worth
    SURPLUS.update(surplus)


def _take(one: Branches, use: NDArray[np.int64]) -> Branches:
    return Branches(**{name: getattr(one, name)[use] for name in Branches.__dataclass_fields__})


def stored(one: Branches) -> None:
    """Print how the stored figures, not refitted, do on the trees of a folder."""
    for kind, key in enumerate(KEYS):
        mine = np.flatnonzero((one.kind == kind) & (one.diameter_cm * 10.0 > LEAST_MM))
        if not mine.size:
            continue
        true = one.wood_kg[mine]
        for base in (False, True):
            at = one.piece_m / 2.0

            def taped(i: int | np.integer, base: bool = base, at: Floats = at) -> Taped:
                known = float(at[i]) if base else None
                return Taped(float(one.diameter_cm[i]) * 10.0, float(one.path_m[i]), known)

            guess = np.array([_carried(key, taped(i)) for i in mine])
            trees, totals = [], []
            for tree in np.unique(one.tree[one.kind == kind]):
                trunk = int(np.flatnonzero((one.tree == tree) & one.trunk)[0])
                on = np.flatnonzero((one.tree == tree) & one.on_trunk)
                stem = Taped(
                    float(one.diameter_cm[trunk]) * 10.0,
                    float(one.piece_m[trunk]),
                    float(at[trunk]) if base else None,
                )
                totals.append(tree_wood(key, stem, [taped(int(i)) for i in on]).dry_kg)
                trees.append(one.wood_kg[trunk])
            print(f"{key}, diameter {'carried to the base' if base else 'as the data give it'}")
            print(f"  limbs: {told(guess / true)}, sum {guess.sum() / true.sum():.3f}")
            print(
                f"  trees from stem and limbs: {signed(np.array(totals) / np.array(trees) - 1.0)}"
            )


def _carried(key: str, one: Taped) -> float:
    return carried_wood(key, one.diameter_mm, one.length_m, taken_at_m=one.taken_at_m).dry_kg


def main() -> None:
    """Print coefficients and errors for both species."""
    given = [a for a in sys.argv[1:] if not a.startswith("--")]
    data = Path(given[0]) if given else DATA
    path = next(
        (p for p in (data / "measured-branches", data) if (p / "branch_segments.csv").exists()),
        None,
    )
    if path is None:
        print("The open branch data are not here; nothing fitted.")
        return
    one = read(path / "branch_segments.csv")
    if "--stored" in sys.argv:
        stored(one)
    else:
        report(one)
        beside(one)


if __name__ == "__main__":
    main()

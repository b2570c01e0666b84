"""Random trees over several seasons, and every sequence of cuts of small ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from tests.cuts.problems import every_plan, random_problem, two_modes

from limbwright.stages.lit import YearsLight
from limbwright.stages.years import Years, state_weights

__all__ = ["every_sequence", "no_light", "random_years"]


def random_years(
    seed: int, nodes: int = 6, seasons: int = 2, cases: int = 4, *, rules: bool = True
) -> Years:
    """Return an invented tree over ``seasons``, the same for the same seed."""
    rng = np.random.default_rng(seed + 17)
    first = random_problem(seed, nodes, cases, rules=rules)
    if seed % 3 == 0:
        first = two_modes(first, seed)
    load, girth = 1.0 + rng.uniform(0.0, 0.08), 1.0 + rng.uniform(0.0, 0.03)
    share = rng.uniform(0.1, 0.35) if rules else 0.2
    grown = []
    leafy = rng.uniform(0.2, 0.7, first.nodes)
    for y in range(seasons):
        grown.append(
            replace(
                first,
                leaf_m2=first.leaf_m2 * load**y,
                cut_area_cm2=first.cut_area_cm2 * girth ** (2 * y),
                cut_cost_h=first.cut_cost_h * girth**y,
                force_n=first.force_n * load**y,
                moment_n_m=first.moment_n_m * load**y,
                own_force_n=first.own_force_n * load**y,
                own_moment_n_m=first.own_moment_n_m * load**y,
                area_m2=first.area_m2 * girth ** (2 * y),
                modulus_m3=first.modulus_m3 * girth ** (3 * y),
                torsion_modulus_m3=first.torsion_modulus_m3 * girth ** (3 * y),
                split_per_n_m=(
                    None if first.split_per_n_m is None else first.split_per_n_m / girth ** (3 * y)
                ),
                dose_limit_m2=share * float(first.leaf_m2.sum()) * load**y,
            )
        )
    force = tuple(p.force_n * leafy[:, None] for p in grown)
    near = rng.normal(0.0, 1.0, (first.nodes, 3)) + np.array([0.0, 0.0, 3.0])
    return Years(
        seasons=tuple(grown),
        weight=state_weights(seasons, 10.0),
        worth=(1.0 - 0.03 * (seed % 2)) ** np.arange(seasons),
        once_h=np.outer(load ** np.arange(seasons), rng.uniform(0.0, 0.2, first.nodes)),
        regrown=0.35 * (1.0 - np.exp(-np.arange(seasons) / 1.5)),
        leafy_force_n=force,
        leafy_moment_n_m=tuple(np.cross(near, f) for f in force),
        dose=np.full(seasons, share),
    )


class _Dark:
    """Light that is worth nothing."""

    hours = 0.0

    def gained(self, gone: np.ndarray) -> np.ndarray:
        return np.zeros(len(gone))


def no_light(years: Years) -> YearsLight:
    """Return the light of a tree that is not to be thinned for light."""
    return YearsLight(years, _Dark())  # type: ignore[arg-type]


def every_sequence(years: Years) -> np.ndarray:
    """Return every sequence of sets closed towards the tips, ``(B, Y, N)``, none coming back."""
    plans = every_plan(years.seasons[0])
    out = plans[:, None]
    for _ in range(1, years.count):
        before = out[:, -1]
        more = [
            np.concatenate(
                [
                    np.repeat(out[k : k + 1], fits.sum(), axis=0),
                    plans[fits][:, None],
                ],
                axis=1,
            )
            for k in range(out.shape[0])
            if (fits := ~(before[k] & ~plans).any(axis=1)).any()
        ]
        out = np.concatenate(more)
    return out

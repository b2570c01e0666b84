"""What an assessment of a tree holds, and how it is written as JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from limbwright.model.site import Site
from limbwright.model.skeleton import Bools, Floats, Ints, Skeleton
from limbwright.statics.loads import Loads
from limbwright.statics.reliability import YearlyLoad, annual_chance, stand_a_year, weaker
from limbwright.statics.resultants import Resultants
from limbwright.statics.sections import Sections
from limbwright.statics.strength import Strength
from limbwright.statics.stress import stress

__all__ = [
    "SCHEMA",
    "Assessment",
    "Belief",
    "LimbAssessment",
    "assessment_schema",
    "assessments_to_dict",
]

SCHEMA = "limbwright.assessment/1"


@dataclass(frozen=True, slots=True)
class LimbAssessment:
    """One limb: its worst section, what it carries beyond its base, its chance of failure a year.

    ``limb`` indexes `Skeleton.limbs`, ``section`` the segments, ``case`` the load cases (the one
    with the greatest utilisation at that section). ``chance_handbook`` uses published strengths
    alone, ``chance`` also the years the limb has stood; ``chance_low`` and ``chance_high`` are
    ``chance`` at the high and low end of the published strengths. ``splits`` is True where the
    section would split along the grain, at a curve, before it breaks.
    """

    limb: int
    label: str
    section: int
    case: int
    utilisation: float
    utilisation_by_hazard: Mapping[str, float]
    chance_handbook: float
    chance: float
    chance_low: float
    chance_high: float
    wood_green_kg: float
    wood_dry_kg: float
    leaf_area_m2: float
    fruit_kg: float
    union_ratio: float
    union_factor: float
    splits: bool = False


@dataclass(frozen=True, slots=True)
class Belief:
    """What is known of each section before and after the years it stood.

    ``mu`` and ``zeta`` ``(n,)`` describe ln(true over computed reserve) before; ``mean``, ``low``
    and ``high`` ``(n, K)`` are the weights of its nodes after, for mean, low and high strength.
    """

    mu: Floats
    zeta: Floats
    mean: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class Assessment:
    """Loads, stresses and chances of one tree; ``(C, n)`` by case and segment, ``(n,)`` by segment.

    ``kept`` is False for segments taken off by `reassess`; their values are 0. ``splits`` is True
    where the greatest utilisation is that by splitting along the grain of a curved limb.
    ``opening`` ``(n, 3)`` is how a moment opens a curve, see `assess.opening`. ``whole_loads`` are
    the loads shown, and the cases that are the constant part of one of them; ``worst`` the load of
    the worst case of each hazard ``(G, n)``.
    """

    skeleton: Skeleton
    site: Site
    loads: Loads
    whole_loads: Loads
    resultants: Resultants
    sections: Sections
    strength: Strength
    bending_strength_mpa: Floats
    shear_strength_mpa: Floats
    opening: Floats
    utilisation: Floats
    splits: Bools
    yearly: YearlyLoad
    belief: Belief
    chance_handbook: Floats
    chance: Floats
    worst: YearlyLoad
    kept: Bools
    limbs: tuple[LimbAssessment, ...]

    def split_per_n_m(self, segments: Ints) -> Floats | None:
        """Return ``(C, S, 3)`` the utilisation by splitting that each N m of moment makes.

        Where it is more than that by breaking, it is the utilisation. None where no moment
        whatever could split one of the segments ``(S,)`` before it breaks.
        """
        if not self.opening[segments].any():
            return None
        capacity = 1e6 * self.bending_strength_mpa * self.sections.modulus_m3
        return np.asarray(self.opening[segments] / capacity[:, segments, None])

    def chance_range(self, of: Ints) -> tuple[Floats, Floats]:
        """Return the least and greatest chance of failure a year of segments ``of`` ``(S,)``.

        ``chance`` at the high and low end of the published strengths, each ``(S,)``; 0 for what
        is gone.
        """
        load = YearlyLoad(self.worst.ln_median[:, of], self.worst.zeta[:, of])
        belief, tough = self.belief, self.strength
        mu, zeta = belief.mu[of], belief.zeta[of]
        weak = stand_a_year(weaker(load, tough.low[of]), mu, zeta)
        strong = stand_a_year(weaker(load, tough.high[of]), mu, zeta)
        # learning can turn the order round: what stood though weak must be strong for its kind
        ends = np.stack(
            [
                np.where(self.kept[of], annual_chance(strong, belief.high[of]), 0.0),
                np.where(self.kept[of], annual_chance(weak, belief.low[of]), 0.0),
                self.chance[of],
            ]
        )
        return ends.min(axis=0), ends.max(axis=0)

    @property
    def worst_case(self) -> Ints:
        """``(n,)`` index of the case with the greatest utilisation."""
        return np.asarray(self.utilisation.argmax(axis=0), dtype=np.int64)

    def to_dict(self) -> dict[str, Any]:
        """Return the tree for JSON; segments bear the numbers of the file they came from.

        Force, moment, stress and utilisation are those of the case with the greatest utilisation
        and hold at the base of the segment; a segment cut away is left out.
        """
        skeleton = self.skeleton
        case = self.worst_case
        every = np.arange(skeleton.n)
        force = self.resultants.force_n[case, every]
        moment = self.resultants.moment_n_m[case, every]
        at = self.sections
        parts = stress(force, moment, at.axis, at.area_m2, at.modulus_m3, at.torsion_modulus_m3)
        mass = skeleton.subtree_sum(np.where(self.kept, self.loads.wood_kg, 0.0))
        worst = self.utilisation[case, every]
        keys = [c.key for c in self.loads.cases]
        return {
            "tree": skeleton.tree,
            "species": skeleton.species,
            "cases": [{"key": c.key, "label": c.label} for c in self.loads.cases],
            "limbs": [self._limb_to_dict(one) for one in self.limbs],
            "segments": [
                {
                    "segment": int(skeleton.segment_ids[i]),
                    "limb": _label(skeleton, i),
                    "mass_kg": float(mass[i]),
                    "force_n": force[i].tolist(),
                    "moment_n_m": moment[i].tolist(),
                    "bending_stress_mpa": float(parts.bending_mpa[i]),
                    "utilisation": float(worst[i]),
                    "chance_of_failure": float(self.chance[i]),
                    "case": keys[case[i]],
                }
                for i in np.flatnonzero(self.kept).tolist()
            ],
        }

    def _limb_to_dict(self, one: LimbAssessment) -> dict[str, Any]:
        return {
            "limb": one.label,
            "segment": int(self.skeleton.segment_ids[one.section]),
            "case": self.loads.cases[one.case].key,
            "utilisation": one.utilisation,
            "utilisation_by_hazard": dict(one.utilisation_by_hazard),
            "chance_of_failure_handbook": one.chance_handbook,
            "chance_of_failure": one.chance,
            "chance_of_failure_low": one.chance_low,
            "chance_of_failure_high": one.chance_high,
            "wood_green_kg": one.wood_green_kg,
            "wood_dry_kg": one.wood_dry_kg,
            "leaf_area_m2": one.leaf_area_m2,
            "fruit_kg": one.fruit_kg,
            "union_ratio": one.union_ratio,
            "union_factor": one.union_factor,
            "splits": one.splits,
        }


def _label(skeleton: Skeleton, segment: int) -> str:
    limb = int(skeleton.limb[segment])
    return skeleton.limbs[limb].label if 0 <= limb < len(skeleton.limbs) else ""


def assessments_to_dict(assessments: Sequence[Assessment]) -> dict[str, Any]:
    """Return several trees as one JSON document with the version of its schema."""
    return {"schema": SCHEMA, "trees": [one.to_dict() for one in assessments]}


@cache
def _schema_text() -> str:
    return files("limbwright.statics").joinpath("assessment.schema.json").read_text("utf-8")


def assessment_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of `assessments_to_dict`."""
    schema: dict[str, Any] = json.loads(_schema_text())
    return schema

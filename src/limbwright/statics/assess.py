"""A tree from its skeleton to the chance of failure of every limb and union."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limbwright.model.site import Site
from limbwright.model.skeleton import Bools, Floats, Ints, Skeleton
from limbwright.statics.constant import constant_cases
from limbwright.statics.hazard import hazard_lines
from limbwright.statics.loads import Loads, loads
from limbwright.statics.reliability import (
    PRIOR,
    YearlyLoad,
    annual_chance,
    hazard_groups,
    load_cov,
    stand_a_year,
    weaker,
    worst_of_hazards,
    yearly_load,
)
from limbwright.statics.resultants import Resultants, resultants
from limbwright.statics.results import (
    Assessment,
    Belief,
    LimbAssessment,
    assessment_schema,
    assessments_to_dict,
)
from limbwright.statics.sections import Sections, sections
from limbwright.statics.strength import Strength, strength
from limbwright.statics.stress import splitting, stress, utilisation
from limbwright.statics.survival import learn, years_counted
from limbwright.trade.parameters import parameters
from limbwright.trade.species import Species, species

__all__ = [
    "Assessment",
    "LimbAssessment",
    "assess",
    "assessment_schema",
    "assessments_to_dict",
    "hazard_lines",
    "opening",
    "reassess",
]

NO_SITE = Site()


def assess(
    skeleton: Skeleton,
    site: Site = NO_SITE,
    *,
    only: Sequence[str] | None = None,
    green_density_kg_m3: float | None = None,
    belief: Belief | None = None,
) -> Assessment:
    """Return loads, strength, utilisation and chance of failure of a whole tree.

    Parameters
    ----------
    skeleton
        The tree as it stands.
    site
        Wind, terrain and the years the tree has stood as it is.
    only
        Keys of the load cases to take, such as ``["own-weight"]``; None takes all. What such a
        case always holds (the ordinary crop in a heavy one) is reckoned too, but not shown.
    green_density_kg_m3
        Density of green wood; None takes that of the species.
    belief
        What is known of each segment already, in place of what its loads and years would teach:
        a tree grown on from one that was assessed has proven what that one had.

    Raises
    ------
    InputError
        The species or a load case is not known.
    """
    kind = species(skeleton.species)
    held = loads(skeleton, site, only=only, green_density_kg_m3=green_density_kg_m3)
    at = sections(skeleton)
    tough = strength(skeleton, kind)
    kept = np.ones(skeleton.n, dtype=np.bool_)
    found = resultants(skeleton, held)
    missing = [] if only is None else constant_cases(only)
    whole, whole_found = held, found
    if missing:
        whole = loads(
            skeleton, site, only=[*(only or ()), *missing], green_density_kg_m3=green_density_kg_m3
        )
        whole_found = resultants(skeleton, whole)
    opens = opening(at, tough)
    effects = _effects(held, whole, whole_found, at, tough, opens)
    u, yearly, splits = effects.utilisation, effects.yearly, effects.splits
    # what is unknown of the strength is that of the mode the section fails in
    tough = replace(
        tough,
        low=np.where(splits, tough.split_low, tough.low),
        high=np.where(splits, tough.split_high, tough.high),
        cov=np.where(splits, tough.split_cov, tough.cov),
    )
    if belief is None:
        belief = _taught(skeleton, site, held, tough, effects)
    worst = _worst(held, yearly, belief.zeta)
    blank = np.zeros(skeleton.n)
    bending, shear = _strengths(held, tough)
    bare = Assessment(
        skeleton=skeleton,
        site=site,
        loads=held,
        whole_loads=whole,
        resultants=found,
        sections=at,
        strength=tough,
        bending_strength_mpa=bending,
        shear_strength_mpa=shear,
        opening=opens,
        utilisation=u,
        splits=splits,
        yearly=yearly,
        belief=belief,
        chance_handbook=blank,
        chance=blank,
        worst=worst,
        kept=kept,
        limbs=(),
    )
    return _with_chances(bare, kind)


def _taught(
    skeleton: Skeleton, site: Site, held: Loads, tough: Strength, effects: _Effects
) -> Belief:
    """Return what is known of each segment from its loads and the years it has stood."""
    mu, zeta = _unknown(skeleton, held, tough, effects)
    worst = _worst(held, effects.yearly, zeta)
    years = years_counted(site.years_stood, skeleton.state)
    return Belief(
        mu=mu,
        zeta=zeta,
        mean=learn(stand_a_year(worst, mu, zeta), years),
        low=learn(stand_a_year(weaker(worst, tough.low), mu, zeta), years),
        high=learn(stand_a_year(weaker(worst, tough.high), mu, zeta), years),
    )


def reassess(assessment: Assessment, kept: Bools) -> Assessment:
    """Return the same tree without the segments cut away.

    Strength and what the years taught stay as they were. ``kept`` is ``(n,)``; everything beyond
    a segment that is cut goes with it. Segments cut away have utilisation and chance 0.
    """
    skeleton = assessment.skeleton
    standing = _standing(skeleton, np.asarray(kept, dtype=np.bool_))
    held, whole = assessment.loads, assessment.whole_loads
    found = resultants(skeleton, held, standing)
    whole_found = found if whole is held else resultants(skeleton, whole, standing)
    effects = _effects(
        held,
        whole,
        whole_found,
        assessment.sections,
        assessment.strength,
        assessment.opening,
    )
    yearly = effects.yearly
    u = np.where(standing, effects.utilisation, 0.0)
    worst = _worst(held, yearly, assessment.belief.zeta)
    after = replace(
        assessment,
        resultants=found,
        utilisation=u,
        splits=effects.splits & standing,
        yearly=yearly,
        worst=worst,
        kept=standing,
    )
    return _with_chances(after, species(skeleton.species))


def _standing(skeleton: Skeleton, kept: Bools) -> Bools:
    """Return which segments still stand: those with no cut between them and the ground."""
    change = np.zeros(skeleton.n + 1, dtype=np.int64)
    cut = np.flatnonzero(~kept)
    change[cut] += 1
    np.subtract.at(change, skeleton.subtree_end[cut], 1)
    return np.asarray(np.cumsum(change[:-1]) == 0)


@dataclass(frozen=True, slots=True)
class _Effects:
    """What the loads do: utilisation at the level of each case, and the lognormal of each year's.

    ``constant`` ``(C, n)`` is the utilisation by what is always there of each case's load;
    ``splits`` ``(n,)`` True where the greatest utilisation is that by splitting.
    """

    utilisation: Floats
    yearly: YearlyLoad
    constant: Floats
    splits: Bools


def opening(at: Sections, tough: Strength) -> Floats:
    """Return how a moment opens the curve of each limb until it splits, ``(n, 3)``.

    ``opening . M`` is the bending moment that would break the section as soon as M splits it. Both
    strengths last alike, so it holds for every case. The moment that opens a curve is at most the
    whole bending moment: where the vector is no longer than 1 the section breaks first under
    whatever load, and it is 0 here; that is so for nearly all.
    """
    scale = at.modulus_m3 * tough.bending_mpa / tough.split_mpa
    vector = at.split_per_m3 * scale[:, None]
    sharp = np.linalg.norm(vector, axis=1) > 1.0
    return np.where(sharp[:, None], vector, 0.0)


def _strengths(held: Loads, tough: Strength) -> tuple[Floats, Floats]:
    """Return bending and shear strength under loads as long as each case's, ``(C, n)``."""
    duration = np.array([c.duration_factor for c in held.cases])[:, None]
    return duration * tough.bending_mpa, duration * tough.shear_mpa


def _effects(
    held: Loads, whole: Loads, found: Resultants, at: Sections, tough: Strength, opens: Floats
) -> _Effects:
    """Return what the cases ``held`` do to each section.

    ``whole`` holds those cases and the constant parts of them, ``found`` its resultants.
    """
    force, moment = found.force_n, found.moment_n_m
    bending, shear = _strengths(whole, tough)
    share = np.asarray(whole.median_share, dtype=np.float64)[:, None, None]
    has_base = (whole.base_case >= 0)[:, None, None]
    base = np.maximum(whole.base_case, 0)
    base_force = np.where(has_base, force[base], 0.0)
    base_moment = np.where(has_base, moment[base], 0.0)
    sharp = np.flatnonzero(opens.any(axis=1))
    per_n_m = opens[sharp] / (1e6 * bending[:, sharp] * at.modulus_m3[sharp])[..., None]

    def of(f: Floats, m: Floats) -> tuple[Floats, Floats]:
        parts = stress(f, m, at.axis, at.area_m2, at.modulus_m3, at.torsion_modulus_m3)
        u = utilisation(parts, bending, shear)
        breaks, apart = u[:, sharp], splitting(m[:, sharp], per_n_m)
        u[:, sharp] = np.maximum(breaks, apart)
        return u, apart - breaks

    level, over = of(force, moment)
    median, _ = of(
        base_force + share * (force - base_force), base_moment + share * (moment - base_moment)
    )
    constant = level[base] * (bending[base] / np.maximum(bending, 1e-12)) * has_base[..., 0]
    keys = [c.key for c in whole.cases]
    shown = np.array([keys.index(c.key) for c in held.cases])
    if whole is not held:
        level, median, constant, over = (v[shown] for v in (level, median, constant, over))
    splits = np.zeros(at.area_m2.size, dtype=np.bool_)
    worst = level[:, sharp].argmax(axis=0)
    splits[sharp] = over[worst, np.arange(sharp.size)] > 0.0
    return _Effects(level, yearly_load(median, level, held.quantile), constant, splits)


def _unknown(
    skeleton: Skeleton, held: Loads, tough: Strength, effects: _Effects
) -> tuple[Floats, Floats]:
    """Return mean and deviation of ln(true over computed reserve), ``(n,)``.

    What is unknown about the load counts for the share of the effect that is not constant, in the
    case that governs the section. Strengths are means, loads medians: hence the mean below 0.
    """
    table = parameters("reliability")
    u, yearly, constant = effects.utilisation, effects.yearly, effects.constant
    varying = np.clip(1.0 - constant / np.maximum(u, 1e-12), 0.0, 1.0)
    of_load = load_cov([c.hazard for c in held.cases])[:, None] * varying
    measured = skeleton.provenance.is_measured("diameter", skeleton.n)
    diameter = np.where(measured, table["diameter_measured"].value, table["diameter_derived"].value)
    of_section = (
        np.log1p(tough.cov**2)
        + np.log1p((table["diameter_power"].value * diameter) ** 2)
        + np.log1p(table["density"].value ** 2)
        + np.log1p(table["model"].value ** 2)
    )
    lasting = np.array([c.duration_factor < 1.0 for c in held.cases])[:, None]
    of_duration = lasting * table["duration"].value
    zeta = np.sqrt(of_section + np.log1p(of_load**2) + np.log1p(of_duration**2))
    reserve = -yearly.ln_median / np.sqrt(yearly.zeta**2 + zeta**2)
    governing = reserve.argmin(axis=0)
    return -0.5 * np.log1p(tough.cov**2), zeta[governing, np.arange(skeleton.n)]


def _worst(held: Loads, yearly: YearlyLoad, zeta: Floats) -> YearlyLoad:
    names, groups = hazard_groups([c.hazard for c in held.cases])
    return worst_of_hazards(yearly, groups, len(names), zeta)[0]


def _with_chances(bare: Assessment, kind: Species) -> Assessment:
    belief = bare.belief
    stands = stand_a_year(bare.worst, belief.mu, belief.zeta)
    full = replace(
        bare,
        chance_handbook=np.where(bare.kept, annual_chance(stands, PRIOR), 0.0),
        chance=np.where(bare.kept, annual_chance(stands, belief.mean), 0.0),
    )
    return replace(full, limbs=_limbs(full, kind))


def _limbs(whole: Assessment, kind: Species) -> tuple[LimbAssessment, ...]:
    skeleton, held = whole.skeleton, whole.loads
    kept = whole.kept
    dry = kind.basic_density_kg_m3.value / kind.green_density_kg_m3.value
    wood = skeleton.subtree_sum(np.where(kept, held.wood_kg, 0.0))
    leaf = skeleton.subtree_sum(np.where(kept, skeleton.leaf_area_m2, 0.0))
    fruit = skeleton.subtree_sum(np.where(kept, skeleton.fruit_kg, 0.0))
    hazards = np.array([c.hazard for c in held.cases])
    worst = np.asarray(
        [_worst_section(whole, k, one.first_segment) for k, one in enumerate(skeleton.limbs)],
        dtype=np.int64,
    )
    low, high = whole.chance_range(worst)
    found = []
    for index, limb in enumerate(skeleton.limbs):
        first, at = limb.first_segment, int(worst[index])
        u = whole.utilisation[:, at]
        found.append(
            LimbAssessment(
                limb=index,
                label=limb.label,
                section=at,
                case=int(u.argmax()),
                utilisation=float(u.max()),
                utilisation_by_hazard={
                    str(name): float(u[hazards == name].max()) for name in dict.fromkeys(hazards)
                },
                chance_handbook=float(whole.chance_handbook[at]),
                chance=float(whole.chance[at]),
                chance_low=float(low[index]),
                chance_high=float(high[index]),
                wood_green_kg=float(wood[first]),
                wood_dry_kg=float(wood[first] * dry),
                leaf_area_m2=float(leaf[first]),
                fruit_kg=float(fruit[first]),
                union_ratio=float(whole.strength.union_ratio[first]),
                union_factor=float(whole.strength.union_factor[first]),
                splits=bool(whole.splits[at]),
            )
        )
    return tuple(found)


def _worst_section(whole: Assessment, index: int, first: int) -> int:
    """Return the limb's section most likely to fail, among those seen and thick enough."""
    skeleton = whole.skeleton
    own: Ints = np.flatnonzero((skeleton.limb == index) & whole.kept)
    if own.size == 0:
        return first
    table = parameters("reliability")
    least = max(
        table["least_diameter_mm"].value,
        table["least_base_share"].value * skeleton.start_diameter_mm[first],
    )
    counts = skeleton.surveyed[own] & (skeleton.start_diameter_mm[own] >= least)
    own = own[counts] if counts.any() else own[:1]
    chance = whole.chance[own]
    level = whole.utilisation[:, own].max(axis=0)
    return int(own[np.lexsort((level, chance))[-1]])

"""A whole tree assessed: textbook beams, learning, cuts taken off, straight pieces, JSON."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import jsonschema
import numpy as np
import pytest
from tests.trees import random_skeleton

from limbwright.errors import InputError
from limbwright.model.site import Site
from limbwright.model.skeleton import Limb, Skeleton, State
from limbwright.statics.assess import (
    Assessment,
    assess,
    assessment_schema,
    assessments_to_dict,
    hazard_lines,
    reassess,
)
from limbwright.statics.hazard import case_chance
from limbwright.statics.reliability import PRIOR, YearlyLoad, annual_chance, stand_a_year


def orchard_tree(number: int = 160, seed: int = 0) -> Skeleton:
    """A stem with five limbs that fork at random, leaf and fruit on the thin wood."""
    draw = np.random.default_rng(seed)
    parent, limb = [-1, 0], [0, 0]
    start, end = [np.zeros(3), np.array([0, 0, 1.0])], [np.array([0, 0, 1.0]), np.array([0, 0, 2])]
    thick, thin = [320.0, 300.0], [300.0, 280.0]
    limbs = [Limb("stem", -1, 0, 0.0, 320.0, 2.0, 0.0, 90.0)]
    tips: list[tuple[int, np.ndarray, np.ndarray, float, int, bool]] = []
    for k in range(5):
        a, r = 2 * np.pi * k / 5, np.deg2rad(35)
        way = np.array([np.sin(a) * np.cos(r), np.cos(a) * np.cos(r), np.sin(r)])
        tips.append((1, end[1], way, 150.0 - 10 * k, 0, True))
    while tips and len(parent) < number:
        p, at, way, d, of, new = tips.pop(0)
        if new:
            limbs.append(Limb(f"L{len(limbs)}", of, len(parent), 0.0, d, 3.0, 0.0, 30.0))
            of = len(limbs) - 1
        here = len(parent)
        parent.append(p)
        limb.append(of)
        start.append(at)
        end.append(at + 0.4 * way)
        thick.append(d)
        thin.append(0.92 * d)
        if d > 15.0:
            turn = way + draw.normal(0, 0.15, 3)
            tips.append((here, end[-1], turn / np.linalg.norm(turn), 0.91 * d, of, False))
            if draw.random() < 0.5:
                turn = way + draw.normal(0, 0.6, 3)
                share = draw.uniform(0.3, 0.8)
                tips.append((here, end[-1], turn / np.linalg.norm(turn), share * d, of, True))
    leaf = np.where(np.array(thick) < 40, 0.5, 0.05)
    return Skeleton.build(
        tree="Kiln Piece/7",
        species="apple",
        parent=parent,
        start_m=np.array(start),
        end_m=np.array(end),
        start_diameter_mm=np.array(thick),
        end_diameter_mm=np.array(thin),
        limb=limb,
        limbs=limbs,
        leaf_area_m2=leaf,
        fruit_kg=0.3 * leaf,
        fine_wood_kg=0.1 * leaf,
        segment_ids=np.arange(100, 100 + len(parent)),
    )


@cache
def assessed() -> Assessment:
    return assess(orchard_tree())


def cylinder(length_m: float = 3.0, diameter_mm: float = 100.0) -> Skeleton:
    return Skeleton.build(
        tree="W1",
        species="apple",
        parent=[-1],
        start_m=np.zeros((1, 3)),
        end_m=np.array([[length_m, 0.0, 0.0]]),
        start_diameter_mm=np.array([diameter_mm]),
        end_diameter_mm=np.array([diameter_mm]),
        limb=[0],
        limbs=[Limb("stem", -1, 0, 0, diameter_mm, length_m, 90, 0)],
    )


def test_a_level_cylinder_is_stressed_as_the_textbook_says() -> None:
    # W1: sigma = 4 rho g L^2 / d = 3.5316 MPa, M = 346.714 N m (statics of a cantilever).
    found = assess(cylinder(), only=["own-weight"], green_density_kg_m3=1000.0)
    (tree,) = assessments_to_dict([found])["trees"]
    (segment,) = tree["segments"]
    assert segment["bending_stress_mpa"] == pytest.approx(3.5316, rel=1e-3)
    assert np.linalg.norm(segment["moment_n_m"]) == pytest.approx(346.714, rel=1e-3)
    assert segment["mass_kg"] == pytest.approx(np.pi * 0.05**2 * 3.0 * 1000.0)
    assert segment["case"] == "own-weight"


def test_utilisation_grows_with_length_and_falls_with_thickness() -> None:
    def u(length: float, d: float) -> float:
        return float(assess(cylinder(length, d), only=["own-weight"]).utilisation[0, 0])

    assert u(4.0, 100.0) > u(3.0, 100.0) > u(3.0, 120.0)


def test_the_answer_is_written_as_its_schema_says() -> None:
    whole = assessments_to_dict([assessed(), assess(cylinder())])
    schema = assessment_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(whole, schema)
    tree = whole["trees"][0]
    assert tree["tree"] == "Kiln Piece/7"
    assert sorted(s["segment"] for s in tree["segments"]) == sorted(
        orchard_tree().segment_ids.tolist()
    )
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**whole, "schema": "other/1"}, schema)


def test_chances_are_chances_and_their_range_encloses_them() -> None:
    found = assessed()
    low, high = found.chance_range(np.arange(found.skeleton.n))
    for value in (found.chance_handbook, found.chance, low, high):
        assert ((value >= 0.0) & (value <= 1.0)).all()
    assert (low <= found.chance).all()
    assert (found.chance <= high).all()
    for limb in found.limbs:
        assert (limb.chance_low, limb.chance_high) == (low[limb.section], high[limb.section])
    assert (found.chance <= found.chance_handbook + 1e-12).all()  # it has stood


def test_the_longer_it_has_stood_the_less_likely_it_fails() -> None:
    tree = orchard_tree(60)
    young, old = assess(tree, Site(years_stood=1.0)), assess(tree, Site(years_stood=30.0))
    np.testing.assert_allclose(young.chance_handbook, old.chance_handbook)
    assert (old.chance <= young.chance + 1e-12).all()


def test_dead_limbs_are_likelier_to_fail() -> None:
    tree = orchard_tree(60)
    limb = 2
    state = np.where(tree.limb == limb, int(State.DEAD), int(State.LIVE))
    dead = assess(replace(tree, state=state)).limbs[limb]
    assert dead.chance > assess(tree).limbs[limb].chance


def test_a_stronger_species_has_less_chance_of_failure_in_the_handbook() -> None:
    tree = orchard_tree(60)
    apple, pear = assess(tree), assess(replace(tree, species="pear"))
    loaded = apple.chance_handbook > 1e-6
    assert loaded.any()
    # pear wood is 60 MPa against 54, its density the same
    assert (pear.chance_handbook[loaded] < apple.chance_handbook[loaded]).all()
    with pytest.raises(InputError, match="oak"):
        assess(replace(tree, species="oak"))


def test_a_limb_answers_for_its_worst_seen_section() -> None:
    found = assessed()
    for one in found.limbs:
        thick = found.skeleton.start_diameter_mm
        base = thick[found.skeleton.limbs[one.limb].first_segment]
        own = np.flatnonzero((found.skeleton.limb == one.limb) & (thick >= max(30.0, 0.33 * base)))
        if own.size:
            assert one.section in own
            assert one.chance == pytest.approx(found.chance[own].max())
        assert one.utilisation == pytest.approx(max(one.utilisation_by_hazard.values()))
    stem = found.limbs[0]
    assert stem.wood_green_kg == pytest.approx(found.loads.wood_kg.sum())
    assert stem.leaf_area_m2 == pytest.approx(found.skeleton.leaf_area_m2.sum())
    assert 0.0 < stem.wood_dry_kg < stem.wood_green_kg


def test_a_limb_answers_for_the_section_likeliest_to_fail_not_the_hardest_worked() -> None:
    """Of wood at least 30 mm and a third of the limb's base: docs/method/chance.md."""
    apart = 0
    for seed in range(12):
        tree = random_skeleton(seed, 40, faults=True)
        found = assess(tree, Site(years_stood=1.0))
        for one in found.limbs:
            own = np.flatnonzero(tree.limb == one.limb)
            thick = tree.start_diameter_mm[own]
            own = own[thick >= max(30.0, 0.33 * thick[0])]
            if own.size:
                assert one.chance == found.chance[own].max()
                hardest = own[found.utilisation[:, own].max(axis=0).argmax()]
                apart += found.chance[hardest] < 0.99 * one.chance
    assert apart > 0  # the two are not always the same


def test_taking_nothing_off_changes_nothing() -> None:
    found = assessed()
    again = reassess(found, np.ones(found.skeleton.n, dtype=bool))
    np.testing.assert_allclose(again.utilisation, found.utilisation, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(again.chance, found.chance, rtol=1e-6, atol=1e-12)


def test_a_cut_takes_off_all_beyond_it_and_relieves_what_carried_it() -> None:
    found = assessed()
    tree = found.skeleton
    at = int(tree.limbs[1].first_segment)
    kept = np.ones(tree.n, dtype=bool)
    kept[at] = False
    after = reassess(found, kept)
    gone = tree.in_subtree(at)
    assert (after.chance[gone] == 0.0).all()
    assert (after.utilisation[:, gone] == 0.0).all()
    assert not after.kept[gone].any()
    assert after.kept.sum() == tree.n - (gone.stop - gone.start)
    assert after.limbs[1].chance == after.limbs[1].wood_green_kg == 0.0
    assert after.limbs[0].wood_green_kg < found.limbs[0].wood_green_kg
    own = [c.key for c in found.loads.cases].index("gust-leaf-000.0")
    assert after.utilisation[own, 0] < found.utilisation[own, 0]
    (whole,) = assessments_to_dict([after])["trees"]
    assert len(whole["segments"]) == after.kept.sum()
    # the foot carries what stands, and no longer what was cut away
    standing = found.loads.wood_kg[after.kept].sum()
    assert whole["segments"][0]["mass_kg"] == pytest.approx(standing)
    jsonschema.validate(assessments_to_dict([after]), assessment_schema())


def test_reassessing_is_assessing_the_smaller_tree_with_the_same_strengths() -> None:
    found = assessed()
    tree = found.skeleton
    tip = int(np.flatnonzero(tree.subtree_end == np.arange(tree.n) + 1)[0])
    kept = np.ones(tree.n, dtype=bool)
    kept[tip] = False
    left = np.where(kept[None, :, None], found.loads.force_n, 0.0)
    beyond = tree.subtree_sum(np.moveaxis(left, 0, 1))
    after = reassess(found, kept)
    np.testing.assert_allclose(
        np.moveaxis(beyond, 1, 0)[:, kept], after.resultants.force_n[:, kept], atol=1e-6
    )


@pytest.mark.parametrize("pieces", [3, 5, 8])
def test_straight_pieces_follow_the_chance_of_failure(pieces: int) -> None:
    found = assessed()
    segments = np.arange(found.skeleton.n)
    slope, intercept = hazard_lines(found, segments, pieces)
    assert slope.shape == intercept.shape == (segments.size, len(found.loads.cases), pieces)
    assert (slope >= 0.0).all()
    assert (intercept <= 0.0).all()
    assert (np.diff(slope, axis=-1) >= -1e-9).all()  # convex
    np.testing.assert_allclose(intercept.max(axis=-1), 0.0, atol=1e-12)  # phi(0) = 0
    now = found.utilisation[:, segments].T
    present = np.maximum(case_chance(found, segments, now), 2e-4)
    allowed = {3: 0.25, 5: 0.07, 8: 0.03}[pieces]
    for share in (0.2, 0.4, 0.6, 0.75, 0.9, 1.0):
        line = (slope * (share * now)[..., None] + intercept).max(axis=-1)
        true = case_chance(found, segments, share * now)
        assert ((line - true) / present).max() < allowed
        likely = present > 0.2  # past the inflection the line may run below
        assert ((true - line) / present)[~likely].max() < 0.03


def test_straight_pieces_are_exact_where_the_tree_is_now() -> None:
    found = assessed()
    segments = np.flatnonzero(found.utilisation.max(axis=0) > 0.3)[:20]
    slope, intercept = hazard_lines(found, segments)
    now = found.utilisation[:, segments].T
    true = case_chance(found, segments, now)
    line = (slope * now[..., None] + intercept).max(axis=-1)
    known = true > 1e-3
    assert known.any()
    np.testing.assert_allclose(line[known], true[known], rtol=1e-6)


def test_a_load_that_grows_by_a_quarter_is_on_the_last_line() -> None:
    """The last line meets the true chance at 1.25 times the present utilisation, as told."""
    found = assessed()
    segments = np.flatnonzero(found.utilisation.max(axis=0) > 0.3)[:20]
    slope, intercept = hazard_lines(found, segments)
    now = found.utilisation[:, segments].T
    true = case_chance(found, segments, 1.25 * now)
    line = (slope * (1.25 * now)[..., None] + intercept).max(axis=-1)
    rising = (case_chance(found, segments, now) > 1e-3) & (true < 0.2)  # below the inflection
    assert rising.any()
    np.testing.assert_allclose(line[rising], true[rising], rtol=1e-6)


def test_one_case_alone_is_within_all_of_them() -> None:
    # The worst direction is chosen before learning; after it a neighbour may be a little worse.
    found = assessed()
    segments = np.arange(found.skeleton.n)
    alone = case_chance(found, segments, found.utilisation[:, segments].T)
    assert (alone.max(axis=1) <= 1.1 * found.chance + 1e-9).all()


def test_single_cases_can_be_asked_for() -> None:
    tree = orchard_tree(40)
    for key in ("own-weight", "heavy-crop", "gust-bare", "wet-snow"):
        found = assess(tree, only=[key])
        assert np.isfinite(found.chance).all()
        jsonschema.validate(assessments_to_dict([found]), assessment_schema())


@pytest.mark.parametrize("seed", range(6))
def test_any_mixture_of_faults_gives_chances(seed: int) -> None:
    draw = np.random.default_rng(seed)
    tree = orchard_tree(80, seed)
    thick = tree.start_diameter_mm
    faulty = replace(
        tree,
        state=draw.integers(0, 4, tree.n),
        union=np.where(tree.parent >= 0, draw.integers(0, 3, tree.n), 0),
        cavity_wall_mm=np.where(
            draw.random(tree.n) < 0.3, draw.uniform(0.1, 0.9, tree.n) * thick / 2, np.nan
        ),
        surveyed=draw.random(tree.n) < 0.5,
    )
    found = assess(faulty)
    low, high = found.chance_range(np.arange(faulty.n))
    for value in (found.chance_handbook, found.chance, low, high):
        assert np.isfinite(value).all()
        assert ((value >= 0.0) & (value <= 1.0)).all()
    assert (found.bending_strength_mpa > 0.0).all()
    jsonschema.validate(assessments_to_dict([found]), assessment_schema())


def handbook(found: Assessment, key: str) -> np.ndarray:
    """Chance a year under one case alone by published strengths, from its yearly load."""
    c = [case.key for case in found.loads.cases].index(key)
    of = YearlyLoad(found.yearly.ln_median[c : c + 1], found.yearly.zeta[c : c + 1])
    stands = stand_a_year(of, found.belief.mu, found.belief.zeta)
    return annual_chance(stands, PRIOR)


@pytest.mark.parametrize(
    "key", ["heavy-crop", "extreme-crop", "gust-leaf-090.0", "wet-snow", "ice"]
)
def test_a_case_alone_is_as_likely_as_among_all(key: str) -> None:
    """What a case always holds is reckoned though not asked for, and not shown."""
    whole, alone = assessed(), assess(orchard_tree(), only=[key])
    assert [c.key for c in alone.loads.cases] == [key]
    assert alone.utilisation.shape == (1, alone.skeleton.n)
    c = [case.key for case in whole.loads.cases].index(key)
    assert alone.utilisation[0] == pytest.approx(whole.utilisation[c])
    assert alone.yearly.ln_median[0] == pytest.approx(whole.yearly.ln_median[c])
    assert alone.yearly.zeta[0] == pytest.approx(whole.yearly.zeta[c])
    # where the same is unknown of the section, so is the chance
    same = np.isclose(alone.belief.zeta, whole.belief.zeta)
    assert handbook(alone, key)[same] == pytest.approx(handbook(whole, key)[same])
    assert alone.chance_handbook == pytest.approx(handbook(alone, key))
    (told,) = assessments_to_dict([alone])["trees"]
    assert [one["key"] for one in told["cases"]] == [key]


def test_the_case_that_governs_has_the_same_chance_alone() -> None:
    """Much fruit and hardly any wind: the greatest crop governs, whether named alone or not."""
    s = orchard_tree()
    calm = Site(wind_speed_m_s=2.0, wet_snow_kg_m2=0.0, ice_mm=0.0)
    whole = assess(replace(s, fruit_kg=np.asarray(30.0 * s.fruit_kg)), calm)
    alone = assess(whole.skeleton, calm, only=["extreme-crop"])
    same = np.isclose(alone.belief.zeta, whole.belief.zeta)
    assert same.mean() > 0.5
    assert alone.chance_handbook[same].max() > 1e-3
    assert alone.chance_handbook[same] == pytest.approx(handbook(whole, "extreme-crop")[same])
    # the lesser one alone is not known exactly as well, and still nearly as likely
    lesser = assess(whole.skeleton, calm, only=["heavy-crop"])
    assert lesser.chance_handbook == pytest.approx(handbook(whole, "heavy-crop"), abs=0.01)


def test_cuts_are_reckoned_alike_where_a_case_stands_alone() -> None:
    whole, alone = assessed(), assess(orchard_tree(), only=["heavy-crop"])
    kept = np.ones(whole.skeleton.n, dtype=np.bool_)
    kept[whole.skeleton.in_subtree(40)] = False
    c = [case.key for case in whole.loads.cases].index("heavy-crop")
    all_after, after = reassess(whole, kept), reassess(alone, kept)
    assert after.yearly.ln_median[0, kept] == pytest.approx(all_after.yearly.ln_median[c, kept])
    assert after.yearly.zeta[0, kept] == pytest.approx(all_after.yearly.zeta[c, kept])

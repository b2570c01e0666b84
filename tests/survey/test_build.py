"""The skeleton a survey of limbs grows into."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.model import LimbRecord, StationRecord, TreeSurvey
from limbwright.survey.build import build_skeleton
from limbwright.trade.parameters import parameters

KINDS = ["apple", "pear", "plum", "cherry", "tart-cherry", "medlar"]


def tree(*limbs: LimbRecord, kind: str = "apple") -> TreeSurvey:
    stem = LimbRecord("1", "stem", "", 300.0, 2.0)
    return TreeSurvey(StationRecord("1", orchard="Invented", species=kind), (stem, *limbs))


def limb(name: str = "A", parent: str = "stem", **more: object) -> LimbRecord:
    values = {"diameter_mm": 150.0, "length_m": 4.0, "at_m": 1.9, "bearing_deg": 90.0}
    return LimbRecord("1", name, parent, **{**values, "rise_deg": 40.0, **more})  # type: ignore[arg-type]


def maybe(low: float, high: float) -> st.SearchStrategy[float | None]:
    return st.none() | st.floats(low, high)


@st.composite
def surveys(draw: st.DrawFn) -> TreeSurvey:
    limbs = [LimbRecord("1", "0", "", draw(st.floats(60, 900)), draw(st.floats(0.3, 8)))]
    for i in range(1, draw(st.integers(1, 9))):
        above = limbs[draw(st.integers(0, i - 1))]
        place = draw(st.none() | st.floats(0.0, 1.0))
        limbs.append(
            LimbRecord(
                "1",
                str(i),
                above.limb,
                draw(st.floats(15, 500)),
                draw(st.floats(0.2, 9)),
                at_m=None if place is None else place * above.length_m,
                bearing_deg=draw(maybe(0, 359)),
                rise_deg=draw(maybe(-80, 90)),
                end_rise_deg=draw(maybe(-80, 90)),
                crown=draw(maybe(0, 3)),
                state=draw(st.sampled_from(["live", "dead", "diseased", "broken"])),
                union=draw(st.sampled_from(["sound", "included", "cracked"])),
            )
        )
    return TreeSurvey(StationRecord("1", species=draw(st.sampled_from(KINDS))), tuple(limbs))


@given(surveys())
@settings(max_examples=80, deadline=None)
def test_any_survey_gives_a_whole_tree(survey: TreeSurvey) -> None:
    skeleton, _ = build_skeleton(survey)
    again, _ = build_skeleton(survey)
    for name in ("start_m", "end_m", "end_diameter_mm", "leaf_area_m2", "fruit_kg", "fine_wood_kg"):
        values = getattr(skeleton, name)
        assert np.isfinite(values).all()
        np.testing.assert_array_equal(values, getattr(again, name))
    assert (skeleton.fine_wood_kg >= -1e-9).all()
    assert (skeleton.leaf_area_m2 >= 0.0).all()
    # every piece starts where its parent ends
    on = skeleton.parent >= 0
    np.testing.assert_allclose(skeleton.start_m[on], skeleton.end_m[skeleton.parent[on]], atol=1e-9)
    assert [one.label for one in skeleton.limbs] == [r.limb for r in survey.limbs]
    dead = np.array([r.state == "dead" for r in survey.limbs])[skeleton.limb]
    assert skeleton.leaf_area_m2[dead].sum() == skeleton.fruit_kg[dead].sum() == 0.0


def test_leaf_follows_the_sections_of_the_limbs() -> None:
    skeleton, _ = build_skeleton(tree(limb("A"), limb("B", diameter_mm=200.0, bearing_deg=270.0)))
    section_cm2 = np.pi / 4.0 * (15.0**2 + 20.0**2)
    leaf = parameters("allometry")["leaf_area_per_section"].value * section_cm2
    assert skeleton.leaf_area_m2.sum() == pytest.approx(leaf)
    assert 0.15 <= skeleton.leaf_area_m2.sum() / section_cm2 <= 0.25  # the pipe model's range


@pytest.mark.parametrize(("thin", "full"), [(0.0, 1.0), (1.0, 2.0), (2.0, 3.0)])
def test_a_fuller_crown_bears_more_leaf_and_wood(thin: float, full: float) -> None:
    less, more = (build_skeleton(tree(limb(crown=c, diameter_mm=220.0)))[0] for c in (thin, full))
    assert less.leaf_area_m2.sum() < more.leaf_area_m2.sum()
    assert less.fine_wood_kg.sum() < more.fine_wood_kg.sum()


def test_a_broken_limb_bears_less_than_a_whole_one() -> None:
    broken, whole = (
        build_skeleton(tree(limb(state=s, diameter_mm=220.0)))[0] for s in ("broken", "live")
    )
    assert broken.leaf_area_m2.sum() < whole.leaf_area_m2.sum()


def test_a_dead_limb_bears_no_twigs_and_no_laterals() -> None:
    """Twigs of dead limbs are the first to fall: docs/method/tree.md."""
    dead, whole = (build_skeleton(tree(limb(state=s)))[0] for s in ("dead", "live"))
    of_limb = [x.label for x in dead.limbs].index("A")
    assert dead.fine_wood_kg[dead.limb == of_limb].sum() == 0.0
    assert (~dead.surveyed).sum() < (~whole.surveyed).sum()


def test_another_seed_moves_only_what_nobody_taped() -> None:
    one, other = (build_skeleton(tree(limb()), seed=s)[0] for s in (0, 1))
    np.testing.assert_array_equal(one.end_m[one.surveyed], other.end_m[other.surveyed])
    assert not np.allclose(one.end_m[~one.surveyed], other.end_m[~other.surveyed])


def test_limbs_attached_a_hair_apart_still_make_a_tree() -> None:
    skeleton, _ = build_skeleton(tree(limb("A", at_m=1.5), limb("B", at_m=1.5 + 1e-10)))
    assert skeleton.length_m.min() > 1e-4


def wood_kg(survey: TreeSurvey) -> float:
    skeleton, _ = build_skeleton(survey)
    return float(skeleton.wood_volume_m3.sum() * 1050.0 + skeleton.fine_wood_kg.sum())


@pytest.mark.parametrize("said", ["0.5", "0,5"])
def test_a_limb_taped_further_out_carries_more_than_one_taped_at_the_collar(said: str) -> None:
    out = tree(limb(extra={"taken_at_m": said}))
    assert wood_kg(out) > wood_kg(tree(limb()))


@pytest.mark.parametrize("said", ["a hand", "-1", "9.5", "nan"])
def test_a_place_of_taping_that_makes_no_sense_is_told_and_read_as_the_collar(said: str) -> None:
    odd = tree(limb(extra={"taken_at_m": said}))
    _, faults = build_skeleton(odd)
    assert [(f.column, f.value, f.severity) for f in faults] == [("taken_at_m", said, "warning")]
    assert wood_kg(odd) == pytest.approx(wood_kg(tree(limb())))


def test_stout_limbs_on_a_thin_stem_are_not_credited_with_all_their_section() -> None:
    """Two limbs near as thick as their stem carry less side wood than on a stout one."""

    def side_kg(stem_mm: float) -> float:
        stem = LimbRecord("1", "stem", "", stem_mm, 2.0)
        limbs = (limb("A", diameter_mm=190.0), limb("B", diameter_mm=190.0, bearing_deg=270.0))
        skeleton, _ = build_skeleton(
            TreeSurvey(StationRecord("1", species="apple"), (stem, *limbs))
        )
        return float(skeleton.fine_wood_kg.sum())

    assert side_kg(200.0) < side_kg(300.0)

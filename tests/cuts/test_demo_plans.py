"""Every plan of the invented holding: limits kept, numbers true, sentences fit to be printed."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from importlib.resources import files

import jsonschema
import numpy as np
import pytest

from limbwright.cuts.order import piece_length_m
from limbwright.cuts.plan import Plan, plan, plans_to_dict
from limbwright.cuts.results import Cut, Wishes
from limbwright.cuts.weights import Settings
from limbwright.demo import make_holding
from limbwright.errors import PlanError
from limbwright.light.canopy import canopy
from limbwright.light.crown import crown_light, relight
from limbwright.light.sky import season_sky
from limbwright.model import Site
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Bools, State
from limbwright.statics.assess import Assessment, assess, reassess
from limbwright.survey.build import build_skeleton
from limbwright.trade.species import species

Planned = tuple[StationRecord, Assessment, Plan]
SEASON = "winter 2026/27"
PERCENT = 0.51  # a whole per cent as printed
LIGHT = re.compile(r"\((half a point|\d+ points?) of full sun more")


@pytest.fixture(scope="module")
def planned() -> list[Planned]:
    holding = make_holding(1)
    found = []
    for tree in holding.surveys():
        held = assess(build_skeleton(tree)[0], holding.site)
        found.append((tree.station, held, plan(held, tree.station, season=SEASON)))
    assert len(found) >= 20
    return found


@pytest.fixture(scope="module")
def cuts(planned: list[Planned]) -> list[tuple[Assessment, Plan, Cut]]:
    found = [(held, made, cut) for _, held, made in planned for cut in made.cuts]
    assert len(found) >= 60
    return found


def inside(held: Assessment, segment: int) -> Bools:
    mask = np.zeros(held.skeleton.n, dtype=np.bool_)
    mask[held.skeleton.in_subtree(segment)] = True
    return mask


def test_no_limit_is_broken(planned: list[Planned]) -> None:
    for station, held, made in planned:
        s = held.skeleton
        live = np.where(s.state == State.DEAD, 0.0, s.leaf_area_m2)
        dose = float(live[made.gone].sum() / live.sum())
        assert made.dose == pytest.approx(dose, abs=1e-9)
        assert dose <= made.dose_limit + 1e-9
        assert made.dose_limit <= 1 / 3 + 1e-9
        assert dose + sum(c.dose for c in made.lesser) <= made.dose_limit + 1e-9
        stem_cm2 = np.pi * (s.start_diameter_mm[0] / 20) ** 2
        wound = sum(
            np.pi * (s.start_diameter_mm[c.segment] / 20) ** 2
            for c in made.cuts
            if s.state[c.segment] != State.DEAD
        )
        assert made.wound_share == pytest.approx(wound / stem_cm2)
        assert made.wound_share <= 1 / 3 + 1e-9
        assert not (made.gone & (s.keep > 0)).any(), station.station
        ceiling = max(
            species(s.species).largest_cut_mm.high, species(s.species).largest_cut_mm.value
        )
        assert all(c.diameter_mm <= ceiling or c.wound_area_cm2 == 0.0 for c in made.cuts)


def test_the_balance_is_no_worse_than_before_or_level(planned: list[Planned]) -> None:
    for _, held, made in planned:
        s, wood = held.skeleton, held.loads.wood_kg
        middle = 0.5 * (s.start_m + s.end_m)[:, :2]
        before = float(np.linalg.norm((wood[:, None] * middle).sum(axis=0)))
        stays = np.where(made.gone, 0.0, wood)
        after = float(np.linalg.norm((stays[:, None] * middle).sum(axis=0)))
        radius = float(np.quantile(np.linalg.norm(middle, axis=1), 0.9))
        level = Settings()["balance_share"] * radius * float(wood.sum())
        assert after <= max(before, level) * (1 + 1e-5)


def test_the_cuts_and_nothing_else_bring_down_what_is_gone(planned: list[Planned]) -> None:
    for _, held, made in planned:
        gone = np.zeros(held.skeleton.n, dtype=np.bool_)
        for cut in made.cuts:
            piece = inside(held, cut.segment)
            assert not (gone & piece).any(), "a cut inside what another cut brings down"
            gone |= piece
        np.testing.assert_array_equal(gone, made.gone)


def test_the_work_goes_from_the_top_down(planned: list[Planned]) -> None:
    for _, held, made in planned:
        s = held.skeleton
        hangs = [
            0.5 * (s.start_m[c.segment, 2] + s.end_m[s.in_subtree(c.segment), 2].max())
            for c in made.cuts
        ]
        assert hangs == sorted(hangs, reverse=True)
        assert [c.order for c in made.cuts] == list(range(1, len(hangs) + 1))


def test_each_row_agrees_with_the_tree(cuts: list[tuple[Assessment, Plan, Cut]]) -> None:
    for held, _, cut in cuts:
        s, piece = held.skeleton, inside(held, cut.segment)
        limb = next(x for x in s.limbs if x.label == cut.limb)
        live = np.where(s.state == State.DEAD, 0.0, s.leaf_area_m2)
        kg = float(held.loads.wood_kg[piece].sum())
        if species(s.species).group == "stone":
            kg += Settings()["leaf_fresh"] * float(live[piece].sum())
        assert cut.piece_kg == pytest.approx(kg)
        assert cut.point_m == pytest.approx(tuple(s.start_m[cut.segment]))
        assert cut.height_m == pytest.approx(s.start_m[cut.segment, 2])
        assert cut.diameter_mm == pytest.approx(s.start_diameter_mm[cut.segment])
        assert cut.dose == pytest.approx(live[piece].sum() / live.sum())
        assert cut.piece_length_m == pytest.approx(piece_length_m(s, cut.segment))
        assert bool(s.surveyed[cut.segment]), "a lateral nobody has seen is cut"
        assert s.in_subtree(limb.first_segment).start <= cut.segment
        if cut.cut == "remove" and cut.at_m == 0.0:
            assert cut.segment == limb.first_segment
        if cut.cut == "shorten":
            assert 0.0 < cut.at_m < limb.length_m
            assert cut.to_lateral
        assert 0.0 <= cut.bearing_deg <= 360.0


def test_a_shortening_ends_at_a_lateral_of_a_third(
    cuts: list[tuple[Assessment, Plan, Cut]],
) -> None:
    told = 0
    for held, made, cut in cuts:
        if cut.cut != "shorten" or "sound live wood" in cut.to_lateral:
            continue
        told += 1
        size = re.search(r"(\d+) mm", cut.to_lateral)
        assert size, cut.to_lateral
        assert float(size.group(1)) >= cut.diameter_mm / 3 - 0.51
        heir = re.match(r"to limb (\S+),", cut.to_lateral)
        if heir:
            s = held.skeleton
            first = next(x for x in s.limbs if x.label == heir.group(1)).first_segment
            assert s.state[first] == State.LIVE
            assert not made.gone[first]
    assert told


def section_use(held: Assessment, told: Assessment, cut: Cut, limb: str, case: int) -> list[float]:
    """Utilisations of one limb's sections in per cent; inside the piece only or outside it only."""
    s = held.skeleton
    k = next(i for i, x in enumerate(s.limbs) if ("stem" if x.parent < 0 else x.label) == limb)
    return [100 * float(u) for u in told.utilisation[case, s.limb == k]]


def near(values: list[float], printed: str) -> list[int]:
    return [i for i, u in enumerate(values) if abs(u - float(printed)) <= PERCENT]


def test_every_percentage_of_load_is_that_of_the_tree_with_or_without_the_cut(
    cuts: list[tuple[Assessment, Plan, Cut]],
) -> None:
    """One and the same section has both printed figures when the whole tree is reckoned anew."""
    moves = re.compile(
        r"(?:takes|eases) (?:limb (\S+?)|the stem),? from (\d+) % to (\d+) % of what it can bear "
        r"(.+?)(?:, and |, opens|, lets|, holds|, rubs|, seems|\.$)"
    )
    uses = re.compile(
        r"(?<!load )uses (\d+) % of what its \w+(?: place)? can bear (.+?) \((\d+) % with"
    )
    own = re.compile(
        r"its own load uses (\d+) % of what its \w+(?: place)? can bear "
        r"(.+?)(?:, and |, it |, lets|, opens|\.$)"
    )
    counted = 0
    for held, made, cut in cuts:
        undone = made.gone & ~inside(held, cut.segment)
        without = reassess(held, ~undone)
        with_cut = reassess(held, ~made.gone)
        cases = {c.label: i for i, c in enumerate(held.loads.cases)}
        if found := moves.search(cut.reason):
            limb, before, after, when = found.groups()
            limb = limb or "stem"
        elif found := uses.search(cut.reason):
            limb, (before, when, after) = cut.limb, found.groups()
        elif found := own.search(cut.reason):
            before, when = found.groups()
            piece = inside(held, cut.segment)
            use = 100 * without.utilisation[cases[when], piece]
            assert near([float(u) for u in use], before), cut.reason
            counted += 1
            continue
        else:
            assert "of what" not in cut.reason, cut.reason
            continue
        counted += 1
        old = section_use(held, without, cut, limb, cases[when])
        new = section_use(held, with_cut, cut, limb, cases[when])
        assert set(near(old, before)) & set(near(new, after)), cut.reason
        assert float(after) <= float(before)
    assert counted >= 20


def test_every_point_of_light_is_that_of_a_finer_crown(planned: list[Planned]) -> None:
    """Light on the leaf that stays, with the plan and with all of it but one cut, reckoned on a
    grid twice as fine with three times the directions: to a point of full sun."""
    counted = 0
    for _, held, made in planned:
        said = [(c, LIGHT.search(c.reason)) for c in made.cuts]
        if not any(found for _, found in said):
            continue
        s = held.skeleton
        live = np.where(s.state == State.DEAD, 0.0, s.leaf_area_m2)
        light = crown_light(canopy(replace(s, leaf_area_m2=live)), season_sky(Site().latitude))
        stays = light.canopy.without(~made.gone).leaf_in_cells()

        def mean(gone: Bools) -> float:
            return float((relight(light, ~gone).field * stays).sum() / stays.sum())  # noqa: B023

        for cut, found in said:
            if found:
                points = 0.5 if found[1].startswith("half") else float(found[1].split()[0])
                more = 100 * (mean(made.gone) - mean(made.gone & ~inside(held, cut.segment)))
                assert points == pytest.approx(more, abs=1.0), cut.reason
                counted += 1
    assert counted >= 20


def test_each_reason_is_one_sentence_in_plain_words(
    cuts: list[tuple[Assessment, Plan, Cut]],
) -> None:
    for _, _, cut in cuts:
        for sentence in (cut.reason, cut.effect):
            assert sentence.endswith(".")
            assert not re.search(r"[.!?]\s+[A-Z]", sentence), sentence
            assert "  " not in sentence
            assert " it it " not in sentence
            assert "safe" not in sentence.lower()
        assert cut.reason[0].isupper()
        assert cut.effect.startswith("Left undone, ")
        assert "0 % of the crown's" not in re.sub(r"\d0 %", "", cut.reason)
        assert "goes with the rest" not in cut.reason


def test_nothing_that_is_printed_calls_a_tree_safe(planned: list[Planned]) -> None:
    for _, _, made in planned:
        assert "safe" not in json.dumps(made.to_dict()).lower()


def test_a_cut_gains_more_than_noise(cuts: list[tuple[Assessment, Plan, Cut]]) -> None:
    """No cut whose only reason is that a limb at little load comes down by a point or two."""
    for _, _, cut in cuts:
        only = re.search(r": it eases limb \S+ from (\d+) % to (\d+) % [^,]*\.$", cut.reason)
        if only:
            assert int(only.group(1)) - int(only.group(2)) >= 3, cut.reason


def test_the_chance_of_failure_never_rises(planned: list[Planned]) -> None:
    for _, _, made in planned:
        assert made.chance_after <= made.chance_before + 1e-12
        if made.cuts:
            assert made.within <= 0.0101


def test_an_uncut_tree_is_told_so(planned: list[Planned]) -> None:
    for _, _, made in planned:
        if not made.cuts:
            assert made.summary.startswith(("Leave", "No live crown"))
            assert made.chance_after == made.chance_before


def test_plans_meet_the_published_schema(planned: list[Planned]) -> None:
    schema = json.loads(files("limbwright.cuts").joinpath("plan.schema.json").read_text("utf-8"))
    written = json.loads(json.dumps(plans_to_dict(p for _, _, p in planned), allow_nan=False))
    jsonschema.Draft202012Validator(schema).validate(written)
    assert len(written["trees"]) == len(planned)


def test_the_same_tree_gets_the_same_plan(planned: list[Planned]) -> None:
    for station, held, made in planned[:4]:
        again = plan(held, station, season=SEASON)
        assert json.dumps(again.to_dict()) == json.dumps(made.to_dict())


def test_wishes_are_kept(planned: list[Planned]) -> None:
    station, held, made = max(planned, key=lambda x: len(x[2].cuts))
    s = held.skeleton
    names = [c.limb for c in made.cuts]
    whole = next(k for k, x in enumerate(s.limbs) if x.label == names[0])
    other = plan(held, station, Wishes(protect=frozenset({names[0]})), season=SEASON)
    assert not other.gone[s.limb == whole].any()
    assert (names[0], "you asked for it to be left whole") in other.keep
    other = plan(held, station, Wishes(forbid=frozenset(names)), season=SEASON)
    assert not {c.limb for c in other.cuts} & set(names)
    other = plan(held, station, Wishes(dose=0.03), season=SEASON)
    assert other.dose <= 0.03 + 1e-9
    assert other.objective_h >= made.bound_h - 1e-6
    small = min(
        (x for x in s.limbs if x.parent >= 0 and not x.keep and x.label not in names),
        key=lambda x: float(s.leaf_area_m2[s.in_subtree(x.first_segment)].sum()),
    )
    other = plan(held, station, Wishes(force=frozenset({small.label})), season=SEASON)
    assert other.gone[small.first_segment]


def test_wishes_that_cannot_be_met_name_the_limit(planned: list[Planned]) -> None:
    station, held, _ = planned[0]
    s = held.skeleton
    scaffolds = frozenset(x.label for x in s.limbs if x.parent == 0 and not x.keep)
    wood = frozenset(x for x in scaffolds if not (s.keep[_whole(held, x)] > 0).any())
    with pytest.raises(PlanError, match=r"dose|wound") as fault:
        plan(held, station, Wishes(force=wood), season=SEASON)
    assert s.tree in str(fault.value)


def _whole(held: Assessment, label: str) -> slice:
    s = held.skeleton
    return s.in_subtree(next(x for x in s.limbs if x.label == label).first_segment)


def test_cautions_follow_species_and_record(planned: list[Planned]) -> None:
    for station, held, made in planned:
        said = " ".join(made.cautions)
        group = species(held.skeleton.species).group
        assert ("poisonous" in said) == (group == "stone")
        assert ("sheep and cattle" in said) == (group == "pome")
        assert ("chainsaw is for people trained" in said) == any(
            "chainsaw" in c.tool for c in (*made.cuts, *made.lesser)
        )
        if group == "stone":  # cut in summer, when birds nest
            assert "Birds may be nesting" in said
        if "cavity" in f"{station.features} {station.note}".lower():
            assert "bats" in said


def test_a_limit_said_to_stand_against_a_cut_is_one_that_binds(planned: list[Planned]) -> None:
    """What is left for the dose is left for the dose: the plan names it as binding too."""
    told = 0
    for _, _, made in planned:
        for left in made.left:
            if left.why.startswith("the dose of"):
                told += 1
                assert any(words.startswith("the dose") for words in made.binding), left
    assert told >= 1

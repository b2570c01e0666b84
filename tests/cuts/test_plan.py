"""A plan keeps its limits, says why, and is the best there is."""

from __future__ import annotations

import json
from importlib.resources import files
from itertools import product

import jsonschema
import numpy as np
import pytest
from tests.cuts.old_tree import Drawn, draw, old_apple
from tests.trees import random_skeleton

from limbwright.cuts.evaluate import evaluate
from limbwright.cuts.plan import plan, plans_to_dict
from limbwright.cuts.question import ask
from limbwright.cuts.results import Plan, Wishes
from limbwright.cuts.weights import Settings
from limbwright.errors import PlanError
from limbwright.model.records import StationRecord
from limbwright.model.site import Site
from limbwright.model.skeleton import State
from limbwright.statics.assess import assess, reassess


def made(wishes: Wishes | None = None, station: StationRecord | None = None, **change) -> Plan:  # type: ignore[no-untyped-def]
    return plan(assess(draw(old_apple(**change))), station, wishes, season="winter 2026/27")


def test_an_ordinary_old_apple_gets_a_few_cuts_within_its_dose() -> None:
    found = made()
    assert 3 <= len(found.cuts) <= 8
    assert 0.10 <= found.dose <= 0.25
    assert found.within <= 0.011
    assert found.chance_after < found.chance_before


def test_dose_and_wounds_are_those_of_the_segments_gone() -> None:
    tree = draw(old_apple())
    found = plan(assess(tree))
    live = tree.leaf_area_m2 * (tree.state != State.DEAD)
    assert found.dose == pytest.approx(live[found.gone].sum() / live.sum())
    assert found.dose == pytest.approx(sum(c.dose for c in found.cuts))
    stem = np.pi * (tree.start_diameter_mm[0] / 20) ** 2
    area = sum(
        np.pi * (tree.start_diameter_mm[c.segment] / 20) ** 2
        for c in found.cuts
        if tree.state[c.segment] != State.DEAD
    )
    assert found.wound_share == pytest.approx(area / stem)
    cut = {i for c in found.cuts for i in range(tree.n)[tree.in_subtree(c.segment)]}
    assert cut == set(np.flatnonzero(found.gone).tolist())


def test_what_is_to_stay_stays_and_what_is_to_go_goes() -> None:
    found = made(Wishes(protect=frozenset({"8"}), force=frozenset({"9"}), forbid=frozenset({"6"})))
    tree = draw(old_apple())
    label = {x.label: k for k, x in enumerate(tree.limbs)}
    assert not found.gone[tree.limb == label["8"]].any()
    assert found.gone[tree.limb == label["9"]].all()
    assert "6" not in {c.limb for c in found.cuts}
    assert ("8", "you asked for it to be left whole") in found.keep


def test_wishes_that_collide_with_a_limit_name_it() -> None:
    with pytest.raises(PlanError, match="dose"):
        made(Wishes(force=frozenset({"1", "2"}), dose=0.1))


def test_at_most_so_many_cuts() -> None:
    assert len(made(Wishes(max_cuts=2)).cuts) == 2


def test_a_tree_that_needs_nothing_is_left() -> None:
    limbs = [
        Drawn("stem", "", 0.0, 300, 2.0, 0, 90),
        *(Drawn(str(k), "stem", 1.0, 110, 2.0, 120.0 * k, 45) for k in range(3)),
    ]
    found = plan(assess(draw(limbs, leaf_m2=3.0)))
    assert found.cuts == ()
    assert found.dose == 0.0
    assert "Leave it this year" in found.summary
    assert "gain more than" in found.certificate


def test_a_dead_tree_gets_a_plan_without_dose() -> None:
    limbs = [
        Drawn("stem", "", 0.0, 300, 2.0, 0, 90, state=State.DEAD),
        Drawn("1", "stem", 1.0, 150, 3.0, 0, 45, state=State.DEAD),
    ]
    found = plan(assess(draw(limbs)))
    assert found.dose == 0.0
    assert "habitat" in found.summary


def test_the_plan_is_the_best_of_all_there_are() -> None:
    """Every set of cuts of a small tree, priced one by one under all load cases, light left out:
    `test_lighting` does the same with it."""
    limbs = [x for x in old_apple() if x.label in ("stem", "1", "2", "3", "5", "7", "10", "12")]
    held, settings = assess(draw(limbs, steps=3)), Settings({"light": 0.0})
    p = ask(held, settings=settings).built.problem
    assert 6 <= p.parent.size - 1 <= 14
    best = np.inf
    for bits in product((False, True), repeat=p.parent.size - 1):
        gone = np.array([False, *bits])
        if bool((gone[np.maximum(p.parent, 0)] & ~gone)[1:].any()):
            continue  # a node cannot stand on one that is gone
        priced = evaluate(p, gone)
        if not priced.violated:
            best = min(best, priced.objective_h)
    found = plan(held, settings=settings)
    nothing = evaluate(p, np.zeros(p.parent.size, dtype=np.bool_)).objective_h
    assert found.bound_h <= best + 1e-6
    assert best - 1e-6 <= found.objective_h <= best + 0.0101 * (nothing - best) + 1e-6


def test_the_problem_reckons_the_same_utilisation_as_the_whole_tree() -> None:
    for seed in range(5):
        question = ask(assess(random_skeleton(seed, 60, faults=True)))
        held, built = question.assessment, question.built
        rng = np.random.default_rng(seed)
        gone = np.zeros(built.base.size, dtype=np.bool_)
        for i in range(1, gone.size):
            gone[i] = gone[built.problem.parent[i]] or rng.random() < 0.2
        after = reassess(held, ~built.gone_segments(gone))
        stands = ~gone[built.problem.section_node]
        told = evaluate(built.problem, gone).utilisation[:, stands]
        whole = after.utilisation[np.ix_(built.case_index, built.section_segment[stands])]
        np.testing.assert_allclose(told, whole, rtol=1e-7, atol=1e-9)


def test_what_is_left_says_why() -> None:
    found = made(Wishes(dose=0.05))
    assert found.left
    assert all(x.why for x in found.left)
    assert any("dose" in b for b in found.binding)
    assert {x.limb for x in found.left}.isdisjoint(
        {c.limb for c in found.cuts if c.cut == "remove"}
    )


def test_a_cut_not_worth_its_work_is_not_told_as_one_a_limit_stands_against() -> None:
    """A limit speaks only where the cut would be made without it."""
    tree, dear = assess(draw(old_apple())), Settings({"work_setup": 1.0})
    free = plan(tree, settings=dear)
    poor = {x.limb for x in free.left if "more than it gains" in x.why}
    assert len(poor) >= 2
    held = plan(tree, wishes=Wishes(max_cuts=len(free.cuts)), settings=dear)
    assert [c.limb for c in held.cuts] == [c.limb for c in free.cuts]
    why = {x.limb: x.why for x in held.left}
    assert all("more than it gains" in why[limb] for limb in poor)


def test_watershoots_are_thinned_with_what_the_cuts_leave_of_the_dose() -> None:
    found = made(L2={"note": "many watershoots"}, L4={"note": "watershoots"})
    assert {c.limb for c in found.lesser} <= {"2", "4"}
    assert found.dose + sum(c.dose for c in found.lesser) <= found.dose_limit + 1e-9
    roomy = made(Wishes(dose=1 / 3), L2={"note": "many watershoots"}, L4={"note": "watershoots"})
    assert roomy.lesser


def test_a_weak_tree_keeps_its_watershoots() -> None:
    weak = StationRecord("1", condition="poor", note="watershoots")
    assert made(station=weak, L2={"note": "watershoots"}).lesser == ()


@pytest.mark.parametrize(
    ("kind", "words", "absent"),
    [("plum", "poisonous", "sheep and cattle"), ("apple", "sheep and cattle", "poisonous")],
)
def test_cautions_follow_the_tree(kind: str, words: str, absent: str) -> None:
    said = " ".join(plan(assess(draw(old_apple(), species=kind))).cautions)
    assert words in said
    assert absent not in said
    assert "lines" in said
    assert "protected" in said
    assert "safe" not in said.lower()


def test_the_window_turns_with_the_hemisphere() -> None:
    tree = draw(old_apple())
    north, south = plan(assess(tree)), plan(assess(tree, Site(southern=True)))
    assert "November" in north.window
    assert "November" not in south.window


def test_the_bound_of_the_fast_search_holds_for_the_proven_plan() -> None:
    held = assess(draw(old_apple()))
    dark = Settings({"light": 0.0})  # with light, a bound holds for the light beside its own plan
    fast, proven = plan(held, settings=dark, engine="fast"), plan(held, settings=dark)
    assert fast.bound_h <= proven.objective_h + 1e-9
    assert proven.within <= fast.within + 1e-9
    assert fast.objective_h >= proven.bound_h - 1e-9


def test_plans_meet_the_published_schema_and_survive_json() -> None:
    schema = json.loads(files("limbwright.cuts").joinpath("plan.schema.json").read_text("utf-8"))
    plans = [made(), made(L2={"note": "watershoots"}), made(Wishes(max_cuts=1))]
    plans.append(plan(assess(draw(old_apple(), species="plum")), engine="fast"))
    written = json.loads(json.dumps(plans_to_dict(plans), allow_nan=False))
    jsonschema.Draft202012Validator(schema).validate(written)
    broken = {**written, "trees": [{**written["trees"][0], "dose": 2.0}]}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(schema).validate(broken)


@pytest.mark.parametrize("seed", range(6))
def test_any_tree_gets_a_plan_within_its_limits(seed: int) -> None:
    tree = random_skeleton(seed, 40, faults=True, species=("apple", "plum")[seed % 2])
    found = plan(assess(tree))
    assert found.dose <= found.dose_limit + 1e-9
    assert found.wound_share <= found.wound_limit + 1e-9
    assert [c.order for c in found.cuts] == list(range(1, len(found.cuts) + 1))


def test_a_search_cut_short_is_not_told_as_impossible(monkeypatch: pytest.MonkeyPatch) -> None:
    def out_of_time(*_: object, **__: object) -> None:
        raise PlanError("The time ran out before any plan was found.", "Give it longer.")

    monkeypatch.setattr("limbwright.cuts.cases.solve", out_of_time)
    with pytest.raises(PlanError, match="time ran out"):
        plan(assess(draw(old_apple())))

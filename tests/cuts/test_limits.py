"""How much one season may take, from what the surveyor wrote."""

from __future__ import annotations

import numpy as np
import pytest
from tests.cuts.old_tree import Drawn, draw, old_apple

from limbwright.cuts.limits import limits, tree_state
from limbwright.cuts.results import Wishes
from limbwright.cuts.weights import Settings, read_settings
from limbwright.errors import InputError, PlanError
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import State
from limbwright.statics.assess import assess
from limbwright.trade.species import species


def bounds(station: StationRecord | None = None, wishes: Wishes | None = None, **tree):  # type: ignore[no-untyped-def]
    skeleton = draw(old_apple(**tree.pop("change", {})), **tree)
    wood = assess(skeleton).loads.wood_kg
    kind = species(skeleton.species)
    return limits(skeleton, wood, kind, station, wishes or Wishes(), Settings())


@pytest.mark.parametrize(
    ("record", "state"),
    [
        ({}, "neglected"),
        ({"condition": "poor"}, "weak"),
        ({"note": "Overgrown, full of shoots"}, "overgrown"),
        ({"note": "overgrown veteran"}, "veteran"),
        ({"extension_cm": 3.0}, "weak"),
        ({"extension_cm": 55.0}, "overgrown"),
        ({"dead_pct": 45.0}, "weak"),
        ({"planted": 1880}, "veteran"),
        ({"planted": 2010, "condition": "good"}, "routine"),
        ({"planted": 1960, "condition": "good"}, "neglected"),
        ({"note": "abandoned since the war"}, "long forgotten"),
        ({"note": "not dying"}, "neglected"),
        ({"note": "no honey fungus; congested"}, "overgrown"),
        ({"note": "not a veteran, overgrown"}, "overgrown"),
        ({"note": "never maintained"}, "neglected"),
        ({"note": "not neglected but weak"}, "weak"),
        ({"features": "no longer in work", "condition": "good"}, "neglected"),
        ({"faults": "declining?"}, "weak"),
        ({"note": "well-kept, pruned every winter"}, "routine"),
        ({"note": "poorly reached by the ladder"}, "neglected"),
    ],
)
def test_the_record_decides_the_state(record: dict[str, object], state: str) -> None:
    assert tree_state(StationRecord("1", **record), year=2026).key == state  # type: ignore[arg-type]


def test_a_neglected_old_apple_loses_at_most_a_quarter_of_its_crown() -> None:
    """25 % for healthy overgrown trees: RHS garden advice; grant ceiling one third."""
    assert bounds().dose == pytest.approx(0.25)


def test_stone_fruit_loses_less() -> None:
    assert bounds(species="plum").dose == pytest.approx(0.15)


@pytest.mark.parametrize("dose", [0.4, 0.0, -0.1, float("nan")])
def test_no_wish_takes_more_than_a_third_nor_nothing(dose: float) -> None:
    with pytest.raises(PlanError, match="third"):
        bounds(wishes=Wishes(dose=dose))


def test_the_wounds_printed_for_a_300_mm_stem() -> None:
    """Cut area at most a third of the stem: 12 cuts of 5 cm or 3 of 10 on a 300 mm stem."""
    limit = bounds(change={"Lstem": {"diameter_mm": 300.0}}).wound_cm2
    area = {d: 3.14159265 * d * d / 4 for d in (5, 10)}
    assert int(limit / area[5] + 1e-6) == 12
    assert int(limit / area[10] + 1e-6) == 3


def test_a_lopsided_crown_may_stay_as_it_is_and_a_level_one_may_come_to_lean_a_little() -> None:
    """Middle of mass off the foot: 12 % of the spread radius, or as it is now (limits.csv)."""
    stem = Drawn("stem", "", 0.0, 300, 2.0, 0, 90)
    one, two = (Drawn(str(b), "stem", 1.0, 120, 4.0, b, 20) for b in (90, 270))
    for limbs, lopsided in (((stem, one), True), ((stem, one, two), False)):
        tree = draw(limbs, derived=False)
        wood = assess(tree).loads.wood_kg
        middle = 0.5 * (tree.start_m + tree.end_m)[:, :2]
        now = float(np.linalg.norm((wood[:, None] * middle).sum(axis=0)))
        level = 0.12 * float(np.quantile(np.linalg.norm(middle, axis=1), 0.9)) * float(wood.sum())
        found = limits(tree, wood, species("apple"), None, Wishes(), Settings())
        assert (now > level) == lopsided
        assert found.balance_kg_m == pytest.approx(now if lopsided else level)


def test_half_of_the_thick_dead_wood_stays_unless_people_pass_below() -> None:
    dead = {"L3": {"state": State.DEAD}}
    tree = draw(old_apple(**dead))
    thick = next(x for x in tree.limbs if x.label == "3")
    assert thick.diameter_mm > 100.0
    of_it = (tree.state == State.DEAD) & (tree.limb == tree.limbs.index(thick))
    mass = float(assess(tree).loads.wood_kg[of_it].sum())
    assert bounds(change=dead).deadwood_kg == pytest.approx(0.5 * mass)
    assert bounds(change=dead, wishes=Wishes(people_below=True)).deadwood_kg == 0.0
    assert bounds().deadwood_kg == 0.0  # the dead limb 12 is thinner than 10 cm


def test_settings_are_overridden_by_name_and_refused_with_what_is_known(tmp_path) -> None:  # type: ignore[no-untyped-def]
    file = tmp_path / "settings.toml"
    file.write_text("rub = 2.5\n[limits]\ndose_neglected = 0.2\n", "utf-8")
    settings = read_settings(file)
    assert (settings["rub"], settings["dose_neglected"]) == (2.5, 0.2)
    for text, said in (
        ("rubb = 1", "rubb"),
        ("dose_weak = 0.5", "third"),
        ("rub = -1", "zero or more"),
        ("rub = 'much'", "zero or more"),
        ("rub = ", "cannot be read"),
    ):
        file.write_text(text, "utf-8")
        with pytest.raises(InputError, match=said):
            read_settings(file)

"""What an orchard and the rules of the place change in a plan: people, stock, days."""

from __future__ import annotations

import pytest
from tests.cuts.old_tree import draw, old_apple

from limbwright.cuts.plan import plan
from limbwright.cuts.question import wishes_in
from limbwright.cuts.results import Plan, Wishes
from limbwright.model.holding import Orchard
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import State
from limbwright.statics.assess import Assessment, assess
from limbwright.trade.seasons.days import YearDay
from limbwright.trade.seasons.local import LocalRule

STATION = StationRecord("1", orchard="Kiln Piece", species="apple", note="sprayed with copper")


@pytest.fixture(scope="module")
def held() -> Assessment:
    return assess(draw(old_apple()))


@pytest.fixture(scope="module")
def below(held: Assessment) -> Plan:
    return plan(held, STATION, orchard=Orchard("Kiln Piece", people_below=True, grazed_by="sheep"))


@pytest.fixture(scope="module")
def plain(held: Assessment) -> Plan:
    return plan(held, STATION)


def test_people_below_an_orchard_are_a_wish_and_a_caution(
    held: Assessment, plain: Plan, below: Plan
) -> None:
    asked = plan(held, STATION, Wishes(people_below=True))
    assert any("People are often below" in one for one in below.cautions)
    assert not any("People are often below" in one for one in plain.cautions)
    assert [c.segment for c in below.cuts] == [c.segment for c in asked.cuts]
    dead = held.skeleton.state == State.DEAD
    assert below.gone[dead].sum() >= plain.gone[dead].sum()


def test_other_wishes_hold_where_people_are_below() -> None:
    found = wishes_in(Orchard("Kiln Piece", people_below=True), Wishes(protect=frozenset({"3"})))
    assert found == Wishes(protect=frozenset({"3"}), people_below=True)
    assert wishes_in(Orchard("Kiln Piece"), Wishes(dose=0.1)) == Wishes(dose=0.1)
    assert wishes_in(None) == Wishes()


def test_sheep_in_the_orchard_and_copper_on_the_tree_meet(plain: Plan, below: Plan) -> None:
    assert any("copper poisons sheep" in one for one in below.cautions)
    assert not any("copper poisons sheep" in one for one in plain.cautions)


def test_a_local_rule_gives_the_window(held: Assessment, plain: Plan) -> None:
    days = YearDay(3, 1), YearDay(4, 15)
    source = ("Invented Scheme", "Elsewhere", "2027")
    ours = LocalRule("structural", "pome", *days, "allow", *source)
    found = plan(held, STATION, local_rules=[ours], engine="fast")
    assert found.window.startswith("1 November to 15 April, while dormant")
    assert "Invented Scheme, Elsewhere, 2027: in these days too" in found.window
    assert plain.window == "November to early March, while dormant, on a dry day above frost."

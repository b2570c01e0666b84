"""When a young tree is formed, in both halves of the world, and what goes with it."""

from __future__ import annotations

from datetime import date

import pytest
from tests.form.young import GOOD, YEAR, leader, shoot, tree

from limbwright.form.care import form_window, season_name, season_year
from limbwright.form.plan import form_plan
from limbwright.form.settings import FormSettings
from limbwright.model.holding import Orchard
from limbwright.model.site import Site
from limbwright.trade.species import species

SHEEP = Orchard("x", grazed_by="sheep")
APPLE, PLUM = species("apple"), species("plum")
PLAIN = FormSettings()


def test_apples_are_formed_in_winter_in_either_half_of_the_world() -> None:
    north, south = (form_window(APPLE, s, 3, PLAIN) for s in (False, True))
    assert "November to early March" in north.sentence
    assert "May to early September" in south.sentence
    assert {(m + 5) % 12 + 1 for m in north.months} == set(south.months)


@pytest.mark.parametrize(
    ("southern", "burst", "summer"),
    [(False, "March to April", "May to September"), (True, "September to October", "November")],
)
def test_young_stone_fruit_is_formed_at_bud_burst_or_in_summer(
    southern: bool, burst: str, summer: str
) -> None:
    young = form_window(PLUM, southern, 2, PLAIN)
    assert f"At bud burst ({burst})" in young.sentence
    assert summer in young.sentence
    assert "Never in winter" in young.sentence
    assert "silver leaf" in young.reason.lower()
    old = form_window(PLUM, southern, 8, PLAIN)
    assert "bud burst" not in old.sentence


def test_seasons_bear_the_names_of_their_half_of_the_world() -> None:
    assert season_name(APPLE, False, 2026, 2) == "winter 2026-27"
    assert season_name(APPLE, True, 2026, 2) == "winter 2026"
    assert season_name(PLUM, False, 2026, 2) == "spring or summer 2026"
    assert season_name(PLUM, False, 2026, 9) == "summer 2026"


@pytest.mark.parametrize(
    ("kind", "southern", "day", "year"),
    [
        (APPLE, False, date(2026, 12, 1), 2026),
        (APPLE, False, date(2027, 2, 1), 2026),
        (APPLE, False, date(2027, 6, 1), 2027),
        (APPLE, True, date(2027, 6, 1), 2027),
        (APPLE, True, date(2027, 11, 1), 2028),
        (PLUM, False, date(2027, 6, 1), 2027),
        (PLUM, False, date(2027, 11, 1), 2028),
        (PLUM, True, date(2027, 1, 15), 2026),
    ],
)
def test_the_running_season_counts_else_the_next(
    kind: object, southern: bool, day: date, year: int
) -> None:
    assert season_year(kind, southern, day) == year  # type: ignore[arg-type]


def test_reminders_follow_age_animals_and_work() -> None:
    new = form_plan(tree(leader(1.2), status="new", planted=YEAR), SHEEP, year=YEAR)
    told = " ".join(new.reminders)
    for word in ("1.1 m", "Tie:", "10 to 20 litres", "no fruit"):
        assert word in told
    grown = form_plan(tree(*GOOD, planted=2016), SHEEP, year=YEAR)
    assert any("stake and tie away" in r for r in grown.reminders)
    assert not any("litres" in r for r in grown.reminders)
    steep = [shoot(s.shoot, s.at_m, s.bearing_deg, 58.0) for s in GOOD]
    spread = form_plan(tree(*steep), SHEEP, year=YEAR)
    assert any("forked stick" in r for r in spread.reminders)
    goats = form_plan(tree(*steep), Orchard("x", grazed_by="goats"), year=YEAR)
    assert any("goats 1.8 m" in r for r in goats.reminders)


def test_cautions_follow_their_occasions() -> None:
    plum = form_plan(tree(*GOOD, species="plum"), SHEEP, year=YEAR)
    assert any("poisonous" in c for c in plum.cautions)
    assert any("nesting" in c for c in plum.cautions)
    apple = form_plan(tree(*GOOD, shoot("x", 1.2, state="diseased")), SHEEP, year=YEAR)
    assert any("Work at height" in c for c in apple.cautions)
    assert any("Clean blades" in c for c in apple.cautions)
    low = form_plan(tree(leader(1.2, 40.0), shoot("x", 0.6)), SHEEP, year=YEAR)
    assert not any("Work at height" in c for c in low.cautions)


def test_no_word_calls_a_tree_safe() -> None:
    for site in (Site(), Site(southern=True)):
        text = str(form_plan(tree(*GOOD), SHEEP, site, year=YEAR).to_dict())
        assert "safe" not in text.lower()

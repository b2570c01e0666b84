"""When a young tree is formed, in both halves of the world, and what goes with it."""

from __future__ import annotations

from datetime import date

import pytest
from tests.form.young import GOOD, YEAR, leader, shoot, tree

from limbwright.form.care import form_window, season_name, season_year
from limbwright.form.plan import form_plan
from limbwright.model.holding import Orchard
from limbwright.model.site import Site
from limbwright.trade.seasons.days import year_day
from limbwright.trade.seasons.local import LocalRule, LocalStrength
from limbwright.trade.species import Species, species

SHEEP = Orchard("x", grazed_by="sheep")
APPLE, PLUM = species("apple"), species("plum")


NORTH, SOUTH = Site(), Site(southern=True)


def test_apples_are_formed_in_winter_in_either_half_of_the_world() -> None:
    north, south = (form_window(APPLE, site, YEAR) for site in (NORTH, SOUTH))
    assert "1 November to 15 March, while dormant" in north.sentence
    assert "By other accounts 1 October to 30 April" in north.sentence
    assert "1 May to 15 September, while dormant" in south.sentence
    assert {(m + 5) % 12 + 1 for m in north.months} == set(south.months)


@pytest.mark.parametrize(
    ("site", "days"), [(NORTH, "1 April to 31 August"), (SOUTH, "1 October to 28 February")]
)
def test_young_stone_fruit_is_formed_from_bud_burst_on_and_never_in_winter(
    site: Site, days: str
) -> None:
    found = form_window(PLUM, site, YEAR)
    assert found.sentence.startswith(days)
    assert "Never while dormant, for fear of silver leaf" in found.sentence
    assert "bud burst" in found.reason


def test_seasons_bear_the_names_of_their_half_of_the_world() -> None:
    assert season_name(APPLE, NORTH, 2026) == "winter 2026-27"
    assert season_name(APPLE, SOUTH, 2026) == "winter 2026"
    assert season_name(PLUM, NORTH, 2026) == "spring or summer 2026"
    assert season_name(PLUM, SOUTH, 2026) == "spring or summer 2026-27"


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
    assert season_year(kind, SOUTH if southern else NORTH, day) == year  # type: ignore[arg-type]


def rule(strength: LocalStrength, first: str, last: str, job: str = "formative") -> LocalRule:
    begins, ends = year_day(first), year_day(last)
    assert begins
    assert ends
    return LocalRule(job, "all", begins, ends, strength, "Invented Scheme", "Elsewhere", "2027")


@pytest.mark.parametrize(
    ("kind", "site", "barred", "days", "months"),
    [
        (APPLE, NORTH, ("11-01", "01-31"), "1 February to 15 March, while dormant", (2, 3)),
        (APPLE, SOUTH, ("05-01", "07-31"), "1 August to 15 September, while dormant", (8, 9)),
        (PLUM, NORTH, ("04-01", "07-14"), "15 July to 31 August, on a dry day", (7, 8)),
        (PLUM, SOUTH, ("10-01", "01-14"), "15 January to 28 February, on a dry day", (1, 2)),
    ],
)
def test_a_rule_of_the_place_moves_the_days_of_forming_and_is_told(
    kind: Species, site: Site, barred: tuple[str, str], days: str, months: tuple[int, ...]
) -> None:
    rules = (rule("forbid", *barred),)
    found = form_window(kind, site, YEAR, rules)
    assert found.sentence.startswith(days)
    assert "Invented Scheme, Elsewhere, 2027: not in these days" in found.sentence
    assert ("Never while dormant" in found.sentence) == (kind is PLUM)
    assert found.months == months
    young = tree(*GOOD, species=kind.key)
    plan = form_plan(young, SHEEP, site, year=YEAR, local_rules=rules)
    assert plan.window == found.sentence


def test_rules_of_other_jobs_leave_the_days_of_forming() -> None:
    old = (rule("forbid", "01-01", "12-31", job="structural"),)
    assert form_window(APPLE, NORTH, YEAR, old) == form_window(APPLE, NORTH, YEAR)
    assert season_year(APPLE, NORTH, date(2027, 1, 20), old) == 2026


def test_the_next_season_of_forming_is_taken_where_the_rest_of_this_one_is_forbidden() -> None:
    rules = (rule("forbid", "01-15", "09-30"),)
    assert season_year(APPLE, NORTH, date(2027, 1, 14), rules) == 2026
    assert season_year(APPLE, NORTH, date(2027, 1, 15), rules) == 2027
    south = (rule("forbid", "07-15", "03-31"),)
    assert season_year(APPLE, SOUTH, date(2027, 7, 14), south) == 2027
    assert season_year(APPLE, SOUTH, date(2027, 7, 15), south) == 2028


def test_where_no_calendar_holds_none_is_told_for_forming() -> None:
    found = form_window(APPLE, Site(latitude_deg=4.0), YEAR)
    assert "no plain calendar holds" in found.sentence
    assert "while dormant" not in found.sentence


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

"""The window on a card: the calendar's sentence, unless the place has rules or no such calendar."""

from __future__ import annotations

import pytest
from tests.trade.place_rules import rule

from limbwright.model.site import Site
from limbwright.trade.place_window import place_window
from limbwright.trade.species import Species, all_species, species
from limbwright.trade.windows import group_window

PLUM, APPLE = species("plum"), species("apple")


@pytest.mark.parametrize("southern", [False, True])
@pytest.mark.parametrize("kind", all_species(), ids=lambda kind: kind.key)
def test_where_the_place_says_nothing_the_calendar_s_sentence_stands(
    kind: Species, southern: bool
) -> None:
    usual = group_window(kind.group, southern)
    assert place_window(kind, Site(southern=southern)) == usual
    latitude = -45.0 if southern else 52.0
    assert place_window(kind, Site(southern=southern, latitude_deg=latitude)) == usual
    # rules on other days, other jobs and other fruit say nothing here
    away = "06-01" if (kind.group == "pome") != southern else "12-10"
    others = (
        rule("forbid", away, away),
        rule("forbid", "01-01", "12-31", job="ground"),
        rule("forbid", "01-01", "12-31", kind="stone" if kind.group == "pome" else "pome"),
    )
    assert place_window(kind, Site(southern=southern), others) == usual


def test_a_rule_that_narrows_gives_its_days_and_its_name() -> None:
    found = place_window(PLUM, Site(), (rule("only", "07-15", "09-30"),))
    assert found.sentence == (
        "15 July to 30 September, on a dry day. Birds may be nesting in July to August: look for "
        "nests first and wait where one is in use. Invented Scheme, Elsewhere, 2027: in these "
        "days alone, 15 July to 30 September."
    )
    assert found.months == (7, 8, 9)


def test_a_rule_that_forbids_the_middle_leaves_two_parts_in_the_order_of_the_season() -> None:
    found = place_window(APPLE, Site(), (rule("forbid", "12-10", "01-31"),))
    assert found.sentence.startswith("1 November to 9 December and 1 February to 7 March, while")
    assert found.months == (11, 12, 2, 3)


def test_a_rule_that_allows_widens_and_one_that_asks_to_look_is_told() -> None:
    wide = place_window(APPLE, Site(), (rule("allow", "03-01", "04-15"),))
    assert wide.sentence.startswith("1 November to 15 April, while dormant")
    assert wide.months == (11, 12, 1, 2, 3, 4)
    look = place_window(APPLE, Site(), (rule("look first", "02-15", "08-15", job="all"),))
    assert look.sentence.startswith("1 November to 7 March, while dormant")
    assert "in these days only after looking, 15 February to 15 August" in look.sentence


def test_rules_that_leave_nothing_say_so() -> None:
    none = place_window(PLUM, Site(), (rule("forbid", "01-01", "12-31"),))
    assert none.months == ()
    assert none.sentence.startswith("The rules of the place leave no day. Invented Scheme")


def test_where_no_calendar_holds_none_is_given() -> None:
    near = place_window(APPLE, Site(latitude_deg=4.0), (rule("forbid", "05-01", "06-01"),))
    assert near.months == tuple(range(1, 13))
    assert "no plain calendar holds" in near.sentence
    assert "Look for nests first" in near.sentence
    assert "Invented Scheme" in near.sentence
    far = place_window(APPLE, Site(latitude_deg=63.0))
    assert far.sentence.startswith(group_window("pome").sentence)
    assert "it may be weeks out" in far.sentence

"""What a surveyor writes is recognised, what he denies is not, and all can be looked up."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.cuts.old_tree import draw, old_apple

from limbwright.errors import InputError
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Union
from limbwright.trade.health import (
    Problem,
    count_problems,
    look_up,
    problems,
    problems_in,
    problems_of,
)
from limbwright.trade.species import species


def told(text: str, kind: str = "apple") -> dict[str, str]:
    return {f.problem.key: f.sure for f in problems_in(text, species(kind))}


@pytest.mark.parametrize(
    ("text", "kind", "found"),
    [
        ("canker from 1.2 m", "apple", {"canker": "named"}),
        ("cankered, and silver-leaf on limb 3", "plum", {"bacterial_canker", "silver_leaf"}),
        ("Canker", "cherry", {"bacterial_canker": "named"}),
        ("fireblight", "pear", {"fire_blight": "named"}),
        ("false silver leaf", "plum", {"false_silver_leaf": "named"}),
        ("mummies hanging; shot holes", "plum", {"brown_rot", "bacterial_canker"}),
        ("bootlaces at the foot", "pear", {"honey_fungus": "named"}),
        ("crack below a main union; overlong limb", "apple", {"split_fork": "named"}),
        ("tie cutting in", "apple", {"tight_tie": "named"}),
        ("bark stripped by sheep", "apple", {"bark_stripping": "named"}),
        ("nothing to note", "apple", {}),
    ],
)
def test_a_problem_is_known_by_the_words_of_the_survey(
    text: str, kind: str, found: dict[str, str] | set[str]
) -> None:
    if isinstance(found, dict):
        assert told(text, kind) == found
    else:
        assert set(told(text, kind)) == found


@pytest.mark.parametrize(
    "text",
    [
        "no canker",
        "No canker seen",
        "canker: none",
        "canker not found",
        "no canker, scab or silver leaf",
        "no signs of fire blight or canker",
        "free of canker",
        "canker looked for, none found",
        "not cankered",
    ],
)
def test_what_is_denied_is_not_found(text: str) -> None:
    assert told(text) == {}


@pytest.mark.parametrize("one", problems(), ids=lambda one: one.key)
def test_every_word_of_the_table_can_be_denied(one: Problem) -> None:
    for phrase in (*one.words, *one.hints):
        word = phrase.rstrip("*")
        if not word.startswith(("no ", "guard")):  # "no guard" is a fault itself
            assert told(f"no {word}") == {}, word
        assert told(f"{word}: none") == {}, word


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("no fruit, canker on limb 2", {"canker"}),
        ("no silver leaf but canker", {"canker"}),
        ("no canker, silver leaf on limb 2 or 3", {"silver_leaf"}),
        ("not pruned for years with canker", {"canker"}),
        ("no bats. canker", {"canker"}),
        ("without a tag; canker", {"canker"}),
        ("not much canker", {"canker"}),
        ("no more than a little canker", {"canker"}),
    ],
)
def test_a_denial_reaches_no_further_than_it_should(text: str, found: set[str]) -> None:
    assert set(told(text)) == found


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("canker?", "apple"),  # the surveyor was not sure
        ("possible canker", "apple"),
        ("sunken bark at a wound", "apple"),  # a sign only
        ("gum at forks", "cherry"),
        ("fire blight", "plum"),  # not a usual host
    ],
)
def test_a_sign_or_a_doubt_makes_a_suspicion_and_no_more(text: str, kind: str) -> None:
    assert set(told(text, kind).values()) == {"suspected"}


def test_without_a_species_a_name_two_diseases_share_is_only_suspected() -> None:
    (found,) = problems_in("canker")
    assert (found.problem.key, found.sure) == ("canker", "suspected")


def test_a_tree_tells_what_its_record_and_its_limbs_show_with_the_place() -> None:
    tree = draw(
        old_apple(
            L3={"union": Union.CRACKED},
            L5={"note": "canker from 80 cm; no brown rot"},
            L4={"note": "scab?"},
        )
    )
    record = StationRecord("1", faults="honey fungus", lean_deg=22.0)
    found = {(f.problem.key, f.where): f.sure for f in problems_of(record, tree, species("apple"))}
    assert found["honey_fungus", ""] == "named"
    assert found["lean", ""] == "named"
    assert found["split_fork", "3"] == "named"
    assert found["canker", "5"] == "named"
    assert found["rub", "7"] == "named"
    assert found["scab", "4"] == "suspected"
    assert ("brown_rot", "5") not in found


def test_the_trees_that_have_a_problem_are_listed_by_it() -> None:
    records = [
        StationRecord("1", "A", species="apple", faults="canker"),
        StationRecord("2", "A", species="pear", note="canker?"),
        StationRecord("3", "A", species="plum", faults="no canker"),
        StationRecord("4", "A", status="gap", note="honey fungus"),
        StationRecord("5", "A", lean_deg=30.0),
    ]
    assert count_problems(records) == {
        "canker": (("A/1", "named"), ("A/2", "suspected")),
        "lean": (("A/5", "named"),),
    }


def test_every_problem_says_what_is_seen_what_is_done_and_where_from() -> None:
    assert len({one.key for one in problems()}) == len(problems())
    for one in problems():
        assert one.signs, one.key
        assert one.response, one.key
        assert one.season, one.key
        assert one.source, one.key
        for text in (one.signs, one.response, one.disposal, one.disagree):
            assert not re.search(r"[—–]|\bsafe\b", text), one.key
        if one.kind == "disease":
            assert one.hygiene, one.key
            assert one.disposal, one.key


def test_fire_blight_keeps_every_published_distance() -> None:
    # Illinois 6-12 in, UC 8-12 in, Pennsylvania 8 and 12 in, Washington State 12-18 in
    (one,) = look_up("fire blight")
    assert one.distance_m is not None
    for inches in (6, 8, 12, 18):
        assert one.distance_m.low - 0.011 <= 0.0254 * inches <= one.distance_m.high + 0.011
    assert "15 to 45" in one.distance_words
    assert one.to_dict()["cut_below_cm"] == 30.0
    assert "reported" in one.to_dict()["report"]


@pytest.mark.parametrize("one", problems(), ids=lambda one: one.key)
def test_a_problem_is_found_by_its_name_and_recognised_by_its_own_words(one: Problem) -> None:
    assert one in look_up(one.name)
    host = {"all": "apple", "pome": "apple", "stone": "plum"}.get(one.hosts[0], one.hosts[0])
    for phrase in (*one.words, *one.hints):
        found = {f.problem.key for f in problems_in(phrase.rstrip("*"), species(host))}
        assert one.key in found, phrase


def test_a_look_up_tells_all_that_fit_and_offers_what_is_near() -> None:
    assert {one.key for one in look_up("canker")} == {"canker", "bacterial_canker"}
    assert {one.key for one in look_up("Neonectria")} == {"canker"}
    assert {one.key for one in look_up("gum")} == {"bacterial_canker"}
    with pytest.raises(InputError, match="silver leaf"):
        look_up("silvr leaf")
    with pytest.raises(InputError, match="Known"):
        look_up("qqqq")
    with pytest.raises(InputError, match="No problem is named"):
        look_up("  ")


@given(st.text(max_size=80))
def test_no_text_is_too_odd_to_be_read(text: str) -> None:
    for found in problems_in(text, species("apple")):
        assert found.said in text.lower().replace("\u2019", "'")

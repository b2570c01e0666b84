"""Each caution has its occasion in the data, in short for the card and at length for reports."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from importlib.resources import files

import pytest
from tests.cuts.old_tree import draw, old_apple

from limbwright.cuts.cautions import Caution, cautions, full_cautions, orchard_cautions
from limbwright.cuts.results import Wishes
from limbwright.cuts.weights import Settings
from limbwright.model.holding import Orchard
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import State
from limbwright.trade.species import species

GRAZED = Orchard("Invented", grazed_by="sheep")
PLAIN = StationRecord("1", "Invented", species="apple")


def told(
    station: StationRecord | None = PLAIN,
    kind: str = "apple",
    orchard: Orchard | None = None,
    wishes: Wishes | None = None,
    **change: dict[str, object],
) -> dict[str, Caution]:
    tree = draw(old_apple(L10={"state": State.LIVE}, **change))
    found = full_cautions(
        tree, species(kind), (), station, Settings(), orchard=orchard, wishes=wishes
    )
    return {one.key: one for one in found}


def noted(note: str) -> StationRecord:
    return replace(PLAIN, note=note)


@pytest.mark.parametrize(
    ("note", "orchard", "key"),
    [
        ("copper spray in spring", GRAZED, "copper"),
        ("bordeaux mixture; ewes beneath", None, "copper"),
        ("overhead line to the south", None, "lines_noted"),
        ("TPO", None, "protected_noted"),
        ("in a conservation area", None, "protected_noted"),
        ("by the footpath", None, "people"),
        ("", replace(GRAZED, people_below=True), "people"),
        ("honey fungus", None, "foot"),
        ("bracket at the base", None, "foot"),
        ("plum pox?", None, "report"),
        ("loose bark", None, "bats"),
        ("9 clumps of mistletoe", None, "mistletoe"),
        ("bonfire planned", None, "burning"),
        ("frass", None, "habitat_unplaced"),
    ],
)
def test_a_caution_comes_with_its_occasion_and_not_without(
    note: str, orchard: Orchard | None, key: str
) -> None:
    kind = "plum" if key == "report" else "apple"
    assert key in told(noted(note), kind, orchard)
    assert key not in told(PLAIN, kind)


@pytest.mark.parametrize(
    ("note", "orchard"),
    [("copper spray", None), ("", GRAZED), ("no copper", replace(GRAZED, grazed_by="cattle"))],
)
def test_copper_is_told_only_where_both_copper_and_sheep_are(
    note: str, orchard: Orchard | None
) -> None:
    assert "copper" not in told(noted(note), orchard=orchard)


def test_what_is_denied_is_no_occasion() -> None:
    found = told(noted("no bats, no ivy; no honey fungus; no plum pox"))
    assert not {"bats", "foot", "report"} & set(found)


def test_a_dead_tree_is_not_climbed() -> None:
    assert "brittle" in told(replace(PLAIN, status="dead"))
    assert "nobody climbs" in told(replace(PLAIN, condition="dead"))["brittle"].text


def test_figures_stand_in_the_texts() -> None:
    found = told(noted("9 clumps of mistletoe; frass"))
    assert "of 9 clumps take 4 (3 to 6) this season" in found["mistletoe"].text
    assert "wood mould or frass" in found["habitat_unplaced"].text
    ill = told(noted("fire blight"), "pear")
    assert "15 to 45 cm" in ill["fire_blight"].text
    assert "report" not in ill  # its own caution says so already


def test_a_feature_with_its_limb_named_is_not_searched_for() -> None:
    assert "habitat_unplaced" not in told(noted("frass"), L3={"note": "frass"})
    assert "habitat_unplaced" not in told(noted("bats?"))


def test_a_limb_forced_to_go_over_its_habitat_is_told() -> None:
    wishes = Wishes(force=frozenset({"5"}))
    found = told(PLAIN, wishes=wishes, L5={"note": "woodpecker hole"})
    assert "Limb 5 is to go though the survey notes nest or nest hole" in (
        found["habitat_forced"].text
    )
    assert "habitat_forced" not in told(PLAIN, L5={"note": "woodpecker hole"})


def test_a_kept_limb_that_is_weak_is_told_and_a_sound_one_is_not() -> None:
    tree = draw(old_apple(L5={"keep": "owl"}))
    k = next(i for i, x in enumerate(tree.limbs) if x.label == "5")
    for used, is_told in ((0.95, True), (0.5, False)):
        found = cautions(tree, species("apple"), (), PLAIN, Settings(), use={k: used})
        assert any("Limb 5 is to be kept and is loaded to 95 %" in one for one in found) is is_told


def test_the_card_has_the_short_ones_alone() -> None:
    tree = draw(old_apple())
    short = cautions(tree, species("apple"), (), PLAIN, Settings())
    full = full_cautions(tree, species("apple"), (), PLAIN, Settings())
    assert list(short) == [one.text for one in full if one.text]
    assert {"lone", "weather", "handling"} <= {one.key for one in full if not one.text}


def test_an_orchard_is_told_each_caution_once_from_its_records() -> None:
    records = [
        PLAIN,
        replace(PLAIN, station="2", species="plum", faults="silver leaf"),
        replace(PLAIN, station="3", lean_deg=20.0, note="rot hole"),
        replace(PLAIN, station="4", status="gap", species="", note="honey fungus"),
    ]
    found = orchard_cautions(records, GRAZED)
    keys = [one.key for one in found]
    assert len(set(keys)) == len(keys)
    assert {"height", "chainsaw", "brash", "stock", "silver_leaf", "bats", "adviser"} <= set(keys)
    assert "foot" not in keys  # a gap has no tree
    pox = orchard_cautions([replace(PLAIN, species="plum", faults="plum pox")])
    assert {"plum_pox"} == {one.key for one in pox} & {"plum_pox", "report"}
    feet = [
        replace(PLAIN, faults="honey fungus"),
        replace(PLAIN, station="2", faults="collar rot"),
        replace(PLAIN, station="3", faults="collar rot"),
    ]
    assert [one.key for one in orchard_cautions(feet)].count("foot") == 2
    assert not any("{" in one.full for one in found)


def test_every_caution_has_a_source_and_words_and_defers() -> None:
    text = files("limbwright.trade").joinpath("data", "cautions.csv").read_text("utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    assert len({row["key"] for row in rows}) == len(rows)
    for row in rows:
        assert row["source"], row["key"]
        assert row["text"] or row["full"], row["key"]
        assert not re.search(r"[—–]|\bis safe\b", row["text"] + row["full"]), row["key"]
        assert len(row["text"]) <= 270, row["key"]
    said = " ".join(row["text"] + row["full"] for row in rows)
    for deferred in ("local", "authority", "qualified arborist", "trained"):
        assert deferred in said

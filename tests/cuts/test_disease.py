"""Diseased wood is cut the published distance below what can be seen, or goes whole."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.cuts.old_tree import Drawn, draw, old_apple

from limbwright.cuts.disease import disease_of, edge_m, with_margins
from limbwright.cuts.plan import Plan, plan
from limbwright.model.records import StationRecord
from limbwright.model.skeleton import Skeleton, State
from limbwright.statics.assess import assess
from limbwright.trade.parameters import parameters
from limbwright.trade.species import species


def ill(note: str, kind: str = "apple") -> Skeleton:
    """An old tree whose limb 9, 2.6 m long in twelve pieces, is diseased."""
    return draw(old_apple(L9={"state": State.DISEASED, "note": note}), species=kind, steps=12)


def made(note: str, kind: str = "apple") -> Plan:
    return plan(assess(ill(note, kind)), season="winter 2026/27")


@pytest.mark.parametrize(
    ("note", "kind", "key", "low_m", "high_m"),
    [
        # Amateur Gardening, 17 June 2017: 4-6 in past the stain
        ("silver leaf", "plum", "silver_leaf", 0.10, 0.15),
        # Illinois 6-12 in, Washington State 12-18 in: the range of both is kept
        ("fire blight", "pear", "fire_blight", 0.15, 0.45),
        ("canker from 1.2 m", "apple", "canker", 0.05, 0.15),
        ("gum and canker", "cherry", "bacterial_canker", 0.05, 0.30),
        ("bark looks odd", "apple", "unnamed", 0.10, 0.30),
    ],
)
def test_a_disease_is_known_by_its_name_and_species(
    note: str, kind: str, key: str, low_m: float, high_m: float
) -> None:
    limb = next(x for x in ill(note).limbs if x.label == "9")
    found = disease_of(limb, None, species(kind))
    assert (found.key, found.margin_m.low, found.margin_m.high) == (key, low_m, high_m)
    assert found.margin_m.low <= found.margin_m.value <= found.margin_m.high


def test_the_record_of_the_tree_names_the_disease_where_the_limb_does_not() -> None:
    limb = next(x for x in ill("").limbs if x.label == "9")
    record = StationRecord("1", faults="fire blight two years ago")
    assert disease_of(limb, record, species("pear")).key == "fire_blight"


@pytest.mark.parametrize(
    ("note", "edge"),
    [
        ("canker from 1.2 m", 1.2),
        ("silver leaf above 80 cm", 0.8),
        ("sunken canker on the upper side", None),
        ("canker from 9 m", None),
    ],
)
def test_the_note_may_say_where_it_begins(note: str, edge: float | None) -> None:
    assert edge_m(next(x for x in ill(note).limbs if x.label == "9")) == edge


@pytest.mark.parametrize("name", ["fire blight", "canker", "silver leaf"])
def test_wood_is_marked_from_the_distance_below_the_edge(name: str) -> None:
    tree = ill(f"{name} from 1.5 m")
    marked = with_margins(tree, None, species("apple"))
    k = next(i for i, x in enumerate(tree.limbs) if x.label == "9")
    first = tree.limbs[k].first_segment
    axis = np.flatnonzero((tree.limb == k) & tree.surveyed)
    along = np.linalg.norm(tree.start_m[axis] - tree.start_m[first], axis=1)
    begins = float(along[marked.state[axis] == State.DISEASED].min())
    margin = parameters("diseases")[name.replace(" ", "_")].value
    step = float(tree.length_m[first])
    assert 1.5 - margin - step <= begins <= 1.5 - margin + 1e-9


def test_a_diseased_limb_is_shortened_into_sound_wood_with_the_distance_told() -> None:
    cut = next(c for c in made("fire blight from 1.5 m").cuts if c.limb == "9")
    assert cut.cut == "shorten"
    assert cut.at_m <= 1.5 - 0.30 + 1e-9
    assert "diseased (fire blight), and is cut 30 cm below the last sign" in cut.reason
    assert "m along or below" in cut.to_lateral


def test_where_the_distance_reaches_the_collar_the_limb_goes_whole() -> None:
    for note in ("fire blight from 0.4 m", "fire blight"):
        cut = next(c for c in made(note).cuts if c.limb == "9")
        assert (cut.cut, cut.at_m) == ("remove", 0.0)
        assert "it is diseased (fire blight)" in cut.reason


def test_the_mark_runs_down_a_tree_given_segment_by_segment_but_not_past_a_collar() -> None:
    limbs = [
        Drawn("stem", "", 0.0, 300, 2.0, 0, 90),
        Drawn("1", "stem", 1.0, 100, 3.0, 0, 45),
        Drawn("2", "1", 0.5, 40, 1.0, 90, 45, state=State.DISEASED, note="fire blight"),
    ]
    tree = draw(limbs, derived=False, steps=15)
    marked = with_margins(tree, None, species("pear"))
    np.testing.assert_array_equal(marked.state, tree.state)
    tip = np.flatnonzero(tree.limb == 1)[-4:]
    state = tree.state.copy()
    state[tip] = State.DISEASED
    half = replace(tree, state=state)
    grown = with_margins(half, StationRecord("1", faults="fire blight"), species("pear"))
    added = np.flatnonzero((grown.state == State.DISEASED) & (half.state == State.LIVE))
    assert 0.30 <= float(tree.length_m[added].sum()) < 0.30 + float(tree.length_m[tip[0]])


def test_cautions_name_the_disease_its_distance_and_what_becomes_of_the_wood() -> None:
    said = " ".join(made("fire blight from 1.5 m").cautions)
    assert "15 to 45 cm" in said
    assert "70 % alcohol" in said
    assert "reported" in said
    said = " ".join(made("silver leaf", "plum").cautions)
    assert "10 to 15 cm" in said
    assert "take away" in said
    assert "fire blight" not in said.lower()
    assert "{" not in said


def test_a_tree_without_diseased_wood_is_left_as_it_is() -> None:
    tree = draw(old_apple(L10={"state": State.LIVE}))
    assert with_margins(tree, None, species("apple")) is tree

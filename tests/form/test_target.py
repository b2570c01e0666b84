"""The clear stem: what grazes, the form, a grant, or a height of one's own."""

from __future__ import annotations

import pytest

from limbwright.errors import InputError
from limbwright.form.settings import FormSettings
from limbwright.form.target import clear_stem, grazers
from limbwright.trade.species import species

APPLE, PLUM = species("apple"), species("plum")


def test_sheep_ask_for_what_the_sources_give() -> None:
    # English orchard charity 1.5-2 m for sheep; English nursery standard 1.8 m; grant 2.0 m
    target = clear_stem(APPLE, "", "sheep", FormSettings())
    assert (target.low_m, target.metres, target.high_m) == (1.5, 1.8, 2.0)
    assert "sheep" in target.because
    assert "2.0 m" in target.other


@pytest.mark.parametrize(("kind", "metres"), [("apple", 2.0), ("cherry", 2.0), ("plum", 1.5),
                                              ("damson", 1.5), ("perry pear", 2.0)])  # fmt: skip
def test_the_grant_asks_for_2_m_and_1_5_m_for_plums(kind: str, metres: float) -> None:
    # English planting grant TE3
    target = clear_stem(species(kind), "", "sheep", FormSettings(clear_stem_rule="grant"))
    assert target.metres == metres
    assert "for sheep" in target.other


def test_of_several_animals_the_highest_counts() -> None:
    several = clear_stem(APPLE, "", "sheep and horses", FormSettings())
    assert several.metres == clear_stem(APPLE, "", "ponies", FormSettings()).metres
    assert several.metres > clear_stem(APPLE, "", "ewes", FormSettings()).metres


def test_a_standard_keeps_its_stem_where_nothing_grazes() -> None:
    assert clear_stem(APPLE, "standard", "", FormSettings()).metres == 1.8
    assert "standard tree" in clear_stem(APPLE, "standard", "none", FormSettings()).because
    assert clear_stem(APPLE, "", "mown", FormSettings()).metres == 1.2
    assert clear_stem(APPLE, "bush", "sheep", FormSettings()).metres == 1.8


def test_an_unknown_animal_is_told_and_taken_as_cattle() -> None:
    target = clear_stem(APPLE, "", "llamas", FormSettings())
    assert target.metres == clear_stem(APPLE, "", "cattle", FormSettings()).metres
    assert any("llamas" in c and "cattle" in c for c in target.cautions)
    both = clear_stem(APPLE, "", "sheep, llamas", FormSettings())
    assert both.metres == 1.8
    assert any("left out" in c for c in both.cautions)


def test_goats_and_a_low_stem_are_warned_of() -> None:
    assert any("bark" in c for c in clear_stem(APPLE, "", "goats", FormSettings()).cautions)
    low = clear_stem(PLUM, "", "sheep", FormSettings(clear_stem_rule="grant"))
    assert any("keep the guard" in c for c in low.cautions)


def test_a_height_of_ones_own_rules() -> None:
    target = clear_stem(APPLE, "standard", "horses", FormSettings(clear_stem_m=1.6))
    assert (target.metres, target.because) == (1.6, "asked for")
    assert "horses" in target.other
    own = clear_stem(APPLE, "", "sheep", FormSettings({"clear_stem.sheep": 1.9}))
    assert own.metres == 1.9


@pytest.mark.parametrize(
    ("text", "known", "strange"),
    [
        ("", (), ()),
        ("None", (), ()),
        ("Sheep", ("sheep",), ()),
        ("a few ewes, then cows", ("sheep", "cattle"), ()),
        ("alpacas", (), ("alpacas",)),
    ],
)
def test_animals_are_heard_in_plain_words(
    text: str, known: tuple[str, ...], strange: tuple[str, ...]
) -> None:
    assert grazers(text) == (known, strange)


@pytest.mark.parametrize(
    ("values", "word"),
    [
        ({"overrides": {"angel": 45.0}}, "angel"),
        ({"overrides": {"angle": -1.0}}, "angle"),
        ({"overrides": {"angle": float("nan")}}, "angle"),
        ({"overrides": {"cut_first": 1.5}}, "more than the whole"),
        ({"overrides": {"fewest": 6.0}}, "rising order"),
        ({"clear_stem_m": 9.0}, "clear stem"),
        ({"clear_stem_rule": "guess"}, "guess"),
    ],
)
def test_settings_that_make_no_sense_are_refused(values: dict[str, object], word: str) -> None:
    with pytest.raises(InputError, match=word):
        FormSettings(**values)  # type: ignore[arg-type]
